"""Vector cases of the defect bank: evenly strewn motifs as art or as a finished tile."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import shapely
from check_bank import LAYOUTS, PALETTE, Case, Rng, blot
from numpy.typing import NDArray

from vecrepeat.repeat.layout import Layout

Points = NDArray[np.float64]


@dataclass(frozen=True)
class Put:
    """A shape on the page: outline in mm about the origin, where it lies, its colour."""

    outline: Points
    at: tuple[float, float]
    colour: str
    name: str
    holes: tuple[Points, ...] = ()


@dataclass(frozen=True)
class Page:
    width: float
    height: float
    layout: str
    puts: tuple[Put, ...]

    @property
    def cell(self) -> Points:
        from fractions import Fraction

        lattice = Layout.parse(self.layout).lattice(Fraction(self.width), Fraction(self.height))
        return np.array([lattice.a, lattice.b], float)

    def finished(self) -> Page:
        """The page with every copy that comes onto it drawn out."""
        tile = shapely.box(1e-6, 1e-6, self.width - 1e-6, self.height - 1e-6)
        drawn = []
        for put in self.puts:
            copy = 0
            for i in range(-4, 5):
                for j in range(-4, 5):
                    at = tuple(np.array(put.at) + np.array([i, j]) @ self.cell)
                    if shapely.Polygon(put.outline + at).intersects(tile):
                        copy += 1
                        name = put.name if (i, j) == (0, 0) else f"{put.name} copy {copy}"
                        drawn.append(replace(put, at=at, name=name))
        return replace(self, puts=tuple(drawn))

    def written(self, folder: Path, ground: str = "#f4efe6") -> Path:
        path = folder / "page.svg"
        groups = "".join(
            f'<g id="{p.name.replace(" ", "-")}"><path fill="{p.colour}" fill-rule="evenodd" d="'
            + "".join(_path(ring + p.at) for ring in (p.outline, *p.holes))
            + '"/></g>\n'
            for p in self.puts
        )
        path.write_text(
            f'<svg xmlns="http://www.w3.org/2000/svg" '
            f'width="{self.width}mm" height="{self.height}mm" '
            f'viewBox="0 0 {self.width} {self.height}"><rect width="{self.width}" '
            f'height="{self.height}" fill="{ground}"/>\n{groups}</svg>'
        )
        return path


def _path(points: Points) -> str:
    return "M" + " ".join(f"{x:.6f} {y:.6f}" for x, y in points) + "Z"


def strewn(rng: Rng, layout: str | None = None) -> Page:
    """Motifs strewn evenly: each put where the plane is barest, as long as it is bare enough."""
    page = Page(
        float(rng.integers(80, 140)),
        float(rng.integers(80, 140)),
        layout or str(rng.choice(LAYOUTS)),
        (),
    )
    cell = page.cell
    steps = np.array([(i, j) for i in range(-2, 3) for j in range(-2, 3)]) @ cell
    centres: list[Points] = []
    radii: list[float] = []
    tries = rng.uniform((0, 0), (page.width, page.height), (3000, 2))
    room = np.full(len(tries), 1e9)
    for size in [9.0] * 3 + [6.5] * 60:
        radius = size * rng.uniform(0.9, 1.1)
        fits = np.flatnonzero(room > radius + 1.2)
        if not len(fits):
            continue
        # Just enough room packs them close, as a toss does.
        spot = tries[fits[room[fits].argmin()]]
        centres.append(spot)
        radii.append(radius)
        moves = (tries - spot)[:, None] + steps
        room = np.minimum(room, np.hypot(moves[..., 0], moves[..., 1]).min(axis=1) - radius)
    puts = []
    for k, (at, radius) in enumerate(zip(centres, radii, strict=True)):
        shape = blot(rng, 1.0)
        shape *= radius / np.hypot(*shape.T).max()
        puts.append(
            Put(shape, (float(at[0]), float(at[1])), PALETTE[k % len(PALETTE)], f"motif {k}")
        )
    return replace(page, puts=tuple(puts))


def crossing(page: Page) -> list[int]:
    """Copies of a finished page that plainly lie over a bound and plainly show on the page."""
    tile = shapely.box(0, 0, page.width, page.height)
    found = []
    for k, put in enumerate(page.puts):
        shape = shapely.Polygon(put.outline + put.at).buffer(0)
        inside = shape.intersection(tile).area
        if 4 < inside < shape.area - 4 and shape.buffer(-1).intersects(tile):
            found.append(k)
    return found


def _finished(rng: Rng, layout: str | None = None) -> tuple[Page, list[int]]:
    while True:
        page = strewn(rng, layout).finished()
        over = crossing(page)
        copies = [k for k in over if " copy " in page.puts[k].name]
        if len(copies) >= 4:
            return page, copies


def _changed(page: Page, k: int, **changes: object) -> Page:
    puts = list(page.puts)
    puts[k] = replace(puts[k], **changes)  # type: ignore[arg-type]
    return replace(page, puts=tuple(puts))


def nudge(low: float, high: float) -> Callable[[Rng, Path], Case]:
    def make(rng: Rng, folder: Path) -> Case:
        page, copies = _finished(rng)
        k = int(rng.choice(copies))
        by = rng.uniform(low, high) * np.array([math.cos(t := rng.uniform(0, 6.3)), math.sin(t)])
        at = page.puts[k].at
        moved = _changed(page, k, at=(at[0] + by[0], at[1] + by[1]))
        return Case(moved.written(folder), page.layout, "joins", ("out of place",), None, tuple(by))

    return make


def lost(rng: Rng, folder: Path) -> Case:
    page, copies = _finished(rng)
    k = int(rng.choice(copies))
    return Case(
        replace(page, puts=page.puts[:k] + page.puts[k + 1 :]).written(folder),
        page.layout,
        "joins",
        ("missing",),
    )


def swapped(rng: Rng, folder: Path) -> Case:
    page, copies = _finished(rng)
    k = int(rng.choice(copies))
    base = page.puts[k].name.split(" copy")[0]
    m = int(rng.choice([n for n, p in enumerate(page.puts) if p.name.split(" copy")[0] != base]))
    changed = _changed(page, k, outline=page.puts[m].outline)
    return Case(changed.written(folder), page.layout, "joins", ("missing",))


def other_colour(rng: Rng, folder: Path) -> Case:
    page, copies = _finished(rng)
    k = int(rng.choice(copies))
    colours = [c for c in PALETTE if c != page.puts[k].colour]
    return Case(
        _changed(page, k, colour=str(rng.choice(colours))).written(folder),
        page.layout,
        "joins",
        ("painted differently",),
    )


def cut(rng: Rng, folder: Path) -> Case:
    """All motifs are cut at the bounds, and one has nothing to go on as."""
    page, copies = _finished(rng)
    tile = shapely.box(0, 0, page.width, page.height)
    puts: list[Put] = []
    k = int(rng.choice(copies))
    for n, put in enumerate(page.puts):
        if n == k:
            continue
        shape = shapely.Polygon(put.outline + put.at).buffer(0).intersection(tile)
        for part in shapely.get_parts(shape):
            if part.geom_type == "Polygon":
                ring = shapely.get_coordinates(part.exterior)
                puts.append(
                    replace(put, outline=ring, at=(0.0, 0.0), name=f"{put.name} {len(puts)}")
                )
    return Case(replace(page, puts=tuple(puts)).written(folder), page.layout, "joins", ("cut",))


def wrong_layout(rng: Rng, folder: Path) -> Case:
    page, _ = _finished(rng, str(rng.choice(("half-drop", "brick", "drop:1/3"))))
    return Case(page.written(folder), "block", "joins", ("wrong layout", "missing", "cut"))


def overlap(rng: Rng, folder: Path) -> Case:
    page = strewn(rng)
    while True:
        k, m = (int(v) for v in rng.choice(len(page.puts), 2, replace=False))
        at = np.array(page.puts[m].at) + rng.uniform(-5, 5, 2)
        mine, other = (shapely.Polygon(page.puts[n].outline).buffer(0) for n in (k, m))
        shared = shapely.affinity.translate(mine, *at).intersection(
            shapely.affinity.translate(other, *page.puts[m].at)
        )
        if shared.area > 0.5:
            changed = _changed(page, k, at=tuple(at))
            return Case(changed.written(folder), page.layout, "collisions", ("overlap",))


def too_close(rng: Rng, folder: Path) -> Case:
    page = strewn(rng)
    gap = rng.uniform(0.02, 0.15)
    while True:
        k, m = (int(v) for v in rng.choice(len(page.puts), 2, replace=False))
        mine = shapely.Polygon(page.puts[k].outline).buffer(0)
        other = shapely.Polygon(page.puts[m].outline + page.puts[m].at).buffer(0)
        # Slid away to one side until the gap is right, by halving.
        far, near = 60.0, 0.0
        start = np.array(page.puts[m].at)
        for _ in range(60):
            mid = (far + near) / 2
            there = shapely.affinity.translate(mine, start[0] + mid, start[1])
            far, near = (mid, near) if there.distance(other) > gap else (far, mid)
        at = start + np.array([far, 0.0])
        if at[0] < page.width:
            changed = _changed(page, k, at=(float(at[0]), float(at[1])))
            kinds = ("too close", "overlap")
            return Case(changed.written(folder), page.layout, "collisions", kinds)


def void(rng: Rng, folder: Path) -> Case:
    while True:
        page = strewn(rng)
        centre = rng.uniform((0, 0), (page.width, page.height))
        steps = np.array([(i, j) for i in range(-2, 3) for j in range(-2, 3)]) @ page.cell
        kept = tuple(
            p for p in page.puts if np.hypot(*(np.array(p.at) - centre + steps).T).min() > 30
        )
        # What is left must be enough to say what is usual.
        if len(kept) > 0.5 * len(page.puts):
            return Case(replace(page, puts=kept).written(folder), page.layout, "voids", ("void",))


def alley(rng: Rng, folder: Path) -> Case:
    page = strewn(rng, "block")
    across = rng.random() < 0.5
    width, size = rng.uniform(20, 24), page.height if across else page.width
    line = rng.uniform(0, size)
    kept = []
    for p in page.puts:
        at = p.at[1] if across else p.at[0]
        off = (at - line + size / 2) % size - size / 2
        reach = float(np.abs(p.outline[:, 1 if across else 0]).max())
        if abs(off) > width / 2 + reach:
            kept.append(p)
    return Case(replace(page, puts=tuple(kept)).written(folder), "block", "alleys", ("alley",))


def _extra(
    rng: Rng,
    folder: Path,
    outline: Points,
    kinds: Sequence[str],
    colour: str,
    holes: tuple[Points, ...] = (),
) -> Case:
    page = strewn(rng)
    turn = rng.uniform(0, 6.3)
    spin = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    at = (float(rng.uniform(0, page.width)), float(rng.uniform(0, page.height)))
    put = Put(outline @ spin, at, colour, "extra", tuple(h @ spin for h in holes))
    return Case(
        replace(page, puts=(*page.puts, put)).written(folder), page.layout, "print", tuple(kinds)
    )


def thin_line(rng: Rng, folder: Path) -> Case:
    w, x = rng.uniform(0.05, 0.13) / 2, rng.uniform(3, 10)
    line = np.array([(-x, -w), (x, -w), (x, w), (-x, w)])
    if rng.random() < 0.5:
        # A head on a thin stem, all one path.
        turn = np.linspace(math.pi - 0.05, -math.pi + 0.05, 60)
        head = np.stack([-np.cos(turn) * 2 - x - 2, np.sin(turn) * 2], axis=1)
        line = np.concatenate([[(x, -w), (x, w), (-x - 0.01, w)], head, [(-x - 0.01, -w)]])
        line = shapely.get_coordinates(shapely.Polygon(line).buffer(0).exterior)
    return _extra(rng, folder, line, ("line too thin",), PALETTE[0])


def small_detail(rng: Rng, folder: Path) -> Case:
    turn = np.linspace(0, 2 * math.pi, 24, endpoint=False)
    dot = np.stack([np.cos(turn), np.sin(turn)], axis=1) * rng.uniform(0.03, 0.08)
    return _extra(rng, folder, dot, ("detail too small",), PALETTE[1])


def narrow_gap(rng: Rng, folder: Path) -> Case:
    w, x = rng.uniform(0.05, 0.13) / 2, rng.uniform(2, 4)
    outer = np.array([(-6, -4), (6, -4), (6, 4), (-6, 4)], float)
    slit = np.array([(-x, -w), (-x, w), (x, w), (x, -w)])
    return _extra(rng, folder, outer, ("gap too narrow",), PALETTE[2], (slit,))


def near_colours(rng: Rng, folder: Path) -> Case:
    colour = str(rng.choice(PALETTE))
    value = int(colour[5:], 16)
    other = f"{colour[:5]}{value + (1 if value < 255 else -1):02x}"
    square = np.array([(-2, -2), (2, -2), (2, 2), (-2, 2)], float)
    return _extra(rng, folder, square, ("near colours",), other)


VECTOR_DEFECTS: dict[str, Callable[[Rng, Path], Case]] = {
    "vector: nudged 0.012–0.1 mm": nudge(0.012, 0.1),
    "vector: nudged 0.1–0.85 mm": nudge(0.1, 0.85),
    "vector: copy lost": lost,
    "vector: partner swapped": swapped,
    "vector: partner's colour": other_colour,
    "vector: motif cut": cut,
    "vector: wrong layout": wrong_layout,
    "vector: overlap": overlap,
    "vector: too close": too_close,
    "vector: void": void,
    "vector: alley": alley,
    "vector: thin line": thin_line,
    "vector: small detail": small_detail,
    "vector: narrow gap": narrow_gap,
    "vector: near colours": near_colours,
}


def clean_vector(rng: Rng, folder: Path, k: int) -> Case:
    """Art, or a finished tile with its copies whole, or one cut at the bounds."""
    page = strewn(rng)
    if k % 3:
        page = page.finished()
    if k % 3 == 2:
        tile = shapely.box(0, 0, page.width, page.height)
        puts: list[Put] = []
        for put in page.puts:
            shape = shapely.Polygon(put.outline + put.at).buffer(0).intersection(tile)
            for part in shapely.get_parts(shape):
                if part.geom_type == "Polygon":
                    ring = shapely.get_coordinates(part.exterior)
                    puts.append(
                        replace(put, outline=ring, at=(0.0, 0.0), name=f"{put.name} {len(puts)}")
                    )
        page = replace(page, puts=tuple(puts))
    return Case(page.written(folder), page.layout, "all")

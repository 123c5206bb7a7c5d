"""The bank of defects that `vecrepeat check` is held to, and clean repeats it must leave alone.

By hand: ``python tests/benchmarks/check_bank.py [--cases 50] [--clean 300] [--only KIND,…]``
prints the confusion table. A sample of it runs in tests/check/test_bank.py.
"""

from __future__ import annotations

import argparse
import math
import os
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from vecrepeat.check import checking
from vecrepeat.check.findings import Finding
from vecrepeat.repeat.layout import Layout
from vecrepeat.sources.source import open_source

# Reading is a part of what is measured.
os.environ["VECREPEAT_CACHE"] = "off"

Rng = np.random.Generator
Pixels = NDArray[np.uint8]
LAYOUTS = ("block", "half-drop", "brick", "drop:1/3", "brick:1/4")
PALETTE = ("#1b4965", "#ca6702", "#9b2226", "#2a9d8f", "#6a4c93", "#386641")


# --- rasters ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class Grid:
    """A tile in pixels with its layout."""

    width: int
    height: int
    layout: Layout

    @property
    def vectors(self) -> tuple[tuple[int, int], tuple[int, int]]:
        lattice = self.layout.lattice(Fraction(self.width), Fraction(self.height))
        return (
            (int(lattice.a.x), int(lattice.a.y)),
            (int(lattice.b.x), int(lattice.b.y)),
        )

    def block(self) -> tuple[int, int]:
        across, down = self.layout.straight_block
        return self.width * across, self.height * down


def grid(rng: Rng, layout: str | None = None) -> Grid:
    """A tile of about 400 to 720 px a side whose shift is whole pixels."""
    return Grid(
        int(rng.integers(34, 60)) * 12,
        int(rng.integers(34, 60)) * 12,
        Layout.parse(layout or str(rng.choice(LAYOUTS))),
    )


def field_of(
    rng: Rng, g: Grid, power: float, low: float = 0, high: float = 1e9
) -> NDArray[np.float64]:
    """Noise of a power-law spectrum that repeats on the lattice, of mean 0 and deviation 1."""
    w, h = g.block()
    fy, fx = np.meshgrid(np.fft.fftfreq(h) * h, np.fft.rfftfreq(w) * w, indexing="ij")
    f = np.hypot(fx * g.width / w, fy * g.height / h)
    amplitude = np.where((f >= low) & (f <= high) & (f > 0), np.maximum(f, 1e-9) ** -power, 0)
    spectrum = amplitude * np.exp(2j * np.pi * rng.random(f.shape))
    noise = np.fft.irfft2(spectrum, (h, w))
    # Summed over the tiles of the straight block, so that all of them are alike.
    (ax, ay), (bx, by) = g.vectors
    across, down = g.layout.straight_block
    total = sum(
        np.roll(noise, (i * ay + j * by, i * ax + j * bx), (0, 1))
        for i in range(across)
        for j in range(down)
    )
    tile = np.asarray(total)[: g.height, : g.width]
    even: NDArray[np.float64] = (tile - tile.mean()) / tile.std()
    return even


def blot(rng: Rng, radius: float) -> NDArray[np.float64]:
    """A star-shaped outline about the origin, with some detail."""
    turn = np.linspace(0, 2 * np.pi, 160, endpoint=False)
    shape = np.ones_like(turn)
    for k in range(2, 9):
        shape += rng.normal(0, 0.35 / k) * np.cos(k * turn + rng.uniform(0, 6.3))
    shape = np.maximum(shape, 0.25) * radius
    return np.stack([shape * np.cos(turn), shape * np.sin(turn)], axis=1)


def _colour(rng: Rng, low: int, high: int) -> tuple[int, int, int]:
    red, green, blue = (int(v) for v in rng.integers(low, high, 3))
    return red, green, blue


@dataclass
class Blots:
    """Flat shapes of a raster tile: outline about its centre, centre, colour."""

    items: list[tuple[NDArray[np.float64], NDArray[np.float64], tuple[int, int, int]]] = field(
        default_factory=list
    )


def strewn(rng: Rng, g: Grid, count: int, heavy_joins: bool) -> Blots:
    """Shapes all over the tile, with markings; with heavy joins most lie on them."""
    blots = Blots()
    for _ in range(count):
        centre = rng.uniform((0, 0), (g.width, g.height))
        if heavy_joins and rng.random() < 0.6:
            centre[int(rng.integers(0, 2))] = rng.normal(0, 8)
        radius = rng.uniform(14, 60)
        colour = _colour(rng, 10, 230)
        outline = blot(rng, radius)
        blots.items.append((outline, centre, colour))
        for _ in range(int(rng.integers(0, 4))):
            inner = _colour(rng, 10, 250)
            blots.items.append(
                (
                    blot(rng, radius * rng.uniform(0.2, 0.6)),
                    centre + rng.normal(0, radius / 4, 2),
                    inner,
                )
            )
    return blots


def drawn(
    g: Grid, blots: Blots, ground: Pixels, off: tuple[float, float] = (0, 0), joins: str = "x"
) -> Pixels:
    """Draw shapes on a ground; the copies that come in over one join lie ``off`` px beside."""
    fine = 4
    image = Image.fromarray(ground).resize(
        (g.width * fine, g.height * fine), Image.Resampling.NEAREST
    )
    pen = ImageDraw.Draw(image)
    (ax, ay), (bx, by) = g.vectors
    for outline, centre, colour in blots.items:
        reach = float(np.abs(outline).max()) + 8
        for i in range(-4, 5):
            for j in range(-4, 5):
                at = centre + np.array([i * ax + j * bx, i * ay + j * by])
                if not (-reach < at[0] < g.width + reach and -reach < at[1] < g.height + reach):
                    continue
                if off != (0, 0):
                    comes_in = (
                        at[0] < g.width / 2 and abs(at[0]) < reach
                        if joins == "x"
                        else at[1] < g.height / 2 and abs(at[1]) < reach
                    )
                    if comes_in:
                        at = at + off
                pen.polygon(((outline + at) * fine).ravel().tolist(), fill=colour)
    return np.asarray(image.resize((g.width, g.height), Image.Resampling.BOX))


def across_join(rng: Rng, g: Grid, joins: str, paper: NDArray[np.int64]) -> Blots:
    """Shapes that plainly cross one join, four of them, with markings of their own.

    They lie off the join's middle, so that their edges cross it at a slope: an edge square to a
    join looks the same however far it is moved across, and nothing ruins the repeat.
    """
    blots = Blots()
    length, at = (g.height, 1) if joins == "x" else (g.width, 0)
    for k in range(4):
        centre = np.zeros(2)
        centre[at] = (k + rng.uniform(0.3, 0.7)) * length / 4
        radius = rng.uniform(28, 44)
        centre[1 - at] = rng.uniform(0.4, 0.65) * radius * (1 if rng.random() < 0.5 else -1)
        dark = _colour(rng, 0, max(int(paper.min()) - 110, 10))
        blots.items.append((blot(rng, radius), centre, dark))
        light = _colour(rng, 150, 250)
        blots.items.append(
            (
                blot(rng, rng.uniform(10, 18)),
                centre * (np.arange(2) == at) + rng.normal(0, 6, 2),
                light,
            )
        )
    return blots


def flat_ground(g: Grid, colour: NDArray[np.int64]) -> Pixels:
    return np.broadcast_to(np.array(colour, np.uint8), (g.height, g.width, 3)).copy()


KINDS = ("flat", "texture", "gradient", "watercolour", "heavy")


def raster(
    rng: Rng, kind: str, g: Grid, off: tuple[float, float] = (0, 0), joins: str = "x"
) -> Pixels:
    """A seamless tile, or one whose flat shapes lie ``off`` px beside over a join."""
    paper = rng.integers(190, 250, 3)
    if kind in ("flat", "heavy"):
        blots = strewn(rng, g, 26 if kind == "flat" else 60, kind == "heavy")
        ground = flat_ground(g, paper)
    elif kind == "gradient":
        base = np.stack([field_of(rng, g, 2.2, 0, 5) for _ in range(3)], axis=2)
        ground = np.clip(paper - 40 + base * 25, 0, 255).astype(np.uint8)
        blots = strewn(rng, g, 14, True)
    elif kind in ("texture", "grain"):
        grain = field_of(rng, g, rng.uniform(0.2, 1.2))
        weave = field_of(rng, g, 1.5)
        tint = rng.uniform(0.5, 1, 3)
        strength = (18, 22) if kind == "texture" else (2.5, 12)
        base = paper - 50 + (grain * strength[0] + weave * strength[1])[..., None] * tint
        ground = np.clip(base, 0, 255).astype(np.uint8)
        blots = strewn(rng, g, 12, True)
    else:
        wash = np.stack([field_of(rng, g, 1.7, 0, 40) for _ in range(3)], axis=2)
        pool = field_of(rng, g, 1.3)
        rim = np.exp(-((pool / 0.08) ** 2))[..., None]
        grain = field_of(rng, g, 0.4)[..., None]
        base = paper + wash * 22 - rim * rng.uniform(20, 60) - (pool > 0)[..., None] * (45, 25, 8)
        ground = np.clip(base + grain * 5, 0, 255).astype(np.uint8)
        blots = Blots()
    if off != (0, 0):
        blots.items += across_join(rng, g, joins, paper).items
    return drawn(g, blots, ground, off, joins)


def saved(pixels: Pixels, folder: Path, name: str = "tile.png", **options: object) -> Path:
    path = folder / name
    Image.fromarray(pixels).save(path, **options)  # type: ignore[arg-type]
    return path


@dataclass(frozen=True)
class Case:
    """What is checked, how, and what must be found (nothing where ``kinds`` is empty)."""

    file: Path
    layout: str
    question: str
    kinds: tuple[str, ...] = ()
    vector_px: tuple[float, float] | None = None
    vector_mm: tuple[float, float] | None = None


def _coarse_kind(rng: Rng) -> str:
    return str(rng.choice(("flat", "heavy")))


def raster_nudge(rng: Rng, folder: Path, most: int = 1) -> Case:
    while True:
        dx, dy = (int(v) for v in rng.integers(-most, most + 1, 2))
        if max(abs(dx), abs(dy)) == most or (most > 1 and max(abs(dx), abs(dy)) > 1):
            break
    g = grid(rng)
    joins = str(rng.choice(("x", "y")))
    kind = str(rng.choice(("flat", "heavy", "gradient", "grain")))
    tile = raster(rng, kind, g, (dx, dy), joins)
    return Case(saved(tile, folder), str(g.layout), "joins", ("nudged", "broken"), (dx, dy))


def raster_nudge_far(rng: Rng, folder: Path) -> Case:
    return raster_nudge(rng, folder, int(rng.integers(2, 6)))


def raster_lost_pixels(rng: Rng, folder: Path) -> Case:
    g = grid(rng, "block")
    # Of grain as fine as a pixel, or of a soft wash, nobody can tell that a column is gone.
    kind = str(rng.choice(("flat", "heavy", "gradient", "grain")))
    side = "x" if rng.random() < 0.5 else "y"
    tile = raster(rng, kind, g, (1e-9, 0), side)
    lost = int(rng.integers(1, 4))
    if side == "x":
        cut, vector = tile[:, lost:], (-lost, 0)
    else:
        cut, vector = tile[lost:], (0, -lost)
    return Case(saved(cut, folder), "block", "joins", ("nudged", "broken"), vector)


def raster_line(rng: Rng, folder: Path) -> Case:
    g = grid(rng)
    tile = raster(rng, str(rng.choice(KINDS)), g).copy()
    colour = np.array([255, 255, 255]) if rng.random() < 0.6 else np.median(tile, axis=(0, 1))
    spread = np.abs(tile[:, [0, -1]].astype(float) - colour).mean()
    if spread < 8:
        colour = np.array([0, 0, 0])
    side = int(rng.integers(0, 4))
    edge = (np.s_[:, 0], np.s_[:, -1], np.s_[0], np.s_[-1])[side]
    tile[edge] = colour
    return Case(saved(tile, folder), str(g.layout), "joins", ("line", "broken"))


def raster_clear_line(rng: Rng, folder: Path) -> Case:
    g = grid(rng)
    tile = raster(rng, str(rng.choice(KINDS)), g)
    clear = np.dstack([tile, np.full(tile.shape[:2], 255, np.uint8)])
    edge = (np.s_[:, 0, 3], np.s_[:, -1, 3], np.s_[0, :, 3], np.s_[-1, :, 3])[
        int(rng.integers(0, 4))
    ]
    clear[edge] = int(rng.choice((0, 128, 200)))
    return Case(saved(clear, folder), str(g.layout), "joins", ("alpha fringe",))


def raster_soft(rng: Rng, folder: Path) -> Case:
    g = grid(rng)
    tile = raster(rng, str(rng.choice(("texture", "watercolour", "heavy"))), g)
    image = Image.fromarray(tile)
    from PIL import ImageFilter

    soft = np.asarray(image.filter(ImageFilter.GaussianBlur(rng.uniform(1.5, 3)))).astype(float)
    width = int(rng.integers(2, 4))
    mask = np.zeros(tile.shape[:2])
    if rng.random() < 0.5:
        mask[:, :width] = mask[:, -width:] = 1
    else:
        mask[:width] = mask[-width:] = 1
    mixed = tile * (1 - mask[..., None]) + soft * mask[..., None]
    return Case(
        saved(mixed.astype(np.uint8), folder),
        str(g.layout),
        "joins",
        ("soft edge", "broken", "nudged"),
    )


def raster_wrong_layout(rng: Rng, folder: Path) -> Case:
    g = grid(rng, str(rng.choice(("half-drop", "brick", "drop:1/3"))))
    tile = raster(rng, str(rng.choice(("heavy", "texture", "watercolour", "gradient"))), g)
    return Case(saved(tile, folder), "block", "joins", ("wrong layout", "broken", "nudged"))


def raster_no_repeat(rng: Rng, folder: Path) -> Case:
    g = grid(rng, "block")
    tile = raster(rng, str(rng.choice(("heavy", "texture", "watercolour"))), g)
    h, w = tile.shape[:2]
    cut = tile[: h * 3 // 4, : w * 3 // 4]
    return Case(saved(cut, folder), "block", "joins", ("broken", "wrong layout", "nudged", "line"))


def raster_jpeg(rng: Rng, folder: Path) -> Case:
    g = grid(rng, "block")
    tile = raster(rng, str(rng.choice(("watercolour", "texture"))), g)
    return Case(
        saved(tile, folder, "tile.jpg", quality=int(rng.integers(4, 12))),
        "block",
        "joins",
        ("JPEG blocks", "broken"),
    )


# --- running ---------------------------------------------------------------------------------

RASTER_DEFECTS: dict[str, Callable[[Rng, Path], Case]] = {
    "raster: nudged 1 px": raster_nudge,
    "raster: nudged 2–5 px": raster_nudge_far,
    "raster: pixels lost": raster_lost_pixels,
    "raster: one-pixel line": raster_line,
    "raster: clear edge": raster_clear_line,
    "raster: soft edge": raster_soft,
    "raster: wrong layout": raster_wrong_layout,
    "raster: no repeat": raster_no_repeat,
    "raster: JPEG blocks": raster_jpeg,
}


def clean_raster(rng: Rng, folder: Path, k: int) -> Case:
    g = grid(rng)
    tile = raster(rng, KINDS[k % len(KINDS)], g)
    if k % 7 == 3:
        return Case(saved(tile, folder, "tile.jpg", quality=92), str(g.layout), "joins")
    return Case(saved(tile, folder), str(g.layout), "joins")


def found_in(case: Case) -> tuple[Finding, ...]:
    layout = Layout.parse(case.layout)
    if checking.is_picture(case.file):
        return checking.check_picture(case.file, layout=layout, only=(case.question,)).findings
    source = open_source(case.file, layout=layout)
    only = (
        ("joins", "collisions", "voids", "alleys", "balance", "print")
        if case.question == "all"
        else (case.question,)
    )
    return checking.check_drawing(source, only=only).findings


def caught(case: Case, findings: Sequence[Finding]) -> bool:
    return any(f.kind in case.kinds for f in findings)


def vector_right(case: Case, findings: Sequence[Finding]) -> bool | None:
    """Whether the right vector is told; None where none is stated or told."""
    if case.vector_px is not None:
        told = [f.vector_px for f in findings if f.vector_px is not None]
        tolerance, asked = 0.5, case.vector_px
    elif case.vector_mm is not None:
        told = [f.vector for f in findings if f.vector is not None]
        tolerance, asked = 0.005, case.vector_mm
    else:
        return None
    if not told:
        return False
    return any(
        math.hypot(t[0] - s * asked[0], t[1] - s * asked[1]) <= tolerance
        for t in told
        for s in (1, -1)
    )


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--cases", type=int, default=50)
    parser.add_argument("--clean", type=int, default=300)
    parser.add_argument("--only", default="")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", type=Path)
    chosen = parser.parse_args()
    defects_all, clean = everything()
    defects = {k: v for k, v in defects_all.items() if chosen.only in k}
    print(f"{'kind':28} {'cases':>5} {'found':>5} {'missed':>6} {'vector':>9}  as")
    total = hits = 0
    for name, make in defects.items():
        found, kinds, right, judged = 0, Counter[str](), 0, 0
        for k in range(chosen.cases):
            rng = np.random.default_rng([chosen.seed, list(defects_all).index(name), k])
            with tempfile.TemporaryDirectory() as folder:
                case = make(rng, Path(folder))
                findings = found_in(case)
                ok = caught(case, findings)
                if chosen.keep and not ok:
                    target = (
                        chosen.keep
                        / f"{name.replace(' ', '-').replace(':', '')}-{k}{case.file.suffix}"
                    )
                    target.write_bytes(case.file.read_bytes())
                    print(
                        "   missed",
                        target,
                        case.layout,
                        case.vector_px,
                        case.vector_mm,
                        [f.kind for f in findings],
                    )
            found += ok
            kinds.update({f.kind for f in findings})
            verdict = vector_right(case, findings)
            if verdict is not None:
                judged += 1
                right += verdict
        total, hits = total + chosen.cases, hits + found
        vector = f"{right}/{judged}" if judged else ""
        print(
            f"{name:28} {chosen.cases:>5} {found:>5} {chosen.cases - found:>6} {vector:>9}  "
            f"{dict(kinds)}",
            flush=True,
        )
    if total:
        print(f"recall {hits}/{total} = {hits / total:.2%}")
    for label, make_clean in clean.items():
        if chosen.only and chosen.only not in label:
            continue
        alarms = Counter[str]()
        false = 0
        for k in range(chosen.clean):
            rng = np.random.default_rng([chosen.seed + 1000, k])
            with tempfile.TemporaryDirectory() as folder:
                case = make_clean(rng, Path(folder), k)
                findings = found_in(case)
                if findings and chosen.keep:
                    target = chosen.keep / f"{label}-{k}{case.file.suffix}"
                    target.write_bytes(case.file.read_bytes())
                    print(
                        "   alarm",
                        target,
                        case.layout,
                        KINDS[k % len(KINDS)],
                        [f.line() for f in findings][:3],
                    )
            false += bool(findings)
            alarms.update({f.kind for f in findings})
        print(f"{label}: {chosen.clean} clean, {false} false alarms {dict(alarms)}", flush=True)


def everything() -> tuple[
    dict[str, Callable[[Rng, Path], Case]], dict[str, Callable[[Rng, Path, int], Case]]
]:
    """All kinds of defects, and of clean repeats."""
    sys.path.insert(0, str(Path(__file__).parent))
    from vector_bank import VECTOR_DEFECTS, clean_vector

    return (
        {**RASTER_DEFECTS, **VECTOR_DEFECTS},
        {"clean rasters": clean_raster, "clean vectors": clean_vector},
    )


if __name__ == "__main__":
    main()

"""One part out of place by one pixel in one tile of 3,000 px: found, and with its vector?

By hand: ``python tests/benchmarks/one_pixel.py [--seed 1] [--cases 40]``.

The art is that of demo-svg, moved over the tile by chance, so that other motifs lie on the
joins in every case. Then either one copy that comes in over a join is moved by one pixel, as
by a slip of the hand, or one of the four quarters is, as when a drawing is cut in four and slid
together. Cases are told apart by how many edges of the drawing the move puts out of line at
the join. Some leave no trace: what is moved lies behind others where it crosses, or runs just
the way of the move. That is proven by pixels: along every join the tile is the seamless one to
the last level, so that whoever finds a fault there finds it in the seamless tile too. Where
pixels change, but none by more than can be seen, no edge counts as out of line. One edge can't
tell a vector (dx, dy) by its one jump, whatever looks at it.
"""

from __future__ import annotations

import argparse
import os
import re
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from io import BytesIO
from pathlib import Path

import numpy as np
import resvg_py
from numpy.typing import NDArray
from PIL import Image

from vecrepeat.check.findings import Finding
from vecrepeat.check.pixels import PixelTile, levels
from vecrepeat.check.rasterjoins import check_raster_joins
from vecrepeat.core.geometry import Affine, Rect
from vecrepeat.repeat.layout import Layout
from vecrepeat.repeat.model import Placement, Repeat
from vecrepeat.repeat.wrap import copies, placed
from vecrepeat.sources.source import open_source
from vecrepeat.write.svg import Motifs, document, ground_rect

# Reading is a part of what is measured.
os.environ["VECREPEAT_CACHE"] = "off"

SIDE = 3000
DEMOS = Path(__file__).parent.parent.parent / "demo-svg"
LAYOUTS = {
    "night-garden": ("block",),
    "brook": ("block",),
    "pomegranate": ("cm",),
    "ogee": ("c2mm",),
    "ticking-garden": ("block",),
}
STEPS = ((1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (-1, 1), (1, -1), (-1, -1))
"""Each way a part can lie one pixel beside its place."""

SEEN_LEVELS, APART_PX = 8.0, 6
"""A pixel changes plainly by so many levels of 255; places so far apart are two edges."""

STRIP = 6
"""Pixels along the joins in which two vectors must differ to be told apart."""

GROUPS = ("3 edges or more", "1 or 2 edges", "no edge plainly", "no trace")
"""How many edges a move puts out of line at the join where it shows most."""

Pixels = NDArray[np.uint8]


@dataclass(frozen=True)
class Nudged:
    """A tile with one part out of place.

    Attributes:
        what: what was moved, for people.
        tile: the pixels, RGB.
        clean: the tile without the move.
        vector: by how many pixels, across and down.
        moved: draws the tile with the same part out of place by another vector.
    """

    what: str
    tile: Pixels
    clean: Pixels
    vector: tuple[int, int]
    moved: Callable[[tuple[float, float]], Pixels]


def block_of(name: str, rng: np.random.Generator) -> Repeat:
    """A demo's straight block as a plain block, its art moved by chance, 3,000 px at 300 dpi."""
    layout = Layout.parse(str(rng.choice(LAYOUTS[name])))
    repeat = open_source(DEMOS / f"{name}.svg", layout=layout).repeat
    width, height = repeat.block_size
    move = Affine.translation(
        float(rng.uniform(0, float(width))), float(rng.uniform(0, float(height)))
    )
    found = copies(repeat, Rect(0.0, 0.0, float(width) - 1e-3, float(height) - 1e-3))
    kept: dict[tuple[int, int, int], Placement] = {}
    lattice = repeat.lattice
    for copy in found:
        # One of each that the block's own lattice brings about.
        offset = lattice.at(copy.i, copy.j)
        key = (copy.placement, round(offset.x % width * 1000), round(offset.y % height * 1000))
        kept.setdefault(key, placed(repeat, copy))
    moved = tuple(Placement(p.motif, move @ p.transform) for p in kept.values())
    block = replace(
        repeat, width=width, height=height, layout=Layout(), placements=moved, symmetry=None
    )
    return block.scaled(Fraction(SIDE * 254, 3000) / width)


def drawn(repeat: Repeat, nudged: int | None = None, by: tuple[float, float] = (0, 0)) -> Pixels:
    """Draw one tile by resvg, one of its copies moved by so many mm."""
    motifs = Motifs(repeat)
    lines = []
    for k, copy in enumerate(copies(repeat, repeat.tile_rect)):
        matrix = placed(repeat, copy).transform
        if k == nudged:
            matrix = Affine.translation(*by) @ matrix
        motif = repeat.placements[copy.placement].motif
        lines.append(f'<use xlink:href="#{motifs.ids[motif]}" transform="{matrix.svg()}"/>')
    body = f"<defs>{motifs.definitions()}</defs>"
    body += ground_rect(repeat.ground, repeat.width, repeat.height) + "".join(lines)
    # Stretched to whole pixels, as an export does: a tile that loses half a row shows it.
    height = round(SIDE * repeat.height / repeat.width)
    svg = re.sub(
        r'width="[\d.]+mm" height="[\d.]+mm"',
        f'width="{SIDE}" height="{height}" preserveAspectRatio="none"',
        document(repeat.width, repeat.height, body),
        count=1,
    )
    data = resvg_py.svg_to_bytes(svg_string=svg, dpi=96)
    return np.asarray(Image.open(BytesIO(bytes(data))).convert("RGB"))


def nudged_copy(rng: np.random.Generator) -> Nudged:
    """One copy over a join lies one pixel beside its place."""
    name = str(rng.choice(list(LAYOUTS)))
    repeat = block_of(name, rng)
    page = repeat.tile_rect
    found = copies(repeat, page)
    over = []
    for k, copy in enumerate(found):
        if not copy.is_wrap:
            continue
        box = Rect.of(placed(repeat, copy).outline.bounds)
        inside = min(box.x1, page.x1) - max(box.x0, 0), min(box.y1, page.y1) - max(box.y0, 0)
        # One that shows by two mm or more, and goes on by as much over some bound.
        beyond = max(-box.x0, box.x1 - page.x1, -box.y0, box.y1 - page.y1)
        if min(inside) > 2 and beyond > 2:
            over.append(k)
    if not over:
        return nudged_copy(rng)
    k = int(rng.choice(over))
    vector = STEPS[int(rng.integers(len(STEPS)))]
    pixel = float(repeat.width) / SIDE

    def moved(by: tuple[float, float]) -> Pixels:
        return drawn(repeat, k, (by[0] * pixel, by[1] * pixel))

    what = f"{name}: {repeat.placements[found[k].placement].motif.name}"
    return Nudged(what, moved(vector), drawn(repeat), vector, moved)


def nudged_quarter(rng: np.random.Generator) -> Nudged:
    """One quarter lies one pixel beside its place; what it leaves bare shows the ground."""
    name = str(rng.choice(list(LAYOUTS)))
    clean = drawn(block_of(name, rng))
    height, width = clean.shape[0] // 2, clean.shape[1] // 2
    vector = STEPS[int(rng.integers(len(STEPS)))]
    top, left = (int(v) for v in rng.integers(0, 2, 2))
    rows, columns = slice(top * height, None), slice(left * width, None)
    rows = rows if top else slice(0, height)
    columns = columns if left else slice(0, width)

    def moved(by: tuple[float, float]) -> Pixels:
        tile = clean.copy()
        # Where it moves off the join, its own next pixels come in: the drawing is larger than
        # a quarter, and is cut after it has been moved.
        shift = (round(by[1]), round(by[0]))
        tile[rows, columns] = np.roll(clean, shift, axis=(0, 1))[rows, columns]
        return tile

    return Nudged(f"{name}: a quarter", moved(vector), clean, vector, moved)


KINDS = {"copy": nudged_copy, "quarter": nudged_quarter}


def change(one: Pixels, other: Pixels) -> NDArray[np.float32]:
    """By how many levels pixels differ."""
    first, second = (levels(PixelTile(pixels, None, None)) for pixels in (one, other))
    apart: NDArray[np.float32] = np.abs(first - second)
    return apart


def edges_moved(case: Nudged) -> int:
    """At how many places along the join that shows most the move changes its pixels plainly.

    The pixels are those of the outermost row or column itself. Each place is an edge of the
    drawing that no longer goes on; what changes nowhere shows nothing.
    """
    moved = change(case.tile, case.clean) > SEEN_LEVELS
    most = 0
    for line in (moved[:, 0], moved[:, -1], moved[0], moved[-1]):
        at = np.flatnonzero(line)
        most = max(most, int((np.diff(at) > APART_PX).sum()) + 1 if len(at) else 0)
    return most


def leaves_trace(case: Nudged) -> bool:
    """Whether any pixel within :data:`STRIP` of the joins differs from the seamless tile's."""
    moved = (case.tile != case.clean).any(axis=2)
    moved[STRIP:-STRIP, STRIP:-STRIP] = False
    return bool(moved.any())


def group_of(case: Nudged, edges: int) -> str:
    """Return which of :data:`GROUPS` a case belongs to."""
    if not leaves_trace(case):
        return "no trace"
    return "3 edges or more" if edges >= 3 else "1 or 2 edges" if edges else "no edge plainly"


def found_in(pixels: Pixels) -> tuple[Finding, ...]:
    answer, _ = check_raster_joins(PixelTile(pixels, None, None), Layout(), 25.4 / 300)
    return answer.findings


def vector_right(case: Nudged, findings: Sequence[Finding]) -> bool:
    """Whether the vector is told, from either side of the join."""
    x, y = case.vector
    return any(f.vector_px in ((x, y), (-x, -y)) for f in findings)


def vector_alike(case: Nudged, findings: Sequence[Finding]) -> bool:
    """Whether a vector is told that would give the same pixels along the joins.

    A straight edge slides along itself unseen, so that no pixel tells the two vectors apart.
    """
    told = {f.vector_px for f in findings if f.vector_px is not None}
    return any(
        plainly_apart(case.tile, case.moved((sign * x, sign * y))) == 0
        for x, y in told
        for sign in (1, -1)
    )


def plainly_apart(one: Pixels, other: Pixels) -> int:
    """How many pixels within :data:`STRIP` of the joins differ plainly."""
    difference = change(one, other) > SEEN_LEVELS
    difference[STRIP:-STRIP, STRIP:-STRIP] = False
    return int(difference.sum())


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--cases", type=int, default=40, help="of each kind")
    parser.add_argument("--clean", type=int, default=20)
    chosen = parser.parse_args()
    for number, (kind, make) in enumerate(KINDS.items()):
        counts: Counter[tuple[str, str]] = Counter()
        for k in range(chosen.cases):
            case = make(np.random.default_rng([chosen.seed, number, k]))
            edges = edges_moved(case)
            findings = found_in(case.tile)
            group = group_of(case, edges)
            told = "nudged" if any(f.kind == "nudged" for f in findings) else "missed"
            if told == "nudged" and vector_right(case, findings):
                told = "vector right"
            elif told == "nudged" and vector_alike(case, findings):
                told = "alike"
            counts[group, told] += 1
            if told != "vector right":
                others = [f.vector_px for f in findings]
                print(f"  {kind} {k}: {case.what}, {case.vector}, {group}: {others}", flush=True)
        for group in GROUPS:
            right, alike, other, missed = (
                counts[group, told] for told in ("vector right", "alike", "nudged", "missed")
            )
            found = right + alike + other
            print(
                f"{kind}, {group}: {found + missed} cases, {found} found, {right} with "
                f"their vector, {alike} with one that gives the same pixels"
            )
    alarms = 0
    for k in range(chosen.clean):
        rng = np.random.default_rng([chosen.seed, 99, k])
        findings = found_in(drawn(block_of(str(rng.choice(list(LAYOUTS))), rng)))
        alarms += bool(findings)
        if findings:
            print(f"  clean {k}: {[(f.kind, f.vector_px) for f in findings]}")
    print(f"clean: {chosen.clean} tiles, {alarms} false alarms")


if __name__ == "__main__":
    main()

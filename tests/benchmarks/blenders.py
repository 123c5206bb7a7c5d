"""Blenders at random: ``python tests/benchmarks/blenders.py [KIND …]``.

Each kind on five layouts under ten settings, and each of these at two odd sizes, so that every
kind and layout is drawn at twenty. It prints, for each kind: how many blocks were not periodic
to the byte; how far a row or a column of pixels at most was, in the mean, from the same drawn four
times as finely (a hairline would be tens of levels of 255); and by how much the areas of dots and
stripes were off arithmetic.
"""

from __future__ import annotations

import math
import random
import sys
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from vecrepeat.blenders.grounds import on_blender
from vecrepeat.blenders.settings import KINDS, MARKS, Blender
from vecrepeat.core.errors import InputError
from vecrepeat.draw.paint import CairoEngine, Window
from vecrepeat.draw.plan import PixelPlan, plan_pixels
from vecrepeat.repeat.model import Ground, Repeat
from vecrepeat.scene.nodes import Ellipse
from vecrepeat.scene.nodes import Path as Drawn

sys.path.insert(0, str(Path(__file__).parent.parent))

from support import areas_shown

LAYOUTS = ("block", "half-drop", "brick", "drop:1/3", "half-drop+turnover-across")
SETTINGS = 10
FINER = 4


def told_by_chance(kind: str, rng: random.Random) -> dict[str, Any]:
    """Return keys of a kind: measures of half a millimetre and up."""
    known = KINDS[kind]
    count = rng.randint(1, min(4, known.most))
    told: dict[str, Any] = {
        "kind": kind,
        "colours": tuple(f"#{rng.randrange(1 << 24):06x}" for _ in range(count)),
    }
    by_chance: dict[str, Any] = {
        "spacing": lambda: rng.uniform(5, 14),
        "length": lambda: rng.uniform(4, 20),
        "widths": lambda: tuple(rng.uniform(0.6, 6) for _ in range(rng.choice((1, count)))),
        "order": lambda: rng.choice(("grid", "half-drop", "scattered")),
        "way": lambda: rng.choice(("down", "across", "diagonal")[: 3 if kind == "stripes" else 2]),
        "marks": lambda: tuple(rng.sample(MARKS, 2)),
        "uneven": rng.random,
        "seed": lambda: rng.randrange(10**6),
    }
    told |= {key: draw() for key, draw in by_chance.items() if key in known.keys}
    if "size" in known.keys:
        told["size"] = rng.uniform(0.6, 1.2) if "spacing" in told else rng.uniform(2, 9)
        if kind in ("dots", "scatter"):
            told["size"] = told["spacing"] * rng.uniform(0.2, 0.65)
    return told


def by_chance(kind: str, layout: str, rng: random.Random) -> tuple[Blender, Repeat]:
    """Return a blender that its tile and layout can have."""
    while True:
        sides = (Fraction(rng.randint(20, 50)), Fraction(rng.randint(20, 50)))
        bare = Repeat("blender", *sides, (), ground=Ground("#ffffff")).with_layout(layout)
        try:
            told = Blender.of(told_by_chance(kind, rng))
            return told, on_blender(bare, told).repeat
        except InputError:
            continue


def drawn(engine: CairoEngine, plan: PixelPlan, x: int = 0, y: int = 0) -> Any:
    """Return one block's pixels from a place on."""
    return engine.painter(plan).paint(Window(x, y, *plan.block))[..., :3]


def looked_at(repeat: Repeat, across: int) -> tuple[bool, float]:
    """Return whether a block goes round to the byte, and its worst row or column."""
    engine = CairoEngine(repeat)
    plan = plan_pixels(repeat, Fraction(254, 10) * across / repeat.width)
    width, height = plan.block
    block = drawn(engine, plan)
    x, y = width * 3 // 7, height * 2 // 5
    goes = bool((drawn(engine, plan, x, y) == np.roll(block, (-y, -x), (0, 1))).all())
    larger = replace(plan, width=plan.width * FINER, height=plan.height * FINER)
    fine = drawn(engine, larger)
    mean = fine.reshape(height, FINER, width, FINER, 3).mean(axis=(1, 3))
    off = np.abs(block - mean).max(axis=2)
    return goes, float(max(off.mean(axis=0).max(), off.mean(axis=1).max()))


def area_off(told: Blender, repeat: Repeat) -> float:
    """Return how far areas are from arithmetic, as shares of the cloth; 0 where none is known."""
    tile = shapely.box(*repeat.tile_rect)
    if told.kind == "dots":
        circles = [
            path.outline
            for one in repeat.placements
            for path in one.motif.scene.children
            if isinstance(path, Drawn) and isinstance(path.outline, Ellipse)
        ]
        area = sum(math.pi * circle.rx * circle.ry for circle in circles)
        return abs(area - len(circles) * math.pi * told.size**2 / 4) / float(tile.area)
    if told.kind != "stripes" or len(set(told.colours)) != len(told.colours):
        return 0.0
    seen = areas_shown(repeat)
    colours = told.colours if len(told.colours) > 1 else (*told.colours, "")
    count = math.lcm(len(told.widths), len(colours))
    widths = [told.widths[k % len(told.widths)] for k in range(count)]
    off = [
        seen[colour] - sum(widths[k :: len(colours)]) / sum(widths)
        for k, colour in enumerate(colours)
        if colour
    ]
    return float(max(map(abs, off)))


def main() -> None:
    """Print a line for each kind."""
    for kind in sys.argv[1:] or KINDS:
        broken, worst, areas, count = 0, 0.0, 0.0, 0
        for layout in LAYOUTS:
            for number in range(SETTINGS):
                rng = random.Random(f"{kind} {layout} {number}")
                told, repeat = by_chance(kind, layout, rng)
                areas = max(areas, area_off(told, repeat))
                for size in (0, 1):
                    across = 2 * (round(float(repeat.width) * (2 + size)) + number) + 1
                    goes, off = looked_at(repeat, across)
                    broken += not goes
                    worst = max(worst, off)
                    count += 1
        measured = f"; areas off by {areas:.1e}" if kind in ("dots", "stripes") else ""
        print(
            f"{kind}: {count} blocks, {broken} not periodic; "
            f"worst line {worst:.1f} of 255{measured}",
            flush=True,
        )


if __name__ == "__main__":
    main()

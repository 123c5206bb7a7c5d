"""Two engines over one cloth: each motif by its own, in the stacking order, alike everywhere.

The judges are the second engine alone, which draws the same shapes but for its own rounding, and
arithmetic.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from support import svg
from test_resvg_paint import FEATURES, GROUND, SPOTS, all_over, motif, moved, planned, repeat_of

from vecrepeat.art.read import read_art
from vecrepeat.draw import mixed
from vecrepeat.draw.mixed import MixedEngine
from vecrepeat.draw.paint import Window
from vecrepeat.draw.resvg import rasterise
from vecrepeat.draw.resvg_paint import ResvgEngine, ResvgPainter
from vecrepeat.draw.sheet import Sheet
from vecrepeat.repeat.wrap import Copy
from vecrepeat.write.exporting import Exporter


@pytest.mark.parametrize("layout", ["block", "half-drop", "brick 1/3"])
def test_every_tile_is_the_same_and_what_the_second_engine_draws(layout: str) -> None:
    motifs = [motif(name, FEATURES[name]) for name in ("inner shadow", "clip path", "mask", "blur")]
    motifs += [motif("shadow", FEATURES["shadow"]), motif("gradient", FEATURES["gradient"])]
    repeat = repeat_of(motifs, layout)
    plan = planned(repeat, 97)
    plain = {"clip path", "gradient"}
    beyond = [m for m in motifs if m.name not in plain]
    painter = MixedEngine(repeat, beyond).painter(plan)
    tile = painter.paint(moved(plan, 0, 0))
    if plan.has_whole_shift:
        assert np.array_equal(tile, painter.paint(moved(plan, 3, -2)))
    width, height = plan.block
    block = np.concatenate(list(Sheet(plan, width, height).strips(painter)))
    assert np.array_equal(block[: plan.height, : plan.width], tile)
    whole = ResvgEngine(repeat).painter(plan).paint(moved(plan, 0, 0))
    apart = np.abs(tile.astype(np.int16) - whole).max(axis=2)
    # Edges of what cairo draws are other by some levels, all else is as the second has it.
    assert apart.mean() < 0.4
    assert (apart > 40).mean() < 1e-4


def test_pictures_lie_in_the_stacking_order() -> None:
    """Red by cairo, green by resvg, blue by cairo, each over half of the one before."""
    colours = ("#f00", "#0f0", "#00f")
    boxes = [
        f'<rect x="{x}" y="-5" width="8" height="10" fill="{c}"/>'
        for x, c in zip((-10, -6, -2), colours, strict=True)
    ]
    motifs = [motif(c, box) for c, box in zip(colours, boxes, strict=True)]
    repeat = repeat_of(motifs, spots=[(30, 25)] * 3)
    plan = planned(repeat, 254)
    row = MixedEngine(repeat, motifs[1:2]).painter(plan).paint(Window(200, 250, 170, 1))[0]
    colour = [tuple(int(v) for v in row[x, :3]) for x in (10, 50, 90, 130)]
    assert colour == [(255, 0, 0), (0, 255, 0), (0, 0, 255), (0, 0, 255)]
    assert tuple(int(v) for v in row[169, :3]) == GROUND.rgb


def test_each_place_is_drawn_once_however_many_windows_show_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    drawn: list[Copy] = []
    alone = ResvgPainter.paint_alone

    def counted(painter: ResvgPainter, copy: Copy, window: Window) -> object:
        drawn.append(copy)
        return alone(painter, copy, window)

    monkeypatch.setattr(ResvgPainter, "paint_alone", counted)
    repeat = all_over("blur", "block")
    plan = planned(repeat, 72)
    motifs = [placement.motif for placement in repeat.placements]
    painter = MixedEngine(repeat, motifs).painter(plan)
    first = painter.paint(moved(plan, 0, 0))
    assert len(drawn) == len(SPOTS)
    assert np.array_equal(first, painter.paint(moved(plan, 1, 1)))
    assert len(drawn) == len(SPOTS)
    # Where none can be kept, they are drawn again, to the same pixels.
    monkeypatch.setattr(mixed, "KEPT_BYTES", 0)
    painter = MixedEngine(repeat, motifs).painter(plan)
    rows = [painter.paint(Window(0, y, plan.width, 1)) for y in range(plan.height)]
    assert np.array_equal(first, np.concatenate(rows))
    assert len(drawn) > 3 * len(SPOTS)


def test_what_is_too_large_for_a_picture_is_cut_into_windows(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    repeat = all_over("mask", "half-drop")
    plan = planned(repeat, 97)
    motifs = [placement.motif for placement in repeat.placements]
    window = moved(plan, 0, 0)
    usual = MixedEngine(repeat, motifs).painter(plan).paint(window)
    monkeypatch.setattr(mixed, "fits", lambda _: False)
    apart = MixedEngine(repeat, motifs).painter(plan).paint(window).astype(np.int16) - usual
    assert np.abs(apart).max() <= 2


SPRIG = '<g id="sprig"><circle cx="20" cy="20" r="9" fill="#c33"/></g>'
GLOW = (
    '<filter id="f"><feGaussianBlur stdDeviation="2"/></filter>'
    '<g id="glow"><circle cx="50" cy="40" r="9" fill="#39c" filter="url(#f)"/></g>'
)
INK = '<g id="ink" style="mix-blend-mode:multiply"><circle cx="25" cy="25" r="9" fill="#ff0"/></g>'


@pytest.mark.parametrize(
    ("body", "engine", "note"),
    [
        (SPRIG, "cairo", None),
        (SPRIG + GLOW, "both", "resvg draws “glow” (filter)"),
        (
            SPRIG + GLOW + INK,
            "resvg",
            "all is drawn by resvg, for the sake of “glow” (filter), “ink” (blend mode)",
        ),
        (
            SPRIG + f'<g id="closed" style="isolation:isolate">{INK}</g>',
            "both",
            "resvg draws “closed” (blend mode)",
        ),
    ],
    ids=["plain", "filtered", "blending", "isolated"],
)
def test_who_draws_what(tmp_path: Path, body: str, engine: str, note: str | None) -> None:
    """A motif that blends with what lies below it needs all of that in its own engine."""
    (tmp_path / "art.svg").write_text(svg(body), encoding="utf-8")
    repeat = read_art(tmp_path / "art.svg").repeat()
    exporter = Exporter(repeat)
    assert (exporter.engine, exporter.engine_note()) == (engine, note)
    plan = exporter.plan(Fraction(127))
    ours = exporter.painter(plan).paint(Window(0, 0, plan.width, plan.height))
    size = (plan.width, plan.height)
    theirs = rasterise(svg(body, width=str(size[0]), height=str(size[1])), *size)
    inner = (slice(plan.height // 8, -plan.height // 8), slice(plan.width // 8, -plan.width // 8))
    apart = np.abs(ours[inner].astype(np.int16) - theirs[inner]).max(axis=2)
    assert (apart > 40).mean() < 1e-3

"""The page's mathematics is that of ``repeat.wrap``, ``repeat.symmetry`` and ``sources``."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from browsing import board_of, browser, looked_at, write_art
from support import motif

from vecrepeat.board.cloth import describe_layout
from vecrepeat.core.geometry import Rect
from vecrepeat.recipe.model import Placed
from vecrepeat.repeat.layout import Layout
from vecrepeat.repeat.model import Motif, Placement, Repeat
from vecrepeat.repeat.wrap import copies, offsets, onto_tile, tile_steps
from vecrepeat.sources.source import Pool, placement

LAYOUTS = """block
half-drop
drop:1/3
drop:3/7
brick
brick:2/5
turnover-across
half-drop+turnover-both
brick+half-turn-down
p2
pg
cm
p2gg
p4mm
p3
p31m
p6mm""".splitlines()


@pytest.fixture(scope="module")
def tab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """A page of the board's: its modules are there to be called."""
    with board_of(write_art(tmp_path_factory.mktemp("plane"))) as board, browser() as found:
        yield looked_at(found.new_page(), board)


def convex(dice: random.Random, size: float) -> shapely.Polygon:
    points = [(dice.uniform(0, size), dice.uniform(0, size)) for _ in range(7)]
    return shapely.convex_hull(shapely.MultiPoint(points))


def star(dice: random.Random, size: float) -> shapely.Polygon:
    """A star: far from convex."""
    angle = np.linspace(0, 2 * np.pi, 13)[:-1]
    far = np.where(np.arange(12) % 2, 0.2, 1.0) * size / 2
    x0, y0 = dice.uniform(0, size), dice.uniform(0, size)
    return shapely.Polygon(np.stack([x0 + far * np.cos(angle), y0 + far * np.sin(angle)], axis=1))


def case(dice: random.Random, layout: str, shape: Any) -> tuple[dict[str, Any], Repeat, Rect]:
    """A random cloth, as Python has it and as the page is told of it."""
    width = Fraction(dice.randrange(40, 200))
    height = width if layout.startswith("p4") else Fraction(dice.randrange(40, 200))
    motifs = {f"m{k}": motif(f"m{k}", shape(dice, dice.choice([5, 30, 180]))) for k in range(3)}
    placed = [
        Placed(
            dice.choice(list(motifs)),
            dice.choice([None, (dice.uniform(-150, 300), dice.uniform(-150, 300))]),
            dice.choice([0, 90, 180, 270, round(dice.uniform(0, 360), 2)]),
            dice.choice([1, round(dice.uniform(0.2, 3), 3)]),
            dice.random() < 0.4,
        )
        for _ in range(6)
    ]
    pool = Pool(motifs, (), None, None, "", ())
    page = Repeat(
        "r", width, height, tuple(placement(one, None, pool, n) for n, one in enumerate(placed))
    )
    x, y = dice.uniform(-400, 400), dice.uniform(-400, 400)
    region = Rect(x, y, x + dice.uniform(1, 300), y + dice.uniform(1, 300))
    told = {
        "motifs": [told_of(one) for one in motifs.values()],
        "rows": [{**one.__dict__, "at": one.at and list(one.at)} for one in placed],
        "lie": describe_layout(page, layout, cut=False),
        "region": list(region),
    }
    return told, page.with_layout(Layout.parse(layout)), region


def told_of(one: Motif) -> dict[str, Any]:
    hull = shapely.get_coordinates(shapely.convex_hull(one.outline))[:-1].tolist()
    return {"name": one.name, "box": list(one.box), "hull": hull}


def by_page(tab: Any, cases: list[dict[str, Any]]) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = tab.evaluate(
        """async cases => {
            const { copies, tileAt } = await import('/js/lattice.js');
            const plane = await import('/js/placements.js');
            return cases.map(({ motifs, rows, lie, region }) => {
                const known = new Map(motifs.map(motif => [motif.name, motif]));
                const placements = plane.placementsOf(rows, known, lie.turns);
                return {
                    copies: copies(placements, lie, region),
                    boxed: copies(placements.map(({ box }) => ({ box })), lie, region),
                    tile: tileAt(lie, region),
                    matrices: placements.map(placement => placement.matrix),
                    back: rows.map(row => {
                        const motif = known.get(row.motif);
                        return plane.rowOf(plane.matrixOf(row, motif), motif);
                    }),
                };
            });
        }""",
        cases,
    )
    return found


def test_copies_of_convex_motifs_are_the_same_in_every_layout(tab: Any) -> None:
    dice = random.Random(9)
    cases = [case(dice, layout, convex) for layout in LAYOUTS for _ in range(6)]
    answers = by_page(tab, [told for told, _, _ in cases])
    some = 0
    for (_, repeat, region), answer in zip(cases, answers, strict=True):
        wanted = [list(copy) for copy in copies(repeat, region)]
        assert answer["copies"] == wanted
        some += len(wanted)
    assert some > 1000


def test_no_copy_of_any_motif_is_missing_and_the_order_is_the_same(tab: Any) -> None:
    dice = random.Random(10)
    cases = [case(dice, layout, star) for layout in LAYOUTS for _ in range(3)]
    for (_, repeat, region), answer in zip(
        cases, by_page(tab, [told for told, _, _ in cases]), strict=True
    ):
        wanted = [list(copy) for copy in copies(repeat, region)]
        told = {tuple(copy) for copy in map(tuple, wanted)}
        assert [copy for copy in answer["copies"] if tuple(copy) in told] == wanted
        assert answer["copies"] == sorted(answer["copies"])


def test_copies_by_boxes_are_all_whose_boxes_meet(tab: Any) -> None:
    dice = random.Random(14)
    cases = [case(dice, layout, convex) for layout in LAYOUTS for _ in range(3)]
    for (_, repeat, region), answer in zip(
        cases, by_page(tab, [told for told, _, _ in cases]), strict=True
    ):
        boxes = [Placement(motif(f"b{k}", shapely.box(*box))) for k, box in enumerate(repeat.boxes)]
        wanted = copies(replace(repeat, placements=tuple(boxes)), region)
        assert answer["boxed"] == [list(copy) for copy in wanted]


def test_places_lie_on_the_same_tile(tab: Any) -> None:
    dice = random.Random(15)
    cases = [case(dice, layout, convex) for layout in LAYOUTS for _ in range(6)]
    for (_, repeat, region), answer in zip(
        cases, by_page(tab, [told for told, _, _ in cases]), strict=True
    ):
        place = np.array(region[:2])
        i, j = tile_steps(repeat.lattice, *place)
        assert answer["tile"] == [i, j]
        # By the tile itself: less the lattice's vector, the place lies in it.
        home = place - offsets(repeat.lattice, np.array([[i, j]]))[0]
        assert (home >= 0).all()
        assert (home < [float(repeat.width), float(repeat.height)]).all()
        assert np.concatenate(onto_tile(repeat.lattice, *place[:, None])) == pytest.approx(home)


def test_placements_are_mapped_alike(tab: Any) -> None:
    dice = random.Random(11)
    cases = [case(dice, layout, convex) for layout in LAYOUTS]
    for (_, repeat, _), answer in zip(
        cases, by_page(tab, [told for told, _, _ in cases]), strict=True
    ):
        wanted = [list(one.transform) for one in repeat.placements]
        np.testing.assert_allclose(answer["matrices"], wanted, rtol=0, atol=1e-9)


def test_a_row_read_back_from_its_map_is_the_row(tab: Any) -> None:
    dice = random.Random(12)
    cases = [case(dice, "block", convex)[0] for _ in range(20)]
    for told, answer in zip(cases, by_page(tab, cases), strict=True):
        for row, back in zip(told["rows"], answer["back"], strict=True):
            assert back["flip"] == row["flip"]
            assert back["scale"] == pytest.approx(row["scale"], abs=6e-5)
            assert (back["turn"] - row["turn"] + 180) % 360 - 180 == pytest.approx(0, abs=6e-3)
            if row["at"]:
                assert back["at"] == pytest.approx(row["at"], abs=6e-4)


def test_the_tile_is_brought_to_whole_pixels_within_half_a_percent(
    tab: Any, tmp_path: Path
) -> None:
    dice = random.Random(13)
    cases: list[dict[str, Any]] = []
    for layout in LAYOUTS[:6]:
        page = Repeat("r", Fraction(dice.randrange(90, 700)), Fraction(dice.randrange(90, 700)), ())
        cases.append(
            {"lie": describe_layout(page, layout, cut=False), "scale": dice.uniform(0.8, 9)}
        )
    found = tab.evaluate(
        """async cases => {
            const { wholeTile } = await import('/js/view.js');
            return cases.map(({ lie, scale }) => wholeTile(lie, scale));
        }""",
        cases,
    )
    for one, (w, h) in zip(cases, found, strict=True):
        width, height = one["lie"]["cell"]
        assert (w, h) == (int(w), int(h))
        assert w / (width * one["scale"]) == pytest.approx(1, abs=0.02)
        grain = one["lie"]["steps"]
        assert h == pytest.approx(w * height / width, abs=grain / 2 + 1e-9)
        if one["lie"]["kind"] == "drop":
            assert h % grain == 0
        if one["lie"]["kind"] == "brick":
            assert w % grain == 0

"""A first collection of loose motifs: prints on a ladder of scales, in one palette."""

from __future__ import annotations

from pathlib import Path

import pytest
from support import svg, vecrepeat

from vecrepeat.collection.line import Line, open_line
from vecrepeat.recipe.model import AS_DRAWN
from vecrepeat.sources.prints import art_colours
from vecrepeat.sources.source import open_source

ART = {
    "flower": '<circle cx="50" cy="50" r="40" fill="#d8432e"/><circle cx="50" cy="50" r="14" '
    'fill="#f2c230"/><path d="M50 10l9 26-18 0zM50 90l9-26-18 0z" fill="#7a1f5c"/>',
    "leaf": '<path d="M10 50Q50 10 90 50Q50 90 10 50Z" fill="#3c7a4b"/>'
    '<path d="M10 49h80v2h-80z" fill="#245238"/>',
    "bud": '<circle cx="20" cy="20" r="12" fill="#2f6f9f"/>',
    "seed": '<rect x="10" y="10" width="9" height="9" fill="#f2c230"/>',
}


@pytest.fixture(scope="module")
def proposed(tmp_path_factory: pytest.TempPathFactory) -> Line:
    folder = tmp_path_factory.mktemp("proposed")
    art = folder / "motifs"
    art.mkdir()
    for name, body in ART.items():
        (art / f"{name}.svg").write_text(svg(body))
    done = vecrepeat("collection", art, "-o", folder / "meadow", "--tile", "6x6in")
    assert done.code == 0
    assert "6 prints" in done.out
    return open_line(folder / "meadow" / "collection.toml")


def test_one_hero_two_secondaries_three_blenders(proposed: Line) -> None:
    roles = [one.role for one in proposed.prints]
    assert roles == ["hero", "secondary", "secondary", "blender", "blender", "blender"]
    assert proposed.collection.name == "meadow"
    hero = {p.motif.name for p in proposed.sources[0].repeat.placements}
    assert hero == set(ART)
    for source in proposed.sources[1:4]:
        assert {p.motif.name for p in source.repeat.placements} <= set(ART)


def test_scales_halve_from_the_hero_on(proposed: Line) -> None:
    def longest(number: int) -> float:
        repeat = proposed.sources[number].repeat
        boxes = [p.motif.box for p in repeat.placements]
        lengths = (
            p.transform.stretch * max(box.width, box.height)
            for p, box in zip(repeat.placements, boxes, strict=True)
        )
        return max(lengths)

    # A toss and a ditsy vary sizes; sets and stripes make room.
    ladder = [longest(0) / longest(number) for number in (1, 2, 3)]
    assert ladder == [
        pytest.approx(2, rel=0.3),
        pytest.approx(4, rel=0.3),
        pytest.approx(8, rel=0.3),
    ]


def test_every_colour_is_in_the_palette_in_every_colourway(proposed: Line) -> None:
    collection = proposed.collection
    assert len(collection.colourways) == 2
    for way in collection.ways:
        palette = set(collection.palette_in(way).values())
        assert all(set(art_colours(repeat)) <= palette for repeat in proposed.repeats(way))


def test_recipes_stand_alone_and_a_colour_goes_through_all(proposed: Line) -> None:
    file = proposed.collection.file
    for one in proposed.prints:
        assert open_source(one.file).repeat.width == one.width
    text = file.read_text()
    paper = proposed.collection.palette["paper"]
    try:
        file.write_text(text.replace(f'paper = "{paper}"', 'paper = "#010203"', 1))
        changed = open_line(file).repeats(AS_DRAWN)
    finally:
        file.write_text(text)
    before = proposed.repeats(AS_DRAWN)
    users = [paper in art_colours(repeat) for repeat in before]
    assert [("#010203" in art_colours(repeat)) for repeat in changed] == users
    assert sum(users) >= 3


def test_nothing_is_written_over_or_left_behind(proposed: Line, tmp_path: Path) -> None:
    folder = proposed.collection.file.parent
    again = vecrepeat("collection", folder.parent / "motifs", "-o", folder)
    assert (again.code, "it is there already" in again.err) == (2, True)
    (tmp_path / "art").mkdir()
    (tmp_path / "art" / "bad.svg").write_text("<svg")
    bad = vecrepeat("collection", tmp_path / "art", "-o", tmp_path / "new")
    assert (bad.code, bad.err.count("\n")) == (2, 1)
    assert not (tmp_path / "new").exists()

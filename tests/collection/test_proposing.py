"""A first collection of loose motifs: prints on a ladder of scales, in one palette."""

from __future__ import annotations

from pathlib import Path

import pytest
from support import svg, vecrepeat

from vecrepeat.collection.choosing import chosen, likeness
from vecrepeat.collection.line import Line, open_line
from vecrepeat.collection.schemes import Scheme, calm_pair, clear_marks, soft_colours
from vecrepeat.recipe.model import AS_DRAWN
from vecrepeat.scene.visit import holds_lettering
from vecrepeat.sources.looks import looks
from vecrepeat.sources.prints import art_colours
from vecrepeat.sources.source import open_source, read_pool

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
    done = vecrepeat("collection", art, "-o", folder / "meadow", "--tile", "3x3in")
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


def test_secondaries_may_be_turned_end_for_end(proposed: Line) -> None:
    for source in proposed.sources[1:3]:
        stand = [(p.motif.name, p.transform.a > 0) for p in source.repeat.placements]
        for name in {name for name, _ in stand}:
            assert stand.count((name, True)) == stand.count((name, False))


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
    gold = proposed.collection.palette["gold"]
    try:
        file.write_text(text.replace(f'gold = "{gold}"', 'gold = "#010203"', 1))
        changed = open_line(file).repeats(AS_DRAWN)
    finally:
        file.write_text(text)
    before = proposed.repeats(AS_DRAWN)
    users = [gold in art_colours(repeat) for repeat in before]
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


def test_twins_and_other_hands_are_not_chosen_together(tmp_path: Path) -> None:
    drawn = {
        "ball": '<circle cx="50" cy="50" r="40" fill="#c03030"/>',
        "other-ball": '<circle cx="50" cy="50" r="38" fill="#c83828"/>',
        "inked": '<path d="M10 50L50 10L90 50L50 90Z" fill="#40a060" stroke="#000" '
        'stroke-width="12"/>',
        "leaf": '<path d="M10 50Q50 20 90 50Q50 80 10 50Z" fill="#40a060"/>',
    }
    for name, body in drawn.items():
        (tmp_path / f"{name}.svg").write_text(svg(body))
    motifs = read_pool([], [tmp_path]).motifs
    assert likeness(motifs["ball"], motifs["other-ball"]) > 0.9
    assert likeness(motifs["ball"], motifs["leaf"]) < 0.5
    seen = dict(zip(motifs, looks(list(motifs.values())), strict=True))
    assert chosen(list(drawn), 2, motifs, seen) == ["ball", "leaf"]
    assert chosen(["other-ball", "inked", "leaf"], 1, motifs, seen, ["ball"]) == ["leaf"]


def test_lettering_is_left_out(tmp_path: Path) -> None:
    (tmp_path / "sign.svg").write_text(svg('<text x="10" y="50">Sale</text>'))
    (tmp_path / "leaf.svg").write_text(svg(ART["leaf"]))
    motifs = read_pool([], [tmp_path]).motifs
    assert [name for name, one in motifs.items() if holds_lettering(one.scene)] == ["sign"]


def test_blenders_are_clear_and_not_muddy() -> None:
    palette = {
        **{"paper": "#fbf3e4", "mud": "#7a6a58", "brown": "#6b4423", "grey": "#909090"},
        **{"rose": "#e58a8a", "blush": "#f6d3cc", "deep": "#17324a", "leaf": "#3f8f4f"},
    }
    scheme = Scheme(palette, ("paper", "deep"))
    ground, mark = calm_pair(scheme, ["paper", "deep"])
    assert not {ground, mark} & {"mud", "brown", "grey"}
    assert not {"mud", "brown", "grey", "leaf"} & set(soft_colours(scheme))
    assert 15 <= scheme.differences()[list(palette).index(ground), list(palette).index(mark)] <= 45
    found = clear_marks(scheme, "blush")
    assert len(found) >= 3
    assert "paper" not in found


def test_a_ditsy_keeps_more_than_two_colours(proposed: Line) -> None:
    assert len(proposed.collection.print_of("ditsy").colours) >= 3

"""Drawings and recipes opened alike."""

from __future__ import annotations

from pathlib import Path

import pytest
import shapely
from support import write_svg

from vecrepeat.core.errors import InputError
from vecrepeat.repeat.layout import Layout
from vecrepeat.sources.source import open_source

BODY = """<rect width="100" height="100" fill="#102030"/>
<g id="leaf"><path d="M10 10h20v10z"/></g><g id="bud"><circle cx="60" cy="70" r="5"/></g>"""


def recipe(folder: Path, text: str, *, body: str = BODY) -> Path:
    write_svg(folder, body, name="flowers.svg")
    path = folder / "design.toml"
    path.write_text(text, encoding="utf-8")
    return path


def boxes(path: Path) -> list[tuple[float, ...]]:
    placements = open_source(path).repeat.placements
    return [tuple(round(v, 6) for v in p.outline.bounds) for p in placements]


def test_without_placements_motifs_stand_as_drawn(tmp_path: Path) -> None:
    path = recipe(tmp_path, 'art = "flowers.svg"')
    assert boxes(path) == boxes(tmp_path / "flowers.svg")


def test_keys_say_tile_layout_ground_and_name(tmp_path: Path) -> None:
    text = 'name = "n"\nart = "flowers.svg"\ntile = "2x3cm"\nlayout = "brick"\nground = "none"'
    repeat = open_source(recipe(tmp_path, text)).repeat
    assert repeat.name == "n"
    assert [repeat.width, repeat.height] == [20, 30]
    assert (str(repeat.layout), repeat.ground) == ("brick", None)


def test_the_layout_asked_for_wins(tmp_path: Path) -> None:
    path = recipe(tmp_path, 'art = "flowers.svg"\nlayout = "brick"')
    assert str(open_source(path, layout=Layout.parse("half-drop")).repeat.layout) == "half-drop"


def test_a_placement_puts_the_middle_of_the_motif_there(tmp_path: Path) -> None:
    text = 'art = "flowers.svg"\nplacement = [{ motif = "leaf", at = [50, 40] }]'
    assert boxes(recipe(tmp_path, text)) == [(40, 35, 60, 45)]


def test_turns_are_clockwise_as_one_sees_them(tmp_path: Path) -> None:
    # The leaf's corner is upper right (30, 10); a quarter clockwise brings it lower right.
    text = 'art = "flowers.svg"\nplacement = [{ motif = "leaf", at = [50, 40], turn = 90 }]'
    outline = open_source(recipe(tmp_path, text)).repeat.placements[0].outline
    assert outline.equals(shapely.Polygon([(55, 30), (55, 50), (45, 50)]))


def test_flip_is_before_the_turn_and_scale_is_about_the_middle(tmp_path: Path) -> None:
    text = (
        'art = "flowers.svg"\n'
        'placement = [{ motif = "leaf", at = [50, 40], turn = 90, scale = 2, flip = true }]'
    )
    # Mirrored, the leaf's square corner is upper left; a quarter brings it upper right.
    outline = open_source(recipe(tmp_path, text)).repeat.placements[0].outline
    assert outline.equals(shapely.Polygon([(60, 60), (60, 20), (40, 20)]))


def test_a_motif_may_be_given_its_width(tmp_path: Path) -> None:
    text = (
        'art = "flowers.svg"\nmotif = [{ name = "bud", width = "30mm" }]\n'
        'placement = [{ motif = "bud", at = [50, 50], scale = 2 }]'
    )
    path = recipe(tmp_path, text)
    (box,) = boxes(path)
    assert box == pytest.approx((20, 20, 80, 80), abs=0.01)
    assert open_source(path).pool.motifs["bud"].box.width == pytest.approx(30)


def test_several_drawings_and_names_that_clash(tmp_path: Path) -> None:
    write_svg(tmp_path, '<g id="leaf"><rect width="9" height="9"/></g>', name="more.svg")
    source = open_source(recipe(tmp_path, 'art = ["flowers.svg", "more.svg"]'))
    assert list(source.pool.motifs) == ["flowers/leaf", "bud", "more/leaf"]
    assert [p.motif.name for p in source.repeat.placements] == list(source.pool.motifs)


def test_art_is_looked_for_beside_the_recipe(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = recipe(tmp_path, 'art = "flowers.svg"')
    monkeypatch.chdir("/")
    assert open_source(path).repeat.placements


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('art = "gone.svg"', "gone.svg.*no such file"),
        ('art = "flowers.svg"\nplacement = [\n{ motif = "laef" },\n]',
         "design.toml: line 3: there is no motif “laef” .*“leaf”"),
        ('art = "flowers.svg"\n[[placement]]\nmotif = "zzz"', "line 2: .*vecrepeat motifs lists"),
        ('loose = ["x.svg"]', "(no such file|the tile has no size)"),
    ],
)  # fmt: skip
def test_what_does_not_fit_is_told(tmp_path: Path, text: str, told: str) -> None:
    with pytest.raises(InputError, match=told):
        open_source(recipe(tmp_path, text))


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"art = \xff", "not UTF-8"),
        (b"#" * (5 << 20), "larger than 4 MiB"),
        (None, "there is no such file"),
    ],
)
def test_files_that_are_no_recipe(tmp_path: Path, data: bytes | None, told: str) -> None:
    path = tmp_path / "x.toml"
    if data is not None:
        path.write_bytes(data)
    with pytest.raises(InputError, match=told):
        open_source(path)

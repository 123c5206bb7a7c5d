"""Other colours for the same art: what changes, and what must not."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from support import by_resvg, demo, read

from vecrepeat.colour.recolour import recoloured
from vecrepeat.repeat.model import Ground
from vecrepeat.write.svg import tile_svg

SWAP = {"#ff0000": "#00ff00", "#0000ff": "#ffff00"}


def _pixels(folder: Path, body: str, colours: dict[str, str]) -> tuple[np.ndarray, np.ndarray]:
    """The recoloured art, and the art drawn in the new colours to begin with."""
    got = tile_svg(recoloured(read(folder, body).repeat(), colours))
    for old, new in colours.items():
        body = body.replace(old, new)
    return by_resvg(got, 100), by_resvg(tile_svg(read(folder, body).repeat()), 100)


@pytest.mark.parametrize(
    "body",
    [
        '<rect x="9" y="9" width="40" height="40" fill="#ff0000" stroke="#0000ff"/>',
        '<g fill="#ff0000" opacity=".4"><circle cx="40" cy="40" r="20"/></g>',
        '<style>.a{fill:#ff0000;fill-opacity:.5}</style><path class="a" d="M9 9h50v50z"/>',
        '<defs><radialGradient id="g"><stop stop-color="#ff0000"/><stop offset="1" '
        'stop-color="#0000ff" stop-opacity=".5"/></radialGradient></defs>'
        '<rect x="9" y="9" width="60" height="60" fill="url(#g)"/>',
        '<rect width="100" height="100" fill="#0000ff"/><rect x="9" y="9" width="9" height="9"/>',
        '<defs><filter id="f"><feFlood flood-color="#ff0000"/></filter></defs>'
        '<rect x="9" y="9" width="50" height="50" filter="url(#f)"/>',
    ],
)
def test_art_looks_as_if_drawn_in_the_new_colours(tmp_path: Path, body: str) -> None:
    got, expected = _pixels(tmp_path, body, SWAP)
    assert np.array_equal(got, expected)


def test_black_that_nobody_wrote_changes_too(tmp_path: Path) -> None:
    body = (
        '<defs><linearGradient id="g"><stop/><stop offset="1" stop-color="#ffffff"/>'
        '</linearGradient></defs><rect x="9" y="9" width="9" height="9"/>'
        '<rect x="40" y="9" width="40" height="9" fill="url(#g)"/>'
    )
    drawn = by_resvg(
        tile_svg(recoloured(read(tmp_path, body).repeat(), {"#000000": "#ff0000"})), 100
    )
    assert drawn[13, 13].tolist() == [255, 0, 0, 255]
    assert drawn[13, 41, 0] == 255
    assert drawn[13, 41, 1] < 30


def test_a_mask_keeps_its_luminance(tmp_path: Path) -> None:
    body = (
        '<defs><mask id="m"><rect width="100" height="100" fill="#ffffff"/></mask></defs>'
        '<g mask="url(#m)"><rect x="9" y="9" width="50" height="50" fill="#ffffff"/></g>'
    )
    drawn = by_resvg(
        tile_svg(recoloured(read(tmp_path, body).repeat(), {"#ffffff": "#000000"})), 100
    )
    assert drawn[30, 30].tolist() == [0, 0, 0, 255]


def test_a_reference_that_looks_like_a_colour_stays(tmp_path: Path) -> None:
    body = (
        '<defs><linearGradient id="ff0000"><stop stop-color="#0000ff"/><stop offset="1" '
        'stop-color="#0000ff"/></linearGradient></defs>'
        '<rect x="9" y="9" width="50" height="50" fill="url(#ff0000)"/>'
    )
    drawn = by_resvg(tile_svg(recoloured(read(tmp_path, body).repeat(), SWAP)), 100)
    assert drawn[30, 30].tolist() == [255, 255, 0, 255]


def test_outlines_index_and_boxes_are_taken_over() -> None:
    repeat = demo("night-garden").repeat()
    index, outline = repeat.index, repeat.placements[0].motif.outline
    new = recoloured(repeat, {"#141e3c": "#ffffff"})
    assert new.index is index
    assert new.placements[0].motif.outline is outline
    assert all(
        a.motif.parts is b.motif.parts
        for a, b in zip(repeat.placements, new.placements, strict=True)
    )


def test_the_ground_follows_is_set_or_is_taken_away(tmp_path: Path) -> None:
    body = '<rect width="100" height="100" fill="#ff0000"/><rect x="9" y="9" width="9" height="9"/>'
    repeat = read(tmp_path, body).repeat()
    assert recoloured(repeat, SWAP).ground == Ground("#00ff00")
    assert recoloured(repeat, SWAP, "#123456").ground == Ground("#123456")
    assert recoloured(repeat, SWAP, None).ground is None


def test_swapping_two_colours_and_back_is_the_same_art() -> None:
    repeat = demo("brook").repeat()
    turn = {"#b4623c": "#3b6f78", "#3b6f78": "#b4623c"}
    there = recoloured(repeat, turn)
    back = recoloured(there, turn)
    assert [p.motif.scene for p in back.placements] == [p.motif.scene for p in repeat.placements]
    assert tile_svg(there) != tile_svg(repeat)

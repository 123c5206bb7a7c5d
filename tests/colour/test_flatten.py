"""What is seen of layers that hide or veil one another; expected areas are arithmetic."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from support import box

from vecrepeat.colour.flatten import Face, faces_of, flattened, over, plain, seen_colour, under
from vecrepeat.colour.painted import PaintLayer, Veil

RED, BLUE, WHITE = "#ff0000", "#0000ff", "#ffffff"


def _by_colour(faces: list[Face]) -> dict[object, float]:
    return {mix: area.area for area, mix in faces}


def test_the_upper_layer_knocks_out_the_lower() -> None:
    faces = faces_of([PaintLayer(box(0, 0, 2, 1), RED, 1), PaintLayer(box(1, 0, 3, 1), BLUE, 1)])
    assert _by_colour(faces) == pytest.approx({plain(RED): 1, plain(BLUE): 2})


def test_a_colour_over_itself_counts_once() -> None:
    faces = faces_of([PaintLayer(box(0, 0, 2, 1), RED, 1), PaintLayer(box(1, 0, 3, 1), RED, 1)])
    assert _by_colour(faces) == pytest.approx({plain(RED): 3})


def test_a_translucent_layer_mixes_with_what_lies_below() -> None:
    faces = faces_of([PaintLayer(box(0, 0, 2, 1), RED, 1), PaintLayer(box(1, 0, 3, 1), BLUE, 0.25)])
    assert _by_colour(faces) == pytest.approx(
        {plain(RED): 1, over(plain(BLUE, 0.25), plain(RED)): 1, plain(BLUE, 0.25): 1}
    )


def test_a_veil_hidden_between_two_of_one_colour_is_not_seen() -> None:
    layers = [
        PaintLayer(box(0, 0, 2, 1), RED, 1),
        PaintLayer(box(0, 0, 2, 1), BLUE, 0.5),
        PaintLayer(box(0, 0, 1, 1), RED, 1),
    ]
    assert _by_colour(faces_of(layers)) == pytest.approx(
        {plain(RED): 1, over(plain(BLUE, 0.5), plain(RED)): 1}
    )


def test_a_group_fades_as_one() -> None:
    # SVG 2 §3.5: inside the group blue hides red, so red never shows through blue.
    group = Veil((PaintLayer(box(0, 0, 2, 1), RED, 1), PaintLayer(box(1, 0, 2, 1), BLUE, 1)), 0.5)
    assert _by_colour(faces_of([group])) == pytest.approx({plain(RED, 0.5): 1, plain(BLUE, 0.5): 1})


def test_half_of_blue_over_red_looks_purple() -> None:
    # Compositing 1 §5.1: 0.5 · blue + 0.5 · red, halves rounded up.
    assert seen_colour(over(plain(BLUE, 0.5), plain(RED))) == "#800080"
    assert seen_colour(over(plain(RED, 0.5), plain("cloth")), WHITE) == "#ff8080"


def test_what_overprints_knocks_nothing_out() -> None:
    layers = [PaintLayer(box(0, 0, 2, 1), RED, 1), PaintLayer(box(1, 0, 3, 1), BLUE, 1)]
    assert _by_colour(faces_of(layers, {BLUE})) == pytest.approx({plain(RED): 2, plain(BLUE): 2})


def test_nothing_is_seen_under_a_cover() -> None:
    assert under(Face(box(0, 0, 1, 1), plain(RED)), [Face(box(-1, -1, 2, 2), plain(BLUE))]) == []


@settings(max_examples=40)
@given(
    st.lists(
        st.tuples(
            st.integers(0, 8), st.integers(0, 8), st.integers(1, 6), st.integers(1, 6),
            st.sampled_from([RED, BLUE, WHITE]), st.sampled_from([1.0, 1.0, 0.5]),
        ),
        min_size=1, max_size=8,
    )
)  # fmt: skip
def test_faces_look_as_painting_the_layers_in_turn_does(
    rows: list[tuple[int, int, int, int, str, float]],
) -> None:
    faces = flattened([Face(box(x, y, x + w, y + h), plain(c, o)) for x, y, w, h, c, o in rows])
    # The judge: unit squares painted one after the other.
    canvas = [[() for _ in range(14)] for _ in range(14)]
    for x, y, w, h, colour, opacity in rows:
        for row in range(y, y + h):
            for column in range(x, x + w):
                canvas[row][column] = over(plain(colour, opacity), canvas[row][column])  # type: ignore[assignment]
    areas = np.array([face.area for face in faces])
    for row in range(14):
        for column in range(14):
            spot = shapely.Point(column + 0.5, row + 0.5)
            found = [
                dict(f.mix)
                for f, hit in zip(faces, shapely.covers(areas, spot), strict=True)
                if hit
            ]
            expected: dict[object, float] = dict(canvas[row][column])
            assert len(found) == bool(expected)
            if expected:
                assert found[0] == pytest.approx(expected)

"""Offsets are restated a hair's breadth larger, and nothing else is."""

from __future__ import annotations

import re

import pytest
from support import markup_of, scene_of

from vecrepeat.draw.resvg import SHRINKS
from vecrepeat.draw.resvg_scene import SPARE, with_offsets_kept

OTHERS = '<feFlood/><feGaussianBlur stdDeviation="2"/><feDiffuseLighting dx="3"/>'


def filtered(primitives: str) -> str:
    """What becomes of a filter."""
    drawn = f'<filter id="f">{primitives}</filter><path d="M0 0h9v9z" filter="url(#f)"/>'
    found = re.search("<filter[^>]*>(.*)</filter>", markup_of(with_offsets_kept(scene_of(drawn))))
    assert found is not None
    return found[1]


@pytest.mark.parametrize("name", ["feOffset", "feDropShadow"])
def test_offsets_make_up_for_any_shrinking(name: str) -> None:
    found = filtered(f'{OTHERS}<{name} dx="2" dy="-4000"/>')
    assert found == f'{OTHERS}<{name} dx="2.00048828125" dy="-4000.9765625"/>'
    assert (1 + SPARE) * (1 - max(SHRINKS)) > 1


@pytest.mark.parametrize("primitives", [OTHERS, '<feOffset dx="x" dy="1e999" in="a"/>'])
def test_everything_else_stays(primitives: str) -> None:
    assert filtered(primitives) == primitives

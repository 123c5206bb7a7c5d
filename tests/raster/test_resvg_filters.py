"""Offsets are restated a hair's breadth larger, and nothing else is."""

from __future__ import annotations

import pytest

from vecrepeat.raster.resvg_filters import SPARE, with_offsets_kept
from vecrepeat.resvg import SHRINKS

OTHERS = '<feFlood/><feGaussianBlur stdDeviation="2"/><feDiffuseLighting dx="3"/>'


@pytest.mark.parametrize("name", ["feOffset", "feDropShadow"])
def test_offsets_make_up_for_any_shrinking(name: str) -> None:
    found = with_offsets_kept(f'<filter id="f">{OTHERS}<{name} dx="2" dy="-4000"/></filter>')
    assert (
        found == f'<filter id="f">{OTHERS}<{name} dx="2.00048828125" dy="-4000.9765625"/></filter>'
    )
    assert (1 + SPARE) * (1 - max(SHRINKS)) > 1


@pytest.mark.parametrize(
    "markup",
    [
        '<clipPath id="c"><path d="M0 0h9v9z"/></clipPath>',
        f'<filter id="f">{OTHERS}</filter>',
        '<filter id="f"><feOffset dx="x" dy="1e999" in="a"/></filter>',
    ],
)
def test_everything_else_stays(markup: str) -> None:
    assert with_offsets_kept(markup) == markup

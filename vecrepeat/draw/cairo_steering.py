"""CairoSVG steered: it draws paths, rectangles and pictures by our functions, and remembers.

Every shape asks its small pure functions the same questions again: what colour ``#2b4a3f`` is,
which element ``url(#sky)`` names, how ``12pt`` or ``translate(3,4)`` is written evenly. The
answers depend on the words alone, and a drawing has few of them, so each is worked out once. In
the demo drawings that is a quarter of the time in which CairoSVG draws.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import lru_cache, wraps
from types import SimpleNamespace
from typing import Any

from cairosvg import colors, helpers, surface, url

from vecrepeat.draw.cairo_image import draw_image
from vecrepeat.draw.cairo_path import draw_path, draw_rect

WORDS = 4096
"""How many answers of each function are kept."""

LONGEST = 200
"""Characters of the longest question remembered: the rest is data, seldom asked for twice."""


def _remembered(function: Callable[..., Any]) -> Callable[..., Any]:
    kept = lru_cache(WORDS)(function)

    @wraps(function)
    def answered(string: str | None, *rest: Any) -> Any:
        if string is None or len(string) <= LONGEST:
            return kept(string, *rest)
        return function(string, *rest)

    return answered


def _copied(lists: tuple[Any, ...]) -> tuple[Any, ...]:
    """Copy what CairoSVG copies at every element: lists of numbers, and numbers."""
    return tuple(item.copy() if isinstance(item, list) else item for item in lists)


_QUICK = {
    function: _remembered(function) for function in (colors.color, helpers.normalize, url.parse_url)
}


@contextmanager
def steered() -> Iterator[None]:
    """Have CairoSVG draw our way for a while."""
    ours: list[tuple[dict[str, Any], str, Any]] = [
        (surface.TAGS, "path", draw_path),
        (surface.TAGS, "rect", draw_rect),
        (surface.TAGS, "image", draw_image),
        (vars(surface), "copy", SimpleNamespace(deepcopy=_copied)),
    ]
    for module in [module for name, module in sys.modules.items() if name.startswith("cairosvg.")]:
        for key, value in vars(module).items():
            if callable(value) and value in _QUICK:
                ours.append((vars(module), key, _QUICK[value]))
    usual = [(names, key, names[key]) for names, key, _ in ours]
    try:
        for names, key, value in ours:
            names[key] = value
        yield
    finally:
        for names, key, value in usual:
            names[key] = value

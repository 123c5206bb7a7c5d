"""CairoSVG's small pure functions, their answers remembered.

Every shape that CairoSVG draws asks the same questions again: what colour ``#2b4a3f`` is, which
element ``url(#sky)`` names, how ``12pt`` or ``translate(3,4)`` is written evenly. The answers
depend on the words alone, and a drawing has few of them, so each is worked out once. In the
demo drawings that is a quarter of the time in which CairoSVG draws.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import lru_cache, wraps
from types import SimpleNamespace
from typing import Any

from cairosvg import colors, helpers, url
from cairosvg import surface as cairosvg_surface

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
def remembering() -> Iterator[None]:
    """Have CairoSVG remember for a while."""
    changed = []
    for name, module in list(sys.modules.items()):
        if not name.startswith("cairosvg."):
            continue
        for key, value in list(vars(module).items()):
            if callable(value) and value in _QUICK:
                setattr(module, key, _QUICK[value])
                changed.append((module, key, value))
    copying = cairosvg_surface.copy
    cairosvg_surface.copy = SimpleNamespace(deepcopy=_copied)
    try:
        yield
    finally:
        cairosvg_surface.copy = copying
        for module, key, value in changed:
            setattr(module, key, value)

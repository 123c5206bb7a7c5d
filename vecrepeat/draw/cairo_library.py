"""The cairo library, which no Python package brings along; without it resvg draws."""

from __future__ import annotations

import ctypes
import sys
from functools import cache

NO_CAIRO = "no cairo library on this machine: resvg draws instead (a proof's PDF as pictures)"
"""What the user is told where resvg draws in cairo's stead."""

_FILES = ("libcairo.so.2", "libcairo.2.dylib", "libcairo-2.dll")
"""The library on Linux, macOS and Windows, as cairocffi looks for it."""


NATIVE_ORDER = (2, 1, 0, 3) if sys.byteorder == "little" else (1, 2, 3, 0)
"""Where red, green, blue and alpha are in cairo's ARGB words, as this machine orders bytes."""


@cache
def has_cairo() -> bool:
    """Whether the library can be loaded."""
    for file in _FILES:
        try:
            ctypes.CDLL(file)
        except OSError:
            continue
        return True
    # cairocffi looks in more places, which takes a while, and raises as it is imported.
    try:
        import cairocffi  # noqa: F401
    except OSError:
        return False
    return True


@cache
def usual_engine() -> str:
    """Return what draws art that both engines draw faithfully: ``cairo`` where there is one."""
    return "cairo" if has_cairo() else "resvg"


def stood_in() -> bool:
    """Whether resvg has been asked to draw in cairo's stead."""
    return usual_engine.cache_info().currsize > 0 and usual_engine() == "resvg"

"""The cairo library, which no Python package brings along; without it resvg draws.

It is called straight through ctypes: the functions that we draw with are few, and a binding of all
takes longer to be imported than a tile to be drawn. Calls keep the interpreter to themselves: they
are many and short, and whoever draws does nothing else.

Source: the reference manual of cairo 1.16.
"""

from __future__ import annotations

import ctypes
import ctypes.util
import sys
from functools import cache

NO_CAIRO = "no cairo library on this machine: resvg draws instead (a proof's PDF as pictures)"
"""What the user is told where resvg draws in cairo's stead."""

_FILES = ("libcairo.so.2", "libcairo.2.dylib", "libcairo-2.dll")
"""The library on Linux, macOS and Windows."""

_NAMES = ("cairo-2", "cairo", "libcairo-2")
"""What the system may know it by where it is not found as a file."""

NATIVE_ORDER = (2, 1, 0, 3) if sys.byteorder == "little" else (1, 2, 3, 0)
"""Where red, green, blue and alpha are in cairo's ARGB words, as this machine orders bytes."""

ARGB32 = 0
"""cairo's name of those words, premultiplied."""


class Matrix(ctypes.Structure):
    """cairo's matrix: the six numbers of :class:`~vecrepeat.core.geometry.Affine`, in order."""

    _fields_ = tuple((name, ctypes.c_double) for name in "abcdef")


_P, _I, _D, _M = ctypes.c_void_p, ctypes.c_int, ctypes.c_double, ctypes.POINTER(Matrix)

_DRAWING = {
    "save": (),
    "restore": (),
    "clip": (),
    "clip_extents": (ctypes.POINTER(_D),) * 4,
    "push_group": (),
    "pop_group_to_source": (),
    "paint": (),
    "paint_with_alpha": (_D,),
    "fill_preserve": (),
    "stroke_preserve": (),
    "new_path": (),
    "new_sub_path": (),
    "close_path": (),
    "move_to": (_D,) * 2,
    "line_to": (_D,) * 2,
    "curve_to": (_D,) * 6,
    "rel_move_to": (_D,) * 2,
    "rel_line_to": (_D,) * 2,
    "rel_curve_to": (_D,) * 6,
    "arc": (_D,) * 5,
    "arc_negative": (_D,) * 5,
    "rectangle": (_D,) * 4,
    "translate": (_D,) * 2,
    "rotate": (_D,),
    "scale": (_D,) * 2,
    "transform": (_M,),
    "set_matrix": (_M,),
    "get_matrix": (_M,),
    "set_antialias": (_I,),
    "set_tolerance": (_D,),
    "set_fill_rule": (_I,),
    "set_line_cap": (_I,),
    "set_line_join": (_I,),
    "set_line_width": (_D,),
    "set_miter_limit": (_D,),
    "set_dash": (ctypes.POINTER(_D), _I, _D),
    "set_source": (_P,),
    "set_source_rgba": (_D,) * 4,
    "set_source_surface": (_P, _D, _D),
    "destroy": (),
    # Of patterns, whose pointer comes first in the context's place.
    "pattern_add_color_stop_rgba": (_D,) * 5,
    "pattern_set_extend": (_I,),
    "pattern_set_filter": (_I,),
    "pattern_set_matrix": (_M,),
    "pattern_destroy": (),
    # Of surfaces.
    "surface_flush": (),
    "surface_destroy": (),
}
"""Functions that return nothing, and what they take after a pointer."""

_ANSWERING = {
    "create": (_P, (_P,)),
    "status": (_I, (_P,)),
    "status_to_string": (ctypes.c_char_p, (_I,)),
    "get_source": (_P, (_P,)),
    "pattern_create_linear": (_P, (_D,) * 4),
    "pattern_create_radial": (_P, (_D,) * 6),
    "image_surface_create": (_P, (_I, _I, _I)),
    "image_surface_create_for_data": (_P, (_P, _I, _I, _I, _I)),
    "image_surface_get_data": (_P, (_P,)),
    "image_surface_get_stride": (_I, (_P,)),
    "surface_status": (_I, (_P,)),
}
"""The others: what they return, and what they take."""


@cache
def _found() -> ctypes.PyDLL | None:
    for file in _FILES:
        try:
            return ctypes.PyDLL(file)
        except OSError:
            continue
    for name in map(ctypes.util.find_library, _NAMES):
        try:
            if name is not None:
                return ctypes.PyDLL(name)
        except OSError:
            continue
    return None


@cache
def library() -> ctypes.PyDLL:
    """Return the library, which must be there, its functions told what they take."""
    found = _found()
    assert found is not None
    for name, takes in _DRAWING.items():
        function = getattr(found, f"cairo_{name}")
        function.restype, function.argtypes = None, (_P, *takes)
    for name, (returns, takes) in _ANSWERING.items():
        function = getattr(found, f"cairo_{name}")
        function.restype, function.argtypes = returns, takes
    return found


def has_cairo() -> bool:
    """Whether the library can be loaded."""
    return _found() is not None


@cache
def usual_engine() -> str:
    """Return what draws art that both engines draw faithfully: ``cairo`` where there is one."""
    return "cairo" if has_cairo() else "resvg"


def stood_in() -> bool:
    """Whether resvg has been asked to draw in cairo's stead."""
    return usual_engine.cache_info().currsize > 0 and usual_engine() == "resvg"

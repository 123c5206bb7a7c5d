"""What the streams of one PDF share: graphics states, patterns, forms, colour spaces, by name.

Standard: ISO 32000-1:2008, "PDF" below; sections are cited from memory.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from pikepdf import Array, Dictionary, Name, Object, Pdf

from vecrepeat.core.geometry import Affine, Rect
from vecrepeat.write.icc import srgb_profile

FINEST_MM = 1e-4
"""To which coordinates are rounded on paper, in mm: a hundredth of what any print resolves."""


def decimal(value: float, digits: int = 12) -> str:
    """Format a number as PDF §7.3.3 has it: decimal digits, no exponent."""
    text = f"{value:.{digits}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def tint(value: float) -> str:
    """Format a share of light from 0 to 1 so that eight bits of it read back as they were.

    A hair more than it is, since readers may cut off what lies behind the point.
    """
    return decimal(min(value + 2e-6, 1.0), 6) if value > 0 else "0"


def digits_for(stretch: float) -> int:
    """Return how many decimals keep a coordinate to :data:`FINEST_MM`.

    Args:
        stretch: mm to the unit of the coordinate.
    """
    return min(9, max(0, math.ceil(math.log10(max(stretch, 1e-9) / FINEST_MM))))


def matrix_text(matrix: Affine) -> str:
    """Return a matrix as the operands of ``cm``."""
    return " ".join(decimal(value) for value in matrix)


def numbers(values: Iterable[float]) -> Array:
    """Return an array of numbers that read back as they were, to twelve decimals."""
    return Array([Decimal(decimal(value)) for value in values])


class Resources:
    """The resource dictionary (PDF §7.8.3) that every stream of the file refers to.

    Args:
        pdf: the file.
    """

    def __init__(self, pdf: Pdf) -> None:
        self.pdf = pdf
        self._names: dict[Any, str] = {}
        srgb = pdf.make_stream(srgb_profile(), N=3, Alternate=Name.DeviceRGB)
        self.srgb = pdf.make_indirect(srgb)
        # §8.6.5.6: what is given in DeviceRGB is meant in this space.
        spaces = Dictionary(DefaultRGB=Array([Name.ICCBased, self.srgb]))
        self.dictionary = pdf.make_indirect(
            Dictionary(
                ColorSpace=spaces,
                ExtGState=Dictionary(),
                Font=Dictionary(),
                Pattern=Dictionary(),
                Shading=Dictionary(),
                XObject=Dictionary(),
            )
        )

    def on_every_plate(self) -> str:
        """Return the name of the registration colour: PDF §8.6.6.4, the colorant All."""
        tint = Dictionary(
            FunctionType=2,
            Domain=Array([0, 1]),
            N=1,
            C0=numbers([0.0] * 4),
            C1=numbers([1.0] * 4),
        )
        space = Array([Name.Separation, Name.All, Name.DeviceCMYK, tint])
        return self.named("ColorSpace", self.pdf.make_indirect(space))

    def named(self, kind: str, thing: Object, key: Any = None) -> str:
        """Return the name of a resource; things of the same key are taken for the same.

        Args:
            kind: a category of §7.8.3, such as ``Pattern``.
            thing: what to name.
            key: what identifies it; by default it is new.
        """
        if key is not None and (kind, key) in self._names:
            return self._names[kind, key]
        group = self.dictionary[f"/{kind}"]
        name = f"{_PREFIXES[kind]}{len(group)}"
        group[f"/{name}"] = thing
        if key is not None:
            self._names[kind, key] = name
        return name

    def known(self, kind: str, key: Any) -> str | None:
        """Return the name of a resource that has been named under this key."""
        return self._names.get((kind, key))

    def state(self, **values: Any) -> str:
        """Return the name of a graphics state (§8.4.5) with these entries."""
        entries: Mapping[str, Any] = {k: v for k, v in values.items() if v is not None}
        key = tuple((k, v) for k, v in entries.items() if not isinstance(v, Object))
        if len(key) == len(entries):
            known = self.known("ExtGState", key)
            if known is not None:
                return known
        else:
            key = ()
        state = Dictionary()
        for name, value in entries.items():
            if isinstance(value, float):
                value = numbers([value])[0]
            state[f"/{name}"] = Name(f"/{value}") if isinstance(value, str) else value
        return self.named("ExtGState", state, key or None)

    def form(self, content: str, box: Rect, *, group: str | None = None) -> Object:
        """Return a form XObject (§8.10).

        Args:
            content: its stream.
            box: what it is clipped to, in its own units.
            group: the colour space of the isolated transparency group (§11.6.6) that it is.
        """
        form = self.pdf.make_stream(content.encode("ascii"))
        form.Type, form.Subtype = Name.XObject, Name.Form
        form.BBox = numbers(box)
        form.Resources = self.dictionary
        if group is not None:
            form.Group = Dictionary(S=Name.Transparency, CS=Name(f"/{group}"), I=True)
        return self.pdf.make_indirect(form)


_PREFIXES = {"ColorSpace": "C", "ExtGState": "G", "Font": "F", "Pattern": "P"}
_PREFIXES |= {"Shading": "S", "XObject": "X"}

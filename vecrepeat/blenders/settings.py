"""What each kind of blender is told."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, NamedTuple

from vecrepeat.core.errors import InputError
from vecrepeat.core.units import parse_length

NONE = "none"
"""A stripe that lets the ground show."""

ORDERS = ("grid", "half-drop", "scattered")
WAYS = ("down", "across", "diagonal")
MARKS = ("leaf", "sprig", "flower", "star", "cross", "ring", "drop")

GROUND, INK = "#f6f1e7", "#27405e"
"""What a first blender is drawn in: ink on paper."""


TILE = "5x5in"
"""The tile's size where nothing says it: whole pixels at 96, 150 and 300 dpi."""


class Kind(NamedTuple):
    """One kind of blender.

    Attributes:
        about: what it is, for people.
        keys: what it is told, with what holds where nothing is said; lengths as a recipe has
            them, which go round :data:`TILE`.
        most: how many colours it takes.
    """

    about: str
    keys: Mapping[str, Any]
    most: int


KINDS: dict[str, Kind] = {
    "dots": Kind(
        "dots", {"size": "0.16in", "spacing": "0.35in", "order": "half-drop", "seed": 1}, 12
    ),
    "stripes": Kind("stripes", {"widths": ("1/4in",), "way": "down"}, 24),
    "checks": Kind("squares by turns", {"size": "5/16in"}, 2),
    "gingham": Kind("woven checks, mixed where they cross", {"size": "1/4in"}, 3),
    "windowpane": Kind("thin lines in squares", {"size": "1/32in", "spacing": "5/6in"}, 6),
    "chevron": Kind(
        "zigzag stripes", {"widths": ("0.177in",), "spacing": "5/6in", "way": "across"}, 12
    ),
    "lattice": Kind(
        "straight lines crossing in diamonds", {"size": "1/32in", "spacing": "5/8in"}, 2
    ),
    "trellis": Kind("waved lines that meet in ogees", {"size": "1/24in", "spacing": "5/6in"}, 2),
    "scallops": Kind("rows of scales", {"size": "0.035in", "spacing": "5/8in"}, 6),
    "crosshatch": Kind(
        "pen strokes that cross",
        {"size": "0.024in", "spacing": "1/4in", "length": "0.8in", "uneven": 0.5, "seed": 1},
        2,
    ),
    "dashes": Kind(
        "short strokes in rows",
        {
            "size": "0.045in",
            "spacing": "1/4in",
            "length": "5/16in",
            "way": "across",
            "uneven": 0.5,
            "seed": 1,
        },
        6,
    ),
    "scatter": Kind(
        "small drawn marks, strewn evenly",
        {
            "size": "1/4in",
            "spacing": "0.4in",
            "marks": ("sprig", "leaf", "flower"),
            "uneven": 0.5,
            "seed": 1,
        },
        6,
    ),
}
"""Every kind by its name."""


@dataclass(frozen=True)
class Blender:
    """A kind and all that it is told; what its kind knows nothing of has no meaning.

    Attributes:
        kind: one of :data:`KINDS`.
        colours: ``#rrggbb``, or for stripes and chevrons ``none``.
        size: of one mark or line in mm.
        spacing: from the middle of one mark to the next in mm.
        length: of a stroke in mm.
        widths: of stripes in turn, in mm.
        order: of dots.
        way: how stripes or strokes run.
        marks: of a scatter.
        uneven: how much a hand's unevenness shows, 0 to 1.
        seed: the same seed draws the same.
    """

    kind: str
    colours: tuple[str, ...] = (INK,)
    size: float = 0.0
    spacing: float = 0.0
    length: float = 0.0
    widths: tuple[float, ...] = ()
    order: str = ""
    way: str = ""
    marks: tuple[str, ...] = ()
    uneven: float = 0.0
    seed: int = 1

    @classmethod
    def of(cls, told: Mapping[str, Any]) -> Blender:
        """Return a blender from a recipe's ``[blender]`` keys.

        Raises:
            InputError: a key that its kind does not take, or values that don't go together.
        """
        name = told["kind"]
        kind = KINDS[name]
        extra = [key for key in told if key not in ("kind", "colours") and key not in kind.keys]
        if extra:
            raise InputError(
                f"blender.{extra[0]}: {name} have no {extra[0]}"
                if name.endswith("s")
                else f"blender.{extra[0]}: a {name} has no {extra[0]}",
                hint=f"it takes {', '.join(('colours', *kind.keys))}",
            )
        values = {key: _in_mm(value) for key, value in {**kind.keys, **told}.items()}
        made = cls(**values)
        made._check(kind)
        return made

    def _check(self, kind: Kind) -> None:
        striped = "widths" in kind.keys
        if len(self.colours) > kind.most:
            raise InputError(
                f"blender.colours: {self.kind} take at most {kind.most}, not {len(self.colours)}"
            )
        if NONE in self.colours and not (striped and set(self.colours) != {NONE}):
            raise InputError(
                "blender.colours: “none” is for stripes that let the ground show",
                hint="leave it out",
            )
        strewn = self.kind == "scatter" or self.order == "scattered"
        if (self.kind == "dots" or strewn) and self.size > (0.7 if strewn else 0.9) * self.spacing:
            raise InputError(
                f"blender.size: marks of {self.size:g} mm run into each other at a spacing of "
                f"{self.spacing:g} mm",
                hint=f"keep size under {'seven' if strewn else 'nine'} tenths of spacing",
            )
        lined = self.kind in ("windowpane", "lattice", "trellis", "scallops", "crosshatch")
        if lined and self.size > self.spacing / 4:
            raise InputError(
                f"blender.size: lines of {self.size:g} mm are too thick for a spacing of "
                f"{self.spacing:g} mm",
                hint="keep size under a quarter of spacing",
            )
        if self.kind == "dashes" and self.size > 0.7 * self.spacing:
            raise InputError(
                f"blender.size: strokes of {self.size:g} mm run into each other at a spacing of "
                f"{self.spacing:g} mm",
                hint="keep size under seven tenths of spacing",
            )


def _in_mm(value: Any) -> Any:
    """Return lengths as mm, and anything else as it is."""
    if isinstance(value, tuple):
        return tuple(map(_in_mm, value))
    if isinstance(value, Fraction):
        return float(value)
    if isinstance(value, str) and value.endswith("in"):
        return float(parse_length(value))
    return value

"""What a check comes to: findings that say what, where, how bad and what to do."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

QUESTIONS = ("joins", "collisions", "voids", "alleys", "balance", "print", "glare")
"""What can be asked, in the order the answers are given."""

COLLECTION_QUESTIONS = ("palette", "scales", "rest", "grounds", "looks", "directions", "print")
"""What a collection is asked, likewise."""

LOOKING = frozenset(("balance", "glare"))
"""Those that look at the small picture."""

FAULTS = {
    "wrong layout": ("joins", "", ""),
    "missing": ("joins", "mm²", "draw its copy there, moved by exactly the repeat's step"),
    "cut": ("joins", "mm", "let it run over the bound, or draw the rest of it on the other side"),
    "painted differently": ("joins", "", "make both the same"),
    "out of place": ("joins", "mm", ""),
    "nudged": ("joins", "px", ""),
    "line": (
        "joins",
        "",
        "crop the tile to its exact pixels, and export it without a transparent edge",
    ),
    "soft edge": (
        "joins",
        "",
        "export the tile at its exact size, without resampling or feathering",
    ),
    "broken": ("joins", "", "paint over the join with the tile rolled by half both ways"),
    "JPEG blocks": ("joins", "times", "export the tile as PNG or TIFF"),
    "alpha fringe": ("joins", "px", "crop the tile to its opaque pixels, or fill its ground"),
    "overlap": ("collisions", "mm²", "move one of them apart"),
    "too close": (
        "collisions",
        "mm",
        "move one of them apart, or let them overlap plainly",
    ),
    "void": ("voids", "mm", "move a motif towards it or add one there"),
    "alley": ("alleys", "mm", "move a motif into it, or shift every other one across it"),
    "near-empty lane": ("alleys", "mm", "move a motif into it, or shift every other one across it"),
    "uneven": ("balance", "times", "move motifs from the full part to the bare one"),
    "gives the repeat away": ("balance", "", ""),
    "line too thin": ("print", "mm", "thicken it"),
    "gap too narrow": ("print", "mm", "open it or close it"),
    "detail too small": ("print", "mm", "enlarge it or leave it out"),
    "live text": ("print", "", "outline it, or leave out --live-text"),
    "coarse picture": ("print", "dpi", ""),
    "tones in a spot process": (
        "print",
        "",
        "draw them in flat colours, or have them separated by halftone",
    ),
    "too many colours": ("print", "", "merge some of them"),
    "near colours": ("print", "ΔE00", "make them one"),
    "screen circumference": ("print", "mm", ""),
    "pattern glare": (
        "glare",
        "",
        "a caution, no verdict: lower the contrast or change the scale, and ask a qualified "
        "professional and the codes that hold locally before it is hung in rooms or worn",
    ),
    "off the palette": (
        "palette",
        "ΔE00",
        "name it in the print's map, or give the print the colours that it may use",
    ),
    "merged in a colourway": ("palette", "ΔE00", "part them in that colourway"),
    "scales too near": ("scales", "times", "print one of them larger or smaller"),
    "scales without a spread": (
        "scales",
        "times",
        "print the blenders smaller, or the hero larger, on a ladder of about two",
    ),
    "no rest": ("rest", "", "add a blender that is calmer, such as small dots or a stripe"),
    "grounds of one lightness": ("grounds", "L*", "give a print the palette's lightest or darkest"),
    "grounds nearly the same": ("grounds", "ΔE00", "give both the same ground, or part them"),
    "alike": ("looks", "", "change the scale, the layout or the ground of one of them"),
    "one-way among others": (
        "directions",
        "",
        "turn some of its motifs, or tell buyers that it takes more cloth",
    ),
}
"""Every kind of fault: its question, its unit and the advice, where that is always the same."""


@dataclass(frozen=True, eq=False)
class Finding:
    """One thing that is wrong with a repeat, or may be.

    Attributes:
        kind: one of :data:`FAULTS`, which says its question, unit and advice.
        what: the fault as a sentence without its full stop.
        value: how bad it is.
        limit: what it is held to.
        mark: where it is, as a shape in mm of the tile's plane, its first part the one that
            stands for all; None where it is everywhere.
        motifs: names of the motifs it is about.
        advice: what to do about it, likewise a sentence.
        unit: of value and limit: ``mm``, ``px``, ``dpi`` and so on, or "" for plain numbers.
        vector: for what is out of place, by how much: (dx, dy) in mm, y downwards.
        vector_px: the same in pixels at the print's dpi.
        colours: ``#rrggbb`` that it is about.
    """

    kind: str
    what: str
    value: float
    limit: float
    mark: BaseGeometry | None = None
    motifs: tuple[str, ...] = ()
    advice: str = ""
    unit: str = ""
    vector: tuple[float, float] | None = None
    vector_px: tuple[float, float] | None = None
    colours: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Take unit and advice from the kind where they are not given."""
        _, unit, advice = FAULTS[self.kind]
        object.__setattr__(self, "unit", self.unit or unit)
        object.__setattr__(self, "advice", self.advice or advice)

    @property
    def question(self) -> str:
        """The question that it answers."""
        return FAULTS[self.kind][0]

    @property
    def at(self) -> tuple[float, float] | None:
        """A point of the mark in mm of the tile's plane: the middle of its first part.

        Where that is bent round its own middle, as a crescent is, a point within it.
        """
        if self.mark is None or self.mark.is_empty:
            return None
        part = shapely.get_geometry(self.mark, 0)
        x0, y0, x1, y1 = part.bounds
        middle = shapely.Point((x0 + x1) / 2, (y0 + y1) / 2)
        if not part.intersects(middle):
            middle = part.representative_point()
        return (middle.x, middle.y)

    def measure(self) -> str:
        """Return the number and its limit for people."""
        unit = f" {self.unit}" if self.unit else ""
        return f"{self.value:.4g}{unit}, limit {self.limit:.4g}{unit}"

    def told(self) -> dict[str, str]:
        """Return what a page tells of it, in words."""
        return {
            "question": self.question,
            "what": self.what,
            "advice": self.advice,
            # Some are there or not.
            "measure": self.measure() if self.unit or self.limit else "",
        }

    def line(self) -> str:
        """Return the finding as one line."""
        place = "" if self.at is None else f" at {self.at[0]:.2f}, {self.at[1]:.2f} mm"
        return f"{self.question}: {self.what}{place} ({self.measure()}): {self.advice}"

    def as_dict(self) -> dict[str, Any]:
        """Return the finding as plain data, lengths in mm."""
        return {
            "question": self.question,
            "kind": self.kind,
            "what": self.what,
            "advice": self.advice,
            "value": self.value,
            "limit": self.limit,
            "unit": self.unit,
            "at_mm": None if self.at is None else list(self.at),
            "bounds_mm": None if self.mark is None else list(self.mark.bounds),
            "motifs": list(self.motifs),
            "colours": list(self.colours),
            "vector_mm": None if self.vector is None else list(self.vector),
            "vector_px": None if self.vector_px is None else list(self.vector_px),
        }


@dataclass(frozen=True, eq=False)
class Answer:
    """What one question came to.

    Attributes:
        findings: the faults, the worst first.
        facts: what was measured, fault or not, as plain data.
        notes: what could not be judged, or was judged in a special way, a sentence each.
    """

    findings: tuple[Finding, ...] = ()
    facts: Mapping[str, Any] = field(default_factory=dict)
    notes: tuple[str, ...] = ()

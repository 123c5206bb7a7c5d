"""What a check comes to: findings that say what, where, how bad and what to do."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

QUESTIONS = ("joins", "collisions", "voids", "alleys", "balance", "print", "glare")
"""What can be asked, in the order the answers are given."""


@dataclass(frozen=True, eq=False)
class Finding:
    """One thing that is wrong with a repeat, or may be.

    Attributes:
        question: one of :data:`QUESTIONS`.
        kind: what sort of fault, in a word or two, the same for all faults of the sort.
        what: the fault as a sentence without its full stop.
        advice: what to do about it, likewise.
        value: how bad it is.
        limit: what it is held to.
        unit: of both: ``mm``, ``mm²``, ``px``, ``dpi`` and so on, or "" for plain numbers.
        mark: where it is, as a shape in mm of the tile's plane, its first part the one that
            stands for all; None where it is everywhere.
        motifs: names of the motifs it is about.
        vector: for what is out of place, by how much: (dx, dy) in mm, y downwards.
        vector_px: the same in pixels at the print's dpi.
    """

    question: str
    kind: str
    what: str
    advice: str
    value: float
    limit: float
    unit: str = ""
    mark: BaseGeometry | None = None
    motifs: tuple[str, ...] = ()
    vector: tuple[float, float] | None = None
    vector_px: tuple[float, float] | None = None

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

"""What arranging returns: placements, the same as plain rows, figures and notes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

from vecrepeat.arrange.crowd import Crowd, Member
from vecrepeat.arrange.measures import Evenness
from vecrepeat.arrange.scores import Score
from vecrepeat.arrange.torus import Torus
from vecrepeat.arrange.voids import EmptyCircle
from vecrepeat.core.units import counted
from vecrepeat.repeat.model import Motif, Placement, Repeat
from vecrepeat.repeat.pose import Pose, anchor
from vecrepeat.repeat.ranks import RANKS


class Row(NamedTuple):
    """One placement in plain words: what a recipe stores.

    Attributes:
        motif: the motif's name.
        rank: its rank.
        pose: how it lies; ``pose.affine(anchor(motif))`` is the placement's transform.
    """

    motif: str
    rank: str
    pose: Pose

    def as_dict(self) -> dict[str, Any]:
        """Return the row as plain data, lengths in mm, the turn in degrees clockwise."""
        return {"motif": self.motif, "rank": self.rank, **self.pose._asdict()}


@dataclass(frozen=True, eq=False)
class Arrangement:
    """Motifs arranged by the tool: tossed, set, striped, trailed or strewn small.

    Attributes:
        placements: in stacking order; where the layout turns, each with its images.
        rows: the same in plain words, without images.
        coverage: the share of the cloth that is painted, measured.
        least_gap: the least distance in mm between two painted outlines, copies included;
            None where there are not two.
        evenness: how alike the gaps are.
        notes: what could not be placed and why, a sentence each.
        score: how well a toss is composed; None for other arrangements.
    """

    placements: tuple[Placement, ...]
    rows: tuple[Row, ...]
    coverage: float
    least_gap: float | None
    evenness: Evenness
    notes: tuple[str, ...]
    score: Score | None = None

    def on(self, repeat: Repeat) -> Repeat:
        """Return a repeat with these placements in place of its own."""
        return replace(repeat, placements=self.placements)

    def line(self) -> str:
        """Return the facts as one line."""
        gap = "" if self.least_gap is None else f", least gap {self.least_gap:.2f} mm"
        score = "" if self.score is None else f", score {self.score.points}: {self.score.words}"
        return (
            f"{counted(len(self.rows), 'motif')} placed, {self.coverage:.1%} of the cloth "
            f"painted{gap}, gaps {self.evenness.nearest_mean:.1f} ± "
            f"{self.evenness.nearest_spread:.1f} mm{score}"
        )

    def as_dict(self) -> dict[str, Any]:
        """Return the facts as plain data, lengths in mm."""
        return {
            "placements": [row.as_dict() for row in self.rows],
            "coverage": round(self.coverage, 5),
            "least_gap_mm": None if self.least_gap is None else round(self.least_gap, 4),
            **self.evenness.as_dict(),
            "score": None if self.score is None else self.score.as_dict(),
            "notes": list(self.notes),
        }


@dataclass(frozen=True, eq=False)
class Filled:
    """What filling came to.

    Attributes:
        placements: all there are now: those of before, as they were, then the fillers.
        rows: the fillers in plain words.
        coverage: the share of the cloth that the fillers paint.
        circle: the largest empty circle that is left.
        room: the radius in mm of a disc in which the smallest filler has room, clearance
            included: while the largest empty circle is smaller, none is left out for want
            of looking.
        notes: what stayed empty and why, a sentence each.
    """

    placements: tuple[Placement, ...]
    rows: tuple[Row, ...]
    coverage: float
    circle: EmptyCircle
    room: float
    notes: tuple[str, ...]

    def on(self, repeat: Repeat) -> Repeat:
        """Return the repeat with the fillers."""
        return replace(repeat, placements=self.placements)

    def line(self) -> str:
        """Return the facts as one line."""
        return (
            f"{counted(len(self.rows), 'filler')} placed; the largest empty circle is "
            f"{2 * self.circle.radius:.1f} mm wide, at {self.circle.x:.1f}, {self.circle.y:.1f} mm"
        )

    def as_dict(self) -> dict[str, Any]:
        """Return the facts as plain data, lengths in mm."""
        return {
            "placements": [row.as_dict() for row in self.rows],
            "coverage": round(self.coverage, 5),
            "largest_empty_circle": {
                "x": round(self.circle.x, 3),
                "y": round(self.circle.y, 3),
                "radius_mm": round(self.circle.radius, 3),
            },
            "room_mm": round(self.room, 3),
            "notes": list(self.notes),
        }


def row_of(crowd: Crowd, member: Member) -> Row:
    """Return a member in plain words."""
    name = crowd.shapes.all[member.shape].motif.name
    return Row(name, str(RANKS[member.rank]), member.pose)


def placements_of(torus: Torus, motif: Motif, pose: Pose) -> tuple[Placement, ...]:
    """Return a motif in a pose as placements of the repeat: itself, then its images."""
    own = pose.affine(anchor(motif))
    images = (turn.affine @ own for turn in torus.turns[1:])
    return tuple(Placement(motif, affine) for affine in (own, *images))


def grouped(names: Sequence[str]) -> str:
    """Return names with how often each comes, in the order they first come in."""
    counts = dict.fromkeys(names, 0)
    for name in names:
        counts[name] += 1
    shown = [f"“{name}”" + (f" × {n}" if n > 1 else "") for name, n in counts.items()]
    more = len(shown) - 6
    return ", ".join(shown[:6]) + (f" and {counted(more, 'other motif')}" if more > 0 else "")

"""How motifs may lie: what placing and evening out keep to."""

from __future__ import annotations

from typing import NamedTuple

from vecrepeat.arrange.flow import Flow
from vecrepeat.arrange.settings import ArrangeSettings


class Manner(NamedTuple):
    """How motifs may lie.

    Attributes:
        clearance: in mm.
        direction: a key of :data:`DIRECTIONS`.
        sway: in degrees.
        flip: whether mirrored.
        same_apart: in mm.
        flow: which way they lie where; None where that is the same all over.
    """

    clearance: float
    direction: str
    sway: float
    flip: bool
    same_apart: float
    flow: Flow | None = None

    @classmethod
    def of(cls, settings: ArrangeSettings, flow: Flow | None = None) -> Manner:
        """Return how settings let motifs lie."""
        return cls(
            settings.clearance,
            settings.direction,
            settings.sway,
            settings.flip,
            settings.same_apart,
            flow,
        )

    @property
    def play(self) -> float:
        """How far a motif may be turned while gaps are evened out."""
        return 180.0 if self.direction == "free" and self.flow is None else self.sway

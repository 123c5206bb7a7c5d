"""The end of every arrangement: members as placements and rows, and what they come to."""

from __future__ import annotations

import math
from collections.abc import Sequence

from vecrepeat.arrange.crowd import Crowd, Member
from vecrepeat.arrange.dice import Dice
from vecrepeat.arrange.manner import Manner
from vecrepeat.arrange.measures import coverage, evenness, least_gap
from vecrepeat.arrange.placing import Placer, cell_for
from vecrepeat.arrange.results import Arrangement, placements_of, row_of
from vecrepeat.arrange.shapes import Shapes
from vecrepeat.arrange.torus import Torus


def finished(
    torus: Torus, shapes: Shapes, members: Sequence[Member], notes: Sequence[str]
) -> Arrangement:
    """Return members as an arrangement, measured.

    Args:
        torus: the repeated plane.
        shapes: the shapes that members refer to.
        members: in stacking order.
        notes: what could not be placed and why.
    """
    crowd = Crowd.of(torus, shapes, list(members))
    smallest = float(crowd.radius.min(initial=math.sqrt(torus.area) / 24))
    # Nothing more is placed: the manner and the dice are of no account.
    placer = Placer(
        torus,
        shapes,
        cell_for(torus, smallest),
        Manner(0.0, "free", 0.0, False, 0.0),
        Dice(0),
        members,
    )
    return Arrangement(
        tuple(p for m in members for p in placements_of(torus, shapes.all[m.shape].motif, m.pose)),
        tuple(row_of(crowd, m) for m in members),
        coverage(crowd),
        least_gap(crowd),
        evenness(crowd, placer.clearances),
        tuple(notes),
    )

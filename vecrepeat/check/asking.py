"""The questions about motifs, and asking several at once.

To add one, write its module, name it in :data:`vecrepeat.check.findings.QUESTIONS` and give it a
line in :data:`ASKED`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from vecrepeat.check.alleys import check_alleys
from vecrepeat.check.balance import check_balance
from vecrepeat.check.collisions import check_collisions
from vecrepeat.check.findings import Answer, Finding
from vecrepeat.check.glare import check_glare
from vecrepeat.check.plane import THREADS, Plane
from vecrepeat.check.printing import check_printing
from vecrepeat.check.profile import Profile
from vecrepeat.check.voids import Void, check_voids, find_voids, typical_width
from vecrepeat.repeat.wrap import moved, offsets, tile_steps
from vecrepeat.util.once import once

Look = tuple[NDArray[np.uint8], tuple[float, float]]
"""A small RGB picture of one straight block, and its pixel's size in mm."""


@dataclass(frozen=True, eq=False)
class Asked:
    """What questions are asked of, with what several of them need worked out once.

    The answer about joins is there before the plane is; ``draw`` makes the small picture. The
    plane is of the motifs alone, and what is printed may be more: a patterned ground under them.
    """

    plane: Plane
    printed: Plane
    profile: Profile
    joins: Answer
    draw: Callable[[], Look]

    @once
    def voids(self) -> list[Void]:
        """All voids, the largest first."""
        return find_voids(self.plane)

    @once
    def typical(self) -> float:
        """The width of the median void in mm."""
        return typical_width(self.plane, self.voids)

    @once
    def look(self) -> Look:
        """The small picture."""
        return self.draw()


ASKED: dict[str, Callable[[Asked], Answer]] = {
    "print": lambda of: check_printing(of.printed, of.profile.print),
    "voids": lambda of: check_voids(of.voids, of.typical, of.profile.voids),
    "balance": lambda of: check_balance(of.plane, of.profile.balance, of.look[0]),
    "collisions": lambda of: check_collisions(of.plane, of.profile.collisions),
    "alleys": lambda of: check_alleys(of.plane, of.profile.alleys, of.typical),
    "glare": lambda of: check_glare(*of.look, of.profile.glare),
    "joins": lambda of: of.joins,
}
"""Every question by name, in the order in which they are begun.

Alleys wait for voids, and the longest must not come last.
"""


def ask(of: Asked, questions: Sequence[str]) -> Iterator[tuple[str, Answer]]:
    """Ask questions, several at once, and yield the answers in the order asked."""
    with ThreadPoolExecutor(THREADS) as threads:
        begun = [name for name in ASKED if name in questions]
        waiting = {name: threads.submit(ASKED[name], of) for name in begun}
        try:
            for name in questions:
                told = waiting[name].result()
                homed = tuple(_bring_onto_tile(of.plane, found) for found in told.findings)
                yield name, replace(told, findings=homed)
        finally:
            for answer in waiting.values():
                answer.cancel()


def _bring_onto_tile(plane: Plane, finding: Finding) -> Finding:
    """Return the finding with its mark where it lies on the tile, not on some copy beside it."""
    tile = plane.repeat.tile_rect
    at = finding.at
    if at is None or (0 <= at[0] <= tile.width and 0 <= at[1] <= tile.height):
        return finding
    lattice = plane.repeat.lattice
    steps = np.stack(tile_steps(lattice, *np.array([at]).T), axis=1)
    return replace(
        finding, mark=moved(np.array([finding.mark], object), -offsets(lattice, steps))[0]
    )

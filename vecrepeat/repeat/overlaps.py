"""Where the art of a turned layout lies on its own turned copies.

Which copy is on top goes by the order of copies, and no order of copies is the same in a
mirror. So there the cloth is not quite symmetric; everywhere else it is.
"""

from __future__ import annotations

from dataclasses import replace

import shapely

from vecrepeat.core.geometry import Rect
from vecrepeat.repeat.model import Repeat
from vecrepeat.repeat.wrap import CONTACT, copies, placed


def turned_over_itself(repeat: Repeat) -> tuple[str, ...]:
    """Return the names of motifs that overlap a copy of themselves, in stacking order."""
    if repeat.symmetry is None:
        return ()
    turns = len(repeat.symmetry.operations)
    names = []
    for first in range(0, len(repeat.placements), turns):
        own = repeat.placements[first]
        family = replace(repeat, placements=repeat.placements[first : first + turns])
        box = Rect.of(repeat.boxes[first])
        for copy in copies(family, box):
            if copy == (0, 0, 0):
                continue
            other = placed(family, copy).outline
            shared = shapely.intersection(own.outline, other)
            # Deeper than contact along its whole length: more than touching.
            if shared.area > CONTACT * max(1.0, shared.length):
                names.append(own.motif.name)
                break
    return tuple(dict.fromkeys(names))

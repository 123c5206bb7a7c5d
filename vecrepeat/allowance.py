"""What any command may take, whatever it is given: the one place where bounds are set.

What would go beyond is worked out before it is begun, where it can be, and refused in a
sentence. The bounds stand far above real designs.
"""

from __future__ import annotations

from fractions import Fraction

try:
    import resource
except ImportError:  # Windows has none.
    resource = None  # type: ignore[assignment]

MEMORY = 1_800_000_000
"""Bytes of memory that a process of ours may fill; only Linux holds it to them."""

PLACEMENTS = 20_000
"""The most placements on a tile."""

REACH = 40
"""How many tiles a motif may reach beyond its own: its copies lie as deep on every spot."""

COPIES = 500_000
"""The most copies of motifs that any region of the cloth may hold."""

NODES = 1_000_000
"""The most points that the paths of a drawing are written with."""

POINTS = 2_000_000
"""The most points of a drawing's outlines, its curves as chords."""

PIXELS = 20_000_000_000
"""The most pixels that are drawn for one file; what repeats in it is drawn once."""

TILE = (Fraction(1, 10), Fraction(100_000))
"""The least and the most that a page or a tile may measure, in mm a side."""


def hold_memory() -> None:
    """Have the system refuse this process, and each that it starts, more than :data:`MEMORY`."""
    if resource is None:
        return
    hard = resource.getrlimit(resource.RLIMIT_DATA)[1]
    most = MEMORY if hard == resource.RLIM_INFINITY else min(MEMORY, hard)
    resource.setrlimit(resource.RLIMIT_DATA, (most, hard))


def out_of_memory(error: BaseException) -> bool:
    """Whether an error says that there is no more memory: libraries word it as they please."""
    return isinstance(error, MemoryError) or "bad_alloc" in str(error)

"""What any command may take, whatever it is given: the one place where bounds are set.

Every command ends, says no or shows a moving bar within two seconds, and Ctrl+C ends it within
two more. What would go beyond this is worked out before it is begun, where it can be, and
refused in a sentence. The bounds stand far above real designs.
"""

from __future__ import annotations

from fractions import Fraction

try:
    import resource
except ImportError:  # Windows has none.
    resource = None  # type: ignore[assignment]

MEMORY = 1_800_000_000
"""Bytes of memory that a process may fill; only Linux holds it to them."""

PLACEMENTS = 20_000
"""The most placements on a tile."""

REACH = 40
"""The most tiles that a motif reaches beyond its own: its copies lie as deep on every spot."""

COPIES = 500_000
"""The most copies of motifs that any region of the cloth may hold."""

NODES = 1_000_000
"""The most points that the paths of a drawing are written with."""

POINTS = 2_000_000
"""The most points of a drawing's outlines, its curves as chords."""

VEILS = 300_000
"""The most steps, an area held against a veil over it each, that mixing colours may take."""

PIXELS = 20_000_000_000
"""The most pixels that are drawn for a file; what repeats in it is drawn once."""

SHEET_PIXELS = 4_000_000_000_000
"""The most pixels that a file holds."""

TILE = (Fraction(1, 10), Fraction(100_000))
"""mm that a page or a tile measures a side."""

PICTURE_SECONDS = 6.0
"""Seconds of processor time that an engine may take for any picture."""

MEGAPIXEL_SECONDS = 4.0
"""Seconds on top of that for each million pixels: noise takes 2, a blur a tenth."""

MEGABYTE_SECONDS = 12.0
"""Seconds on top of that for each million bytes of what is drawn."""

MEASURING_SECONDS = 12.0
"""Seconds of processor time for measuring where a drawing paints, if it must be drawn for that."""

MOTIF_SECONDS = 0.5
"""Seconds on top of that for each motif beyond the tenth; real ones take 0.06 to 0.4."""


def picture_seconds(pixels: int, size: int) -> float:
    """Return the seconds of processor time for a picture of so many pixels and bytes of SVG.

    Other programs at work make processor time itself up to twice as long; all bounds are at
    least twice what any real drawing took on a quiet machine.
    """
    return PICTURE_SECONDS + (MEGAPIXEL_SECONDS * pixels + MEGABYTE_SECONDS * size) / 1e6


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

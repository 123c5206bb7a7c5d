"""The repeat as SVG: a pattern file, a sheet of any size, one finished tile."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from vecrepeat.core.geometry import Rect, number
from vecrepeat.core.units import Size
from vecrepeat.repeat.model import Repeat
from vecrepeat.repeat.wrap import Copy, copies
from vecrepeat.write.svg import (
    Motifs,
    document,
    ground_rect,
    mm,
    title,
)


def pattern_svg(
    repeat: Repeat,
    *,
    sheet: Size | None = None,
    scale: Fraction = Fraction(1),
    inline: bool = False,
    found: Sequence[Copy] | None = None,
) -> str:
    """Return the repeat as an SVG pattern over a sheet.

    The pattern is the layout's straight block, so that any program which repeats a pattern
    straight shows every layout right. The ground is its own rectangle under the pattern,
    where it can show no hairlines.

    Args:
        repeat: the endless cloth.
        sheet: the drawing's size in mm; one straight block where it is not given.
        scale: print size over drawn size.
        inline: write every copy out instead of referring to it, for programs that ignore
            ``use`` inside patterns.
        found: the straight block's copies, where they have been worked out already.

    Source: SVG 2 §14.3, *Patterns*.
    """
    block_width, block_height = repeat.block_size
    width, height = sheet or Size(block_width * scale, block_height * scale)
    motifs = Motifs(repeat)
    if found is None:
        found = copies_within(repeat, block_width, block_height)
    content = motifs.inlined(repeat, found) if inline else motifs.used(repeat, found)
    zoom = "" if scale == 1 else f' patternTransform="scale({number(float(scale))})"'
    body = (
        f"<defs>\n{motifs.shared() if inline else motifs.definitions()}"
        f'<pattern id="{motifs.pattern}" patternUnits="userSpaceOnUse" '
        f'width="{mm(block_width)}" height="{mm(block_height)}"{zoom}>\n{content}</pattern>\n'
        f"</defs>\n{ground_rect(repeat.ground, width, height)}"
        f'<rect width="{mm(width)}" height="{mm(height)}" fill="url(#{motifs.pattern})"/>\n'
    )
    return document(width, height, body, metadata=title(repeat))


def tile_svg(
    repeat: Repeat, *, scale: Fraction = Fraction(1), found: Sequence[Copy] | None = None
) -> str:
    """Return one finished tile as a plain drawing: no pattern, every copy written out.

    Args:
        repeat: the endless cloth.
        scale: print size over drawn size.
        found: the tile's copies, where they have been worked out already.
    """
    return _plane_svg(repeat, repeat.width, repeat.height, scale, inline=True, found=found)


def expanded_svg(repeat: Repeat, sheet: Size) -> str:
    """Return a sheet with every copy drawn out and no pattern.

    This is the plain meaning of a repeat, which every other way of drawing it must match.
    """
    return _plane_svg(repeat, sheet.width, sheet.height, Fraction(1), inline=False)


def copies_within(repeat: Repeat, width: Fraction, height: Fraction) -> list[Copy]:
    """Return the copies that show within ``width`` × ``height`` mm from the tile's corner."""
    return copies(repeat, Rect(0.0, 0.0, float(width), float(height)))


def preview_svg(repeat: Repeat) -> str:
    """Return 2 × 2 tiles for a notebook."""
    return expanded_svg(repeat, Size(repeat.width * 2, repeat.height * 2))


def _plane_svg(
    repeat: Repeat,
    width: Fraction,
    height: Fraction,
    scale: Fraction,
    *,
    inline: bool,
    found: Sequence[Copy] | None = None,
) -> str:
    """Return the plane from the tile's corner, ``width`` × ``height`` mm before scaling."""
    motifs = Motifs(repeat)
    if found is None:
        found = copies_within(repeat, width, height)
    if inline:
        definitions, content = motifs.shared(), motifs.inlined(repeat, found)
    else:
        definitions, content = motifs.definitions(), motifs.used(repeat, found)
    body = f"<defs>\n{definitions}</defs>\n" if definitions else ""
    body += ground_rect(repeat.ground, width * scale, height * scale)
    if scale != 1:
        content = f'<g transform="scale({number(float(scale))})">\n{content}</g>\n'
    return document(width * scale, height * scale, body + content, metadata=title(repeat))

"""The repeat as SVG: a pattern file, a sheet of any size, one finished tile; and their pieces."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction

from vecrepeat.core.geometry import IDENTITY, Rect, number
from vecrepeat.core.names import id_start, slug
from vecrepeat.core.units import Size
from vecrepeat.repeat.model import Ground, Motif, Placement, Repeat
from vecrepeat.repeat.wrap import Copy, copies, placed
from vecrepeat.scene.write import NAMESPACES, Writer
from vecrepeat.util.xmltext import escaped

_TITLE_RE = re.compile(r"<title\b")


def mm(value: Fraction | float) -> str:
    """Format a length in mm exactly enough to read back as the same float."""
    return number(float(value))


def document(width: Fraction, height: Fraction, body: str, *, metadata: str = "") -> str:
    """Return a whole SVG file whose user unit is the millimetre.

    Args:
        width: of the drawing in mm.
        height: of the drawing in mm.
        body: what it holds.
        metadata: title, description and metadata elements to put first.
    """
    w, h = mm(width), mm(height)
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg {NAMESPACES} version="1.1" width="{w}mm" height="{h}mm" viewBox="0 0 {w} {h}">\n'
        f"{metadata}{body}</svg>\n"
    )


def title(repeat: Repeat) -> str:
    """Return the drawing's own title and metadata, or a title made of its name."""
    if _TITLE_RE.search(repeat.metadata):
        return repeat.metadata + "\n"
    return f"<title>{escaped(repeat.name)}</title>{repeat.metadata}\n"


class Motifs:
    """What one SVG file defines: its motifs, each once, and what they refer to.

    Attributes:
        ids: of the motifs.
        pattern: the id of the pattern, where the file has one.
        fragments: the motifs as SVG.
    """

    def __init__(self, repeat: Repeat) -> None:
        self._writer = Writer(id_start(slug(repeat.name) or "repeat"))
        self.fresh = self._writer.fresh
        motifs = dict.fromkeys(placement.motif for placement in repeat.placements)
        self.ids = {motif: self.fresh(f"motif-{slug(motif.name) or 'x'}") for motif in motifs}
        self.pattern = self.fresh("repeat")
        self.fragments = {motif: self._writer.fragment(motif.scene) for motif in motifs}

    @property
    def resources(self) -> Mapping[str, str]:
        """The definitions that motifs refer to, as markup by id."""
        return self._writer.definitions

    def shared(self) -> str:
        """Return the definitions that motifs refer to, a line each."""
        return self._writer.defined()

    def definitions(self) -> str:
        """Return all definitions: the shared ones, and each motif once, for ``use``."""
        groups = (f'<g id="{self.ids[m]}">{f.markup}</g>\n' for m, f in self.fragments.items())
        return self.shared() + "".join(groups)

    def used(self, repeat: Repeat, found: Iterable[Copy]) -> str:
        """Return copies as ``use`` elements, in stacking order."""
        lines = []
        for copy in found:
            placement = placed(repeat, copy)
            lines.append(f'<use xlink:href="#{self.ids[placement.motif]}"{_move(placement)}/>\n')
        return "".join(lines)

    def inlined(self, repeat: Repeat, found: Iterable[Copy]) -> str:
        """Return copies as whole groups, in stacking order; the first of each keeps its ids."""
        lines = []
        again: dict[Motif, str] = {}
        for copy in found:
            placement = placed(repeat, copy)
            motif = placement.motif
            if motif in again:
                key, markup = "", again[motif]
            else:
                key, markup = f' id="{self.ids[motif]}"', self.fragments[motif].markup
                again[motif] = self._writer.fragment(motif.scene, named=False).markup
            lines.append(f"<g{key}{_move(placement)}>{markup}</g>\n")
        return "".join(lines)


def _move(placement: Placement) -> str:
    """Return a placement's ``transform`` attribute, nothing where it moves nothing."""
    matrix = placement.transform
    return "" if matrix == IDENTITY else f' transform="{matrix.svg()}"'


def ground_rect(ground: Ground | None, width: Fraction, height: Fraction) -> str:
    """Return the ground as its own rectangle, or nothing."""
    if ground is None:
        return ""
    opacity = "" if ground.opacity == 1 else f' fill-opacity="{number(ground.opacity)}"'
    return f'<rect width="{mm(width)}" height="{mm(height)}" fill="{ground.colour}"{opacity}/>\n'


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
    tile = Size(repeat.width, repeat.height)
    return expanded_svg(repeat, tile, scale=scale, inline=True, found=found)


def expanded_svg(
    repeat: Repeat,
    sheet: Size,
    *,
    scale: Fraction = Fraction(1),
    inline: bool = False,
    found: Sequence[Copy] | None = None,
) -> str:
    """Return a sheet with every copy drawn out and no pattern.

    This is the plain meaning of a repeat, which every other way of drawing it must match.

    Args:
        repeat: the endless cloth.
        sheet: its size in mm before scaling.
        scale: print size over drawn size.
        inline: write every copy out instead of referring to it.
        found: the sheet's copies, where they have been worked out already.
    """
    motifs = Motifs(repeat)
    if found is None:
        found = copies_within(repeat, *sheet)
    if inline:
        definitions, content = motifs.shared(), motifs.inlined(repeat, found)
    else:
        definitions, content = motifs.definitions(), motifs.used(repeat, found)
    width, height = (side * scale for side in sheet)
    body = f"<defs>\n{definitions}</defs>\n" if definitions else ""
    body += ground_rect(repeat.ground, width, height)
    if scale != 1:
        content = f'<g transform="scale({number(float(scale))})">\n{content}</g>\n'
    return document(width, height, body + content, metadata=title(repeat))


def copies_within(repeat: Repeat, width: Fraction, height: Fraction) -> list[Copy]:
    """Return the copies that show within ``width`` × ``height`` mm from the tile's corner."""
    return copies(repeat, Rect(0.0, 0.0, float(width), float(height)))

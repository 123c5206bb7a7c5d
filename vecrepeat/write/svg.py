"""Pieces of SVG documents: the root, the definitions, copies of motifs."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from fractions import Fraction

from vecrepeat.core.geometry import IDENTITY, number
from vecrepeat.core.names import id_start, slug
from vecrepeat.repeat.model import Ground, Motif, Placement, Repeat
from vecrepeat.repeat.wrap import Copy, placed
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

    def used(self, repeat: Repeat, copies: Iterable[Copy]) -> str:
        """Return copies as ``use`` elements, in stacking order."""
        lines = []
        for copy in copies:
            placement = placed(repeat, copy)
            lines.append(f'<use xlink:href="#{self.ids[placement.motif]}"{_move(placement)}/>\n')
        return "".join(lines)

    def inlined(self, repeat: Repeat, copies: Iterable[Copy]) -> str:
        """Return copies as whole groups, in stacking order; the first of each keeps its ids."""
        lines = []
        again: dict[Motif, str] = {}
        for copy in copies:
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

"""Pieces of SVG documents: the root, the definitions, copies of motifs."""

from __future__ import annotations

import re
from collections.abc import Iterable
from fractions import Fraction

from vecrepeat.geometry import IDENTITY, number
from vecrepeat.names import id_start, slug
from vecrepeat.repeat import Ground, Motif, Placement, Repeat
from vecrepeat.wrap import Copy, placed
from vecrepeat.xmltext import escaped

_ID_RE = re.compile(r' id="([^"]*)"')
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
        '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'version="1.1" width="{w}mm" height="{h}mm" viewBox="0 0 {w} {h}">\n'
        f"{metadata}{body}</svg>\n"
    )


def title(repeat: Repeat) -> str:
    """Return the drawing's own title and metadata, or a title made of its name."""
    if _TITLE_RE.search(repeat.metadata):
        return repeat.metadata + "\n"
    return f"<title>{escaped(repeat.name)}</title>{repeat.metadata}\n"


class Ids:
    """Ids of the motifs and of the pattern in one output file."""

    def __init__(self, repeat: Repeat) -> None:
        self.prefix = id_start(slug(repeat.name) or "repeat")
        motifs = dict.fromkeys(placement.motif for placement in repeat.placements)
        self._taken: set[str] = set()
        for markup in (*repeat.resources.values(), *(motif.markup for motif in motifs)):
            self._taken.update(_ID_RE.findall(markup))
        self.motif: dict[Motif, str] = {
            motif: self.fresh(f"{self.prefix}-motif-{slug(motif.name) or 'x'}") for motif in motifs
        }
        self.pattern = self.fresh(f"{self.prefix}-repeat")

    def fresh(self, base: str) -> str:
        """Return an id that nothing in the file has yet."""
        key, count = base, 2
        while key in self._taken:
            key, count = f"{base}-{count}", count + 1
        self._taken.add(key)
        return key


def resources(repeat: Repeat) -> str:
    """Return the shared definitions, a line each."""
    return "".join(f"{markup}\n" for markup in repeat.resources.values())


def motif_definitions(ids: Ids) -> str:
    """Return each motif once, for ``use``."""
    return "".join(f'<g id="{key}">{motif.markup}</g>\n' for motif, key in ids.motif.items())


def _move(placement: Placement) -> str:
    """Return a placement's ``transform`` attribute, nothing where it moves nothing."""
    matrix = placement.transform
    return "" if matrix == IDENTITY else f' transform="{matrix.svg()}"'


def used_copies(repeat: Repeat, copies: Iterable[Copy], ids: Ids) -> str:
    """Return copies as ``use`` elements, in stacking order."""
    lines = []
    for copy in copies:
        placement = placed(repeat, copy)
        lines.append(f'<use xlink:href="#{ids.motif[placement.motif]}"{_move(placement)}/>\n')
    return "".join(lines)


def inlined_copies(repeat: Repeat, copies: Iterable[Copy], ids: Ids) -> str:
    """Return copies as whole groups, in stacking order; only the first of each keeps its ids."""
    lines = []
    seen: set[Motif] = set()
    for copy in copies:
        placement = placed(repeat, copy)
        motif = placement.motif
        markup = _ID_RE.sub("", motif.markup) if motif in seen else motif.markup
        key = "" if motif in seen else f' id="{ids.motif[motif]}"'
        seen.add(motif)
        lines.append(f"<g{key}{_move(placement)}>{markup}</g>\n")
    return "".join(lines)


def ground_rect(ground: Ground | None, width: Fraction, height: Fraction) -> str:
    """Return the ground as its own rectangle, or nothing."""
    if ground is None:
        return ""
    opacity = "" if ground.opacity == 1 else f' fill-opacity="{number(ground.opacity)}"'
    return f'<rect width="{mm(width)}" height="{mm(height)}" fill="{ground.colour}"{opacity}/>\n'

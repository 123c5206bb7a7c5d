"""Lines kept thick enough to print: a motif's strokes widened to the least that a recipe says."""

from __future__ import annotations

from dataclasses import replace

from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import IDENTITY, Affine
from vecrepeat.repeat.model import Motif
from vecrepeat.scene.kinds import FILTER, IMAGE, MASK, TEXT
from vecrepeat.scene.nodes import Group, Node, Path
from vecrepeat.scene.outline import Outliner
from vecrepeat.scene.visit import rewritten

_MEASURED = {FILTER: "a filter", IMAGE: "a picture", MASK: "a mask", TEXT: "live text"}
"""What a motif may not have: where it paints is no matter of geometry then."""


def with_lines(motif: Motif, least: float) -> Motif:
    """Return a motif whose strokes are ``least`` mm thick or more; itself where all are.

    A stroke that is stretched unevenly is judged where it is thinnest. Strokes that keep their
    width whatever the drawing's scale, and those within clips and masks, stay as they are.

    Raises:
        InputError: where the motif paints then can't be told by geometry.
    """

    def thickened(node: Node, frame: Affine) -> Node:
        if not isinstance(node, Path) or node.stroke is None or not node.stroke.scales:
            return node
        narrowest = abs(frame.determinant) / frame.stretch
        # The same thickness to the last bits is not drawn anew.
        if not narrowest or node.stroke.width * narrowest >= least * (1 - 1e-9):
            return node
        return replace(node, stroke=replace(node.stroke, width=least / narrowest))

    scene = rewritten(motif.scene, thickened)
    if scene is motif.scene:
        return motif
    assert isinstance(scene, Group)
    held = [word for kind, word in _MEASURED.items() if kind in {f.kind for f in motif.features}]
    if held:
        raise InputError(
            f"its lines can't be thickened: it has {held[0]}",
            element=motif.name,
            hint="thicken them in the drawing, and take its least-line out of the recipe",
        )
    (parts,) = Outliner().parts([(scene, IDENTITY)])
    return replace(motif, scene=scene, parts=parts)

"""Clip paths as PDF clipping paths, and as soft masks where no path can say it.

Standards: SVG 2 §14.5, CSS Masking 1 §6 (clip paths); ISO 32000-1 §8.5.4 (clipping).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

from pikepdf import Object

from vecrepeat.core.geometry import IDENTITY, Affine, Rect
from vecrepeat.scene.nodes import Clip, Group, Node, Path
from vecrepeat.scene.polylines import mapped
from vecrepeat.scene.segments import Segments, segments_of, tight_box
from vecrepeat.write.pdf_pen import StreamPen, masked, path_text, soft_mask
from vecrepeat.write.pdf_resources import Resources


@dataclass(frozen=True, eq=False)
class Clipper:
    """Clips to clip paths.

    Attributes:
        resources: what masks are kept in.
    """

    resources: Resources

    def clip(self, clip: Clip, pen: StreamPen, masks: list[Object], at: Affine = IDENTITY) -> bool:
        """Clip to a clip path; return whether anything can be left.

        What no path can say (the union of shapes that overlap) is added to ``masks``.

        Args:
            clip: the clip path.
            pen: in the user units of what is clipped, or of what ``at`` leads to.
            masks: takes soft masks.
            at: from the units of what is clipped to the pen's.
        """
        if clip.clip is not None and not self.clip(clip.clip, pen, masks, at):
            return False
        shapes = _shapes(clip, at)
        if not shapes:
            return False
        if len(shapes) == 1:
            for inner, matrix in shapes[0].clips:
                if not self.clip(inner, pen, masks, matrix):
                    return False
        if len(shapes) == 1 or _are_apart(shapes):
            paths = [path_text(s.segments, pen.digits, s.matrix) for s in shapes]
            pen.out += [*paths, "W* n" if shapes[0].even else "W n"]
            return True
        content: list[str] = []
        for shape in shapes:
            inside = pen.inner(grey=True)
            inner_masks: list[Object] = []
            if not all(self.clip(c, inside, inner_masks, m) for c, m in shape.clips):
                continue
            path = path_text(shape.segments, pen.digits, shape.matrix)
            inside.out += ["1 g", path, "f*" if shape.even else "f"]
            whole = masked(
                self.resources, "\n".join(inside.out), shape.box, inner_masks, "DeviceGray"
            )
            content += ["q", whole, "Q"]
        box = Rect.enclosing([shape.box for shape in shapes])
        form = self.resources.form("\n".join(content), box, group="DeviceGray")
        masks.append(soft_mask("Luminosity", form))
        return True


@dataclass(frozen=True, eq=False)
class _ClipShape:
    """A shape of a clip path.

    Attributes:
        segments: its outline in its own units.
        matrix: from those to the units of what is clipped.
        even: whether the even-odd rule holds.
        clips: what it is itself cut to, each with the map from its units.
        box: its bounds in the units of what is clipped.
    """

    segments: Segments
    matrix: Affine
    even: bool
    clips: tuple[tuple[Clip, Affine], ...]
    box: Rect


def _shapes(clip: Clip, at: Affine) -> list[_ClipShape]:
    found: list[_ClipShape] = []
    todo: list[tuple[Node, Affine, tuple[tuple[Clip, Affine], ...]]]
    todo = [(child, at, ()) for child in reversed(clip.children)]
    while todo:
        node, matrix, clips = todo.pop()
        if isinstance(node, Group):
            matrix = matrix @ node.transform
            clips = clips if node.clip is None else (*clips, (node.clip, matrix))
            todo += [(child, matrix, clips) for child in reversed(node.children)]
        elif isinstance(node, Path) and len((segments := segments_of(node.outline)).points):
            even = node.fill is not None and node.fill.even_odd
            box = tight_box(mapped(segments.points, matrix), segments.straight)
            found.append(_ClipShape(segments, matrix, even, clips, box))
    return found


def _are_apart(shapes: list[_ClipShape]) -> bool:
    """Whether shapes may stand in one path: none overlaps, and one rule serves all."""
    if len({shape.even for shape in shapes}) > 1 or any(s.clips for s in shapes):
        return False
    return not any(
        a.x0 < b.x1 and b.x0 < a.x1 and a.y0 < b.y1 and b.y0 < a.y1
        for a, b in combinations([shape.box for shape in shapes], 2)
    )

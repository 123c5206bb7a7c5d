"""Clip paths as PDF clipping paths, and as soft masks where no path can say it.

Standards: SVG 2 §14.5, CSS Masking 1 §6 (clip paths); ISO 32000-1 §8.5.4 (clipping).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from lxml import etree
from pikepdf import Object

from vecrepeat.art.outline import matrix_of, url_id
from vecrepeat.art.paths import SHAPES, Segments, tight_box
from vecrepeat.art.polylines import mapped
from vecrepeat.art.style import INITIAL
from vecrepeat.art.xml import local
from vecrepeat.geometry import IDENTITY, Affine, Rect
from vecrepeat.vector.pdf_pen import Pen, box_matrix, masked, soft_mask
from vecrepeat.vector.pdf_resources import Resources
from vecrepeat.vector.pdf_shapes import (
    Style,
    drawn,
    object_box,
    path_text,
    segments_of,
    styled,
)

MAX_DEPTH = 20
"""How many clip paths may be cut to each other."""


def target_of(
    definitions: Mapping[str, etree._Element], element: etree._Element, name: str
) -> etree._Element | None:
    """Return the clip path or mask that a property of an element refers to, if there is one."""
    link = element.get(name, "none")
    found = definitions.get(url_id(link)) if "url(" in link else None
    return None if found is None or local(found) not in ("clipPath", "mask") else found


@dataclass(frozen=True, eq=False)
class Clipper:
    """Clips to clip paths.

    Attributes:
        resources: what masks are kept in.
        definitions: clip paths by id.
    """

    resources: Resources
    definitions: Mapping[str, etree._Element]

    def clip(
        self,
        clip: etree._Element,
        target: etree._Element,
        pen: Pen,
        masks: list[Object],
        at: Affine = IDENTITY,
        depth: int = 0,
    ) -> bool:
        """Clip to a clip path; return whether anything can be left.

        What no path can say (the union of shapes that overlap) is added to ``masks``.

        Args:
            clip: the clip path.
            target: what is clipped.
            pen: in the user units of what refers to the clip path.
            masks: takes soft masks.
            at: from the units of what refers to the clip path to the pen's.
            depth: how many clip paths led here.
        """
        if depth > MAX_DEPTH:
            return False
        outer = target_of(self.definitions, clip, "clip-path")
        if outer is not None and not self.clip(outer, target, pen, masks, at, depth + 1):
            return False
        if clip.get("clipPathUnits") == "objectBoundingBox":
            box = object_box(target)
            if box is None:
                return False
            at = at @ box_matrix(box)
        at = at @ matrix_of(clip)
        shapes = [*self._shapes(clip, at)]
        if not shapes:
            return False
        if len(shapes) == 1 and shapes[0].link is not None:
            only = shapes[0]
            assert only.link is not None
            if not self.clip(only.link, only.element, pen, masks, only.matrix, depth + 1):
                return False
        if len(shapes) == 1 or _are_apart(shapes):
            paths = [path_text(s.segments, pen.digits, s.matrix) for s in shapes]
            pen.out += [*paths, "W* n" if shapes[0].even else "W n"]
            return True
        content: list[str] = []
        for shape in shapes:
            inner = pen.inner(grey=True)
            inner_masks: list[Object] = []
            if shape.link is not None and not self.clip(
                shape.link, shape.element, inner, inner_masks, shape.matrix, depth + 1
            ):
                continue
            path = path_text(shape.segments, pen.digits, shape.matrix)
            inner.out += ["1 g", path, "f*" if shape.even else "f"]
            whole = masked(
                self.resources, "\n".join(inner.out), shape.box, inner_masks, "DeviceGray"
            )
            content += ["q", whole, "Q"]
        box = Rect.enclosing([shape.box for shape in shapes])
        form = self.resources.form("\n".join(content), box, group="DeviceGray")
        masks.append(soft_mask("Luminosity", form))
        return True

    def _shapes(self, clip: etree._Element, at: Affine) -> list[_ClipShape]:
        found: list[_ClipShape] = []
        queue: list[tuple[etree._Element, Affine, Style, etree._Element | None]]
        queue = [(child, at, styled(clip, INITIAL), None) for child in reversed([*drawn(clip)])]
        while queue:
            element, above, inherited, link = queue.pop()
            style = styled(element, inherited)
            matrix = above @ matrix_of(element)
            own = target_of(self.definitions, element, "clip-path")
            if local(element) == "g":
                queue += [(c, matrix, style, own or link) for c in reversed([*drawn(element)])]
                continue
            segments = segments_of(element) if local(element) in SHAPES else None
            if segments is None or style.get("visibility", "visible") != "visible":
                continue
            even = style.get("clip-rule") == "evenodd"
            box = tight_box(mapped(segments.points, matrix), segments.straight)
            target = own if own is not None else link
            found.append(_ClipShape(element, segments, matrix, even, target, box))
        return found


@dataclass(frozen=True, eq=False)
class _ClipShape:
    """A shape of a clip path.

    Attributes:
        element: as it stands there.
        segments: its outline in its own units.
        matrix: from those to the units of what is clipped.
        even: whether the even-odd rule holds.
        link: a clip path of its own.
        box: its bounds in the units of what is clipped.
    """

    element: etree._Element
    segments: Segments
    matrix: Affine
    even: bool
    link: etree._Element | None
    box: Rect


def _are_apart(shapes: list[_ClipShape]) -> bool:
    """Whether shapes may stand in one path: none overlaps, and one rule serves all."""
    if len({shape.even for shape in shapes}) > 1 or any(s.link is not None for s in shapes):
        return False
    for n, one in enumerate(shapes):
        for other in shapes[n + 1 :]:
            a, b = one.box, other.box
            if a.x0 < b.x1 and b.x0 < a.x1 and a.y0 < b.y1 and b.y0 < a.y1:
                return False
    return True

"""Motifs as PDF form XObjects: every shape a path, nothing turned into pixels.

The motif's scene is walked once and written in its own units, so that coordinates in the file
are the drawing's own.

Standards: SVG 2 §13 (painting), §14 (clipping and masking); ISO 32000-1 §8.4 (graphics state),
§8.5 (paths), §11.6 (transparency: soft masks, groups, blend modes).
"""

from __future__ import annotations

from fractions import Fraction

from pikepdf import Object

from vecrepeat.core.geometry import IDENTITY, Affine, Rect
from vecrepeat.draw.resample import HARD_EDGED
from vecrepeat.repeat.model import Motif
from vecrepeat.scene.fit import view_box_transform
from vecrepeat.scene.kinds import FILTER, FOCUS, JOIN, NON_SCALING, PATTERN, TEXT
from vecrepeat.scene.nodes import (
    Fill,
    Gradient,
    Group,
    Image,
    Mask,
    Node,
    Path,
    Stop,
    Stroke,
)
from vecrepeat.scene.segments import rect_segments, segments_of, tight_box
from vecrepeat.write.pdf_clip import Clipper
from vecrepeat.write.pdf_gradient import Shading, shading_of
from vecrepeat.write.pdf_image import drawn_picture
from vecrepeat.write.pdf_pen import (
    StreamPen,
    area_text,
    masked,
    painted_box,
    path_text,
    reach,
    soft_mask,
)
from vecrepeat.write.pdf_resources import Resources, decimal, matrix_text, tint

_CAPS = {"butt": 0, "round": 1, "square": 2}
_JOINS = {"miter": 0, "round": 1, "bevel": 2}
_BLENDS = {
    mode: mode.title().replace("-", "")
    for mode in (
        *("multiply", "screen", "overlay", "darken", "lighten", "color-dodge", "color-burn"),
        *("hard-light", "soft-light", "difference", "exclusion"),
        *("hue", "saturation", "color", "luminosity"),
    )
}

BEYOND_PDF = frozenset((PATTERN, FILTER, TEXT, NON_SCALING, FOCUS, JOIN))
"""Features that are not written as they are: a motif with any becomes a picture."""


class MotifWriter:
    """Writes motifs as forms in mm, y downwards.

    Args:
        resources: what forms, patterns and states are kept in.
    """

    def __init__(self, resources: Resources) -> None:
        self.resources = resources
        self._clipper = Clipper(resources)

    def form(self, motif: Motif) -> Object:
        """Return a motif as a form XObject."""
        pen = StreamPen(IDENTITY)
        self._node(motif.scene, pen, 1.0)
        room = 0.5 + 0.01 * max(motif.box.width, motif.box.height)
        return self.resources.form("\n".join(pen.out), motif.box.grown(room))

    # -------------------------------------------------------------------- nodes and groups

    def _node(self, node: Node, pen: StreamPen, fade: float) -> None:
        """Write a node; ``fade`` is the opacity of a group that holds nothing else."""
        if isinstance(node, Group):
            self._group(node, pen, fade)
        elif isinstance(node, Path):
            self._shape(node, pen, fade)
        elif isinstance(node, Image):
            self._image(node, pen, fade)

    def _group(self, group: Group, pen: StreamPen, fade: float) -> None:
        opacity = fade * group.opacity
        if group.transform.determinant == 0 or opacity == 0:
            return
        blend = _BLENDS.get(group.blend)
        softly = opacity < 1 and not _is_one_paint(group)
        grouped = softly or blend is not None or group.isolated
        bare = group.clip is None and group.mask is None and not grouped
        if bare and group.transform == IDENTITY:
            self._children(group, pen, opacity)
            return
        outer, outer_state = pen.to_form, dict(pen.state)
        pen.to_form = outer @ group.transform
        pen.out.append("q")
        if group.transform != IDENTITY:
            pen.out.append(f"{matrix_text(group.transform)} cm")
        masks: list[Object] = []
        shown = group.clip is None or self._clipper.clip(group.clip, pen, masks)
        mask = group.mask
        while mask is not None and shown:
            shown = self._add_mask(mask, pen, masks)
            mask = mask.mask
        if not shown:
            pass
        elif masks or grouped:
            self._transparency(group, pen, masks, opacity, blend)
        else:
            self._children(group, pen, opacity)
        pen.out.append("Q")
        pen.to_form, pen.state = outer, outer_state

    def _children(self, group: Group, pen: StreamPen, fade: float) -> None:
        for child in group.children:
            self._node(child, pen, fade)

    def _transparency(
        self, group: Group, pen: StreamPen, masks: list[Object], opacity: float, blend: str | None
    ) -> None:
        """Write a transparency group, or several where there are several masks."""
        box = painted_box(Group(group.children))
        if box is None:
            return
        inner = pen.inner(grey=pen.grey)
        self._children(group, inner, 1.0)
        space = "DeviceGray" if pen.grey else "DeviceRGB"
        content = masked(self.resources, "\n".join(inner.out), box, masks[:-1], space)
        form = self.resources.form(content, box, group=space)
        state = self.resources.state(
            ca=None if opacity == 1 else opacity,
            BM=blend,
            SMask=masks[-1] if masks else None,
        )
        name = self.resources.named("XObject", form)
        pen.out += ["q", f"/{state} gs", f"/{name} Do", "Q"]

    # ------------------------------------------------------------------------------- shapes

    def _shape(self, path: Path, pen: StreamPen, fade: float) -> None:
        segments = segments_of(path.outline)
        if not len(segments.points):
            return
        painted = tight_box(segments.points, segments.straight).grown(reach(path.stroke))
        filling = _source(path.fill, painted, fade)
        stroking = _source(path.stroke, painted, fade)
        text = path_text(segments, pen.digits)
        even = path.fill is not None and path.fill.even_odd
        if filling and stroking and not path.stroke_first and _are_solid(filling, stroking):
            for kind, (source, opacity) in (("fill", filling), ("stroke", stroking)):
                assert isinstance(source, str)
                self._use(source, opacity, kind, pen)
            self._stroke_style(path, pen)
            pen.out += [text, "B*" if even else "B"]
            return
        jobs = [("fill", filling, "f*" if even else "f"), ("stroke", stroking, "S")]
        for kind, paint, operator in reversed(jobs) if path.stroke_first else jobs:
            if paint is None:
                continue
            source, opacity = paint
            if kind == "stroke":
                self._stroke_style(path, pen)
            if isinstance(source, str):
                self._use(source, opacity, kind, pen)
                pen.out += [text, operator]
            elif kind == "fill":
                cut = [text, "W* n" if even else "W n"]
                self._shade(source, opacity, cut, painted, pen)
            else:
                # Only a path or a mask bounds a shading: the stroke becomes a mask.
                inner = pen.inner(grey=True)
                self._stroke_style(path, inner)
                inner.out += ["1 G", text, "S"]
                form = self.resources.form("\n".join(inner.out), painted, group="DeviceGray")
                mask = soft_mask("Luminosity", form)
                self._shade(source, opacity, [area_text(painted), "W n"], painted, pen, mask)

    def _shade(
        self,
        gradient: Shading,
        opacity: float,
        cut: list[str],
        painted: Rect,
        pen: StreamPen,
        mask: Object | None = None,
    ) -> None:
        """Fill what operators have cut out with a gradient, under a mask if there is one."""
        if gradient.fades:
            # Its opacity is a mask of its own, itself under the other.
            fade = [area_text(painted), "W n", *gradient.operators(self.resources, _opacity)]
            if mask is not None:
                fade = [f"/{self.resources.state(SMask=mask)} gs", *fade]
            form = self.resources.form("\n".join(fade), painted, group="DeviceGray")
            mask = soft_mask("Luminosity", form)
        else:
            opacity *= gradient.stops[0].opacity
        pen.out += ["q", *cut]
        if opacity != 1 or mask is not None or "ca" in pen.state:
            state = self.resources.state(ca=round(opacity, 6), SMask=mask)
            pen.out.append(f"/{state} gs")
        shown = _luminance if pen.grey else _colour
        pen.out += [*gradient.operators(self.resources, shown), "Q"]

    def _use(self, colour: str, opacity: float, kind: str, pen: StreamPen) -> None:
        """Write a colour and its opacity."""
        alpha = {"fill": "ca", "stroke": "CA"}[kind]
        if opacity != 1 or alpha in pen.state:
            pen.set(alpha, f"/{self.resources.state(**{alpha: round(opacity, 6)})} gs")
        stop = Stop(0.0, colour)
        if pen.grey:
            pen.set(kind, f"{tint(_luminance(stop)[0])} {'g' if kind == 'fill' else 'G'}")
        else:
            values = " ".join(tint(v) for v in _colour(stop))
            pen.set(kind, f"{values} {'rg' if kind == 'fill' else 'RG'}")

    def _stroke_style(self, path: Path, pen: StreamPen) -> None:
        stroke = path.stroke
        assert stroke is not None
        pen.set("w", f"{decimal(stroke.width)} w")
        pen.set("J", f"{_CAPS.get(stroke.cap, 0)} J")
        join = _JOINS.get(stroke.join, 0)
        pen.set("j", f"{join} j")
        if join == 0:
            pen.set("M", f"{decimal(stroke.miter_limit)} M")
        # An odd list is used twice over (SVG 2 §13.5.6); not every reader does that by itself.
        dashes = stroke.dashes * (1 + len(stroke.dashes) % 2)
        # A phase below nought is not allowed (PDF §8.4.3.6).
        phase = stroke.dash_offset % sum(dashes) if dashes else 0.0
        pen.set("d", f"[{' '.join(decimal(v) for v in dashes)}] {decimal(phase)} d")

    def _image(self, image: Image, pen: StreamPen, fade: float) -> None:
        smooth = image.rendering not in HARD_EDGED
        name, width, height = drawn_picture(self.resources, image.link, smooth=smooth)
        box = image.box
        whole = (Fraction(0), Fraction(0), Fraction(width), Fraction(height))
        size = (Fraction(box.width), Fraction(box.height))
        fit = Affine.translation(box.x0, box.y0) @ view_box_transform(whole, *size, image.aspect)
        # An image fills the unit square, its first row at the top (PDF §8.9.5.2).
        fit = fit @ Affine(width, 0.0, 0.0, -height, 0.0, height)
        pen.out.append("q")
        if fade < 1:
            pen.out.append(f"/{self.resources.state(ca=round(fade, 6))} gs")
        if "slice" in image.aspect:
            pen.out += [path_text(rect_segments(box), pen.digits), "W n"]
        pen.out += [f"{matrix_text(fit)} cm", f"/{name} Do", "Q"]

    def _add_mask(self, mask: Mask, pen: StreamPen, masks: list[Object]) -> bool:
        """Add a mask as a soft mask in the pen's user units; return whether it shows anything."""
        if mask.region.width <= 0 or mask.region.height <= 0:
            return False
        if mask.clip is not None and not self._clipper.clip(mask.clip, pen, masks):
            return False
        inner = pen.inner(grey=not mask.alpha)
        for child in mask.children:
            self._node(child, inner, 1.0)
        space = "DeviceRGB" if mask.alpha else "DeviceGray"
        form = self.resources.form("\n".join(inner.out), mask.region, group=space)
        masks.append(soft_mask("Alpha" if mask.alpha else "Luminosity", form))
        return True


def _source(
    part: Fill | Stroke | None, painted: Rect, fade: float
) -> tuple[Shading | str, float] | None:
    """Return what a fill or stroke is painted with, and its opacity; None for nothing."""
    if part is None or fade * part.opacity == 0:
        return None
    if isinstance(part.paint, Gradient):
        return shading_of(part.paint, painted), fade * part.opacity
    assert isinstance(part.paint, str)
    return part.paint, fade * part.opacity


def _is_one_paint(group: Group) -> bool:
    """Whether a group is one fill or one stroke, so that it fades as its paint does."""
    node: Node = group
    while isinstance(node, Group):
        if len(node.children) != 1 or (node is not group and not node.is_plain):
            return False
        node = node.children[0]
    if isinstance(node, Path):
        return (node.fill is None) != (node.stroke is None)
    return isinstance(node, Image)


def _are_solid(*paints: tuple[Shading | str, float]) -> bool:
    """Whether paints are colours that hide what they cover: then both may be one step."""
    return all(isinstance(source, str) and opacity == 1 for source, opacity in paints)


def _colour(stop: Stop) -> tuple[float, ...]:
    return tuple(v / 255 for v in bytes.fromhex(stop.colour[1:]))


def _luminance(stop: Stop) -> tuple[float, ...]:
    """Return what a colour counts for in a mask (CSS Masking 1 §8.1, SVG 1.1 §14.4)."""
    red, green, blue = _colour(stop)
    return (0.2125 * red + 0.7154 * green + 0.0721 * blue,)


def _opacity(stop: Stop) -> tuple[float, ...]:
    return (stop.opacity,)

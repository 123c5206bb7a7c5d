"""Motifs as PDF form XObjects: every shape a path, nothing turned into pixels.

The motif's markup (SVG in normal form) is walked once and written in its own units, so that
coordinates in the file are the drawing's own.

Standards: SVG 2 §13 (painting), §14 (clipping and masking); ISO 32000-1 §8.4 (graphics state),
§8.5 (paths), §11.6 (transparency: soft masks, groups, blend modes).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from fractions import Fraction

from lxml import etree
from pikepdf import Object

from vecrepeat.art.outline import box_region, matrix_of, url_id
from vecrepeat.art.page import view_box_transform
from vecrepeat.art.paths import SHAPES, Segments, tight_box
from vecrepeat.art.style import INITIAL
from vecrepeat.art.xml import href, local
from vecrepeat.geometry import IDENTITY, Affine, Rect
from vecrepeat.repeat import Motif
from vecrepeat.vector.pdf_clip import Clipper, target_of
from vecrepeat.vector.pdf_gradient import Gradient, Stop, read_gradient
from vecrepeat.vector.pdf_image import drawn_picture
from vecrepeat.vector.pdf_pen import Pen, area_text, box_matrix, masked, soft_mask
from vecrepeat.vector.pdf_resources import (
    Resources,
    decimal,
    matrix_text,
    tint,
)
from vecrepeat.vector.pdf_shapes import (
    Style,
    dashes_of,
    drawn,
    fills,
    number,
    object_box,
    painted_box,
    path_text,
    reach,
    segments_of,
    strokes,
    styled,
)

_CAPS = {"butt": 0, "round": 1, "square": 2}
_JOINS = {"miter": 0, "round": 1, "bevel": 2}
_BLENDS = {
    "multiply": "Multiply",
    "screen": "Screen",
    "overlay": "Overlay",
    "darken": "Darken",
    "lighten": "Lighten",
    "color-dodge": "ColorDodge",
    "color-burn": "ColorBurn",
    "hard-light": "HardLight",
    "soft-light": "SoftLight",
    "difference": "Difference",
    "exclusion": "Exclusion",
    "hue": "Hue",
    "saturation": "Saturation",
    "color": "Color",
    "luminosity": "Luminosity",
}
_BLEND_RE = re.compile(r"mix-blend-mode\s*:\s*([a-z-]+)")
_ISOLATE_RE = re.compile(r"isolation\s*:\s*isolate")
_HEX_RE = re.compile("#[0-9a-fA-F]{6}")


class MotifWriter:
    """Writes motifs as forms in mm, y downwards.

    Args:
        resources: what forms, patterns and states are kept in.
        definitions: gradients, clip paths and masks by id.
    """

    def __init__(self, resources: Resources, definitions: Mapping[str, etree._Element]) -> None:
        self.resources = resources
        self.definitions = definitions
        self._clipper = Clipper(resources, definitions)

    def form(self, motif: Motif, markup: etree._Element) -> Object:
        """Return a motif as a form XObject."""
        pen = Pen(IDENTITY)
        self._element(markup, INITIAL, pen, 1.0)
        room = 0.5 + 0.01 * max(motif.box.width, motif.box.height)
        return self.resources.form("\n".join(pen.out), motif.box.grown(room))

    # ------------------------------------------------------------------ elements and groups

    def _element(self, element: etree._Element, inherited: Style, pen: Pen, fade: float) -> None:
        """Write an element; ``fade`` is the opacity of a group that holds nothing else."""
        style = styled(element, inherited)
        matrix = matrix_of(element)
        opacity = fade * min(max(float(element.get("opacity", "1")), 0.0), 1.0)
        if matrix.determinant == 0 or opacity == 0:
            return
        clip, mask = (target_of(self.definitions, element, k) for k in ("clip-path", "mask"))
        text = element.get("style", "")
        blend = _BLENDS.get(match[1]) if (match := _BLEND_RE.search(text)) else None
        isolated = bool(_ISOLATE_RE.search(text))
        softly = opacity < 1 and not _is_one_paint(element, style)
        grouped = softly or blend is not None or isolated
        if matrix == IDENTITY and clip is None and mask is None and not grouped:
            self._body(element, style, pen, opacity)
            return
        outer, outer_state = pen.to_form, dict(pen.state)
        pen.to_form = outer @ matrix
        pen.out.append("q")
        if matrix != IDENTITY:
            pen.out.append(f"{matrix_text(matrix)} cm")
        masks: list[Object] = []
        shown = clip is None or self._clipper.clip(clip, element, pen, masks)
        if mask is not None and shown:
            soft = self._mask(mask, element, pen)
            shown = soft is not None
            masks += [] if soft is None else [soft]
        if not shown:
            pass
        elif masks or grouped:
            self._group(element, style, pen, masks, opacity, blend)
        else:
            self._body(element, style, pen, opacity)
        pen.out.append("Q")
        pen.to_form, pen.state = outer, outer_state

    def _group(
        self,
        element: etree._Element,
        style: Style,
        pen: Pen,
        masks: list[Object],
        opacity: float,
        blend: str | None,
    ) -> None:
        """Write an element as a transparency group, or several where there are several masks."""
        box = painted_box(element, style)
        if box is None:
            return
        inner = pen.inner(grey=pen.grey)
        self._body(element, style, inner, 1.0)
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

    def _body(self, element: etree._Element, style: Style, pen: Pen, fade: float) -> None:
        """Write what an element holds, its own effects apart."""
        name = local(element)
        if name == "g":
            for child in drawn(element):
                self._element(child, style, pen, fade)
        elif style.get("visibility", "visible") == "visible":
            segments = segments_of(element)
            if segments is None:
                return
            if name in SHAPES:
                self._shape(segments, style, pen, fade)
            elif name == "image":
                self._image(element, segments, style, pen, fade)

    # ------------------------------------------------------------------------------- shapes

    def _shape(self, segments: Segments, style: Style, pen: Pen, fade: float) -> None:
        box = tight_box(segments.points, segments.straight)
        painted = box.grown(reach(style))
        filling = self._paint(style, "fill", box, painted, fade) if fills(style) else None
        stroking = self._paint(style, "stroke", box, painted, fade) if strokes(style) else None
        path = path_text(segments, pen.digits)
        even = style.get("fill-rule") == "evenodd"
        stroke_first = style.get("paint-order", "normal").split()[0] in ("stroke", "markers")
        if "stroke" in (order := style.get("paint-order", "").split()) and "fill" in order:
            stroke_first = order.index("stroke") < order.index("fill")
        elif order[:1] == ["fill"] or order[:2] == ["markers"]:
            stroke_first = False
        if filling and stroking and not stroke_first and _are_solid(filling, stroking):
            for kind, (source, opacity) in (("fill", filling), ("stroke", stroking)):
                assert isinstance(source, Stop)
                self._use(source, opacity, kind, pen)
            self._stroke_style(style, pen)
            pen.out += [path, "B*" if even else "B"]
            return
        jobs = [("fill", filling, "f*" if even else "f"), ("stroke", stroking, "S")]
        jobs = [job for job in jobs if job[1] is not None]
        for kind, paint, operator in reversed(jobs) if stroke_first else jobs:
            assert paint is not None
            source, opacity = paint
            if kind == "stroke":
                self._stroke_style(style, pen)
            if isinstance(source, Stop):
                self._use(source, opacity, kind, pen)
                pen.out += [path, operator]
            elif kind == "fill":
                cut = [path, "W* n" if even else "W n"]
                self._shade(source, opacity, cut, painted, pen)
            else:
                # Only a path or a mask bounds a shading: the stroke becomes a mask.
                inner = pen.inner(grey=True)
                self._stroke_style(style, inner)
                inner.out += ["1 G", path, "S"]
                form = self.resources.form("\n".join(inner.out), painted, group="DeviceGray")
                mask = soft_mask("Luminosity", form)
                self._shade(source, opacity, [area_text(painted), "W n"], painted, pen, mask)

    def _shade(
        self,
        gradient: Gradient,
        opacity: float,
        cut: list[str],
        painted: Rect,
        pen: Pen,
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

    def _paint(
        self, style: Style, kind: str, box: Rect, painted: Rect, fade: float
    ) -> tuple[Gradient | Stop, float] | None:
        """Return what a fill or stroke is painted with, and its opacity; None for nothing."""
        value = style.get(kind, "#000000" if kind == "fill" else "none")
        opacity = fade * min(max(number(style, f"{kind}-opacity", 1.0), 0.0), 1.0)
        server = self.definitions.get(url_id(value)) if "url(" in value else None
        if opacity == 0:
            return None
        if server is None or local(server) not in ("linearGradient", "radialGradient"):
            # What refers to nothing falls back on the colour given with it (SVG 2 §13.2).
            match = _HEX_RE.search(value.partition(")")[2] if "url(" in value else value)
            if match is None:
                return None
            red, green, blue = (v / 255 for v in bytes.fromhex(match[0][1:]))
            return Stop(0.0, (red, green, blue), 1.0), opacity
        flat = box.width <= 0 or box.height <= 0
        found = read_gradient(server, None if flat else box, painted)
        if found is None:
            return None
        return found, opacity * found.opacity if isinstance(found, Stop) else opacity

    def _use(self, stop: Stop, opacity: float, kind: str, pen: Pen) -> None:
        """Write a colour and its opacity."""
        alpha = {"fill": "ca", "stroke": "CA"}[kind]
        if opacity != 1 or alpha in pen.state:
            pen.set(alpha, f"/{self.resources.state(**{alpha: round(opacity, 6)})} gs")
        if pen.grey:
            pen.set(kind, f"{tint(_luminance(stop)[0])} {'g' if kind == 'fill' else 'G'}")
        else:
            values = " ".join(tint(v) for v in stop.colour)
            pen.set(kind, f"{values} {'rg' if kind == 'fill' else 'RG'}")

    def _stroke_style(self, style: Style, pen: Pen) -> None:
        width = number(style, "stroke-width", 1.0)
        pen.set("w", f"{decimal(width)} w")
        pen.set("J", f"{_CAPS.get(style.get('stroke-linecap', 'butt'), 0)} J")
        join = _JOINS.get(style.get("stroke-linejoin", "miter"), 0)
        pen.set("j", f"{join} j")
        if join == 0:
            pen.set("M", f"{decimal(number(style, 'stroke-miterlimit', 4.0))} M")
        dashes = dashes_of(style)
        # An odd list is used twice over (SVG 2 §13.5.6); not every reader does that by itself.
        dashes *= 1 + len(dashes) % 2
        # A phase below nought is not allowed (PDF §8.4.3.6).
        phase = number(style, "stroke-dashoffset", 0.0) % sum(dashes) if dashes else 0.0
        pen.set("d", f"[{' '.join(decimal(v) for v in dashes)}] {decimal(phase)} d")

    def _image(
        self, element: etree._Element, frame: Segments, style: Style, pen: Pen, fade: float
    ) -> None:
        rendering = style.get("image-rendering", "auto")
        smooth = rendering not in ("pixelated", "crisp-edges", "optimizeSpeed")
        placed = drawn_picture(self.resources, href(element), smooth=smooth)
        if placed is None:
            return
        box = tight_box(frame.points, frame.straight)
        aspect = element.get("preserveAspectRatio")
        whole = (Fraction(0), Fraction(0), Fraction(placed.width), Fraction(placed.height))
        size = (Fraction(box.width), Fraction(box.height))
        fit = Affine.translation(box.x0, box.y0) @ view_box_transform(whole, *size, aspect)
        # An image fills the unit square, its first row at the top (PDF §8.9.5.2).
        fit = fit @ Affine(placed.width, 0.0, 0.0, -placed.height, 0.0, placed.height)
        pen.out.append("q")
        if fade < 1:
            pen.out.append(f"/{self.resources.state(ca=round(fade, 6))} gs")
        if "slice" in (aspect or ""):
            pen.out += [path_text(frame, pen.digits), "W n"]
        pen.out += [f"{matrix_text(fit)} cm", f"/{placed.name} Do", "Q"]

    def _mask(self, mask: etree._Element, target: etree._Element, pen: Pen) -> Object | None:
        """Return a mask as a soft mask in the pen's user units; None where it hides all."""
        box = object_box(target)
        if mask.get("maskUnits") == "userSpaceOnUse":
            x, y, w, h = (float(mask.get(k, "0")) for k in ("x", "y", "width", "height"))
        elif box is None:
            return None
        else:
            x, y, w, h = box_region(mask, box).values()
        if w <= 0 or h <= 0:
            return None
        alpha = mask.get("mask-type") == "alpha"
        inner = pen.inner(grey=not alpha)
        if mask.get("maskContentUnits") == "objectBoundingBox":
            if box is None:
                return None
            inner.to_form = box_matrix(box)
            inner.out.append(f"{matrix_text(inner.to_form)} cm")
        style = styled(mask, INITIAL)
        for child in drawn(mask):
            self._element(child, style, inner, 1.0)
        region = Rect(x, y, x + w, y + h)
        space = "DeviceRGB" if alpha else "DeviceGray"
        form = self.resources.form("\n".join(inner.out), region, group=space)
        return soft_mask("Alpha" if alpha else "Luminosity", form)


def _is_one_paint(element: etree._Element, style: Style) -> bool:
    """Whether an element is one fill or one stroke, so that it fades as its paint does."""
    while True:
        name = local(element)
        if name == "image":
            return True
        if name in SHAPES:
            return fills(style) != strokes(style)
        children = list(drawn(element))
        if name != "g" or len(children) != 1:
            return False
        element = children[0]
        if any(element.get(k, "none") != "none" for k in ("mask", "style", "clip-path")):
            return False
        if element.get("opacity", "1") != "1":
            return False
        style = styled(element, style)


def _are_solid(*paints: tuple[Gradient | Stop, float]) -> bool:
    """Whether paints are colours that hide what they cover: then both may be one step."""
    return all(isinstance(source, Stop) and opacity == 1 for source, opacity in paints)


def _colour(stop: Stop) -> tuple[float, ...]:
    return stop.colour


def _luminance(stop: Stop) -> tuple[float, ...]:
    """Return what a colour counts for in a mask (CSS Masking 1 §8.1, SVG 1.1 §14.4)."""
    red, green, blue = stop.colour
    return (0.2125 * red + 0.7154 * green + 0.0721 * blue,)


def _opacity(stop: Stop) -> tuple[float, ...]:
    return (stop.opacity,)

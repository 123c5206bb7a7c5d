"""Scenes as SVG: each definition once, whatever shares it, and nothing that is not XML.

Sources: SVG 2 §§8, 9, 13 to 15; XML 1.0.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from vecrepeat.core.geometry import IDENTITY, number
from vecrepeat.core.names import slug
from vecrepeat.scene.nodes import (
    BLACK,
    Box,
    Clip,
    Data,
    Element,
    Filter,
    Gradient,
    Group,
    Image,
    Mask,
    Node,
    Outline,
    Paint,
    Path,
    Stroke,
    Text,
)
from vecrepeat.util.xmltext import escaped, quoted

NAMESPACES = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
"""What the root of a document needs that holds written scenes."""


class Fragment(NamedTuple):
    """A scene as SVG.

    Attributes:
        markup: SVG without namespace declarations.
        needs: ids of the definitions it refers to, directly or not, each after those it needs.
    """

    markup: str
    needs: tuple[str, ...]


@dataclass
class Writer:
    """Writes the scenes of one document.

    Args:
        prefix: what all ids begin with.

    Attributes:
        definitions: markup of all that has been referred to, by id.
    """

    prefix: str
    definitions: dict[str, str] = field(default_factory=dict)
    _taken: set[str] = field(default_factory=set)
    _known: dict[Any, str] = field(default_factory=dict)
    _seen: dict[int, tuple[Any, str]] = field(default_factory=dict)
    _needs: dict[str, tuple[str, ...]] = field(default_factory=dict)
    _needed: dict[str, None] = field(default_factory=dict)
    _naming: bool = True

    def fresh(self, base: str) -> str:
        """Return an id that nothing in the document has yet."""
        key, count = f"{self.prefix}-{base}", 2
        while key in self._taken:
            key, count = f"{self.prefix}-{base}-{count}", count + 1
        self._taken.add(key)
        return key

    def fragment(self, node: Node, *, named: bool = True) -> Fragment:
        """Return a scene as SVG; what it refers to is added to :attr:`definitions`.

        Args:
            node: the scene.
            named: whether what has a name in the drawing gets an id of it.
        """
        self._needed, self._naming = {}, named
        return Fragment(self._node(node), tuple(self._needed))

    def defined(self, needs: Iterable[str] | None = None) -> str:
        """Return definitions, a line each: those named, or all."""
        keys = self.definitions if needs is None else dict.fromkeys(needs)
        return "".join(f"{self.definitions[key]}\n" for key in keys)

    # ------------------------------------------------------------------------- definitions

    def _link(self, value: Any, name: str, kind: str, write: Callable[[str], str]) -> str:
        """Return the id of a definition, which is written where it has not been yet."""
        found = self._seen.get(id(value))
        key = found[1] if found else self._known.get(value)
        if key is None:
            key = self.fresh((slug(name)[:40].strip("-") if name else "") or kind)
            outer, self._needed = self._needed, {}
            text = write(key)
            self.definitions[key] = text
            self._needs[key] = (*self._needed, key)
            self._needed = outer
            self._known[value] = key
        self._seen[id(value)] = (value, key)
        self._needed.update(dict.fromkeys(self._needs[key]))
        return key

    def _paint(self, paint: Paint) -> str:
        if isinstance(paint, str):
            return paint
        if isinstance(paint, Gradient):
            return f"url(#{self._link(paint, paint.name, 'gradient', _gradient_writer(paint))})"
        return self._definition(paint)

    def _definition(self, element: Element) -> str:
        key = self._link(element, "", element.tag, lambda key: self._element(element, key))
        return f"url(#{key})"

    def _clip(self, clip: Clip) -> str:
        def write(key: str) -> str:
            outer = "" if clip.clip is None else f' clip-path="{self._clip(clip.clip)}"'
            inside = "".join(self._clip_child(child) for child in clip.children)
            return f'<clipPath id="{key}"{outer}>{inside}</clipPath>'

        return f"url(#{self._link(clip, clip.name, 'clip', write)})"

    def _clip_child(self, node: Node) -> str:
        """Write a shape of a clip path, which holds no groups (SVG 2 §14.5)."""
        outer = self._effects(node) if isinstance(node, Group) else ""
        if isinstance(node, Group) and [type(child) for child in node.children] == [Path]:
            node = node.children[0]
        if isinstance(node, Path):
            rule = ' clip-rule="evenodd"' if node.fill and node.fill.even_odd else ""
            return f"<{_shape(node.outline)}{outer}{rule}/>"
        if isinstance(node, Text):
            return self._element(node.element)
        children = node.children if isinstance(node, Group) else ()
        inside = "".join(self._clip_child(child) for child in children)
        return f"<g{outer}>{inside}</g>"

    def _mask(self, mask: Mask) -> str:
        def write(key: str) -> str:
            x0, y0, x1, y1 = mask.region
            written = [
                f'id="{key}" maskUnits="userSpaceOnUse"',
                f'x="{number(x0)}" y="{number(y0)}"',
                f'width="{number(x1 - x0)}" height="{number(y1 - y0)}"',
            ]
            if mask.alpha:
                written.append('mask-type="alpha"')
            if mask.linear:
                written.append('color-interpolation="linearRGB"')
            if mask.clip is not None:
                written.append(f'clip-path="{self._clip(mask.clip)}"')
            if mask.mask is not None:
                written.append(f'mask="{self._mask(mask.mask)}"')
            inside = "".join(self._node(child) for child in mask.children)
            return f"<mask {' '.join(written)}>{inside}</mask>"

        return f"url(#{self._link(mask, mask.name, 'mask', write)})"

    def _filter(self, effect: Filter) -> str:
        steps = []
        for step in effect.steps:
            if isinstance(step, str):
                steps.append(step)
                continue
            if effect.region is not None:
                x0, y0, x1, y1 = effect.region
                region = {
                    "filterUnits": "userSpaceOnUse",
                    **{"x": number(x0), "y": number(y0)},
                    **{"width": number(x1 - x0), "height": number(y1 - y0)},
                }
                kept = [(k, v) for k, v in step.attributes if k not in region]
                step = Element(step.tag, (*region.items(), *kept), step.content)
            key = self._link(step, effect.name, "filter", self._writing(step))
            steps.append(f"url(#{key})")
        return " ".join(steps)

    def _writing(self, element: Element) -> Callable[[str], str]:
        return lambda key: self._element(element, key)

    def _element(self, element: Element, key: str = "") -> str:
        """Write an element as it is."""
        out = [f"<{element.tag}"]
        if key:
            out.append(f' id="{key}"')
        for name, value in element.attributes:
            if isinstance(value, Element):
                link = self._definition(value)
                value = link[4:-1] if name == "href" else link
            out.append(f" {'xlink:href' if name == 'href' else name}={quoted(value)}")
        if not element.content:
            return "".join([*out, "/>"])
        out.append(">")
        for part in element.content:
            out.append(escaped(part) if isinstance(part, str) else self._element(part))
        out.append(f"</{element.tag}>")
        return "".join(out)

    # ------------------------------------------------------------------------------- nodes

    def _node(self, node: Node) -> str:
        if not isinstance(node, Group):
            return self._leaf(node)
        effects = self._effects(node)
        if len(node.children) == 1 and node.opacity == 1 and not node.name:
            only = node.children[0]
            # Its opacity fades fill and stroke as one, which not every engine does on a shape.
            if isinstance(only, Path | Image):
                return self._leaf(only, effects)
        inside = []
        # No comprehension, whose frames would count as the nodes' own do.
        for child in node.children:
            inside.append(self._node(child))
        return f"<g{self._named(node.name)}{effects}>{''.join(inside)}</g>"

    def _named(self, name: str) -> str:
        plain = slug(name)[:40].strip("-") if name and self._naming else ""
        return f' id="{self.fresh(plain)}"' if plain else ""

    def _effects(self, group: Group) -> str:
        written = []
        if group.transform != IDENTITY:
            written.append(f' transform="{group.transform.svg()}"')
        if group.opacity != 1:
            written.append(f' opacity="{number(group.opacity)}"')
        if group.clip is not None:
            written.append(f' clip-path="{self._clip(group.clip)}"')
        if group.mask is not None:
            written.append(f' mask="{self._mask(group.mask)}"')
        if group.filter is not None:
            written.append(f" filter={quoted(self._filter(group.filter))}")
        style = [] if group.blend == "normal" else [f"mix-blend-mode:{group.blend}"]
        style += ["isolation:isolate"] if group.isolated else []
        if style:
            written.append(f' style="{";".join(style)}"')
        return "".join(written)

    def _leaf(self, node: Path | Image | Text, effects: str = "") -> str:
        if isinstance(node, Text):
            return self._element(node.element)
        effects = self._named(node.name) + effects
        if isinstance(node, Path):
            return f"<{_shape(node.outline)}{effects}{self._painted(node)}/>"
        box = node.box
        out = [
            f'<image{effects} x="{number(box.x0)}" y="{number(box.y0)}"'
            f' width="{number(box.width)}" height="{number(box.height)}"'
        ]
        if node.aspect:
            out.append(f" preserveAspectRatio={quoted(node.aspect)}")
        if node.rendering:
            out.append(f" image-rendering={quoted(node.rendering)}")
        return "".join([*out, f" xlink:href={quoted(node.link)}/>"])

    def _painted(self, path: Path) -> str:
        fill = path.fill
        written = {"fill": "none" if fill is None else self._paint(fill.paint)}
        if fill is not None and fill.opacity != 1:
            written["fill-opacity"] = number(fill.opacity)
        if fill is not None and fill.even_odd:
            written["fill-rule"] = "evenodd"
        if path.stroke is not None:
            written |= self._stroked(path.stroke)
        if path.stroke_first:
            written["paint-order"] = "stroke"
        if path.rendering:
            written["shape-rendering"] = path.rendering
        return "".join(f' {name}="{value}"' for name, value in written.items())

    def _stroked(self, stroke: Stroke) -> dict[str, str]:
        own = {k: v for k, v in _stroke_style(stroke).items() if v != _RESTED[k]}
        return {"stroke": self._paint(stroke.paint), "stroke-width": number(stroke.width), **own}


def _stroke_style(stroke: Stroke) -> dict[str, str]:
    return {
        "stroke-opacity": number(stroke.opacity),
        "stroke-linecap": stroke.cap,
        "stroke-linejoin": stroke.join,
        "stroke-miterlimit": number(stroke.miter_limit),
        "stroke-dasharray": " ".join(number(v) for v in stroke.dashes),
        "stroke-dashoffset": number(stroke.dash_offset),
        "vector-effect": "" if stroke.scales else "non-scaling-stroke",
    }


_RESTED = _stroke_style(Stroke(BLACK))
"""What of a stroke goes without saying."""


def _shape(outline: Outline) -> str:
    """Return a shape's name and geometry as they stand in its tag."""
    if isinstance(outline, Data):
        return f"path d={quoted(outline.d)}"
    if isinstance(outline, Box):
        radii = ""
        if outline.rx and outline.ry:
            radii = f' rx="{number(outline.rx)}" ry="{number(outline.ry)}"'
        return (
            f'rect x="{number(outline.x)}" y="{number(outline.y)}"'
            f' width="{number(outline.width)}" height="{number(outline.height)}"{radii}'
        )
    centre = f'cx="{number(outline.cx)}" cy="{number(outline.cy)}"'
    if outline.rx == outline.ry:
        return f'circle {centre} r="{number(outline.rx)}"'
    return f'ellipse {centre} rx="{number(outline.rx)}" ry="{number(outline.ry)}"'


def _gradient_writer(gradient: Gradient) -> Callable[[str], str]:
    """Return what writes a gradient under an id."""
    kind = "radialGradient" if gradient.radial else "linearGradient"
    names = ("fx", "fy", "fr", "cx", "cy", "r") if gradient.radial else ("x1", "y1", "x2", "y2")
    written = {name: number(value) for name, value in zip(names, gradient.line, strict=True)}
    if gradient.radial:
        # What goes without saying; and few renderers know a focal circle.
        fx, fy, fr, cx, cy, _ = gradient.line
        rested = (("fr", fr == 0), ("fx", fx == cx), ("fy", fy == cy))
        for name in (name for name, rests in rested if rests):
            del written[name]
    if gradient.matrix != IDENTITY:
        written["gradientTransform"] = gradient.matrix.svg()
    if gradient.spread != "pad":
        written["spreadMethod"] = gradient.spread
    own = "".join(f' {name}="{value}"' for name, value in written.items())
    stops = []
    for stop in gradient.stops:
        faint = "" if stop.opacity == 1 else f' stop-opacity="{number(stop.opacity)}"'
        stops.append(f'<stop offset="{number(stop.offset)}" stop-color="{stop.colour}"{faint}/>')
    inside = "".join(stops)
    return lambda key: f'<{kind} id="{key}" gradientUnits="userSpaceOnUse"{own}>{inside}</{kind}>'

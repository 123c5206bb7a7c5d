"""What a motif paints, shape by shape and in stacking order: areas and what fills them.

A motif's outline says where it paints; a palette or a separation must know with what. The
motif's markup is read back, its fills and strokes outlined each on its own, and handed on with
their paints, the last on top.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from lxml import etree
from shapely.geometry.base import BaseGeometry

from vecrepeat.art import kinds
from vecrepeat.art.areas import intersection, union
from vecrepeat.art.normalform import DEFINITIONS
from vecrepeat.art.outline import DEFAULT_TOLERANCE, Outliner, matrix_of, url_id
from vecrepeat.art.paths import SHAPES
from vecrepeat.art.properties import PAINTED
from vecrepeat.art.xml import DESCRIPTIVE, SVG, XLINK, attributes, local
from vecrepeat.geometry import Affine
from vecrepeat.repeat import Feature, Motif

BEYOND_SHAPES = frozenset(
    (
        *(kinds.TEXT, kinds.IMAGE, kinds.MASK, kinds.FILTER, kinds.BLEND, kinds.MARKER),
        *(kinds.PATTERN, kinds.NON_SCALING, kinds.CONTEXT),
    )
)
"""Features whose ink is not what the fills and strokes of shapes say."""

_HEX_RE = re.compile("#[0-9a-fA-F]{6}")


class Stop(NamedTuple):
    """A stop of a gradient.

    Attributes:
        offset: 0 to 1, never below that of the stop before.
        colour: ``#rrggbb``.
        opacity: 0 to 1.
    """

    offset: float
    colour: str
    opacity: float = 1.0


@dataclass(frozen=True)
class Gradient:
    """A gradient as one shape is painted with it (SVG 2 §14.2).

    Attributes:
        name: the definition's id.
        radial: whether it runs in circles, else along a line.
        line: linear: x1, y1, x2, y2; radial: fx, fy, fr, cx, cy, r; in its own space.
        matrix: from its own space to mm.
        spread: ``pad``, ``reflect`` or ``repeat``.
        stops: in order; two or more.
    """

    name: str
    radial: bool
    line: tuple[float, ...]
    matrix: Affine
    spread: str
    stops: tuple[Stop, ...]

    @property
    def is_translucent(self) -> bool:
        """Whether any of it shows what lies below."""
        return any(stop.opacity < 1 for stop in self.stops)


Paint = str | Gradient
"""``#rrggbb`` or a gradient."""


class Layer(NamedTuple):
    """One fill or stroke.

    Attributes:
        area: what it covers, in mm, as a polygon or multipolygon.
        paint: what with.
        opacity: 0 to 1, without that of the groups it stands in.
    """

    area: BaseGeometry
    paint: Paint
    opacity: float


class Veil(NamedTuple):
    """Layers that fade as one (SVG 2 §3.5, *Group opacity*).

    Attributes:
        layers: what is drawn first, the last on top.
        opacity: 0 to 1.
    """

    layers: tuple[Layer | Veil, ...]
    opacity: float


def beyond_shapes(motif: Motif) -> tuple[Feature, ...]:
    """Return the features for which :func:`painted_layers` can't tell where the ink is."""
    return tuple(feature for feature in motif.features if feature.kind in BEYOND_SHAPES)


def painted_layers(
    motif: Motif, resources: Mapping[str, str], *, tolerance: float = DEFAULT_TOLERANCE
) -> tuple[Layer | Veil, ...]:
    """Return a motif's fills and strokes in stacking order, the last on top, in its own mm.

    Pictures, text, markers, masks, filters and blend modes are not looked into; see
    :func:`beyond_shapes`.

    Args:
        motif: the motif.
        resources: the repeat's shared definitions, by id.
        tolerance: the greatest distance in mm between a curve and its polygon.
    """
    definitions = "".join(resources[key] for key in motif.resources)
    root = etree.fromstring(
        f'<svg xmlns="{SVG}" xmlns:xlink="{XLINK}"><defs>{definitions}</defs>{motif.markup}</svg>',
        etree.XMLParser(huge_tree=True, resolve_entities=False),
    )
    by_id = {str(key): e for e in root.iter(f"{{{SVG}}}*") if (key := e.get("id")) is not None}
    reader = _Reader(by_id, tolerance)
    found = [item for child in root for item in reader.walk(child, Affine(), PAINTED, ())]
    areas = reader.areas()
    return tuple(layer for item in found if (layer := _settled(item, areas)) is not None)


class _Pending(NamedTuple):
    """A layer whose area is the reader's nth."""

    number: int
    paint: Paint
    opacity: float


class _PendingVeil(NamedTuple):
    layers: list[_Pending | _PendingVeil]
    opacity: float


def _settled(item: _Pending | _PendingVeil, areas: Sequence[BaseGeometry]) -> Layer | Veil | None:
    """Return a layer with its area, or None where it paints nothing."""
    if isinstance(item, _Pending):
        area = areas[item.number]
        return None if area.is_empty else Layer(area, item.paint, item.opacity)
    inner = (_settled(layer, areas) for layer in item.layers)
    layers = tuple(layer for layer in inner if layer is not None)
    return Veil(layers, item.opacity) if layers else None


class _Reader:
    """Collects the fills and strokes of a motif, so that all are outlined in one go."""

    def __init__(self, definitions: Mapping[str, etree._Element], tolerance: float) -> None:
        self._definitions = definitions
        self._outliner = Outliner(definitions, tolerance)
        self._jobs: list[tuple[etree._Element, Affine, Mapping[str, str]]] = []
        self._clips: list[tuple[BaseGeometry, ...]] = []

    def areas(self) -> list[BaseGeometry]:
        """Return the area of every fill and stroke met, by number."""
        areas = []
        for parts, clips in zip(self._outliner.parts(self._jobs), self._clips, strict=True):
            area = union(list(parts))
            for clip in clips:
                area = intersection(area, clip)
            areas.append(area)
        return areas

    def walk(
        self,
        element: etree._Element,
        matrix: Affine,
        inherited: Mapping[str, str],
        clips: tuple[BaseGeometry, ...],
    ) -> list[_Pending | _PendingVeil]:
        """Return what an element paints; ``matrix`` is from its parent's user space to mm."""
        name = local(element)
        if not name or name in DEFINITIONS or name in DESCRIPTIVE:
            return []
        opacity = float(element.get("opacity", 1))
        if element.get("display") == "none" or opacity <= 0:
            return []
        own = {key: value for key in PAINTED if (value := element.get(key)) is not None}
        style = {**inherited, **own}
        inner = matrix @ matrix_of(element)
        link = url_id(element.get("clip-path", ""))
        clip = self._outliner.clip_area(link, inner, element) if link else None
        if clip is not None:
            clips = (*clips, clip)
        found: list[_Pending | _PendingVeil] = []
        if name == "g":
            for child in element:
                found += self.walk(child, inner, style, clips)
        elif name in SHAPES and style["visibility"] == "visible":
            order = ("fill", "stroke")
            if style["paint-order"].startswith("stroke"):
                order = ("stroke", "fill")
            for which in order:
                found += self._layer(element, which, matrix, style, clips)
        return [_PendingVeil(found, opacity)] if found and opacity < 1 else found

    def _layer(
        self,
        element: etree._Element,
        which: str,
        matrix: Affine,
        style: Mapping[str, str],
        clips: tuple[BaseGeometry, ...],
    ) -> list[_Pending | _PendingVeil]:
        opacity = float(style[f"{which}-opacity"])
        paint = self._paint(style[which], element, matrix @ matrix_of(element))
        if paint is None or opacity <= 0:
            return []
        bare = {k: v for k, v in attributes(element).items() if k not in ("clip-path", "opacity")}
        bare["stroke" if which == "fill" else "fill"] = "none"
        self._jobs.append((etree.Element(element.tag, bare), matrix, style))
        self._clips.append(clips)
        return [_Pending(len(self._jobs) - 1, paint, opacity)]

    def _paint(self, value: str, element: etree._Element, matrix: Affine) -> Paint | None:
        """Return a paint, or None where it leaves the shape bare (SVG 2 §13.2)."""
        server = self._definitions.get(url_id(value))
        if server is None or local(server) not in ("linearGradient", "radialGradient"):
            match = _HEX_RE.search(value)
            return match.group().lower() if match else None
        stops = stops_of(server)
        if len(stops) < 2:
            return stops[0].colour if stops and stops[0].opacity == 1 else None
        frame = matrix
        if server.get("gradientUnits") != "userSpaceOnUse":
            box = self._outliner.object_box(element)
            if box is None:
                return None
            frame = frame @ Affine(box.width, 0.0, 0.0, box.height, box.x0, box.y0)
        frame = frame @ Affine.from_svg(server.get("gradientTransform"))
        if frame.determinant == 0:
            return None
        radial = local(server) == "radialGradient"
        return Gradient(
            server.get("id", ""),
            radial,
            _circles(server) if radial else _line(server),
            frame,
            server.get("spreadMethod", "pad"),
            stops,
        )


def _line(server: etree._Element) -> tuple[float, ...]:
    defaults = {"x1": 0.0, "y1": 0.0, "x2": 1.0, "y2": 0.0}
    return tuple(float(server.get(key, value)) for key, value in defaults.items())


def _circles(server: etree._Element) -> tuple[float, ...]:
    cx, cy, r = (float(server.get(key, 0.5)) for key in ("cx", "cy", "r"))
    fx, fy = float(server.get("fx", cx)), float(server.get("fy", cy))
    return (fx, fy, float(server.get("fr", 0)), cx, cy, r)


def stops_of(server: etree._Element) -> tuple[Stop, ...]:
    """Return a gradient's stops, offsets made to rise (SVG 2 §14.2.4.2)."""
    found: list[Stop] = []
    for stop in server:
        if local(stop) != "stop":
            continue
        text = stop.get("offset", "0").strip()
        offset = float(text[:-1]) / 100 if text.endswith("%") else float(text or 0)
        offset = max(min(1.0, max(0.0, offset)), found[-1].offset if found else 0.0)
        colour = stop.get("stop-color", "#000000").lower()
        found.append(Stop(offset, colour, float(stop.get("stop-opacity", 1))))
    return tuple(found)

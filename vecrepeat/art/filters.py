"""What filters do, told without drawing them; and noise brought within what can be drawn.

A soft light on a leaf, a shadow inside a shape: most filters leave a motif's bounds as they
are. Then nothing need be drawn to find them, which takes a hundred times as long. Of the others
only what reaches beyond is drawn.

Source: Filter Effects 1 §9.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import NamedTuple

import shapely
from lxml import etree
from shapely.geometry.base import BaseGeometry

from vecrepeat.art.xml import SVG
from vecrepeat.core.geometry import IDENTITY, Affine, Rect
from vecrepeat.scene.areas import Parts, as_parts, intersection
from vecrepeat.scene.nodes import Element, Group, Image, Node
from vecrepeat.scene.outline import Outliner
from vecrepeat.scene.visit import is_filtered, walk

OCTAVES = 10
"""Octaves of noise that are drawn.

Each adds half of what the one before adds (SVG 1.1 §15.24): all the further ones together come
to 2^-9 of the range, half a level of 255.
"""

SPARE_SHARE = 0.005
"""The share of a motif's size by which its outline's bounds may be larger than its ink …"""

SPARE_MM = 0.05
"""… and the length in mm, whichever is the greater."""

BLUR_REACH = 3.0
"""How far a blur carries ink, in standard deviations: the box blurs drawn for it end before."""


def bound_octaves(root: etree._Element) -> None:
    """Leave out octaves of noise that nobody sees and that take for ever, in place."""
    for noise in root.iter(f"{{{SVG}}}feTurbulence"):
        try:
            octaves = float(noise.get("numOctaves", "1"))
        except ValueError:
            continue
        if octaves > OCTAVES:
            noise.set("numOctaves", str(OCTAVES))


class Ink(NamedTuple):
    """Where a filter's picture has ink.

    Attributes:
        reach: the farthest from the source's ink, in user units; infinite where the filter's
            region alone bounds it.
        whole: whether all that the source covers has ink.
    """

    reach: float
    whole: bool


_SOURCE, _NOTHING, _ANYWHERE = Ink(0.0, True), Ink(0.0, False), Ink(math.inf, False)


def ink_of(definition: Element) -> Ink:
    """Return where the result of a ``filter`` in normal form has ink."""
    if definition.get("primitiveUnits") == "objectBoundingBox":
        return _ANYWHERE
    known = {"SourceGraphic": _SOURCE, "SourceAlpha": _SOURCE}
    last = _SOURCE
    for primitive in definition.content:
        if isinstance(primitive, str):
            continue
        name = primitive.tag
        one, two = (
            known.get(key, _ANYWHERE) if (key := _text(primitive, k)) else last
            for k in ("in", "in2")
        )
        if name == "feMerge":
            nodes = [node for node in primitive.content if isinstance(node, Element)]
            layers = [known.get(_text(node, "in"), _ANYWHERE) for node in nodes]
            last = _together(*layers) if layers else _NOTHING
        else:
            last = _result(name, primitive, one, two)
        if any(primitive.get(side) is not None for side in ("x", "y", "width", "height")):
            # A region of its own may cut anything.
            last = last._replace(whole=False)
        if key := _text(primitive, "result"):
            known[key] = last
    return last


def _result(name: str, primitive: Element, one: Ink, two: Ink) -> Ink:
    """Return where the result of any primitive but a merge has ink."""
    if name == "feFlood":
        return _NOTHING if _numbers(primitive, "flood-opacity", "1") == [0.0] else _ANYWHERE
    if name == "feOffset":
        return _moved(primitive, one, "0")
    if name == "feGaussianBlur":
        return Ink(one.reach + _blurred(primitive, "0"), one.whole)
    if name == "feDropShadow":
        shadow = _moved(primitive, one, "2")
        return _together(one, Ink(shadow.reach + _blurred(primitive, "2"), False))
    if name == "feBlend":
        return _together(one, two)
    if name == "feColorMatrix":
        return _tinted(primitive, one)
    if name == "feComposite":
        return _composed(primitive, one, two)
    return _ANYWHERE


def _moved(primitive: Element, ink: Ink, default: str) -> Ink:
    step = [*_numbers(primitive, "dx", default)[:1], *_numbers(primitive, "dy", default)[:1]]
    far = math.hypot(*step) if len(step) == 2 else math.inf
    return Ink(ink.reach + far, ink.whole and far == 0)


def _blurred(primitive: Element, default: str) -> float:
    """Return how far a blur carries ink."""
    deviations = _numbers(primitive, "stdDeviation", default)
    return BLUR_REACH * max(map(abs, deviations)) if deviations else math.inf


def _together(*layers: Ink) -> Ink:
    return Ink(max(i.reach for i in layers), any(i.whole for i in layers))


def _tinted(primitive: Element, ink: Ink) -> Ink:
    kind = _text(primitive, "type", "matrix")
    if kind in ("saturate", "hueRotate"):
        return ink
    values = _numbers(primitive, "values", "")
    if kind != "matrix" or len(values) != 20:
        return _ANYWHERE
    *colours, alpha, constant = values[15:]
    whole = ink.whole and alpha > 0 and constant >= 0 and not any(colours)
    return Ink(ink.reach if constant <= 0 else math.inf, whole)


def _composed(primitive: Element, one: Ink, two: Ink) -> Ink:
    operator = _text(primitive, "operator", "over")
    if operator == "over":
        return _together(one, two)
    if operator == "in":
        return Ink(min(one.reach, two.reach), one.whole and two.whole)
    if operator == "out":
        return Ink(one.reach, False)
    if operator == "atop":
        return two
    if operator != "arithmetic":
        return _ANYWHERE
    factors = [(_numbers(primitive, f"k{n}", "0") or [math.nan])[0] for n in range(1, 5)]
    if not factors[3] <= 0 or any(math.isnan(k) for k in factors):
        return _ANYWHERE
    # What is taken away adds no ink.
    reaches = (min(one.reach, two.reach), one.reach, two.reach)
    return Ink(max((r for k, r in zip(factors, reaches, strict=False) if k > 0), default=0), False)


def _numbers(primitive: Element, name: str, default: str) -> list[float]:
    """Return an attribute's numbers, none where it holds anything else."""
    try:
        numbers = [float(v) for v in _text(primitive, name, default).replace(",", " ").split()]
    except ValueError:
        return []
    return numbers if all(map(math.isfinite, numbers)) else []


def _text(element: Element, name: str, default: str = "") -> str:
    value = element.get(name)
    return value if isinstance(value, str) else default


def told_area(scene: Node, outliner: Outliner) -> tuple[Parts, Group | None]:
    """Return where a scene paints, and what of it has to be drawn to know.

    What a filter spreads within the bounds of what surely paints need not be: a soft light on a
    leaf. What it spreads beyond does, as a blur ends somewhere before its bound.

    Args:
        scene: in mm; without live text and strokes of a width in pixels.
        outliner: outlines shapes.

    Returns:
        The area in mm of what is told; and a scene of what is not, each piece under all that acts
        on it, or None where all is told.
    """
    found = _Pieces(outliner)
    rest = found.split(scene, IDENTITY, (), ())
    certain, *sources = outliner.parts([(rest or Group(()), IDENTITY), *found.sources])
    area, untold = list(certain), list(found.untold)
    if len(certain):
        bounds = Rect.of(shapely.total_bounds(certain))
        spare = max(SPARE_SHARE * max(bounds.width, bounds.height), SPARE_MM)
        enough = shapely.box(*bounds.grown(spare))
    for parts, spread in zip(sources, found.spreads, strict=True):
        ink = spread.of(parts)
        if len(certain) and shapely.covers(enough, ink).all():
            area += ink
        elif ink:
            untold.append(spread.piece)
    return as_parts(area), Group(tuple(untold)) if untold else None


class _Spread(NamedTuple):
    """A filtered piece, and how far what it works on spreads: in mm, cut to areas."""

    piece: Node
    reach: float
    cuts: tuple[BaseGeometry, ...]

    def of(self, source: Parts) -> list[BaseGeometry]:
        """Return the area it may paint."""
        if math.isinf(self.reach):
            wide = as_parts(self.cuts[:1])
        else:
            wide = shapely.buffer(source, self.reach, quad_segs=4) if self.reach else source
        for cut in self.cuts:
            wide = as_parts([a for part in wide if not (a := intersection(part, cut)).is_empty])
        return list(wide)


@dataclass
class _Pieces:
    """Takes a scene apart into what surely paints, what filters spread, and what is not told."""

    outliner: Outliner
    untold: list[Node] = field(default_factory=list)
    sources: list[tuple[Node, Affine]] = field(default_factory=list)
    spreads: list[_Spread] = field(default_factory=list)

    def split(
        self,
        node: Node,
        matrix: Affine,
        above: tuple[Group, ...],
        clips: tuple[BaseGeometry, ...],
    ) -> Node | None:
        """Return what of a node surely paints, and keep the rest; None where none of it does."""
        if isinstance(node, Image):
            self.untold.append(_under(above, node))
        if not isinstance(node, Group):
            return None if isinstance(node, Image) else node
        inner = matrix @ node.transform
        if node.opacity == 0 or inner.determinant == 0:
            return None
        if node.mask is not None:
            self.untold.append(_under(above, node))
            return None
        if node.filter is not None:
            return self._filtered(node, matrix, above, clips)
        if node.clip is not None:
            clips = (*clips, self.outliner.clip_area(node.clip, inner))
        above = (*above, node)
        children = [self.split(child, inner, above, clips) for child in node.children]
        return replace(node, children=tuple(child for child in children if child is not None))

    def _filtered(
        self,
        node: Group,
        matrix: Affine,
        above: tuple[Group, ...],
        clips: tuple[BaseGeometry, ...],
    ) -> Node | None:
        piece, effect, bare = _under(above, node), node.filter, replace(node, filter=None)
        step = effect.steps[0] if effect is not None and len(effect.steps) == 1 else None
        # A clip comes after the filter, and filters and pictures within it before.
        if (
            effect is None
            or effect.region is None
            or not isinstance(step, Element)
            or node.clip is not None
            or is_filtered(bare)
            or any(isinstance(n, Image) or getattr(n, "mask", None) for n, _ in walk(bare))
        ):
            self.untold.append(piece)
            return None
        reach, whole = ink_of(step)
        inner = matrix @ node.transform
        region = shapely.transform(shapely.box(*effect.region), inner.apply)
        self.sources.append((bare, matrix))
        self.spreads.append(_Spread(piece, reach * inner.stretch, (region, *clips)))
        return bare if whole else None


def _under(above: tuple[Group, ...], node: Node) -> Node:
    """Return a node alone within the groups that hold it."""
    for group in reversed(above):
        node = replace(group, children=(node,))
    return node

"""The scene: what a motif is, as a tree of frozen values.

Four nodes (path, image, text, group), the paints of a path, and what acts on a group as a whole:
clips, masks and filters. Ids, classes, ``use``, units and inheritance are gone: each path carries
its paint, each gradient stands in the user space of what it paints, and what is shared is the
same value. All of it compares and hashes by content, and pickles.

Lengths are in the user units of the group that a node stands in; the outermost group's transform
leads to mm. Source: SVG 2 §§8, 9, 13 to 15, as resolved by :mod:`vecrepeat.art.build`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TypeAlias

from vecrepeat.core.geometry import IDENTITY, Affine, Rect

BLACK = "#000000"


@dataclass(frozen=True, slots=True)
class Data:
    """A path by its data, free of errors (SVG 2 §9.3).

    Attributes:
        d: path data.
    """

    d: str


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle (SVG 2 §10.2).

    Attributes:
        x: left.
        y: top.
        width: more than 0.
        height: more than 0.
        rx: a corner's radius across, 0 for none.
        ry: a corner's radius down.
    """

    x: float
    y: float
    width: float
    height: float
    rx: float = 0.0
    ry: float = 0.0


@dataclass(frozen=True, slots=True)
class Ellipse:
    """An ellipse (SVG 2 §10.3, §10.4).

    Attributes:
        cx: its centre across.
        cy: its centre down.
        rx: its radius across, more than 0.
        ry: its radius down, more than 0.
    """

    cx: float
    cy: float
    rx: float
    ry: float


Outline: TypeAlias = Data | Box | Ellipse
"""What a path goes along."""


@dataclass(frozen=True, slots=True)
class Stop:
    """A stop of a gradient.

    Attributes:
        offset: 0 to 1, never below that of the stop before.
        colour: ``#rrggbb``.
        opacity: 0 to 1.
    """

    offset: float
    colour: str
    opacity: float = 1.0


@dataclass(frozen=True, slots=True)
class Gradient:
    """A gradient (SVG 2 §14.2); one without extent has become a flat colour.

    Attributes:
        radial: whether it runs in circles, else along a line.
        line: linear: x1, y1, x2, y2; radial: fx, fy, fr, cx, cy, r; in its own space.
        matrix: from its own space to the user space of what it paints; not flat.
        spread: ``pad``, ``reflect`` or ``repeat``.
        stops: in order; two or more.
        name: what the drawing calls it; no part of what it is.
    """

    radial: bool
    line: tuple[float, ...]
    matrix: Affine
    spread: str
    stops: tuple[Stop, ...]
    name: str = field(default="", compare=False)

    @property
    def is_translucent(self) -> bool:
        """Whether any of it shows what lies below."""
        return any(stop.opacity < 1 for stop in self.stops)


@dataclass(frozen=True, slots=True)
class Element:
    """An SVG element as it is, for what only an engine reads: text, a filter's primitives.

    Attributes:
        tag: its name.
        attributes: by name, in order; a value is text, or the definition that it refers to.
        content: what it holds: elements and, within text, words.
    """

    tag: str
    attributes: tuple[tuple[str, str | Element], ...] = ()
    content: tuple[str | Element, ...] = ()

    def get(self, name: str) -> str | Element | None:
        """Return an attribute, or None."""
        return next((value for key, value in self.attributes if key == name), None)


Paint: TypeAlias = str | Gradient | Element
"""``#rrggbb``, a gradient, or a ``pattern`` that could not be laid out as copies."""


@dataclass(frozen=True, slots=True)
class Fill:
    """How the inside of a path is painted.

    Attributes:
        paint: what with.
        opacity: above 0, to 1.
        even_odd: whether the even-odd rule tells inside from outside, else the nonzero rule.
    """

    paint: Paint = BLACK
    opacity: float = 1.0
    even_odd: bool = False


@dataclass(frozen=True, slots=True)
class Stroke:
    """How a path is stroked (SVG 2 §13.5).

    Attributes:
        paint: what with.
        width: above 0.
        opacity: above 0, to 1.
        cap: ``butt``, ``round`` or ``square``.
        join: ``miter``, ``round``, ``bevel`` or, drawn by few engines, another.
        miter_limit: 1 or more.
        dashes: lengths of dashes and gaps; none of them below 0, their sum above; or none.
        dash_offset: where in the dashes the path begins.
        scales: whether the stroke grows with the drawing, as nearly all do.
    """

    paint: Paint
    width: float = 1.0
    opacity: float = 1.0
    cap: str = "butt"
    join: str = "miter"
    miter_limit: float = 4.0
    dashes: tuple[float, ...] = ()
    dash_offset: float = 0.0
    scales: bool = True


@dataclass(frozen=True, slots=True)
class Path:
    """A shape that is filled, stroked or both.

    Attributes:
        outline: what it goes along.
        fill: how it is filled, or None.
        stroke: how it is stroked, or None.
        stroke_first: whether the stroke lies under the fill.
        rendering: SVG's ``shape-rendering`` where it is not ``auto``.
        name: what the drawing calls it; no part of what it is.
    """

    outline: Outline
    fill: Fill | None = None
    stroke: Stroke | None = None
    stroke_first: bool = False
    rendering: str = ""
    name: str = field(default="", compare=False)

    @property
    def paints(self) -> list[Fill | Stroke]:
        """Its fill and its stroke, those that there are."""
        return [one for one in (self.fill, self.stroke) if one is not None]


@dataclass(frozen=True, slots=True)
class Image:
    """A picture.

    Attributes:
        link: a ``data:`` URL.
        box: the rectangle it is fitted to.
        pixels: how many the picture has across and down.
        aspect: how it is fitted (SVG 2 §8.7, ``preserveAspectRatio``).
        rendering: SVG's ``image-rendering`` where it is not ``auto``.
        name: what the drawing calls it; no part of what it is.
    """

    link: str
    box: Rect
    pixels: tuple[int, int]
    aspect: str = ""
    rendering: str = ""
    name: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True)
class Text:
    """Live text, and what acts on it, which only an engine with fonts can read.

    Attributes:
        element: a ``text`` element, or a group that holds some.
        name: what the drawing calls it; no part of what it is.
    """

    element: Element
    name: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True)
class Clip:
    """What of a group shows: the inside of shapes (SVG 2 §14.5).

    Attributes:
        children: paths whose fill says by its rule what is inside, and groups of them that have
            a transform and a clip of their own at most.
        clip: what the clip is itself cut to.
        name: what the drawing calls it; no part of what it is.
    """

    children: tuple[Node, ...]
    clip: Clip | None = None
    name: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True)
class Mask:
    """How much of a group shows: what a drawing's brightness or opacity says (CSS Masking 1).

    Attributes:
        children: the drawing, in the user space of the group.
        region: beyond it nothing shows.
        alpha: whether its opacity counts, else its brightness.
        linear: whether brightness is taken in linear light.
        mask: what the mask is itself masked by.
        clip: what the mask is cut to.
        name: what the drawing calls it; no part of what it is.
    """

    children: tuple[Node, ...]
    region: Rect
    alpha: bool = False
    linear: bool = False
    mask: Mask | None = None
    clip: Clip | None = None
    name: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True)
class Filter:
    """What is done to a group's pixels (Filter Effects 1).

    Attributes:
        steps: ``filter`` elements and filter functions such as ``blur(2)``, in order.
        region: the rectangle it works on, in the group's user space; None where it is given
            by the element alone.
        name: what the drawing calls it; no part of what it is.
    """

    steps: tuple[str | Element, ...]
    region: Rect | None = None
    name: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True)
class Group:
    """Nodes that belong together, the first at the bottom, and what acts on all of them.

    Attributes:
        children: what it holds.
        transform: from its user space to that of what it stands in.
        opacity: 0 to 1.
        blend: SVG's ``mix-blend-mode``.
        isolated: whether what it holds blends with nothing below it.
        clip: what of it shows, or None for all.
        mask: how much of it shows, or None for all.
        filter: what is done to its pixels, or None.
        name: what the drawing calls it; no part of what it is.
        role: ``layer`` of what a drawing program calls so; else what element it stands for
            whose opacity or place it carries, or "". No part of what it is.
    """

    children: tuple[Node, ...]
    transform: Affine = IDENTITY
    opacity: float = 1.0
    blend: str = "normal"
    isolated: bool = False
    clip: Clip | None = None
    mask: Mask | None = None
    filter: Filter | None = None
    name: str = field(default="", compare=False)
    role: str = field(default="", compare=False)

    @property
    def is_plain(self) -> bool:
        """Whether it does no more than hold its children together in a place."""
        return (
            (self.opacity, self.blend, self.isolated) == (1.0, "normal", False)
            and self.clip is None
            and self.mask is None
            and self.filter is None
        )


Node: TypeAlias = Path | Image | Text | Group

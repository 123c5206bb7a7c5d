"""Text turned into paths, or kept live in fonts that are there.

Text prints differently where its font is missing; paths print the same anywhere. Outlining
covers horizontal text in any script. What it can't do right (vertical text, text on a path …)
it leaves as live text, with a note that says so.

Sources: SVG 2 §11, *Text*.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from itertools import groupby

import numpy as np
from lxml import etree

from vecrepeat.art.characters import (
    FontlessError,
    LiveTextError,
    own_text,
    shown_text,
    within,
)
from vecrepeat.art.normalform import BOX, KIND, label_of
from vecrepeat.art.style import INHERITED, property_of
from vecrepeat.art.textlayout import Cluster, Typesetter, cell_box
from vecrepeat.art.xml import DESCRIPTIVE, SVG, XML, attributes, local, real
from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import Affine, Rect, number

__all__ = ["set_text"]

_TEXT_ONLY = frozenset(
    (
        *("x", "y", "dx", "dy", "rotate", "textLength", "lengthAdjust", f"{{{XML}}}space"),
        *("font-family", "font-size", "font-size-adjust", "font-stretch", "font-style"),
        *("font-variant", "font-weight", "kerning", "letter-spacing", "word-spacing"),
        *("line-height", "text-anchor", "text-decoration", "text-overflow", "text-rendering"),
        *("white-space", "writing-mode", "direction", "unicode-bidi", "baseline-shift"),
        *("glyph-orientation-horizontal", "glyph-orientation-vertical", "alignment-baseline"),
        "dominant-baseline",
    )
)
_PAINTED = INHERITED - _TEXT_ONLY
_PLAIN = {
    "fill-rule": "nonzero",
    "clip-rule": "nonzero",
    "marker-start": "none",
    "marker-mid": "none",
    "marker-end": "none",
}
_STROKE = ("stroke", "stroke-opacity", "stroke-width", "stroke-dasharray", "stroke-dashoffset")
_PAINT = ("color", "fill", "fill-opacity", *_STROKE)
_ACROSS = ("horizontal-tb", "lr", "lr-tb", "rl", "rl-tb")
_STEERING = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def set_text(root: etree._Element, *, live: bool = False) -> tuple[str, ...]:
    """Turn text into paths, in place, with the fonts installed here.

    Each ``text`` becomes a group of the same id, labels, title, transform and effects, with a
    path for each run of characters of one element and one for each of its decorations. Text
    that is left live is given the families that stand in for missing ones.

    Args:
        root: the document's ``svg`` element in normal form (see ``structure.normalise``).
        live: leave all text live.

    Returns:
        Notes: fonts that another stood in for, characters left out, and each text that was
        left as it is though it was not to be.

    Raises:
        InputError: no font is installed that could draw a text.
    """
    texts = [text for text in root.iter(f"{{{SVG}}}text") if _may_show(text)]
    setter = Typesetter()
    for text in texts:
        words = " ".join("".join(shown_text(text)).split())
        name = label_of(text) or words[:40]
        if not words:
            _put(text, [])
            continue
        try:
            try:
                if not live:
                    _outline(text, setter)
                    continue
            except LiveTextError as reason:
                setter.note(f"the text “{name}” is not outlined: {reason}")
            setter.keep(text)
        except FontlessError as error:
            raise InputError(
                f"text can't be drawn: {error}",
                element=name,
                hint="install one, or turn the text into paths where it was drawn",
            ) from None
    return setter.notes


def _may_show(text: etree._Element) -> bool:
    """Whether a text is drawn, or may be through a definition; what is used has been copied."""
    above = (local(holder) for holder in text.iterancestors())
    kinds = ("defs", "symbol", "clipPath", "mask", "pattern", "marker")
    return next((kind for kind in above if kind in kinds), "svg") not in ("defs", "symbol")


def _outline(text: etree._Element, setter: Typesetter) -> None:
    """Replace a text by its outlines.

    Raises:
        LiveTextError: it can't be outlined; nothing has been changed.
        FontlessError: no font is installed that has any of it; likewise.
    """
    _check(text)
    clusters = setter.clusters(text)
    _put(text, _paths(text, clusters), cell_box(clusters))


def _check(text: etree._Element) -> None:
    """Raise where a text has a feature that outlines would get wrong."""
    if any(local(e) == "textPath" for e in text.iter()):
        raise LiveTextError("it runs along a path")
    if not _STEERING.isdisjoint("".join(shown_text(text))):
        raise LiveTextError("it steers the direction of writing by characters")
    for element in (text, *text.iter(f"{{{SVG}}}tspan")):
        if property_of(element, "writing-mode") not in _ACROSS:
            raise LiveTextError("it is written vertically")
        if property_of(element, "unicode-bidi") != "normal":
            raise LiveTextError("it steers the direction of writing")
        if property_of(element, "font-variant") not in ("normal", "none"):
            raise LiveTextError("it asks for small capitals or another variant of the font")
        if property_of(element, "font-size-adjust") != "none":
            raise LiveTextError("it asks for font-size-adjust")
        if element.get("textLength") and element.get("lengthAdjust") == "spacingAndGlyphs":
            raise LiveTextError("its letters are stretched to a length")
        lines = property_of(element, "white-space") in ("pre", "pre-wrap", "pre-line")
        if lines and any("\n" in (t or "").strip() for t in own_text(element)):
            raise LiveTextError("its line breaks are kept")
        if element is not text and any(
            element.get(k) not in (None, "none") for k in ("clip-path", "mask", "filter")
        ):
            raise LiveTextError("a clip, mask or filter acts on a part of it")


def _paths(text: etree._Element, clusters: list[Cluster]) -> list[etree._Element]:
    """Return the paths of the runs and their decorations, in painting order."""
    made: list[etree._Element] = []
    named: set[str] = set()
    for element, group in groupby(clusters, key=lambda c: c.char.element):
        run = list(group)
        own = _painted_by(element, text)
        lines = [(kind, _decorated(holder, text)) for kind, holder in _decorations(element)]
        for kind, paint in lines:
            if kind != "line-through" and (d := _bars(run, kind)):
                made.append(_path(d, paint))
        if d := _drawn(run):
            path = _path(d, own)
            key = element.get("id")
            if element is not text and key and key not in named:
                named.add(key)
                path.set("id", key)
            made.append(path)
        for kind, paint in lines:
            if kind == "line-through" and (d := _bars(run, kind)):
                made.append(_path(d, paint))
    for path in made:
        for name, plain in _PLAIN.items():
            if (path.get(name) or property_of(text, name)) != plain:
                path.set(name, plain)
    return made


def _drawn(run: list[Cluster]) -> str:
    """Return a run's outline as path data."""
    decimals = _decimals(min(c.char.style.size for c in run))
    out: list[str] = []
    for cluster in run:
        if cluster.scale <= 0:
            continue
        # Fonts have y upwards.
        em = cluster.matrix() @ Affine.scaling(cluster.scale, -cluster.scale)
        for glyph, x, y in cluster.glyphs:
            matrix = em @ Affine.translation(x, y)
            out.append(cluster.face.outline(glyph, matrix, lambda v: _short(v, decimals)))
    return "".join(out)


def _decorations(element: etree._Element) -> list[tuple[str, etree._Element]]:
    """Return the lines drawn along an element's text, each with the element that asks for it."""
    found: list[tuple[str, etree._Element]] = []
    for holder in (element, *element.iterancestors()):
        words = (holder.get("text-decoration") or "").split() if local(holder) else []
        for kind in ("underline", "overline", "line-through"):
            if kind in words:
                found.append((kind, holder))
    return sorted(found, key=lambda f: ("underline", "overline", "line-through").index(f[0]))


def _decorated(holder: etree._Element, text: etree._Element) -> dict[str, str]:
    """Return the paint of a line: that of the element which asks for it (SVG 2 §11.10.2)."""
    if within(holder, text):
        return _painted_by(holder, text)
    values = {name: property_of(holder, name) for name in _PAINT}
    return {k: v for k, v in values.items() if v != property_of(text, k)}


def _painted_by(element: etree._Element, text: etree._Element) -> dict[str, str]:
    """Return what elements from a text down to one in it set, but for text properties."""
    found: dict[str, str] = {}
    opacity = 1.0
    while element is not text:
        for name, value in attributes(element).items():
            if name in _PAINTED or name in ("style", "vector-effect"):
                found.setdefault(name, value)
        opacity *= real(element.get("opacity"), 1.0)
        parent = element.getparent()
        if parent is None:
            break
        element = parent
    if opacity != 1:
        found["opacity"] = number(opacity)
    return found


def _bars(run: list[Cluster], kind: str) -> str:
    """Return the bars of a decoration as path data, one for each unbroken stretch."""
    stretches: list[list[Cluster]] = []
    for cluster in run:
        before = stretches[-1][-1] if stretches else None
        if (
            before is not None
            and not (cluster.char.angle or before.char.angle)
            and cluster.face is before.face
            and abs(cluster.x - before.x - before.advance) < 1e-9 * cluster.char.style.size
            and cluster.y == before.y
        ):
            stretches[-1].append(cluster)
        else:
            stretches.append([cluster])
    out: list[str] = []
    for stretch in stretches:
        first, last = stretch[0], stretch[-1]
        face, scale = first.face, first.scale
        height = {
            "underline": face.underline,
            "overline": face.ascent,
            "line-through": face.strikeout,
        }[kind]
        decimals = _decimals(first.char.style.size)
        width = last.x - first.x + last.advance
        top, bottom = -scale * (height + face.thickness / 2), -scale * (height - face.thickness / 2)
        box = np.array([(0.0, top), (width, top), (width, bottom), (0.0, bottom)])
        corners = [
            f"{_short(x, decimals)} {_short(y, decimals)}"
            for x, y in first.matrix().apply(box).tolist()
        ]
        if width > 0:
            out.append(f"M{'L'.join(corners)}Z")
    return "".join(out)


def _decimals(size: float) -> int:
    """Return how many decimals keep a hundred-thousandth of the font size."""
    return max(0, 5 - math.floor(math.log10(size))) if size > 0 else 0


def _short(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _path(data: str, paint: Mapping[str, str]) -> etree._Element:
    return etree.Element(f"{{{SVG}}}path", {"d": data, **paint})


def _put(text: etree._Element, paths: list[etree._Element], box: Rect | None = None) -> None:
    """Put paths in a text's place, in a group that tells its bounding box."""
    kept = {k: v for k, v in attributes(text).items() if k not in _TEXT_ONLY}
    group = etree.Element(f"{{{SVG}}}g", kept)
    group.set(KIND, "text")
    if box is not None:
        group.set(BOX, " ".join(map(repr, box)))
    group.tail = text.tail
    for child in list(text):
        if local(child) in DESCRIPTIVE:
            child.tail = None
            group.append(child)
    group.extend(paths)
    parent = text.getparent()
    assert parent is not None
    parent.replace(text, group)

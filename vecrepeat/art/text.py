"""Live text: which fonts a drawing asks for, and text turned into paths.

Text prints differently where its font is missing; paths print the same anywhere. Outlining
covers horizontal left-to-right text in scripts whose letters stand side by side (Latin, Greek,
Cyrillic, Chinese, Japanese, Korean, symbols). What it can't do right it leaves as live text,
with a note that says so. Where a font may change letters in ways that aren't followed (see
``shaping``), a note says so.

Sources: SVG 2 §11, *Text*.
"""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Mapping
from itertools import groupby

from lxml import etree

from vecrepeat.art.characters import (
    TEXTUAL,
    LeftError,
    check_script,
    families_in,
    own_text,
    real,
    shown_text,
    within,
)
from vecrepeat.art.motifs import label_of
from vecrepeat.art.normalform import KIND, elements_by_id
from vecrepeat.art.style import INHERITED, property_of
from vecrepeat.art.textbox import BoxUnits
from vecrepeat.art.textlayout import Glyph, Typesetter, cell_box, reading
from vecrepeat.art.xml import DESCRIPTIVE, SVG, XML, attributes, local
from vecrepeat.geometry import Affine, number

__all__ = ["fonts_asked", "outline_text"]

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


def fonts_asked(element: etree._Element) -> tuple[str, ...]:
    """Return the families the text in an element asks for first, in order, without repeats.

    Args:
        element: any element of a tree in normal form, such as its root or a motif; what it
            inherits counts. Text without a family asks for ``serif``.
    """
    found: dict[str, str] = {}

    def visit(holder: etree._Element) -> None:
        if any(text and text.strip() for text in own_text(holder)):
            for family in families_in(property_of(holder, "font-family"))[:1]:
                found.setdefault(family.casefold(), family)
        for child in holder:
            if local(child) in TEXTUAL:
                visit(child)

    for text in element.iter(f"{{{SVG}}}text"):
        visit(text)
    return tuple(found.values())


def outline_text(root: etree._Element) -> tuple[str, ...]:
    """Turn text into paths, in place, with the fonts installed here.

    Each ``text`` becomes a group of the same id, labels, title, transform and effects, with a
    path for each run of characters of one element and one for each of its decorations. A text
    in a clip path becomes paths without a group. Gradients and effects in units of the text's
    bounding box are fixed to that box (of character cells, SVG 2 §11.4), as paths have
    another.

    Args:
        root: the document's ``svg`` element in normal form (see ``structure.normalise``).

    Returns:
        Notes: fonts that another stood in for, characters left out, and each text that was
        left as it is (right-to-left or joining scripts, vertical text, text on a path …).
    """
    texts = [t for t in root.iter(f"{{{SVG}}}text") if t.getparent() is not None]
    if not texts:
        return ()
    # Masks are copied with what they hold, so theirs come first.
    texts.sort(key=lambda text: all(local(above) != "mask" for above in text.iterancestors()))
    setter, units = Typesetter(), BoxUnits(elements_by_id(root))
    for text in texts:
        name = label_of(text) or " ".join("".join(shown_text(text)).split())[:40]
        before = dict(setter.notes)
        try:
            _outline(text, setter, units)
        except LeftError as reason:
            setter.notes = before
            setter.notes[f"the text “{name}” is not outlined: {reason}"] = None
    return tuple(setter.notes)


def _outline(text: etree._Element, setter: Typesetter, units: BoxUnits) -> None:
    """Replace a text by its outlines.

    Raises:
        LeftError: it can't be outlined; nothing has been changed.
    """
    _check(text)
    glyphs = setter.glyphs(text)
    box = cell_box(glyphs)
    units.check(text, box)
    paths = _paths(text, glyphs)
    units.fix(text, paths, box)
    _put(text, paths)


def _check(text: etree._Element) -> None:
    """Raise where a text has a feature that outlines would get wrong."""
    if any(local(e) == "textPath" for e in text.iter()):
        raise LeftError("it runs along a path")
    content = "".join(shown_text(text))
    for element in (text, *text.iter(f"{{{SVG}}}tspan")):
        if property_of(element, "writing-mode") not in _ACROSS:
            raise LeftError("it is written vertically")
        if property_of(element, "direction") == "rtl":
            raise LeftError("it is written from right to left")
        if property_of(element, "unicode-bidi") in ("bidi-override", "isolate-override"):
            raise LeftError("it overrides the direction of writing")
        if property_of(element, "font-variant") not in ("normal", "none"):
            raise LeftError("it asks for small capitals or another variant of the font")
        if property_of(element, "font-size-adjust") != "none":
            raise LeftError("it asks for font-size-adjust")
        if element.get("textLength") and element.get("lengthAdjust") == "spacingAndGlyphs":
            raise LeftError("its letters are stretched to a length")
        lines = property_of(element, "white-space") in ("pre", "pre-wrap", "pre-line")
        if lines and any("\n" in (t or "").strip() for t in own_text(element)):
            raise LeftError("its line breaks are kept")
        if element is not text and any(
            element.get(k) not in (None, "none") for k in ("clip-path", "mask", "filter")
        ):
            raise LeftError("a clip, mask or filter acts on a part of it")
    check_script(unicodedata.normalize("NFC", content))


def _paths(text: etree._Element, glyphs: list[Glyph]) -> list[etree._Element]:
    """Return the paths of the runs and their decorations, in painting order."""
    made: list[etree._Element] = []
    named: set[str] = set()
    for element, group in groupby(glyphs, key=lambda g: g.char.element):
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


def _drawn(run: list[Glyph]) -> str:
    """Return a run's outline as path data."""
    decimals = _decimals(min(g.char.style.size for g in run))
    out: list[str] = []
    for glyph in run:
        if glyph.scale <= 0:
            continue
        # Fonts have y upwards.
        matrix = glyph.matrix() @ Affine.scaling(glyph.scale, -glyph.scale)
        with reading(glyph.face):
            out.append(
                glyph.face.outline(glyph.name, matrix, lambda value: _short(value, decimals))
            )
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


def _bars(run: list[Glyph], kind: str) -> str:
    """Return the bars of a decoration as path data, one for each unbroken stretch."""
    stretches: list[list[Glyph]] = []
    for glyph in run:
        before = stretches[-1][-1] if stretches else None
        if (
            before is not None
            and not (glyph.char.angle or before.char.angle or glyph.dx or glyph.dy)
            and glyph.face is before.face
            and glyph.char.x is None
            and glyph.char.y is None
            and glyph.y == before.y
        ):
            stretches[-1].append(glyph)
        else:
            stretches.append([glyph])
    out: list[str] = []
    for stretch in stretches:
        first, last = stretch[0], stretch[-1]
        face, scale = first.face, first.scale
        height = {
            "underline": face.underline,
            "overline": face.ascent,
            "line-through": face.metric("yStrikeoutPosition", 0.26),
        }[kind]
        decimals = _decimals(first.char.style.size)
        width = last.x - first.x + last.advance
        top, bottom = -scale * (height + face.thickness / 2), -scale * (height - face.thickness / 2)
        matrix = first.matrix()
        corners = []
        for x, y in ((0.0, top), (width, top), (width, bottom), (0.0, bottom)):
            across = matrix.a * x + matrix.c * y + matrix.e
            down = matrix.b * x + matrix.d * y + matrix.f
            corners.append(f"{_short(across, decimals)} {_short(down, decimals)}")
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


def _put(text: etree._Element, paths: list[etree._Element]) -> None:
    """Put paths in a text's place."""
    kept = {k: v for k, v in attributes(text).items() if k not in _TEXT_ONLY}
    parent = text.getparent()
    assert parent is not None
    if local(parent) == "clipPath":
        # A clip path may hold shapes but no groups.
        for path in paths:
            for name, value in kept.items():
                if name != "id" and path.get(name) is None:
                    path.set(name, value)
            text.addprevious(path)
        if paths and (key := kept.get("id")) is not None:
            paths[0].set("id", key)
        parent.remove(text)
        return
    group = etree.Element(f"{{{SVG}}}g", kept)
    group.set(KIND, "text")
    group.tail = text.tail
    for child in list(text):
        if local(child) in DESCRIPTIVE:
            child.tail = None
            group.append(child)
    group.extend(paths)
    parent.replace(text, group)

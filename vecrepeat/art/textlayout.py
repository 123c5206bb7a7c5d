"""Text set in type: the glyphs of its characters, and where each stands.

Sources: SVG 2 §11 (layout, anchoring, ``textLength``), SVG 1.1 §10 (baselines).
"""

from __future__ import annotations

import contextlib
import math
import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby

from lxml import etree

from vecrepeat.art.characters import (
    NOWHERE,
    Char,
    LeftError,
    Styles,
    TextStyle,
    characters_of,
    real,
    within,
)
from vecrepeat.art.fonts import find_font, is_generic, stand_in
from vecrepeat.art.page import user_length
from vecrepeat.art.shaping import Face, fallback, open_face
from vecrepeat.art.style import property_of
from vecrepeat.art.xml import SVG, local
from vecrepeat.geometry import Affine, Rect

_SCRIPTS = {
    "LATIN": "latn",
    "GREEK": "grek",
    "CYRILLIC": "cyrl",
    "ARMENIAN": "armn",
    "GEORGIAN": "geor",
    "CJK": "hani",
    "HIRAGANA": "kana",
    "KATAKANA": "kana",
    "HANGUL": "hang",
}
_SILENT = frozenset("\u00ad\u200b\u200c\u200e\u2060\ufeff\ufe0e\u2028\u2029")
_SPACES = frozenset("\u0020\u00a0")


@contextlib.contextmanager
def reading(face: Face) -> Iterator[None]:
    """Take whatever a damaged font raises for a reason not to outline."""
    try:
        yield
    except LeftError:
        raise
    except Exception:
        raise LeftError(f"its font “{face.file.family}” can't be read") from None


@dataclass(slots=True)
class Glyph:
    """A placed glyph; ``x``, ``y`` and ``advance`` in user units of the text."""

    face: Face
    name: str
    char: Char
    advance: float
    shift: float
    dx: float
    dy: float
    x: float = 0.0
    y: float = 0.0

    @property
    def scale(self) -> float:
        """User units per font unit."""
        return self.char.style.size / self.face.units

    def matrix(self) -> Affine:
        """Return the map from the glyph's em, y downwards in user units, to the text's."""
        turn = math.radians(self.char.angle)
        cos, sin = math.cos(turn), math.sin(turn)
        return Affine(cos, sin, -sin, cos, self.x, self.y)


@dataclass
class Typesetter:
    """Sets the texts of a document.

    Attributes:
        notes: what came out other than asked, a sentence each.
    """

    notes: dict[str, None] = field(default_factory=dict)
    _styles: Styles = field(default_factory=Styles)
    _faces: dict[TextStyle, list[Face]] = field(default_factory=dict)

    def glyphs(self, text: etree._Element) -> list[Glyph]:
        """Return a text's glyphs, placed.

        Raises:
            LeftError: it can't be set.
        """
        chars = characters_of(text, self._styles)
        chunks = [self._shaped(chunk) for chunk in _chunks(chars)]
        self._place(text, chunks)
        return [glyph for chunk in chunks for glyph in chunk]

    def _note(self, text: str) -> None:
        self.notes[text] = None

    # -- fonts

    def _faces_for(self, style: TextStyle) -> list[Face]:
        """Return the faces of a style's families that are installed, or one that stands in."""
        key = TextStyle(style.families, style.weight, style.italic, style.stretch)
        if key not in self._faces:
            self._faces[key] = self._find_faces(key)
        faces = self._faces[key]
        if not faces:
            raise LeftError("no font is installed that could be drawn")
        first, family = faces[0].file, style.families[0]
        known = first.names | first.full_names
        if not is_generic(family) and family.casefold() not in known:
            self._note(f"the font “{family}” is not installed: outlined with “{first.family}”")
        low, high = first.weights
        if style.italic and not first.italic:
            self._note(f"“{first.family}” has no italic here: outlined upright")
        if (style.weight >= 600 and high < 600) or (style.weight < 600 and low >= 600):
            used = min(max(style.weight, low), high)
            self._note(
                f"“{first.family}” has no weight {style.weight} here: outlined with weight {used}"
            )
        return faces

    def _find_faces(self, style: TextStyle) -> list[Face]:
        wanted = (style.weight, style.italic, style.stretch)
        files = [find_font(family, *wanted) for family in style.families]
        if files[0] is not None and files[0].coloured:
            raise LeftError(f"“{files[0].family}” is a colour font")
        if all(file is None or file.coloured for file in files):
            files.append(stand_in(style.families[0], *wanted))
        opened = [open_face(file, style.weight) for file in files if file and not file.coloured]
        return [face for face in opened if face is not None]

    def _face_of(self, char: Char) -> tuple[Face, str] | None:
        """Return the face and glyph of a character; None where it shows nothing."""
        faces = self._faces_for(char.style)
        if char.char in _SILENT:
            return None
        code = ord(char.char)
        for face in faces:
            if code in face.cmap:
                return face, face.cmap[code]
        if char.char.isspace() and 32 in faces[0].cmap:
            return faces[0], faces[0].cmap[32]
        shown = f"“{char.char}” (U+{code:04X})"
        other = fallback(code, char.style.weight, char.style.italic)
        family = faces[0].file.family
        if other is None:
            self._note(f"no installed font has {shown}: it is left out")
            return None
        self._note(f"“{family}” has no {shown}: outlined with “{other.file.family}”")
        return other, other.cmap[code]

    # -- layout

    def _shaped(self, chunk: list[Char]) -> list[Glyph]:
        """Return a chunk's glyphs with their advances, not yet placed."""
        found: list[Glyph] = []
        drawn = [(char, *known) for char in chunk if (known := self._face_of(char)) is not None]
        carried = _carried(chunk, {id(char) for char, _, _ in drawn})
        for _, group in groupby(drawn, key=lambda item: (id(item[1]), item[0].style.size)):
            run = list(group)
            chars, face = [char for char, _, _ in run], run[0][1]
            script = _script(chars)
            joins = [
                k > 0
                and char.element is chars[k - 1].element
                and not (char.dx or char.dy or char.angle or chars[k - 1].angle)
                for k, char in enumerate(chars)
            ]
            plain = all(char.style.letter == 0 for char in chars)
            names = [(name, 1) for _, _, name in run]
            with reading(face):
                glyphs, contextual = face.substituted(names, joins, script, plain)
                if contextual:
                    self._note(
                        f"the letters of “{face.file.family}” may change with their neighbours, "
                        "which outlines don't follow"
                    )
                found += _measured(face, chars, glyphs, script, carried)
        # CSS Text 3 §9.2: no letter spacing at the end of a line.
        for glyph in found[:-1]:
            glyph.advance += glyph.char.style.letter
        return found

    def _place(self, text: etree._Element, chunks: list[list[Glyph]]) -> None:
        """Set the glyphs' positions: spacing to a length, then anchoring (SVG 2 §11.5)."""
        self._fit(text, chunks)
        pen_x = pen_y = 0.0
        for chunk in chunks:
            if not chunk:
                continue
            first = chunk[0].char
            pen_x = pen_x if first.x is None else first.x
            pen_y = pen_y if first.y is None else first.y
            for glyph in chunk:
                pen_x += glyph.dx
                pen_y += glyph.dy
                glyph.x, glyph.y = pen_x, pen_y
                pen_x += glyph.advance
            anchor = property_of(first.element, "text-anchor")
            low = min(min(g.x, g.x + g.advance) for g in chunk)
            high = max(max(g.x, g.x + g.advance) for g in chunk)
            share = {"middle": 0.5, "end": 1.0}.get(anchor, 0.0)
            move = chunk[0].x - (low + share * (high - low)) if share else 0.0
            for glyph in chunk:
                glyph.x += move + glyph.shift
                glyph.y -= _rise(glyph)

    def _fit(self, text: etree._Element, chunks: list[list[Glyph]]) -> None:
        """Spread letters so that elements with a ``textLength`` get that length."""
        for element in reversed([text, *text.iter(f"{{{SVG}}}tspan")]):
            text_length = element.get("textLength", "")
            wanted = user_length(text_length, "x", NOWHERE, self._styles.of(element).size)
            if "%" in text_length:
                raise LeftError("its length is in percent")
            if wanted is None or wanted <= 0:
                continue
            inside = [[g for g in chunk if within(g.char.element, element)] for chunk in chunks]
            inside = [chunk for chunk in inside if chunk]
            if len(inside) > 1:
                raise LeftError("a length is set for several lines of it")
            if inside and len(inside[0]) > 1:
                glyphs = inside[0]
                have = sum(g.advance for g in glyphs) + sum(g.dx for g in glyphs[1:])
                for glyph in glyphs[:-1]:
                    glyph.advance += (wanted - have) / (len(glyphs) - 1)


def _rise(glyph: Glyph) -> float:
    """Return how far above the alphabetic baseline a glyph stands, in user units."""
    face, style, scale = glyph.face, glyph.char.style, glyph.scale
    name = property_of(glyph.char.element, "alignment-baseline")
    if local(glyph.char.element) == "text" or name in ("auto", "baseline"):
        name = property_of(glyph.char.element, "dominant-baseline")
    rise = -scale * {
        "before-edge": face.ascent,
        "text-before-edge": face.ascent,
        "text-top": face.ascent,
        "middle": face.x_height / 2,
        "central": (face.ascent + face.descent) / 2,
        "after-edge": face.descent,
        "text-after-edge": face.descent,
        "text-bottom": face.descent,
        "ideographic": face.descent,
        "hanging": face.ascent * 0.8,
        "mathematical": face.ascent / 2,
    }.get(name, 0.0)
    for shift, size in style.shifts:
        em = size / face.units
        if shift == "sub":
            rise -= em * face.metric("ySubscriptYOffset", 0.14)
        elif shift == "super":
            rise += em * face.metric("ySuperscriptYOffset", 0.48)
        elif shift.endswith("%"):
            rise += size * real(shift[:-1], 0.0) / 100
        else:
            rise += user_length(shift, "y", NOWHERE, size) or 0.0
    return rise


def _chunks(chars: list[Char]) -> Iterator[list[Char]]:
    """Split characters into text chunks: a new one at each absolute position."""
    chunk: list[Char] = []
    for char in chars:
        if chunk and (char.x is not None or char.y is not None):
            yield chunk
            chunk = []
        chunk.append(char)
    if chunk:
        yield chunk


def _carried(chunk: list[Char], drawn: set[int]) -> dict[int, tuple[float, float]]:
    """Pass the shifts, and the chunk's start, of characters without a glyph to the next one."""
    out: dict[int, tuple[float, float]] = {}
    dx = dy = 0.0
    fresh = True
    for char in chunk:
        if id(char) not in drawn:
            dx, dy = dx + char.dx, dy + char.dy
            continue
        if fresh:
            char.x, char.y = chunk[0].x, chunk[0].y
            fresh = False
        out[id(char)] = (dx, dy)
        dx = dy = 0.0
    return out


def _measured(
    face: Face,
    chars: Sequence[Char],
    glyphs: Sequence[tuple[str, int]],
    script: str,
    carried: Mapping[int, tuple[float, float]],
) -> Iterator[Glyph]:
    """Yield the glyphs of one face and size with their kerned advances."""
    at = 0
    for k, (name, count) in enumerate(glyphs):
        char = chars[at]
        at += count
        scale = char.style.size / face.units
        advance, shift = face.advance(name), 0.0
        if k + 1 < len(glyphs) and char.style.kerning:
            more, shift = face.kern(name, glyphs[k + 1][0], script)
            advance += more
        advance *= scale
        if char.char in _SPACES:
            advance += char.style.word
        dx, dy = carried.get(id(char), (0.0, 0.0))
        at_x, at_y = char.dx + dx, char.dy + dy
        yield Glyph(face, name, char, advance, shift * scale, at_x, at_y)


def _script(chars: Iterable[Char]) -> str:
    for char in chars:
        if char.char.isalpha():
            first = unicodedata.name(char.char, "").split(" ")[0].split("-")[0]
            return _SCRIPTS.get(first, "latn")
    return "DFLT"


def cell_box(glyphs: list[Glyph]) -> Rect | None:
    """Return the bounding box of the character cells, None where it has no extent."""
    xs: list[float] = []
    ys: list[float] = []
    for glyph in glyphs:
        matrix = glyph.matrix()
        for x in (0.0, glyph.advance):
            for y in (-glyph.face.ascent * glyph.scale, -glyph.face.descent * glyph.scale):
                xs.append(matrix.a * x + matrix.c * y + matrix.e)
                ys.append(matrix.b * x + matrix.d * y + matrix.f)
    if not xs or max(xs) <= min(xs) or max(ys) <= min(ys):
        return None
    return Rect(min(xs), min(ys), max(xs), max(ys))

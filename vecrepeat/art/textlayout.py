"""Text set in type: the glyphs of its characters, and where each stands.

Sources: SVG 2 §11 (layout, anchoring, ``textLength``), SVG 1.1 §10 (baselines).
"""

from __future__ import annotations

import contextlib
import math
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import groupby

import numpy as np
from lxml import etree

from vecrepeat.art.bidi import levels_of, shown_order
from vecrepeat.art.characters import (
    NOWHERE,
    Char,
    FontlessError,
    LiveTextError,
    Styles,
    TextStyle,
    characters_of,
    shown_text,
    within,
)
from vecrepeat.art.page import user_length
from vecrepeat.art.shaping import FontFace, fallback, in_colour, open_face, script_of
from vecrepeat.art.style import property_of
from vecrepeat.art.xml import SVG, local, real
from vecrepeat.core.geometry import Affine, Rect
from vecrepeat.util.fonts import find_font, is_generic, stand_in

_SILENT = frozenset(
    "\u00ad\u200b\u200c\u200d\u200e\u200f\u061c\u2060\ufeff\ufe0e\ufe0f\u2028\u2029"
)
_SPACES = frozenset("\u0020\u00a0")
_HANGING = frozenset(("Arab", "Beng", "Deva", "Guru", "Mong", "Nkoo", "Syrc"))
"""Scripts whose letters hang together, which spacing would tear (CSS Text 3 §8.2)."""


@dataclass(slots=True)
class Cluster:
    """Glyphs that stand for one character or several, and share a place.

    Attributes:
        face: their font.
        char: the first of the characters.
        glyphs: each with its place from the pen, in font units, y upwards.
        advance: how far the pen moves on, in user units of the text.
        x: where they stand, in user units; ``y`` likewise.
    """

    face: FontFace
    char: Char
    glyphs: list[tuple[int, float, float]]
    advance: float
    x: float = 0.0
    y: float = 0.0

    @property
    def scale(self) -> float:
        """User units per font unit."""
        return self.char.style.size / self.face.units

    def matrix(self) -> Affine:
        """Return the map from the cluster's em, y downwards in user units, to the text's."""
        turn = math.radians(self.char.angle)
        cos, sin = math.cos(turn), math.sin(turn)
        return Affine(cos, sin, -sin, cos, self.x, self.y)


@dataclass
class Typesetter:
    """Sets the texts of a document."""

    _told: dict[str, None] = field(default_factory=dict)
    _styles: Styles = field(default_factory=Styles)
    _faces: dict[TextStyle, list[FontFace]] = field(default_factory=dict)
    _missing: dict[str, None] = field(default_factory=dict)
    _lent: dict[tuple[str, str], dict[str, None]] = field(default_factory=dict)

    @property
    def notes(self) -> tuple[str, ...]:
        """What came out other than asked, a sentence each."""
        lent = (
            f"“{family}” has no {', '.join(shown)}: “{other}” stands in"
            for (family, other), shown in self._lent.items()
        )
        return *self._told, *lent

    def note(self, text: str) -> None:
        """Tell something, once."""
        self._told[text] = None

    def clusters(self, text: etree._Element) -> list[Cluster]:
        """Return what a text shows, placed.

        Raises:
            LiveTextError: it can't be set.
            FontlessError: no font is installed that has any of it.
        """
        self._missing = {}
        chars = characters_of(text, self._styles)
        chunks = [(chunk, self._set(chunk)) for chunk in _chunks(chars)]
        found = [cluster for _, clusters in chunks for cluster in clusters]
        if self._missing:
            shown = ", ".join(self._missing)
            if not any(c.glyphs and not c.char.char.isspace() for c in found):
                raise FontlessError(f"no installed font has {shown}")
            self.note(f"no installed font has {shown}: left out")
        self._place(text, chunks)
        return found

    def keep(self, text: etree._Element) -> None:
        """Name in a text that stays live the fonts that stand in for those not installed.

        Raises:
            FontlessError: no font is installed that has any of it.
        """
        for element in (text, *text.iter(f"{{{SVG}}}tspan", f"{{{SVG}}}textPath")):
            style = self._styles.of(element)
            with contextlib.suppress(LiveTextError):
                family = self._faces_for(style)[0].file.family
                if not any(find_font(name, style.weight, style.italic) for name in style.families):
                    asked = property_of(element, "font-family")
                    element.set("font-family", f"{asked}, '{family}'")
        shown = {char for char in "".join(shown_text(text)) if char not in _SILENT}
        shown = {char for char in shown if not char.isspace()}
        if shown and not any(fallback(c, 400, False) or in_colour(c) for c in shown):
            raise FontlessError(f"no installed font has {_named(min(shown))}")

    # -- fonts

    def _faces_for(self, style: TextStyle) -> list[FontFace]:
        """Return the faces of a style's families that are installed, or one that stands in."""
        key = TextStyle(style.families, style.weight, style.italic, style.stretch)
        if key not in self._faces:
            self._faces[key] = self._find_faces(key)
        faces = self._faces[key]
        if not faces:
            raise FontlessError("no font is installed")
        first, family = faces[0].file, style.families[0]
        known = first.names | first.full_names
        if not is_generic(family) and family.casefold() not in known:
            self.note(f"the font “{family}” is not installed: “{first.family}” stands in")
        low, high = first.weights
        if style.italic and not first.italic:
            self.note(f"“{first.family}” has no italic here: drawn upright")
        if (style.weight >= 600 and high < 600) or (style.weight < 600 and low >= 600):
            used = min(max(style.weight, low), high)
            self.note(f"“{first.family}” has no weight {style.weight} here: drawn in weight {used}")
        return faces

    def _find_faces(self, style: TextStyle) -> list[FontFace]:
        wanted = (style.weight, style.italic, style.stretch)
        files = [find_font(family, *wanted) for family in style.families]
        if files[0] is not None and files[0].coloured:
            raise LiveTextError(f"“{files[0].family}” is a colour font")
        if all(file is None or file.coloured for file in files):
            files.append(stand_in(style.families[0], *wanted))
        opened = [open_face(file, style.weight) for file in files if file and not file.coloured]
        return [face for face in opened if face is not None]

    def _face_of(self, shown: str, style: TextStyle) -> FontFace | None:
        """Return the face of a character with its marks; None where no font has it."""
        faces = self._faces_for(style)
        plain = "".join(char for char in shown if char not in _SILENT)
        for face in faces:
            if plain.isspace() or face.has(plain):
                return face
        other = fallback(plain, style.weight, style.italic)
        if other is not None:
            key = faces[0].file.family, other.file.family
            self._lent.setdefault(key, {})[_named(plain)] = None
        elif len(plain) > 1:
            return self._face_of(plain[0], style)
        elif in_colour(plain):
            raise LiveTextError(f"only a colour font has {_named(plain)}")
        return other

    # -- layout

    def _set(self, chunk: list[Char]) -> list[Cluster]:
        """Return a chunk's clusters from left to right with their advances, not yet placed."""
        line = "".join(char.char for char in chunk)
        faces: list[FontFace | None] = []
        for at, end in _graphemes(line):
            faces += [self._face_of(line[at:end], chunk[at].style)] * (end - at)
        scripts = _scripts(line)
        levels = levels_of(line, property_of(chunk[0].element, "direction") == "rtl")

        def alike(at: int) -> tuple[object, ...]:
            style = chunk[at].style
            return faces[at], style.size, style.kerning, style.letter == 0, scripts[at], levels[at]

        runs: list[list[Cluster]] = []
        run_levels: list[int] = []
        dx = dy = 0.0
        for char in chunk:
            dx, dy = dx + char.dx, dy + char.dy
            char.shift = dx, dy
        for _, group in groupby(range(len(line)), alike):
            run = list(group)
            first, chars = run[0], [chunk[at] for at in run]
            face = faces[first]
            if face is None:
                self._missing.update(dict.fromkeys(_named(char.char) for char in chars))
                continue
            backwards = levels[first] % 2 == 1
            runs.append(self._shaped(face, chars, scripts[first], backwards))
            run_levels.append(levels[first])
        found = [cluster for at in shown_order(run_levels) for cluster in runs[at]]
        # CSS Text 3 §9.2: no letter spacing at the end of a line.
        for cluster in found[:-1]:
            if script_of(cluster.char.char) not in _HANGING:
                cluster.advance += cluster.char.style.letter
        return found

    def _shaped(
        self, face: FontFace, chars: Sequence[Char], script: str, backwards: bool
    ) -> list[Cluster]:
        """Return the clusters of characters of one face, size, script and direction."""
        style = chars[0].style
        apart = [
            (k - 1, k + 1, False)
            for k in range(1, len(chars))
            if chars[k].element is not chars[k - 1].element
            or (chars[k].dx or chars[k].dy or chars[k].angle or chars[k - 1].angle)
        ]
        if style.letter:
            apart = [(0, len(chars), False)]
        glyphs = face.shaped(
            "".join(char.char for char in chars),
            script,
            backwards=backwards,
            features={"kern": style.kerning} | ({"liga": apart, "clig": apart} if apart else {}),
        )
        starts = {glyph.char for glyph in glyphs if chars[glyph.char].char not in _SILENT}
        found: list[Cluster] = []
        for k, group in groupby((g for g in glyphs if g.char in starts), key=lambda g: g.char):
            pen, placed = 0.0, []
            for glyph in group:
                if glyph.glyph:
                    placed.append((glyph.glyph, pen + glyph.dx, glyph.dy))
                    pen += glyph.advance
                else:
                    end = min((s for s in starts if s > k), default=len(chars))
                    shown = "".join(char.char for char in chars[k:end])
                    self._missing[_named(shown)] = None
            advance = pen * style.size / face.units
            if chars[k].char in _SPACES:
                advance += chars[k].style.word
            found.append(Cluster(face, chars[k], placed, advance))
        return found

    def _place(self, text: etree._Element, chunks: list[tuple[list[Char], list[Cluster]]]) -> None:
        """Set the clusters' positions: spacing to a length, then anchoring (SVG 2 §11.5)."""
        self._fit(text, [clusters for _, clusters in chunks if clusters])
        pen_x = pen_y = 0.0
        for chars, clusters in chunks:
            if not clusters:
                continue
            first = chars[0]
            pen_x = pen_x if first.x is None else first.x
            pen_y = pen_y if first.y is None else first.y
            start = pen_x + first.dx
            for cluster in clusters:
                dx, dy = cluster.char.shift
                cluster.x, cluster.y = pen_x + dx, pen_y + dy - _rise(cluster)
                pen_x += cluster.advance
            dx, dy = chars[-1].shift
            pen_x, pen_y = pen_x + dx, pen_y + dy
            anchor = property_of(first.element, "text-anchor")
            share = {"middle": 0.5, "end": 1.0}.get(anchor, 0.0)
            if property_of(first.element, "direction") == "rtl":
                share = 1.0 - share
            low = min(min(c.x, c.x + c.advance) for c in clusters)
            high = max(max(c.x, c.x + c.advance) for c in clusters)
            for cluster in clusters:
                cluster.x += start - (low + share * (high - low))

    def _fit(self, text: etree._Element, chunks: list[list[Cluster]]) -> None:
        """Spread letters so that elements with a ``textLength`` get that length."""
        for element in reversed([text, *text.iter(f"{{{SVG}}}tspan")]):
            text_length = element.get("textLength", "")
            wanted = user_length(text_length, "x", NOWHERE, self._styles.of(element).size)
            if "%" in text_length:
                raise LiveTextError("its length is in percent")
            if wanted is None or wanted <= 0:
                continue
            inside = [[c for c in chunk if within(c.char.element, element)] for chunk in chunks]
            inside = [chunk for chunk in inside if chunk]
            if len(inside) > 1:
                raise LiveTextError("a length is set for several lines of it")
            if inside and len(inside[0]) > 1:
                clusters = inside[0]
                if any(script_of(c.char.char) in _HANGING for c in clusters):
                    raise LiveTextError("a length is set for letters that hang together")
                have = sum(c.advance for c in clusters)
                have += abs(clusters[-1].char.shift[0] - clusters[0].char.shift[0])
                for cluster in clusters[:-1]:
                    cluster.advance += (wanted - have) / (len(clusters) - 1)


def _rise(cluster: Cluster) -> float:
    """Return how far above the alphabetic baseline a cluster stands, in user units."""
    face, style, scale = cluster.face, cluster.char.style, cluster.scale
    name = property_of(cluster.char.element, "alignment-baseline")
    if local(cluster.char.element) == "text" or name in ("auto", "baseline"):
        name = property_of(cluster.char.element, "dominant-baseline")
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
            rise -= em * face.subscript
        elif shift == "super":
            rise += em * face.superscript
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


def _named(shown: str) -> str:
    return f"“{shown}” (U+{ord(shown[0]):04X})"


def _graphemes(line: str) -> Iterator[tuple[int, int]]:
    """Yield where each character begins and ends together with its marks and joiners."""
    at = 0
    for k in range(1, len(line) + 1):
        joined = k < len(line) and (
            unicodedata.category(line[k])[0] == "M" or line[k] in _SILENT or line[k - 1] == "\u200d"
        )
        if not joined:
            yield at, k
            at = k


def _scripts(line: str) -> list[str]:
    """Return each character's script; one that goes with any has that of the one before."""
    known = [script_of(char) for char in line]
    last = next((script for script in known if script), "Zyyy")
    found = []
    for script in known:
        last = script or last
        found.append(last)
    return found


def cell_box(clusters: list[Cluster]) -> Rect | None:
    """Return the bounding box of the character cells, None where it has no extent."""
    corners = []
    for cluster in clusters:
        ends = (0.0, cluster.advance)
        lines = [-height * cluster.scale for height in (cluster.face.ascent, cluster.face.descent)]
        corners.append(cluster.matrix().apply(np.array([(x, y) for x in ends for y in lines])))
    if not corners:
        return None
    low, high = np.concatenate(corners).min(axis=0), np.concatenate(corners).max(axis=0)
    return Rect(*low.tolist(), *high.tolist()) if (high > low).all() else None

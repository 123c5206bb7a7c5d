"""Fonts opened with HarfBuzz: letters shaped into glyphs, and the glyphs' outlines.

No bold or slant is made up.

Source: OpenType 1.9, as HarfBuzz follows it.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import lru_cache
from typing import Any, NamedTuple

import uharfbuzz as hb
from uharfbuzz import OTMetricsTag as Metric

from vecrepeat.core.geometry import Affine
from vecrepeat.util.fonts import FontFile, fallbacks, installed_fonts

__all__ = ["FontFace", "Shaped", "fallback", "in_colour", "open_face", "script_of"]


class Shaped(NamedTuple):
    """A glyph in its place: the first character it stands for, and lengths in font units."""

    glyph: int
    char: int
    advance: float
    dx: float
    dy: float


def _pen() -> Any:
    pen = hb.DrawFuncs()
    pen.set_move_to_func(lambda *at: at[-1].append(("M", at[:-1])))
    pen.set_line_to_func(lambda *at: at[-1].append(("L", at[:-1])))
    pen.set_quadratic_to_func(lambda *at: at[-1].append(("Q", at[:-1])))
    pen.set_cubic_to_func(lambda *at: at[-1].append(("C", at[:-1])))
    pen.set_close_path_func(lambda drawn: drawn.append(("Z", ())))
    return pen


_PEN = _pen()


class FontFace:
    """A face opened with HarfBuzz; lengths are in font units unless said otherwise."""

    def __init__(self, file: FontFile, weight: int) -> None:
        self.file = file
        face = hb.Face(hb.Blob.from_file_path(str(file.path)), file.index)
        if not face.glyph_count:
            raise ValueError("a damaged font")
        self._font: Any = hb.Font(face)
        low, high = file.weights
        if low < high:
            self._font.set_variations({"wght": float(min(max(weight, low), high))})
        self.units = float(face.upem)
        lines = self._font.get_font_extents("ltr")
        self.ascent, self.descent = float(lines.ascender), float(lines.descender)
        self.x_height = self._metric(Metric.X_HEIGHT, 0.45 * (self.ascent - self.descent))
        self.underline = self._metric(Metric.UNDERLINE_OFFSET, -0.1 * self.units)
        self.thickness = self._metric(Metric.UNDERLINE_SIZE, 0.05 * self.units)
        self.strikeout = self._metric(Metric.STRIKEOUT_OFFSET, 0.26 * self.units)
        self.subscript = self._metric(Metric.SUBSCRIPT_EM_Y_OFFSET, 0.14 * self.units)
        self.superscript = self._metric(Metric.SUPERSCRIPT_EM_Y_OFFSET, 0.48 * self.units)

    def _metric(self, tag: Any, otherwise: float) -> float:
        value = self._font.get_metric_position(tag)
        return float(value or otherwise)

    def has(self, text: str) -> bool:
        """Whether it has a glyph for each character, composed or decomposed."""
        forms = (unicodedata.normalize(form, text) for form in ("NFC", "NFD"))
        return any(all(self._font.get_nominal_glyph(ord(c)) for c in form) for form in forms)

    def shaped(
        self,
        text: str,
        script: str,
        *,
        backwards: bool,
        features: Mapping[str, bool | Sequence[tuple[int, int, bool]]],
    ) -> list[Shaped]:
        """Return the glyphs of a text in one script and direction, from left to right.

        Args:
            text: the characters.
            script: its ISO 15924 tag.
            backwards: whether it runs from right to left.
            features: OpenType features, on or off for all or for ranges of characters.
        """
        buffer = hb.Buffer()
        buffer.add_codepoints([ord(char) for char in text])
        buffer.direction = "rtl" if backwards else "ltr"
        buffer.script = script
        # The process's language must not matter.
        buffer.language = "en"
        hb.shape(self._font, buffer, dict(features))
        return [
            Shaped(info.codepoint, info.cluster, at.x_advance, at.x_offset, at.y_offset)
            for info, at in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True)
        ]

    def outline(self, glyph: int, matrix: Affine, written: Callable[[float], str]) -> str:
        """Return a glyph's outline as path data.

        Args:
            glyph: its number.
            matrix: from font units, y upwards, to those of the path.
            written: how numbers are.
        """
        drawn: list[tuple[str, tuple[float, ...]]] = []
        self._font.draw_glyph(glyph, _PEN, drawn)
        a, b, c, d, e, f = matrix
        out = []
        for letter, at in drawn:
            points = zip(at[::2], at[1::2], strict=True)
            values = (v for x, y in points for v in (a * x + c * y + e, b * x + d * y + f))
            out.append(letter + " ".join(map(written, values)))
        return "".join(out)


@lru_cache(maxsize=4096)
def script_of(char: str) -> str:
    """Return a character's ISO 15924 script tag, empty for one that goes with any script."""
    buffer = hb.Buffer()
    buffer.add_codepoints([ord(char)])
    buffer.guess_segment_properties()
    return str(buffer.script or "")


@lru_cache(maxsize=64)
def _opened(file: FontFile, weight: int) -> FontFace | None:
    try:
        return FontFace(file, weight)
    except (OSError, ValueError, hb.HarfBuzzError):
        # A damaged font counts as one that is not there.
        return None


def open_face(file: FontFile, weight: int) -> FontFace | None:
    """Return a face of that weight, where the font is variable; None where it is damaged."""
    low, high = file.weights
    return _opened(file, weight if low < high else 0)


@lru_cache(maxsize=1024)
def fallback(text: str, weight: int, italic: bool) -> FontFace | None:
    """Return an installed face that has all characters, the closest in slant and weight."""
    return _first(fallbacks(weight, italic), text, weight)


def in_colour(text: str) -> bool:
    """Whether a font of colour glyphs, which no outline shows, has all characters."""
    return _first((f for f in installed_fonts() if f.coloured), text, 400) is not None


def _first(files: Iterator[FontFile], text: str, weight: int) -> FontFace | None:
    for file in files:
        face = open_face(file, weight)
        if face is not None and face.has(text):
            return face
    return None

"""Live text: which fonts a drawing asks for, and text turned into paths.

Text prints differently where its font is missing; paths print the same anywhere. Outlining
covers horizontal left-to-right text in scripts whose letters stand side by side (Latin, Greek,
Cyrillic, Chinese, Japanese, Korean, symbols). What it can't do right it leaves as live text,
with a note that says so.

Shaping is basic: single and ligature substitutions (GSUB types 1 and 4 of ``ccmp``, ``rlig``,
``liga``, ``clig``), single ones by context (types 5 and 6, format 3, of ``calt``, ``rclt``) and
pair kerning (GPOS type 2 of ``kern``, else the ``kern`` table). Where a font may change letters
in other ways, a note says so. No bold or slant is made up.

Sources: SVG 2 §11 (layout, anchoring, ``textLength``), SVG 1.1 §10 (position lists, baselines),
CSS Fonts 4 §5.2 (font matching), OpenType 1.9 (``name``, ``OS/2``, ``fvar``, ``GSUB``, ``GPOS``).
"""

from __future__ import annotations

import contextlib
import copy
import io
import math
import os
import platform
import struct
import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from itertools import groupby
from pathlib import Path
from typing import Any

from lxml import etree

from vecrepeat.art.motifs import label_of
from vecrepeat.art.outline import matrix_of, url_id
from vecrepeat.art.page import Viewport, user_length
from vecrepeat.art.structure import DESCRIPTIVE, KIND, elements_by_id
from vecrepeat.art.style import INHERITED, property_of
from vecrepeat.art.xml import SVG, XML, attributes, local, take
from vecrepeat.errors import InputError
from vecrepeat.geometry import Affine, number

__all__ = ["FontFile", "find_font", "fonts_asked", "installed_fonts", "outline_text", "stand_in"]

_NATIVE = platform.system() in ("Darwin", "Windows")
_FREE = {
    "serif": ("DejaVu Serif", "Liberation Serif", "Noto Serif", "Nimbus Roman", "FreeSerif"),
    "sans-serif": ("DejaVu Sans", "Liberation Sans", "Noto Sans", "Nimbus Sans", "FreeSans"),
    "monospace": ("DejaVu Sans Mono", "Liberation Mono", "Noto Sans Mono", "FreeMono"),
    "cursive": ("Comic Neue", "URW Chancery L", "Z003"),
    "fantasy": ("Impact",),
}
_COMMON = {
    "serif": ("Times New Roman", "Times", "Georgia"),
    "sans-serif": ("Arial", "Helvetica", "Segoe UI", "Roboto"),
    "monospace": ("Courier New", "Menlo", "Consolas", "Courier"),
    "cursive": ("Comic Sans MS", "Apple Chancery"),
    "fantasy": ("Papyrus",),
}
_SAME_AS = {
    "ui-serif": "serif",
    "ui-sans-serif": "sans-serif",
    "ui-monospace": "monospace",
    "system-ui": "sans-serif",
    "ui-rounded": "sans-serif",
    "math": "serif",
    "emoji": "sans-serif",
}
# Free fonts with the widths of well-known ones.
_TWINS = {
    "arial": ("Liberation Sans", "Arimo", "Nimbus Sans"),
    "helvetica": ("Nimbus Sans", "Liberation Sans", "Arial"),
    "helvetica neue": ("Nimbus Sans", "Liberation Sans", "Arial"),
    "arial narrow": ("Liberation Sans Narrow", "Nimbus Sans Narrow"),
    "times": ("Nimbus Roman", "Liberation Serif", "Times New Roman"),
    "times new roman": ("Liberation Serif", "Tinos", "Nimbus Roman"),
    "courier": ("Nimbus Mono PS", "Liberation Mono", "Courier New"),
    "courier new": ("Liberation Mono", "Cousine", "Nimbus Mono PS"),
    "calibri": ("Carlito",),
    "cambria": ("Caladea",),
    "georgia": ("Gelasio",),
    "palatino": ("P052",),
    "palatino linotype": ("P052",),
    "book antiqua": ("P052",),
}
_COLOUR_TABLES = frozenset((b"COLR", b"CBDT", b"sbix", b"SVG "))


@dataclass(frozen=True, slots=True)
class FontFile:
    """One face of an installed font.

    Attributes:
        path: the file.
        index: the face's number in a collection (``.ttc``), else 0.
        family: its typographic family, in English where it has that name.
        names: all family names it goes by, in lower case.
        full_names: its full and PostScript names in lower case, as Illustrator writes them.
        weight: 1 to 1000, 400 being regular and 700 bold.
        weights: the range of weights a variable font offers, else twice :attr:`weight`.
        italic: whether it slants.
        stretch: the width class, 1 (ultra-condensed) to 9, 5 being normal.
        coloured: whether it holds colour glyphs, which outlines can't show.
    """

    path: Path
    index: int
    family: str
    names: frozenset[str] = field(repr=False)
    full_names: frozenset[str] = field(repr=False)
    weight: int
    weights: tuple[int, int]
    italic: bool
    stretch: int
    coloured: bool


def _folders() -> list[Path]:
    """Return the folders where this platform keeps fonts, whether they exist or not."""
    home = Path(os.path.expanduser("~"))
    system = platform.system()
    if system == "Darwin":
        return [Path("/System/Library/Fonts"), Path("/Library/Fonts"), home / "Library/Fonts"]
    if system == "Windows":
        folders = [Path(os.environ.get("WINDIR", r"C:\Windows")) / "Fonts"]
        if own := os.environ.get("LOCALAPPDATA"):
            folders.append(Path(own) / "Microsoft/Windows/Fonts")
        return folders
    data = os.environ.get("XDG_DATA_DIRS") or "/usr/local/share:/usr/share"
    return [
        Path("/usr/share/fonts"),
        Path("/usr/local/share/fonts"),
        home / ".fonts",
        Path(os.environ.get("XDG_DATA_HOME") or home / ".local/share") / "fonts",
        *(Path(folder) / "fonts" for folder in data.split(":") if folder),
    ]


@lru_cache(maxsize=1)
def installed_fonts() -> tuple[FontFile, ...]:
    """Return the faces of all fonts installed, in the order of their files' names.

    Reads a few tables of each file, once in a process; files that can't be read are passed
    over.
    """
    files: dict[Path, None] = {}
    for folder in dict.fromkeys(_folders()):
        for where, _, names in os.walk(folder):
            for name in names:
                if name.lower().endswith((".ttf", ".otf", ".ttc", ".otc")):
                    files[Path(where) / name] = None
    return tuple(face for file in sorted(files) for face in _faces_in(file))


def _faces_in(path: Path) -> list[FontFile]:
    """Return the faces in a font file, none where it is damaged.

    Read by hand rather than through fontTools: naming fonts needs no extra package, and a
    thousand fonts take a second rather than ten.
    """
    faces: list[FontFile] = []
    try:
        with path.open("rb") as file:
            head = file.read(12)
            starts = [0]
            if head[:4] == b"ttcf":
                count = min(struct.unpack(">I", head[8:12])[0], 256)
                starts = list(struct.unpack(f">{count}I", file.read(4 * count)))
            for index, start in enumerate(starts):
                if (face := _face_at(file, path, index, start)) is not None:
                    faces.append(face)
    except (OSError, struct.error, UnicodeError, OverflowError):
        pass
    return faces


def _face_at(file: io.BufferedReader, path: Path, index: int, start: int) -> FontFile | None:
    file.seek(start + 4)
    count = struct.unpack(">H", file.read(2))[0]
    file.seek(start + 12)
    records = struct.iter_unpack(">4sIII", file.read(16 * count))
    places = {tag: (offset, length) for tag, _, offset, length in records}

    def table(tag: bytes, most: int) -> bytes:
        offset, length = places.get(tag, (0, 0))
        file.seek(offset)
        return file.read(min(length, most))

    names = _names(table(b"name", 1 << 20))
    family = next((names[k][0] for k in (16, 1) if names.get(k)), "")
    if not family:
        return None
    os2, head = table(b"OS/2", 96), table(b"head", 54)
    weight, stretch, italic = 400, 5, len(head) >= 46 and bool(head[45] & 2)
    if len(os2) >= 64:
        weight, stretch = struct.unpack(">HH", os2[4:8])
        weight = weight * 100 if 0 < weight < 10 else min(max(weight, 1), 1000)
        italic = italic or bool(struct.unpack(">H", os2[62:64])[0] & 0x201)
    weights = (weight, weight)
    if variations := table(b"fvar", 4096):
        first, _, axes, size = struct.unpack(">4H", variations[4:12])
        for k in range(axes):
            at = first + k * size
            tag, low, _, high = struct.unpack(">4s3i", variations[at : at + 16])
            if tag == b"wght":
                weights = (low >> 16, high >> 16)
    return FontFile(
        path,
        index,
        family,
        frozenset(name.casefold() for k in (1, 16) for name in names.get(k, ())),
        frozenset(name.casefold() for k in (4, 6) for name in names.get(k, ())),
        weight,
        weights,
        italic,
        stretch if 1 <= stretch <= 9 else 5,
        bool(places.keys() & _COLOUR_TABLES),
    )


def _names(table: bytes) -> dict[int, list[str]]:
    """Return the strings of a ``name`` table by id, English ones first."""
    found: dict[int, list[tuple[bool, str]]] = {}
    if len(table) < 6:
        return {}
    count, strings = struct.unpack(">HH", table[2:6])
    for record in struct.iter_unpack(">6H", table[6 : 6 + 12 * count]):
        kind, _, language, key, length, offset = record
        if key in (1, 4, 6, 16) and kind in (0, 1, 3):
            raw = table[strings + offset : strings + offset + length]
            text = raw.decode("mac-roman" if kind == 1 else "utf-16-be", "ignore").strip()
            if text:
                english = language in (0x409, 0) and kind != 1
                found.setdefault(key, []).append((not english, text))
    return {key: [text for _, text in sorted(names)] for key, names in found.items()}


@lru_cache(maxsize=1)
def _by_name() -> tuple[Mapping[str, list[FontFile]], Mapping[str, list[FontFile]]]:
    families: dict[str, list[FontFile]] = {}
    full: dict[str, list[FontFile]] = {}
    for face in installed_fonts():
        for name in face.names:
            families.setdefault(name, []).append(face)
        for name in face.full_names:
            full.setdefault(name, []).append(face)
    return families, full


@lru_cache(maxsize=1024)
def find_font(family: str, weight: int, italic: bool, stretch: int = 5) -> FontFile | None:
    """Return the installed face that best matches, or None where the family is not installed.

    Args:
        family: a family's name in any case, a full or PostScript name, or a generic family
            (``serif``, ``sans-serif``, ``monospace`` …), which stands for the first installed
            of a fixed list.
        weight: 1 to 1000.
        italic: whether italic or oblique is asked for.
        stretch: width class, 1 to 9; 5 is normal.

    Source: CSS Fonts 4 §5.2, simplified: width, then slant, then weight. The face may differ
    from what was asked in each of these.
    """
    key = family.strip().casefold()
    generic = _SAME_AS.get(key, key)
    if generic in _FREE:
        lists = (_COMMON, _FREE) if _NATIVE else (_FREE, _COMMON)
        for name in (name for table in lists for name in table[generic]):
            if (found := find_font(name, weight, italic, stretch)) is not None:
                return found
        return find_font("sans-serif", weight, italic, stretch) if generic in _LOOSE else None
    families, full = _by_name()
    faces = families.get(key) or full.get(key) or []

    def rank(face: FontFile) -> tuple[float, ...]:
        return (
            _distance(face.stretch, stretch, stretch <= 5),
            face.italic != italic,
            _weight_distance(face, weight),
            face.family.casefold() != key,
        )

    return min(faces, key=rank, default=None)


_LOOSE = ("cursive", "fantasy")


def _distance(have: int, want: int, below_first: bool) -> float:
    right_side = have == want or (have < want) == below_first
    return abs(have - want) + (0 if right_side else 2000)


def _weight_distance(face: FontFile, want: int) -> float:
    low, high = face.weights
    have = min(max(want, low), high)
    if 400 <= want <= 500 and want < have <= 500:
        return have - want
    return _distance(have, want, want <= 500) + (500 if 400 <= want <= 500 and have != want else 0)


def stand_in(family: str, weight: int, italic: bool, stretch: int = 5) -> FontFile | None:
    """Return what is drawn where a family is not installed; None where no font is at all.

    A font of the same widths where one is known, else by the family's name a serif,
    monospace or sans-serif one. Arguments as for :func:`find_font`.
    """
    key = family.strip().casefold()
    plain = key.split("-")[0].removesuffix("mt").removesuffix("ps")
    choices = [*_TWINS.get(key, ()), *_TWINS.get(plain, ())]
    if "mono" in key or "courier" in key or "code" in key:
        choices.append("monospace")
    elif "sans" not in key and ("serif" in key or "roman" in key or "times" in key):
        choices.append("serif")
    for name in (*choices, "sans-serif", "serif", "monospace"):
        if (found := find_font(name, weight, italic, stretch)) is not None:
            return found
    return next((face for face in installed_fonts() if not face.coloured), None)


def _families(text: str) -> tuple[str, ...]:
    """Return the families of a ``font-family`` value, quotes taken off."""
    names = (" ".join(part.strip().strip("\"'").split()) for part in text.split(","))
    return tuple(name for name in names if name)


def fonts_asked(element: etree._Element) -> tuple[str, ...]:
    """Return the families the text in an element asks for first, in order, without repeats.

    Args:
        element: any element of a tree in normal form, such as its root or a motif; what it
            inherits counts. Text without a family asks for ``serif``.
    """
    found: dict[str, str] = {}

    def visit(holder: etree._Element) -> None:
        if any(text and text.strip() for text in _own_text(holder)):
            for family in _families(property_of(holder, "font-family"))[:1]:
                found.setdefault(family.casefold(), family)
        for child in holder:
            if local(child) in _TEXTUAL:
                visit(child)

    for text in element.iter(f"{{{SVG}}}text"):
        visit(text)
    return tuple(found.values())


_TEXTUAL = ("tspan", "textPath")


def _own_text(holder: etree._Element) -> Iterator[str | None]:
    yield holder.text
    for child in holder:
        yield child.tail


# ----------------------------------------------------------------------- fonts, opened


class _LeftError(Exception):
    """A text can't be outlined; the reason is a clause for a note."""


class _Face:
    """A face opened with fontTools; lengths are in font units unless said otherwise."""

    def __init__(self, file: FontFile, weight: int) -> None:
        from fontTools.ttLib import TTFont  # type: ignore[import-untyped,unused-ignore]

        self.file = file
        # From memory: a lazy font on a file would keep the file open.
        tables = TTFont(io.BytesIO(file.path.read_bytes()), fontNumber=file.index, lazy=True)
        self.tables: Any = tables
        self.units = float(tables["head"].unitsPerEm)
        location = None
        low, high = file.weights
        if low < high:
            location = {"wght": float(min(max(weight, low), high))}
        self.glyphs: Any = tables.getGlyphSet(location=location)
        self.cmap: dict[int, str] = tables.getBestCmap() or self._symbols()
        lines = tables["hhea"]
        self.ascent, self.descent = float(lines.ascent), float(lines.descent)
        os2: Any = tables.get("OS/2")
        self._os2 = os2
        if os2 is not None and (os2.fsSelection & 0x80 or not (self.ascent or self.descent)):
            self.ascent, self.descent = float(os2.sTypoAscender), float(os2.sTypoDescender)
        self.x_height = float(getattr(os2, "sxHeight", 0) or 0.45 * (self.ascent - self.descent))
        post: Any = tables.get("post")
        self.underline = float(getattr(post, "underlinePosition", -0.1 * self.units))
        self.thickness = float(getattr(post, "underlineThickness", 0) or 0.05 * self.units)
        self._lookups: dict[tuple[str, str, frozenset[str]], list[Any]] = {}
        self._kerns: dict[tuple[str, str, str], tuple[float, float]] = {}

    def metric(self, name: str, share: float) -> float:
        """Return a metric of the ``OS/2`` table, or a share of the em where there is none."""
        value = getattr(self._os2, name, None)
        return share * self.units if value is None else float(value)

    def _symbols(self) -> dict[int, str]:
        if "cmap" not in self.tables:
            return {}
        found: dict[int, str] = {}
        for table in self.tables["cmap"].tables:
            if (table.platformID, table.platEncID) == (3, 0):
                for code, name in table.cmap.items():
                    found[code] = name
                    found.setdefault(code & 0xFF, name)
        return found

    def advance(self, glyph: str) -> float:
        """Return how far a glyph moves on."""
        return float(self.glyphs[glyph].width)

    def substituted(
        self, glyphs: list[tuple[str, int]], joins: Sequence[bool], script: str, ligatures: bool
    ) -> tuple[list[tuple[str, int]], bool]:
        """Return glyphs after substitution, and whether some should change by context too.

        Args:
            glyphs: each with the number of characters it stands for, all 1.
            joins: for each whether it may join with the one before.
            script: OpenType tag.
            ligatures: whether optional ligatures are wanted.
        """
        joining = frozenset(("rlig", "calt", "rclt", *(("liga", "clig") if ligatures else ())))
        # The contexts of ccmp are about combining marks, which never come this far.
        telling = {id(lookup) for lookup in self._lookups_of("GSUB", script, joining)}
        contextual = False
        starts = [*range(len(glyphs))]
        for lookup in self._lookups_of("GSUB", script, joining | {"ccmp"}):
            at = 0
            while at < len(glyphs):
                name, count = glyphs[at]
                for kind, table in _subtables(lookup):
                    if kind == 1 and (other := table.mapping.get(name)) is not None:
                        glyphs[at] = (other, count)
                        break
                    if kind == 4 and self._join(table, glyphs, starts, at, joins):
                        break
                    if kind not in (5, 6) or id(lookup) not in telling:
                        continue
                    if _in_context(table, [name for name, _ in glyphs], at):
                        contextual |= not self._swap(table, glyphs, at)
                        break
                at += 1
        return glyphs, contextual

    def _swap(self, table: Any, glyphs: list[tuple[str, int]], at: int) -> bool:
        """Do the substitutions of a context that was met; tell whether all could be done."""
        if table.Format != 3:
            return False
        done = True
        for record in table.SubstLookupRecord:
            place = at + record.SequenceIndex
            inner = self.tables["GSUB"].table.LookupList.Lookup[record.LookupListIndex]
            for kind, subtable in _subtables(inner):
                done = done and kind == 1
                if kind == 1 and (other := subtable.mapping.get(glyphs[place][0])) is not None:
                    glyphs[place] = (other, glyphs[place][1])
                    break
        return done

    @staticmethod
    def _join(
        table: Any, glyphs: list[tuple[str, int]], starts: list[int], at: int, joins: Sequence[bool]
    ) -> bool:
        for ligature in table.ligatures.get(glyphs[at][0], ()):
            end = at + len(ligature.Component) + 1
            rest = [name for name, _ in glyphs[at + 1 : end]]
            if rest == ligature.Component and all(joins[k] for k in starts[at + 1 : end]):
                count = sum(count for _, count in glyphs[at:end])
                glyphs[at:end] = [(ligature.LigGlyph, count)]
                del starts[at + 1 : end]
                return True
        return False

    def _lookups_of(self, tag: str, script: str, features: frozenset[str]) -> list[Any]:
        key = (tag, script, features)
        if key not in self._lookups:
            self._lookups[key] = self._find_lookups(tag, script, features)
        return self._lookups[key]

    def _find_lookups(self, tag: str, script: str, features: frozenset[str]) -> list[Any]:
        table = self.tables[tag].table if tag in self.tables else None
        if table is None or not (table.ScriptList and table.FeatureList and table.LookupList):
            return []
        scripts = {r.ScriptTag: r.Script for r in table.ScriptList.ScriptRecord}
        chosen = next((scripts[s] for s in (script, "DFLT", "dflt", "latn") if s in scripts), None)
        system = None if chosen is None else chosen.DefaultLangSys
        if system is None:
            return []
        records = [table.FeatureList.FeatureRecord[k] for k in system.FeatureIndex]
        wanted = {k for r in records if r.FeatureTag in features for k in r.Feature.LookupListIndex}
        if system.ReqFeatureIndex != 0xFFFF:
            required = table.FeatureList.FeatureRecord[system.ReqFeatureIndex]
            wanted |= set(required.Feature.LookupListIndex)
        return [table.LookupList.Lookup[k] for k in sorted(wanted)]

    def kern(self, left: str, right: str, script: str) -> tuple[float, float]:
        """Return what to add to the left glyph's advance, and how far to shift it."""
        key = (left, right, script)
        if key not in self._kerns:
            self._kerns[key] = self._find_kern(left, right, script)
        return self._kerns[key]

    def _find_kern(self, left: str, right: str, script: str) -> tuple[float, float]:
        lookups = self._lookups_of("GPOS", script, frozenset(("kern",)))
        advance = shift = 0.0
        for lookup in lookups:
            for kind, table in _subtables(lookup):
                value = _pair_value(table, left, right) if kind == 2 else False
                if value is False:
                    continue
                advance += float(getattr(value, "XAdvance", 0) or 0)
                shift += float(getattr(value, "XPlacement", 0) or 0)
                break
        if not lookups and "kern" in self.tables:
            for table in self.tables["kern"].kernTables:
                if getattr(table, "format", 0) == 0 and table.coverage & 1:
                    advance += float(table.kernTable.get((left, right), 0))
        return advance, shift


def _subtables(lookup: Any) -> Iterator[tuple[int, Any]]:
    for table in lookup.SubTable:
        inner = getattr(table, "ExtSubTable", table)
        yield inner.LookupType, inner


def _in_context(table: Any, names: Sequence[str], at: int) -> bool:
    """Whether glyphs meet a context; in formats other than 3, whether they may."""
    if table.Format != 3:
        return names[at] in table.Coverage.glyphs
    here = getattr(table, "InputCoverage", None) or table.Coverage
    before = getattr(table, "BacktrackCoverage", None) or []
    after = getattr(table, "LookAheadCoverage", None) or []
    if at < len(before) or at + len(here) + len(after) > len(names):
        return False
    return all(
        name in coverage.glyphs
        for name, coverage in zip(
            names[at - len(before) : at + len(here) + len(after)],
            [*reversed(before), *here, *after],
            strict=True,
        )
    )


def _pair_value(table: Any, left: str, right: str) -> Any:
    """Return the value record for a pair, or False where the subtable doesn't cover it."""
    if left not in table.Coverage.glyphs:
        return False
    if table.Format == 1:
        for record in table.PairSet[table.Coverage.glyphs.index(left)].PairValueRecord:
            if record.SecondGlyph == right:
                return record.Value1
        return False
    one = table.ClassDef1.classDefs.get(left, 0)
    other = table.ClassDef2.classDefs.get(right, 0)
    return table.Class1Record[one].Class2Record[other].Value1


@contextlib.contextmanager
def _reading(face: _Face) -> Iterator[None]:
    """Take whatever a damaged font raises for a reason not to outline."""
    try:
        yield
    except _LeftError:
        raise
    except Exception:
        raise _LeftError(f"its font “{face.file.family}” can't be read") from None


@lru_cache(maxsize=32)
def _opened(file: FontFile, weight: int) -> _Face | None:
    try:
        return _Face(file, weight)
    except Exception:
        # A damaged font can fail in any way; it counts as one that is not there.
        return None


def _open(file: FontFile, weight: int) -> _Face | None:
    low, high = file.weights
    return _opened(file, weight if low < high else 0)


@lru_cache(maxsize=1024)
def _fallback(code: int, weight: int, italic: bool) -> _Face | None:
    """Return an installed face that has a character, the closest in slant and weight."""
    generic = [find_font(name, weight, italic) for name in _FREE]
    rest = sorted(
        installed_fonts(), key=lambda f: (f.italic != italic, _weight_distance(f, weight))
    )
    for file in dict.fromkeys(f for f in (*generic, *rest) if f is not None):
        if not file.coloured:
            face = _open(file, weight)
            if face is not None and code in face.cmap:
                return face
    return None


# ----------------------------------------------------------------------------- styles


@dataclass(frozen=True, slots=True)
class _Style:
    """What of an element's style sets its text; lengths in user units."""

    families: tuple[str, ...] = ("serif",)
    weight: int = 400
    italic: bool = False
    stretch: int = 5
    size: float = 16.0
    letter: float = 0.0
    word: float = 0.0
    kerning: bool = True
    preserve: bool = False
    space: str = ""
    shifts: tuple[tuple[str, float], ...] = ()

    @property
    def keeps_space(self) -> bool:
        """Whether white space does not collapse; ``white-space`` wins over ``xml:space``."""
        if self.space:
            return self.space in ("pre", "pre-wrap", "break-spaces")
        return self.preserve


_STRETCHES = {
    "ultra-condensed": 1,
    "extra-condensed": 2,
    "condensed": 3,
    "semi-condensed": 4,
    "normal": 5,
    "semi-expanded": 6,
    "expanded": 7,
    "extra-expanded": 8,
    "ultra-expanded": 9,
}
_STRETCH_PERCENT = (50.0, 62.5, 75.0, 87.5, 100.0, 112.5, 125.0, 150.0, 200.0)
_NOWHERE = Viewport(0.0, 0.0)


def _weight(text: str, parent: int) -> int:
    if text == "bolder":
        return 400 if parent < 350 else 700 if parent < 550 else max(parent, 900)
    if text == "lighter":
        return min(parent, 100) if parent < 550 else 400 if parent < 750 else 700
    named = {"normal": 400, "bold": 700}.get(text)
    return named if named is not None else int(min(max(_real(text, parent), 1), 1000))


def _stretch(text: str, parent: int) -> int:
    if text.endswith("%"):
        share = _real(text[:-1], 100.0)
        return 1 + min(range(9), key=lambda k: abs(_STRETCH_PERCENT[k] - share))
    return _STRETCHES.get(text, parent)


def _real(text: str | None, default: float) -> float:
    try:
        value = float(text) if text else default
    except ValueError:
        return default
    return value if math.isfinite(value) else default


def _reals(text: str | None) -> list[float]:
    return [_real(part, 0.0) for part in (text or "").replace(",", " ").split()]


def _derived(element: etree._Element, parent: _Style) -> _Style:
    """Return an element's text style from its parent's and its own attributes."""
    get = element.get
    changes: dict[str, Any] = {}
    size = parent.size
    if (text := get("font-size")) is not None:
        size = changes["size"] = max(0.0, _real(text, parent.size))
    if (text := get("font-family")) is not None:
        changes["families"] = _families(text) or parent.families
    if (text := get("font-weight")) is not None:
        changes["weight"] = _weight(text, parent.weight)
    if (text := get("font-style")) is not None:
        changes["italic"] = text != "normal"
    if (text := get("font-stretch")) is not None:
        changes["stretch"] = _stretch(text.strip(), parent.stretch)
    for name, key in (("letter-spacing", "letter"), ("word-spacing", "word")):
        if (text := get(name)) is not None:
            changes[key] = user_length(text, "x", _NOWHERE, size) or 0.0
    if (text := get("kerning")) is not None:
        # SVG 1.1 §10.11: a length switches the font's own kerning off and is added instead.
        changes["kerning"] = text == "auto"
        if length := user_length(text, "x", _NOWHERE, size):
            changes["letter"] = changes.get("letter", parent.letter) + length
    if (text := get(f"{{{XML}}}space")) is not None:
        changes["preserve"] = text == "preserve"
    if (text := get("white-space")) is not None:
        changes["space"] = text
    if local(element) not in _TEXTUAL:
        changes["shifts"] = ()
    elif (text := get("baseline-shift")) is not None and text not in ("0", "baseline"):
        changes["shifts"] = (*parent.shifts, (text, size))
    return replace(parent, **changes) if changes else parent


# ----------------------------------------------------------------------- characters

_RTL = frozenset(("R", "AL", "AN", "RLE", "RLO", "RLI"))
# Scripts whose letters join, reorder or stack, by code point.
_COMPLEX = (
    (0x0700, 0x109F, "South or South-East Asian script"),
    (0x1100, 0x11FF, "Hangul jamo"),
    (0x1700, 0x1C7F, "South or South-East Asian script"),
    (0x1CC0, 0x1CFF, "South or South-East Asian script"),
    (0xA800, 0xAAFF, "South or South-East Asian script"),
    (0xABC0, 0xABFF, "South or South-East Asian script"),
    (0xD7B0, 0xD7FF, "Hangul jamo"),
    (0x11000, 0x11FFF, "South or South-East Asian script"),
)
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
_JOINERS = frozenset("\u200d\ufe0f")
_SPACES = frozenset("\u0020\u00a0")


def _check_script(text: str) -> None:
    for char in text:
        code = ord(char)
        if unicodedata.bidirectional(char) in _RTL:
            raise _LeftError("it holds right-to-left script")
        for low, high, what in _COMPLEX:
            if low <= code <= high:
                raise _LeftError(f"it holds {what}")
        if unicodedata.category(char)[0] == "M" and char not in "\ufe0e\ufe0f":
            raise _LeftError("it holds combining marks")
        if char in _JOINERS or 0x1F1E6 <= code <= 0x1F1FF or 0x1F3FB <= code <= 0x1F3FF:
            raise _LeftError("it holds emoji sequences")


@dataclass(slots=True)
class _Char:
    """A character that is left after white space has collapsed (SVG 2 §11.5: addressable)."""

    char: str
    element: etree._Element
    style: _Style
    x: float | None = None
    y: float | None = None
    dx: float = 0.0
    dy: float = 0.0
    angle: float = 0.0


@dataclass(slots=True)
class _Glyph:
    """A placed glyph; ``x``, ``y`` and ``advance`` in user units of the text."""

    face: _Face
    name: str
    char: _Char
    last: _Char
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


def _measured(
    face: _Face,
    chars: Sequence[_Char],
    glyphs: Sequence[tuple[str, int]],
    script: str,
    carried: Mapping[int, tuple[float, float]],
) -> Iterator[_Glyph]:
    """Yield the glyphs of one face and size with their kerned advances."""
    at = 0
    for k, (name, count) in enumerate(glyphs):
        char, last = chars[at], chars[at + count - 1]
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
        yield _Glyph(face, name, char, last, advance, shift * scale, at_x, at_y)


def _script(chars: Iterable[_Char]) -> str:
    for char in chars:
        if char.char.isalpha():
            first = unicodedata.name(char.char, "").split(" ")[0].split("-")[0]
            return _SCRIPTS.get(first, "latn")
    return "DFLT"


# ------------------------------------------------------------------------- outlining

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
_GRADIENT_DEFAULTS = {
    "linearGradient": {"x1": 0.0, "y1": 0.0, "x2": 1.0, "y2": 0.0},
    "radialGradient": {"cx": 0.5, "cy": 0.5, "r": 0.5},
}
_REGION = {"x": -0.1, "y": -0.1, "width": 1.2, "height": 1.2}


def outline_text(root: etree._Element, file: Path | str) -> tuple[str, ...]:
    """Turn text into paths, in place, with the fonts installed here.

    Each ``text`` becomes a group of the same id, labels, title, transform and effects, with a
    path for each run of characters of one element and one for each of its decorations. A text
    in a clip path becomes paths without a group. Gradients and effects in units of the text's
    bounding box are fixed to that box (of character cells, SVG 2 §11.4), as paths have
    another.

    Args:
        root: the document's ``svg`` element in normal form (see ``structure.normalise``).
        file: its name, for errors.

    Returns:
        Notes: fonts that another stood in for, characters left out, and each text that was
        left as it is (right-to-left or joining scripts, vertical text, text on a path …).

    Raises:
        InputError: there is text, and fontTools is not installed.
    """
    texts = [t for t in root.iter(f"{{{SVG}}}text") if t.getparent() is not None]
    if not texts:
        return ()
    # Masks are copied with what they hold, so theirs come first.
    texts.sort(key=lambda text: all(local(above) != "mask" for above in text.iterancestors()))
    try:
        import fontTools.ttLib  # type: ignore[import-untyped,unused-ignore]  # noqa: F401
    except ImportError:
        raise InputError(
            "turning text into paths needs fontTools, which is not installed",
            file=file,
            hint="install vecrepeat[text]",
        ) from None
    worker = _Outlines(elements_by_id(root))
    for text in texts:
        name = label_of(text) or " ".join("".join(_shown(text)).split())[:40]
        before = dict(worker.notes)
        try:
            worker.outline(text)
        except _LeftError as reason:
            worker.notes = before
            worker.notes[f"the text “{name}” is not outlined: {reason}"] = None
    return tuple(worker.notes)


def _shown(text: etree._Element) -> Iterator[str]:
    yield text.text or ""
    for child in text:
        if local(child) in _TEXTUAL:
            yield from _shown(child)
        yield child.tail or ""


@dataclass
class _Outlines:
    """Outlines the texts of a document.

    Args:
        ids: elements by id; new definitions are added.
    """

    ids: dict[str, etree._Element]
    notes: dict[str, None] = field(default_factory=dict)
    _styles: dict[etree._Element, _Style] = field(default_factory=dict)
    _faces: dict[_Style, list[_Face]] = field(default_factory=dict)

    def note(self, text: str) -> None:
        self.notes[text] = None

    def outline(self, text: etree._Element) -> None:
        """Replace a text by its outlines.

        Raises:
            _LeftError: it can't be outlined; nothing has been changed.
        """
        self.check(text)
        chars = self.characters(text)
        chunks: list[list[_Glyph]] = []
        for chunk in _chunks(chars):
            chunks.append(self.shaped(chunk))
        self.place(text, chunks)
        glyphs = [glyph for chunk in chunks for glyph in chunk]
        box = _cells(glyphs)
        self.check_effects(text, box)
        paths = self.paths(text, glyphs)
        fixed = [(path, self.fixed_paint(path, text, box)) for path in paths]
        for path, paints in fixed:
            for name, key in paints:
                rest = (path.get(name) or property_of(text, name)).partition(")")[2]
                path.set(name, f"url(#{self.fixed(key, box)}){rest}")
        for name in ("mask", "filter"):
            effect = self.in_box_units(text.get(name))
            if effect is not None:
                text.set(name, f"url(#{self.fixed(effect, box)})")
        _put(text, paths)

    # -- what can't be done

    def check(self, text: etree._Element) -> None:
        """Raise where a text has a feature that outlines would get wrong."""
        if any(local(e) == "textPath" for e in text.iter()):
            raise _LeftError("it runs along a path")
        content = "".join(_shown(text))
        for element in (text, *text.iter(f"{{{SVG}}}tspan")):
            if property_of(element, "writing-mode") not in (
                "horizontal-tb",
                *("lr", "lr-tb", "rl", "rl-tb"),
            ):
                raise _LeftError("it is written vertically")
            if property_of(element, "direction") == "rtl":
                raise _LeftError("it is written from right to left")
            if property_of(element, "unicode-bidi") in ("bidi-override", "isolate-override"):
                raise _LeftError("it overrides the direction of writing")
            if property_of(element, "font-variant") not in ("normal", "none"):
                raise _LeftError("it asks for small capitals or another variant of the font")
            if property_of(element, "font-size-adjust") != "none":
                raise _LeftError("it asks for font-size-adjust")
            if element.get("textLength") and element.get("lengthAdjust") == "spacingAndGlyphs":
                raise _LeftError("its letters are stretched to a length")
            lines = property_of(element, "white-space") in ("pre", "pre-wrap", "pre-line")
            if lines and any("\n" in (t or "").strip() for t in _own_text(element)):
                raise _LeftError("its line breaks are kept")
            if element is not text and any(
                element.get(k) not in (None, "none") for k in ("clip-path", "mask", "filter")
            ):
                raise _LeftError("a clip, mask or filter acts on a part of it")
        _check_script(unicodedata.normalize("NFC", content))

    def check_effects(self, text: etree._Element, box: _Box | None) -> None:
        """Raise where an effect's content is in units of the text's bounding box."""
        units = {"clip-path": "clipPathUnits", "mask": "maskContentUnits"}
        units["filter"] = "primitiveUnits"
        for name, attribute in units.items():
            element = self.ids.get(url_id(text.get(name) or ""))
            if element is not None and element.get(attribute) == "objectBoundingBox":
                raise _LeftError(f"its {name} is in units of its bounding box")
        if box is None and any(text.get(k) not in (None, "none") for k in ("mask", "filter")):
            raise _LeftError("it has no extent for its mask or filter")

    # -- characters

    def style(self, element: etree._Element) -> _Style:
        found = self._styles.get(element)
        if found is None:
            parent = element.getparent()
            above = _Style() if parent is None else self.style(parent)
            found = self._styles[element] = _derived(element, above)
        return found

    def characters(self, text: etree._Element) -> list[_Char]:
        """Return a text's addressable characters with their positions."""
        chars: list[_Char] = []

        def add(string: str | None, element: etree._Element) -> None:
            style = self.style(element)
            preserve = style.keeps_space
            if string and preserve:
                string = string.replace("\r\n", "\n")
            for char in string or "":
                char = " " if char in "\t\n\r" else char
                if char == " " and not preserve and (not chars or chars[-1].char == " "):
                    continue
                chars.append(_Char(char, element, style))

        def visit(holder: etree._Element) -> None:
            add(holder.text, holder)
            for child in holder:
                if local(child) == "tspan":
                    visit(child)
                add(child.tail, holder)

        visit(text)
        if chars and chars[-1].char == " " and not chars[-1].style.keeps_space:
            chars.pop()
        _position(chars, text)
        return _composed(chars)

    # -- fonts

    def faces(self, style: _Style) -> list[_Face]:
        """Return the faces of a style's families that are installed, or one that stands in."""
        key = _Style(style.families, style.weight, style.italic, style.stretch)
        if key not in self._faces:
            self._faces[key] = self._find_faces(key)
        faces = self._faces[key]
        if not faces:
            raise _LeftError("no font is installed that could be drawn")
        first, family = faces[0].file, style.families[0]
        asked = family.casefold()
        generic = _SAME_AS.get(asked, asked) in _FREE
        if not generic and asked not in first.names | first.full_names:
            self.note(f"the font “{family}” is not installed: outlined with “{first.family}”")
        low, high = first.weights
        if style.italic and not first.italic:
            self.note(f"“{first.family}” has no italic here: outlined upright")
        if (style.weight >= 600 and high < 600) or (style.weight < 600 and low >= 600):
            used = min(max(style.weight, low), high)
            self.note(
                f"“{first.family}” has no weight {style.weight} here: outlined with weight {used}"
            )
        return faces

    def _find_faces(self, style: _Style) -> list[_Face]:
        wanted = (style.weight, style.italic, style.stretch)
        files = [find_font(family, *wanted) for family in style.families]
        if files[0] is not None and files[0].coloured:
            raise _LeftError(f"“{files[0].family}” is a colour font")
        if all(file is None or file.coloured for file in files):
            files.append(stand_in(style.families[0], *wanted))
        opened = [_open(file, style.weight) for file in files if file and not file.coloured]
        return [face for face in opened if face is not None]

    def face_of(self, char: _Char) -> tuple[_Face, str] | None:
        """Return the face and glyph of a character; None where it shows nothing."""
        faces = self.faces(char.style)
        if char.char in _SILENT:
            return None
        code = ord(char.char)
        for face in faces:
            if code in face.cmap:
                return face, face.cmap[code]
        if char.char.isspace() and 32 in faces[0].cmap:
            return faces[0], faces[0].cmap[32]
        shown = f"“{char.char}” (U+{code:04X})"
        other = _fallback(code, char.style.weight, char.style.italic)
        family = faces[0].file.family
        if other is None:
            self.note(f"no installed font has {shown}: it is left out")
            return None
        self.note(f"“{family}” has no {shown}: outlined with “{other.file.family}”")
        return other, other.cmap[code]

    # -- layout

    def shaped(self, chunk: list[_Char]) -> list[_Glyph]:
        """Return a chunk's glyphs with their advances, not yet placed."""
        found: list[_Glyph] = []
        drawn = [(char, *known) for char in chunk if (known := self.face_of(char)) is not None]
        carried: dict[int, tuple[float, float]] = {}
        _carry(chunk, {id(char) for char, _, _ in drawn}, carried)
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
            with _reading(face):
                glyphs, contextual = face.substituted(names, joins, script, plain)
                if contextual:
                    self.note(
                        f"the letters of “{face.file.family}” may change with their neighbours, "
                        "which outlines don't follow"
                    )
                found += _measured(face, chars, glyphs, script, carried)
        # CSS Text 3 §9.2: no letter spacing at the end of a line.
        for glyph in found[:-1]:
            glyph.advance += glyph.char.style.letter
        return found

    def place(self, text: etree._Element, chunks: list[list[_Glyph]]) -> None:
        """Set the glyphs' positions: spacing to a length, then anchoring (SVG 2 §11.5)."""
        self.fit(text, chunks)
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
                glyph.y -= self.rise(glyph)

    @staticmethod
    def rise(glyph: _Glyph) -> float:
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
                rise += size * _real(shift[:-1], 0.0) / 100
            else:
                rise += user_length(shift, "y", _NOWHERE, size) or 0.0
        return rise

    def fit(self, text: etree._Element, chunks: list[list[_Glyph]]) -> None:
        """Spread letters so that elements with a ``textLength`` get that length."""
        for element in reversed([text, *text.iter(f"{{{SVG}}}tspan")]):
            text_length = element.get("textLength", "")
            wanted = user_length(text_length, "x", _NOWHERE, self.style(element).size)
            if "%" in text_length:
                raise _LeftError("its length is in percent")
            if wanted is None or wanted <= 0:
                continue
            inside = [[g for g in chunk if _within(g.char.element, element)] for chunk in chunks]
            inside = [chunk for chunk in inside if chunk]
            if len(inside) > 1:
                raise _LeftError("a length is set for several lines of it")
            if inside and len(inside[0]) > 1:
                glyphs = inside[0]
                have = sum(g.advance for g in glyphs) + sum(g.dx for g in glyphs[1:])
                for glyph in glyphs[:-1]:
                    glyph.advance += (wanted - have) / (len(glyphs) - 1)

    # -- paths

    def paths(self, text: etree._Element, glyphs: list[_Glyph]) -> list[etree._Element]:
        """Return the paths of the runs and their decorations, in painting order."""
        made: list[etree._Element] = []
        named: set[str] = set()
        for element, group in groupby(glyphs, key=lambda g: g.char.element):
            run = list(group)
            own = _painted_by(element, text)
            lines = [(kind, *_decorated(holder, text)) for kind, holder in _decorations(element)]
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

    def in_box_units(self, value: str | None) -> str | None:
        """Return the id of a definition that hangs on the bounding box, or None."""
        key = url_id(value or "")
        element = self.ids.get(key)
        if element is None:
            return None
        name = local(element)
        units = {"pattern": "patternUnits", "mask": "maskUnits", "filter": "filterUnits"}
        attribute = units.get(name, "gradientUnits" if name in _GRADIENT_DEFAULTS else "")
        if attribute and element.get(attribute) != "userSpaceOnUse":
            return key
        if name == "pattern" and element.get("patternContentUnits") == "objectBoundingBox":
            return key
        return None

    def fixed_paint(
        self, path: etree._Element, text: etree._Element, box: _Box | None
    ) -> list[tuple[str, str]]:
        """Return which paints of a path hang on the bounding box, with their ids."""
        found = []
        for name in ("fill", "stroke"):
            key = self.in_box_units(path.get(name) or property_of(text, name))
            if key is None:
                continue
            if local(self.ids[key]) == "pattern":
                raise _LeftError("its paint is a pattern in units of its bounding box")
            if box is not None:
                found.append((name, key))
        return found

    def fixed(self, key: str, box: _Box | None) -> str:
        """Return the id of a copy of a definition, made to fit a bounding box in user units."""
        assert box is not None
        original = self.ids[key]
        clone = copy.deepcopy(original)
        clone.tail = None
        for inner in clone.iter():
            take(inner, "id")
        x0, y0, x1, y1 = box
        name = local(clone)
        if name in _GRADIENT_DEFAULTS:
            for attribute, default in _GRADIENT_DEFAULTS[name].items():
                clone.set(attribute, number(_share(clone.get(attribute), default)))
            for attribute in ("fx", "fy", "fr"):
                if (value := clone.get(attribute)) is not None:
                    clone.set(attribute, number(_share(value, 0.5)))
            own = etree.Element("g")
            if (matrix := clone.get("gradientTransform")) is not None:
                own.set("transform", matrix)
            fit = Affine(x1 - x0, 0.0, 0.0, y1 - y0, x0, y0) @ matrix_of(own)
            clone.set("gradientTransform", fit.svg())
            clone.set("gradientUnits", "userSpaceOnUse")
        else:
            region = {k: _share(clone.get(k), default) for k, default in _REGION.items()}
            clone.set("x", number(x0 + region["x"] * (x1 - x0)))
            clone.set("y", number(y0 + region["y"] * (y1 - y0)))
            clone.set("width", number(region["width"] * (x1 - x0)))
            clone.set("height", number(region["height"] * (y1 - y0)))
            clone.set(f"{name}Units", "userSpaceOnUse")
        count = 1
        while (fresh := f"{key}-text-{count}") in self.ids:
            count += 1
            if _alike(self.ids[fresh], clone):
                return fresh
        clone.set("id", fresh)
        self.ids[fresh] = clone
        original.addnext(clone)
        return fresh


_Box = tuple[float, float, float, float]


def _alike(one: etree._Element, other: etree._Element) -> bool:
    names = set(attributes(one)) | set(attributes(other))
    return all(one.get(k) == other.get(k) for k in names if k != "id")


def _share(text: str | None, default: float) -> float:
    if text is None:
        return default
    text = text.strip()
    return _real(text[:-1], 100 * default) / 100 if text.endswith("%") else _real(text, default)


def _within(element: etree._Element, holder: etree._Element) -> bool:
    return element is holder or any(above is holder for above in element.iterancestors())


def _position(chars: list[_Char], text: etree._Element) -> None:
    """Give characters the values of the position lists; inner elements' win."""
    lists: dict[etree._Element, tuple[dict[str, list[float]], list[float]]] = {}
    for element in (text, *text.iter(f"{{{SVG}}}tspan")):
        values = {k: _reals(element.get(k)) for k in ("x", "y", "dx", "dy")}
        lists[element] = values, _reals(element.get("rotate"))
    seen = dict.fromkeys(lists, 0)
    for char in chars:
        chain = [char.element]
        while chain[-1] is not text and (parent := chain[-1].getparent()) is not None:
            chain.append(parent)
        for element in reversed(chain):
            values, turns = lists[element]
            at = seen[element]
            seen[element] += 1
            for name, numbers in values.items():
                if at < len(numbers):
                    setattr(char, name, numbers[at])
            if turns:
                char.angle = turns[min(at, len(turns) - 1)]


def _composed(chars: list[_Char]) -> list[_Char]:
    """Merge letters and combining marks into the characters that stand for both."""
    found: list[_Char] = []
    for char in chars:
        if found and unicodedata.category(char.char) == "Mn":
            whole = unicodedata.normalize("NFC", found[-1].char + char.char)
            if len(whole) == 1:
                found[-1].char = whole
                continue
        found.append(char)
    for char in found:
        _check_script(char.char)
    return found


def _chunks(chars: list[_Char]) -> Iterator[list[_Char]]:
    """Split characters into text chunks: a new one at each absolute position."""
    chunk: list[_Char] = []
    for char in chars:
        if chunk and (char.x is not None or char.y is not None):
            yield chunk
            chunk = []
        chunk.append(char)
    if chunk:
        yield chunk


def _carry(chunk: list[_Char], drawn: set[int], out: dict[int, tuple[float, float]]) -> None:
    """Pass the shifts, and the chunk's start, of characters without a glyph to the next one."""
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


def _cells(glyphs: list[_Glyph]) -> _Box | None:
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
    return min(xs), min(ys), max(xs), max(ys)


def _decimals(size: float) -> int:
    """Return how many decimals keep a hundred-thousandth of the font size."""
    return max(0, 5 - math.floor(math.log10(size))) if size > 0 else 0


def _short(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _drawn(run: list[_Glyph]) -> str:
    """Return a run's outline as path data."""
    from fontTools.pens.svgPathPen import SVGPathPen  # type: ignore[import-untyped,unused-ignore]
    from fontTools.pens.transformPen import TransformPen  # type: ignore[import-untyped,unused-ignore]

    decimals = _decimals(min((g.char.style.size for g in run), default=1.0))
    out: list[str] = []
    for glyph in run:
        if glyph.scale <= 0:
            continue
        pen = SVGPathPen(glyph.face.glyphs, lambda value: _short(value, decimals))
        # Fonts have y upwards.
        matrix = glyph.matrix() @ Affine.scaling(glyph.scale, -glyph.scale)
        with _reading(glyph.face):
            glyph.face.glyphs[glyph.name].draw(TransformPen(pen, tuple(matrix)))
        out.append(str(pen.getCommands()))
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


def _decorated(holder: etree._Element, text: etree._Element) -> tuple[dict[str, str]]:
    """Return the paint of a line: that of the element which asks for it (SVG 2 §11.10.2)."""
    if _within(holder, text):
        return (_painted_by(holder, text),)
    values = {name: property_of(holder, name) for name in _PAINT}
    return ({k: v for k, v in values.items() if v != property_of(text, k)},)


def _painted_by(element: etree._Element, text: etree._Element) -> dict[str, str]:
    """Return what elements from a text down to one in it set, but for text properties."""
    found: dict[str, str] = {}
    opacity = 1.0
    while element is not text:
        for name, value in attributes(element).items():
            if name in _PAINTED or name in ("style", "vector-effect"):
                found.setdefault(name, value)
        opacity *= _real(element.get("opacity"), 1.0)
        parent = element.getparent()
        if parent is None:
            break
        element = parent
    if opacity != 1:
        found["opacity"] = number(opacity)
    return found


def _bars(run: list[_Glyph], kind: str) -> str:
    """Return the bars of a decoration as path data, one for each unbroken stretch."""
    stretches: list[list[_Glyph]] = []
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

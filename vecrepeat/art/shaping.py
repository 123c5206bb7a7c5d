"""Fonts opened: their glyphs, what replaces them, kerning and outlines.

Shaping is basic: single and ligature substitutions (GSUB types 1 and 4 of ``ccmp``, ``rlig``,
``liga``, ``clig``), single ones by context (types 5 and 6, format 3, of ``calt``, ``rclt``) and
pair kerning (GPOS type 2 of ``kern``, else the ``kern`` table). No bold or slant is made up.

Source: OpenType 1.9 (``cmap``, ``hhea``, ``OS/2``, ``post``, ``GSUB``, ``GPOS``, ``kern``).
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache
from typing import Any

from vecrepeat.art.fonts import FontFile, fallbacks
from vecrepeat.geometry import Affine

__all__ = ["Face", "fallback", "open_face"]


class Face:
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

    def outline(self, glyph: str, matrix: Affine, written: Callable[[float], str]) -> str:
        """Return a glyph's outline as path data.

        Args:
            glyph: its name.
            matrix: from font units, y upwards, to those of the path.
            written: how numbers are.
        """
        from fontTools.pens.svgPathPen import SVGPathPen  # type: ignore[import-untyped,unused-ignore]
        from fontTools.pens.transformPen import TransformPen  # type: ignore[import-untyped,unused-ignore]

        pen = SVGPathPen(self.glyphs, written)
        self.glyphs[glyph].draw(TransformPen(pen, tuple(matrix)))
        return str(pen.getCommands())

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


@lru_cache(maxsize=32)
def _opened(file: FontFile, weight: int) -> Face | None:
    try:
        return Face(file, weight)
    except Exception:
        # A damaged font can fail in any way; it counts as one that is not there.
        return None


def open_face(file: FontFile, weight: int) -> Face | None:
    """Return a face of that weight, where the font is variable; None where it is damaged."""
    low, high = file.weights
    return _opened(file, weight if low < high else 0)


@lru_cache(maxsize=1024)
def fallback(code: int, weight: int, italic: bool) -> Face | None:
    """Return an installed face that has a character, the closest in slant and weight."""
    for file in fallbacks(weight, italic):
        face = open_face(file, weight)
        if face is not None and code in face.cmap:
            return face
    return None

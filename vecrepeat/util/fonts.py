"""The fonts installed here: found on disk, named, and matched to what a drawing asks for.

Sources: CSS Fonts 4 §5.2 (font matching), OpenType 1.9 (``name``, ``OS/2``).
"""

from __future__ import annotations

import os
import platform
import struct
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

from lxml import etree

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
    "cambria": ("Caladea", "serif"),
    "georgia": ("Gelasio", "serif"),
    "palatino": ("P052", "serif"),
    "palatino linotype": ("P052", "serif"),
    "book antiqua": ("P052", "serif"),
}
_COLOUR_TABLES = frozenset(("COLR", "CBDT", "sbix", "SVG "))
_LOOSE = ("cursive", "fantasy")


@dataclass(frozen=True, slots=True)
class FontFile:
    """One face of an installed font.

    Attributes:
        path: the file.
        index: the face's number in a collection (``.ttc``), else 0.
        family: its typographic family, in English where it has that name.
        names: all family names it goes by, in lower case.
        full_names: its full and PostScript names in lower case, as some drawings name them.
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


_ENDINGS = (".ttf", ".otf", ".ttc", ".otc")


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
    if config := os.environ.get("FONTCONFIG_FILE"):
        return list(_configured(Path(config), set()))
    return [
        Path("/usr/share/fonts"),
        Path("/usr/local/share/fonts"),
        home / ".fonts",
        Path(os.environ.get("XDG_DATA_HOME") or home / ".local/share") / "fonts",
    ]


def _configured(config: Path, seen: set[Path]) -> Iterator[Path]:
    """Yield the folders that a fontconfig file names, and those of the files it includes."""
    if config in seen:
        return
    seen.add(config)
    try:
        root = etree.parse(config, etree.XMLParser(resolve_entities=False)).getroot()
    except (OSError, etree.XMLSyntaxError):
        return
    for element in root.iter("dir", "include"):
        home = "~/.local/share" if element.tag == "dir" else "~/.config"
        named = Path((element.text or "").strip())
        if element.get("prefix") == "xdg":
            named = Path(home) / named
        named = config.parent / named.expanduser()
        if element.tag == "dir":
            yield named
        else:
            for file in sorted(named.glob("*.conf")) if named.is_dir() else (named,):
                yield from _configured(file, seen)


def font_files() -> list[Path]:
    """Return the files of all fonts installed, sorted by their paths."""
    found: set[Path] = set()
    for folder in dict.fromkeys(_folders()):
        for where, _, names in os.walk(folder):
            found.update(Path(where) / name for name in names if name.lower().endswith(_ENDINGS))
    return sorted(found)


@lru_cache(maxsize=1)
def installed_fonts() -> tuple[FontFile, ...]:
    """Return the faces of all fonts installed, in the order of their files' names.

    Reads a few tables of each file, once in a process; files that can't be read are passed
    over.
    """
    return tuple(face for file in font_files() for face in _faces_in(file))


def _faces_in(path: Path) -> list[FontFile]:
    """Return the faces in a font file, none where it is damaged."""
    # Most art has no text: its import takes longer than all the rest of this module.
    import uharfbuzz as hb

    try:
        file = hb.Blob.from_file_path(path)
        indices = range(min(hb.Face(file).count, 256))
        faces = [_face(hb.Face(file, index), path, index) for index in indices]
    except (hb.HarfBuzzError, OSError, UnicodeError, struct.error):
        return []
    return [face for face in faces if face is not None]


def _face(face: Any, path: Path, index: int) -> FontFile | None:
    """Return an opened face, None where it has no name."""
    names = _names(face.reference_table("name").data)
    family = next((names[k][0] for k in (16, 1) if names.get(k)), "")
    if not family:
        return None
    os2, head = face.reference_table("OS/2").data, face.reference_table("head").data
    weight, stretch, italic = 400, 5, len(head) >= 46 and bool(head[45] & 2)
    if len(os2) >= 64:
        weight, stretch = struct.unpack(">HH", os2[4:8])
        weight = weight * 100 if 0 < weight < 10 else min(max(weight, 1), 1000)
        italic = italic or bool(struct.unpack(">H", os2[62:64])[0] & 0x201)
    axes = {axis.tag: (int(axis.min_value), int(axis.max_value)) for axis in face.axis_infos}
    return FontFile(
        path,
        index,
        family,
        frozenset(name.casefold() for k in (1, 16) for name in names.get(k, ())),
        frozenset(name.casefold() for k in (4, 6) for name in names.get(k, ())),
        weight,
        axes.get("wght", (weight, weight)),
        italic,
        stretch if 1 <= stretch <= 9 else 5,
        not _COLOUR_TABLES.isdisjoint(face.table_tags),
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


def generic_families() -> tuple[str, ...]:
    """Return what is drawn for serif, sans-serif, monospace, cursive and fantasy, in that order.

    Empty where no font is installed.
    """
    found = (find_font(name, 400, False) or stand_in(name, 400, False) for name in _FREE)
    return tuple(file.family for file in found if file is not None)


def is_generic(family: str) -> bool:
    """Whether a family's name, in any case, is that of a generic family."""
    key = family.casefold()
    return _SAME_AS.get(key, key) in _FREE


def fallbacks(weight: int, italic: bool) -> Iterator[FontFile]:
    """Yield all installed faces but coloured ones, in the order to look for a character in.

    Those of generic families come first, then the closest in slant and weight, plain ones first.
    """
    generic = [find_font(name, weight, italic) for name in _FREE]
    rest = sorted(
        installed_fonts(),
        key=lambda f: (
            f.italic != italic,
            _weight_distance(f, weight),
            f.stretch != 5,
            "sans" not in f.family.casefold(),
        ),
    )
    for file in dict.fromkeys(f for f in (*generic, *rest) if f is not None):
        if not file.coloured:
            yield file

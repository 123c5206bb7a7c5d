"""Deeds as command lines: the one place that says what a page asks for in a command's words.

A job is the command that is said here, run. What a page may ask for is listed here too: a
command, some of its options, and nothing outside the folder.
"""

from __future__ import annotations

import shlex
from collections.abc import Mapping
from pathlib import Path
from typing import Any, NamedTuple

from vecrepeat.blenders.settings import KINDS as KINDS_OF_BLENDERS
from vecrepeat.board.folder import ART, DRAWINGS, Folder
from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import number
from vecrepeat.core.names import plain_name, slug
from vecrepeat.recipe.keys import TABLES
from vecrepeat.recipe.values import read_flag, read_gap, read_length, read_range

Words = list[str]
"""A command's words, without the program."""

BATCH = "batch"
"""The folder that a batch of all designs is written to."""


class Kind(NamedTuple):
    """What a page may ask of a command.

    Attributes:
        options: what settings may name; each is an option of the command.
        out: the name of what is written, without its ending, where the page gives none; "" for
            commands that write nothing of their own.
        endings: of the file; none for a folder.
        files: options that name a file in the folder.
        table: the recipe's table whose keys are options of the command.
        told: whether the page is told the facts as plain data.
    """

    options: tuple[str, ...] = ()
    out: str = ""
    endings: tuple[str, ...] = ()
    files: tuple[str, ...] = ()
    table: str = ""
    told: bool = False


_PRINT = (
    *("profile", "intent", "no-black-point", "compression", "quality", "max-bytes"),
    *("bleed", "page-length", "marks"),
)
_PIXELS = ("png", "tif", "pdf", "jpg", "webp")
_LIMITS = ("repeat-width", "profile")

KINDS: Mapping[str, Kind] = {
    "export": Kind(
        (
            *("dpi", "sheet", "block", "repeat-width", "repeat-height", "exact", "transparent"),
            *("colourway", *_PRINT),
        ),
        "{design}",
        _PIXELS,
        ("profile",),
    ),
    "compose": Kind(
        ("sheet", "repeat-width", "repeat-height", "inline", "tile-only", "colourway"),
        "{design}",
        ("svg",),
    ),
    "proof": Kind((*_LIMITS, "paper", "colourway"), "{design}-proof", ("pdf", "html", "png")),
    "spec": Kind((*_LIMITS, "colourway"), "{design}-spec", ("pdf", "png", "svg")),
    "separate": Kind(
        (
            *("colours", "keep", "soft", "cloth", "trap", "overprint", "format", "dpi"),
            *("repeat-width", "marks", "no-marks", "lines", "laydown", "colourway"),
        ),
        "plates",
    ),
    "colourways": Kind(("suggest", "format", "repeat-width", "contrast"), "colourways"),
    "cloth": Kind(
        (
            *("cut", "bolt", "repeat-width", "across", "selvedge", "selvedge-text", "one-way"),
            *("shrink-across", "shrink-along", "dpi", "colourway", *_PRINT),
        ),
        "{design}-cloth",
        _PIXELS,
        ("profile",),
    ),
    "roll": Kind(
        (
            *("roll", "wall", "opening", "trim", "match", "repeat-width", "repeat-height"),
            *("overlap", "dpi", "colourway", *_PRINT),
        ),
        "{design}-drop-{{number}}",
        _PIXELS,
        ("profile",),
    ),
    "batch": Kind(("colourway",), BATCH),
    "linesheet": Kind(("colourway", "paper"), "line", ("pdf", "html", "png", "svg")),
    "swatches": Kind((), "palette", ("svg", "css", "txt", "gpl")),
    "cohesion": Kind(("profile",)),
    "blender": Kind((*(key for key in TABLES["blender"] if key != "kind"), "ground", "tile")),
    "check": Kind(("only", "profile", "repeat-width", "dpi", "colourway")),
    "trials": Kind((*TABLES["toss"], "seeds"), "trials", table="toss", told=True),
    "fill": Kind(tuple(TABLES["fill"]), table="fill"),
    **{
        way: Kind((*TABLES[way], "again"), table=way)
        for way in ("toss", "set", "stripe", "trail", "ditsy")
    },
}
"""What can be asked for, by the command's name."""

BEGINNINGS = ("motifs", "page", "tile")
"""What dropped art can be: loose motifs, drawings of a page, or a finished tile."""


def output_of(design: str) -> str:
    """Return the folder, within the one at work, that a design's files go to; "" is all designs."""
    return f"{Path(design).with_suffix('').as_posix()}-files" if design else BATCH


def said(folder: Folder, kind: str, design: str, settings: Mapping[str, Any]) -> list[Words]:
    """Return what is asked for as commands.

    Args:
        folder: the one at work.
        kind: one of :data:`KINDS`.
        design: the recipe's name in the folder; "" where it is of no one design.
        settings: options by their names, without dashes: texts, numbers, true, or lists of these;
            and ``name`` and ``ending`` of the file.

    Raises:
        InputError: there is no such deed or setting, or one leads out of the folder.
    """
    known = KINDS.get(kind)
    if known is None:
        raise InputError(f"there is no deed “{kind[:40]}”")
    asked = dict(settings)
    name, ending = asked.pop("name", ""), asked.pop("ending", "")
    if kind == "batch" and not design:
        sources = [folder.within(one["design"]) for one in folder.designs()]
    else:
        sources = [folder.within(design)]
    words = [kind, *(_path(source) for source in sources)]
    if kind == "blender":
        words = _into(folder, design, str(asked.pop("kind", "")), str(name))
    if known.out:
        way = "" if kind == "batch" else str(asked.get("colourway") or "")
        words += ["-o", _path(_output(folder, known, design, str(name), str(ending), way))]
    for option in known.options:
        value = asked.pop(option, None)
        if option in TABLES.get(known.table, ()) and value is not None:
            value, option = _as_option(known.table, option, value)
        words += _option(folder, known, option, value)
    if asked:
        raise InputError(f"{kind} can't be asked for “{next(iter(asked))[:40]}”")
    return [words]


def _into(folder: Folder, collection: str, kind: str, name: str) -> Words:
    """Return the words that begin a blender's recipe beside the collection that it goes into."""
    if kind not in KINDS_OF_BLENDERS:
        raise InputError(f"there is no blender “{kind[:40]}”")
    stem = slug(name)[:60] or kind
    recipe = folder.within(Path(collection).with_name(f"{stem}.toml").as_posix())
    return ["blender", kind, "-o", _path(recipe), "--into", _path(folder.within(collection))]


def _as_option(table: str, key: str, value: Any) -> tuple[Any, str]:
    """Return a setting of a recipe's table as the command's option has it, and the option."""
    read = TABLES[table][key].read
    if read is read_flag and value is False:
        return True, f"no-{key}"
    if read is read_range and isinstance(value, list):
        return "-".join(f"{float(one):g}" for one in value), key
    if read in (read_gap, read_length) and isinstance(value, int | float):
        return f"{number(value)}mm", key
    return value, key


def said_beginning(
    folder: Folder, name: str, what: str, settings: Mapping[str, Any]
) -> list[Words]:
    """Return the commands that begin a design with the art in its folder.

    Args:
        folder: the one at work.
        name: the design's folder.
        what: one of :data:`BEGINNINGS`.
        settings: ``tile`` and ``density``, as of ``vecrepeat recipe``.

    Raises:
        InputError: there is nothing of that kind to begin with.
    """
    art = folder.within(name) / ART
    copies = [art / copy for copy in folder.copies(name)]
    recipe = _path(folder.within(f"{name}/{name}.toml"))
    options = [
        word
        for option in ("tile", "layout", "density")
        for word in _option(folder, Kind(), option, settings.get(option))
    ]
    if not copies:
        raise InputError("no art has come in")
    if what == "tile":
        marks = folder.within(output_of(f"{name}/{name}.toml")) / "findings.png"
        tile = _path(copies[0])
        return [
            ["recipe", tile, "--finished", "-o", recipe],
            ["check", tile, "--finished", "--picture", _path(marks)],
        ]
    if what == "motifs":
        return [
            ["recipe", _path(art), "-o", recipe, *options],
            ["toss", recipe],
        ]
    pages = [_path(copy) for copy in copies if copy.suffix.lower() in DRAWINGS]
    if what != "page" or not pages:
        raise InputError("a drawn page is an SVG drawing", hint="or begin with loose motifs")
    return [["recipe", *pages, "-o", recipe, *options]]


def as_text(folder: Folder, commands: list[Words]) -> str:
    """Return commands as lines to be typed in the folder at work."""
    return "\n".join(shlex.join(["vecrepeat", *words]) for words in typed(folder, commands))


def typed(folder: Folder, commands: list[Words]) -> list[Words]:
    """Return commands as they are typed, and run, in the folder at work."""
    return [[_seen_from(folder.root, word) for word in words] for words in commands]


def _seen_from(root: Path, word: str) -> str:
    """Return a word as it is typed in a folder: paths in that are the shorter."""
    own = root.as_posix().rstrip("/")
    if word == own:
        return "."
    short = word.removeprefix(f"{own}/")
    return f"./{short}" if short.startswith("-") and short != word else short


def _path(path: Path) -> str:
    """Return a path as a word that is no option."""
    text = path.as_posix()
    return f"./{text}" if text.startswith("-") else text


def _output(
    folder: Folder, kind: Kind, design: str, name: str, ending: str, colourway: str
) -> Path:
    own = Path(design).stem or BATCH
    stem = kind.out.format(design=own)
    if colourway and not name:
        # Each colourway has files of its own, of each kind.
        worn = slug(colourway)
        stem = kind.out.format(design=f"{own}-{worn}")
        stem = stem if "{design}" in kind.out else f"{stem}-{worn}"
    if name:
        # The braces of a name would be filled in.
        stem = plain_name(name.replace("{", "").replace("}", ""))[:120]
        stem += "-{number}" if "{number}" in kind.out.format(design="") else ""
    place = output_of(design)
    if not kind.endings:
        return folder.within(place if stem == BATCH else f"{place}/{stem}")
    chosen = ending or kind.endings[0]
    if chosen not in kind.endings:
        raise InputError(f"the file can't end in .{chosen[:20]}", hint=", ".join(kind.endings))
    return folder.within(f"{place}/{stem}.{chosen}")


def _option(folder: Folder, kind: Kind, name: str, value: Any) -> Words:
    if value is None or value is False or value == "":
        return []
    if value is True:
        return [f"--{name}"]
    if isinstance(value, list):
        return [word for one in value for word in _option(folder, kind, name, one)]
    if not isinstance(value, str | int | float):
        raise InputError(f"{name} can't be that")
    text = f"{value:g}" if isinstance(value, float) else str(value).strip()
    # Printers' limits are a file or go by a name that is none.
    if name in kind.files or ("profile" in (name,) and ("/" in text or "." in text)):
        text = _path(folder.within(text))
    if isinstance(value, str) and text.startswith("-"):
        raise InputError(f"{name} can't be “{text[:40]}”")
    return [f"--{name}", text]

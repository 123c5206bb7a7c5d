"""Write the parts of the documentation that come from the code.

Usage: python docs/make_reference.py [FOLDER]

It writes `reference.md`, every command with its options, and the tables of keys in
`recipe.md` and `collections.md`.
"""

from __future__ import annotations

import ast
import inspect
import sys
from collections.abc import Collection, Iterator, Mapping
from itertools import pairwise
from pathlib import Path

import click

from vecrepeat.cli import COMMANDS, cli
from vecrepeat.core import allowance
from vecrepeat.recipe.collection import KEYS, REPEATED_KEYS
from vecrepeat.recipe.keys import REPEATED, TABLES, Key

DOCS = Path(__file__).parent
HEADINGS = {
    "": "At the top",
    "motif": "`motif`: what each motif is",
    "placement": "`placement`: what stands where",
    "toss": "`toss`: how motifs are tossed",
    "fill": "`fill`: how voids are filled",
    "set": "`set`: motifs on a grid",
    "stripe": "`stripe`: motifs in stripes",
    "trail": "`trail`: motifs along a path",
    "ditsy": "`ditsy`: small motifs, close",
    "blender": "`blender`: dots, stripes and the like, under the motifs or alone",
    "palette": "`palette`: names for colours",
    "colourway": "`colourway`: the same art in other colours",
    "print": "`print`: sizes and files",
}


COLLECTION_HEADINGS = {
    "": "At the top",
    "palette": "`palette`: names for colours",
    "printer": "`printer`: what a printer calls them",
    "colourway": "`colourway`: the whole in other colours",
    "print": "`print`: what belongs to it",
    "goods": "`goods`: what is written of every print",
}


def keys(
    tables: Mapping[str, Mapping[str, Key]],
    headings: Mapping[str, str],
    repeated: Collection[str],
) -> Iterator[str]:
    """Yield the tables of a recipe's or a collection's keys as Markdown."""
    for table, known in tables.items():
        yield f"\n### {headings[table]}\n"
        if known is TABLES["print"] and table != "print":
            yield (
                f"Written as `[[{table}]]`, once for each, with the keys of a "
                "[recipe's print](recipe.md#print-sizes-and-files).\n"
            )
            continue
        if table in repeated:
            yield (
                f"A list of tables, a line each as above, or written out as `[[{table}]]`, once "
                "for each.\n"
            )
        elif table:
            yield f"Written as `[{table}]`.\n"
        if not known:
            yield (
                "Any name of the palette, with the printer's for it.\n"
                if table == "printer"
                else 'Any name, with its colour: `"night sky" = "#141e3c"`.\n'
            )
            continue
        yield "| key | means |"
        yield "| --- | --- |"
        for name, key in known.items():
            required = " Must be there." if key.required else ""
            yield f"| `{name}` | {key.about}{required} |"


def option(parameter: click.Option) -> str:
    """Return an option as one row."""
    names = ", ".join(f"`{name}`" for name in (*parameter.opts, *parameter.secondary_opts))
    metavar = ""
    if not parameter.is_flag:
        metavar = parameter.make_metavar(click.Context(click.Command("x")))
        metavar = f" `{metavar}`".replace("|", "\\|") if metavar else ""
    default = ""
    if parameter.show_default and parameter.default is not None and not parameter.is_flag:
        value = parameter.default
        shown = ", ".join(map(str, value)) if isinstance(value, tuple | list) else str(value)
        default = f" By default {shown}."
    about = (parameter.help or "").replace("|", "\\|")
    required = " Must be given." if parameter.required else ""
    return f"| {names}{metavar} | {about}{default}{required} |"


def commands() -> Iterator[str]:
    """Yield every command with its options as Markdown."""
    yield "# Reference\n"
    yield (
        "Every command and option, written from the code by `docs/make_reference.py`. What they "
        "share is in [Commands](commands.md), the keys of recipes in [Recipes](recipe.md).\n"
    )
    yield "| command | does |"
    yield "| --- | --- |"
    for name, about in COMMANDS.items():
        yield f"| [`{name}`](#{name}) | {about} |"
    for name in COMMANDS:
        command = cli.get_command(click.Context(cli), name)
        assert command is not None
        yield f"\n## {name}\n"
        words = [
            parameter.make_metavar(click.Context(command))
            for parameter in command.params
            if isinstance(parameter, click.Argument)
        ]
        yield f"```text\nvecrepeat {name} [OPTIONS] {' '.join(words)}\n```\n"
        yield "\n\n".join(
            " ".join(paragraph.split())
            for paragraph in inspect.cleandoc(command.help or "").split("\n\n")
        )
        rows = [option(p) for p in command.params if isinstance(p, click.Option)]
        if rows:
            yield "\n| option | does |"
            yield "| --- | --- |"
            yield from rows


def bounds() -> Iterator[str]:
    """Yield the allowance as Markdown: each constant's docstring and value."""
    yield "\n## The allowance\n"
    yield " ".join((allowance.__doc__ or "").split("\n\n", 1)[1].split()) + "\n"
    yield "| at most | of what |"
    yield "| --- | --- |"
    body = ast.parse(inspect.getsource(allowance)).body
    for constant, words in pairwise(body):
        if isinstance(constant, ast.Assign) and isinstance(words, ast.Expr):
            (name,) = (target.id for target in constant.targets if isinstance(target, ast.Name))
            value = getattr(allowance, name)
            values = value if isinstance(value, tuple) else (value,)
            shown = " to ".join(f"{float(v):,.15g}" for v in values)
            about = " ".join(ast.literal_eval(words.value).split())
            yield f"| {shown} | {about.removeprefix('The most ').removesuffix('.')} |"


def main() -> None:
    """Write both files into FOLDER, ``docs`` by default."""
    out = Path(sys.argv[1]) if len(sys.argv) > 1 else DOCS
    (out / "reference.md").write_text("\n".join([*commands(), *bounds()]) + "\n", encoding="utf-8")
    written = {
        "recipe.md": keys(TABLES, HEADINGS, REPEATED),
        "collections.md": keys(KEYS, COLLECTION_HEADINGS, REPEATED_KEYS),
    }
    for name, lines in written.items():
        text = (DOCS / name).read_text(encoding="utf-8")
        head, begin, rest = text.partition("<!-- keys: written by docs/make_reference.py -->\n")
        _, end, tail = rest.partition("<!-- end of keys -->")
        told = "\n".join(lines).lstrip("\n")
        (out / name).write_text(f"{head}{begin}{told}\n{end}{tail}", encoding="utf-8")
    for name in ("reference.md", *written):
        print(out / name)


if __name__ == "__main__":
    main()

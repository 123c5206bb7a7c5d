"""The board's own pages and what they load: read once, as all of them are asked for at once."""

from __future__ import annotations

import re
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import NamedTuple

from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

STATIC = Path(__file__).parent / "static"
LATTICE = STATIC.parents[1] / "repeat" / "lattice.js"
"""The cloth's mathematics, which all pages share."""

TYPES = {".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml"}
"""What else a page loads."""


class Head(NamedTuple):
    """What is a page's own of its head.

    Attributes:
        title: of the page.
        styles: sheets besides the one that all have.
        script: the module that all others are imported by.
        first: a module that runs before it, if any.
    """

    title: str
    styles: tuple[str, ...]
    script: str
    first: str = ""


HEADS = {
    "index": Head("Designs", ("home", "stations"), "home"),
    "design": Head("The board", ("board", "stations"), "design", "opening"),
    "collection": Head(
        "A collection", ("stations", "collection-tools", "collection"), "collection/page"
    ),
    "sharing": Head("Tablet", ("home", "sharing"), "sharing"),
    "pair": Head("Pair this device", ("home", "sharing"), "pair"),
}
"""By the page's name; what follows the head is static/NAME.html."""

_HEAD = """<!doctype html>
<html lang="en-GB">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{title}</title>
<link rel="icon" href="icon.svg" type="image/svg+xml">
{links}
</head>
"""

_IMPORT = re.compile(r"""(?:\bfrom |\bimport\()'(\.[^']+)'""")


def _modules(found: dict[str, bytes], name: str, known: dict[str, None]) -> None:
    """Add a module and those that it imports to those that are known."""
    if name in known:
        return
    known[name] = None
    place = Path(name).parent
    for other in _IMPORT.findall(found[name].decode()):
        parts: list[str] = []
        for part in (*place.parts, *other.split("/")):
            parts = parts[:-1] if part == ".." else parts if part == "." else [*parts, part]
        _modules(found, "/".join(parts), known)


def _page(found: dict[str, bytes], head: Head, body: bytes) -> bytes:
    """Return a page whole. It names all modules: found one by the other they come in late."""
    script, modules = f"js/{head.script}.js", dict[str, None]()
    for one in filter(None, (head.first, head.script)):
        _modules(found, f"js/{one}.js", modules)
    links = [f'<link rel="stylesheet" href="{one}.css">' for one in ("base", *head.styles)]
    if head.first:
        links.append(f'<script type="module" async src="js/{head.first}.js"></script>')
    low = ' fetchpriority="low"' if head.first else ""
    links += [f'<link rel="modulepreload" href="{one}"{low}>' for one in modules if one != script]
    links.append(f'<script type="module" src="{script}"></script>')
    return _HEAD.format(title=head.title, links="\n".join(links)).encode() + body


def read_pages() -> dict[str, tuple[bytes, str]]:
    """Return all files that a page may load, by path, each with its type."""
    paths = [path for path in STATIC.rglob("*") if path.suffix in TYPES]
    found = {path.relative_to(STATIC).as_posix(): path.read_bytes() for path in paths}
    found["js/lattice.js"] = LATTICE.read_bytes()
    files = {name: (data, TYPES[Path(name).suffix]) for name, data in found.items()}
    for name, head in HEADS.items():
        body = (STATIC / f"{name}.html").read_bytes()
        files[f"{name}.html"] = (_page(found, head, body), "text/html")
    return {**files, "": files["index.html"]}


def page_files() -> Callable[[Request], Awaitable[Response]]:
    """Return the endpoint that answers with them, by the path parameter ``path``."""
    files = read_pages()

    async def answer(request: Request) -> Response:
        found = files.get(request.path_params["path"])
        if found is None:
            return PlainTextResponse("there is no such page", 404)
        return Response(found[0], media_type=found[1])

    return answer

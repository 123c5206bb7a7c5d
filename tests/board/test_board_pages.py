"""The board's own pages: whole, and with all that they load named at once."""

from __future__ import annotations

import re
from pathlib import Path

import vecrepeat.board
from vecrepeat.board.pages import read_pages

JS = Path(vecrepeat.board.__file__).parent / "static" / "js"


def test_pages_name_every_module_once() -> None:
    """Each script is some page's, and no page names one twice or one that is not there."""
    files = read_pages()
    named: set[str] = set()
    for name, (data, kind) in files.items():
        if kind != "text/html":
            continue
        text = data.decode()
        modules = re.findall(r'<link rel="modulepreload" href="([^"]+)"', text)
        scripts = re.findall(r'<script type="module"[^>]* src="([^"]+)"', text)
        sheets = re.findall(r'<link rel="stylesheet" href="([^"]+)"', text)
        assert len(set(modules)) == len(modules), name
        assert {*modules, *scripts, *sheets} <= files.keys(), name
        assert text.count("<title>") == text.count("<body>") == text.count("</html>") == 1, name
        named |= {*modules, *scripts}
    own = {path.relative_to(JS.parent).as_posix() for path in JS.rglob("*.js")}
    assert named == own | {"js/lattice.js"}

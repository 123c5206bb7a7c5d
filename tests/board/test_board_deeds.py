"""Deeds as command lines: each is one that the program understands, and stays in the folder."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import Any

import click
import pytest
from browsing import write_art

from vecrepeat.board.deeds import KINDS, as_text, said, said_beginning
from vecrepeat.board.folder import Folder
from vecrepeat.cli import cli
from vecrepeat.core.errors import InputError

VALUES = {
    **{"sheet": "54x36in", "paper": "a4", "soft": "flat", "cut": "yard", "bolt": "150cm"},
    **{"format": ["svg"], "intent": "perceptual", "compression": "lzw", "wall": "4x2.5m"},
    **{"opening": ["1x2m"], "roll": "53cmx10.05m", "match": "free", "max-bytes": "2MB"},
    **{"colourway": "dusk", "keep": "#c02020", "cloth": "#ffffff", "overprint": "ink 1"},
    **{"selvedge-text": "a “b” $c", "dpi": 150, "quality": 90, "colours": 4, "across": 3},
    **{"lines": 45, "laydown": 1.5, "shrink-across": 3, "shrink-along": 2.5, "seed": 7},
    **{"density": "airy", "direction": "four-way", "sway": 20, "heroes": 3, "count": 9},
    **{"secondaries": 3, "fillers": 4, "hero-coverage": 0.2, "secondary-coverage": 0.1},
    **{"filler-coverage": 0.1, "hero-scale": "0.9-1.1", "secondary-scale": "1", "scale": "1"},
    **{"seeds": 24, "columns": 3, "rows": 2, "stagger": "drop", "way": "across", "times": 2},
    **{"order": ["hero", "filler"], "along": "stem", "side": "left", "lean": -20, "spacing": 2},
    **{"suggest": 3, "contrast": 4},
    **{"only": "voids,alleys", "filler-scale": "0.8-1.2", "profile": "print.icc"},
}
OF_BLENDERS = {
    **{"spacing": "5mm", "order": "grid", "uneven": 0.3, "marks": "leaf,star", "widths": "5mm,3mm"},
    **{"colours": "#102040,none", "tile": "5x5in", "ground": "#f0e0c0", "kind": "dots"},
}
FLAGS = (
    *("block", "exact", "transparent", "no-black-point", "marks", "no-marks", "inline"),
    *("tile-only", "one-way", "again", "flip", "even", "alike", "follow"),
)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Folder:
    write_art(tmp_path)
    (tmp_path / "print.icc").write_bytes(b"")
    monkeypatch.chdir(tmp_path)
    return Folder(Path())


def parsed(line: str) -> dict[str, Any]:
    """What click makes of a command line; it refuses what the program would."""
    program, command, *rest = shlex.split(line)
    assert program == "vecrepeat"
    with click.Context(cli, **cli.context_settings) as above:
        found = cli.get_command(above, command)
        assert found is not None
        return dict(found.make_context(command, rest, parent=above).params)


@pytest.mark.parametrize("kind", KINDS)
def test_every_option_that_a_page_may_name_is_the_command_s_own(folder: Folder, kind: str) -> None:
    for name in KINDS[kind].options:
        value = True if name in FLAGS else VALUES.get(name, "12mm")
        if (kind, name) == ("stripe", "stagger"):
            value = True
        asked = {name: value}
        if kind == "blender":
            asked = {"kind": "dots", name: OF_BLENDERS.get(name, value)}
        (line,) = as_text(folder, said(folder, kind, "three.toml", asked)).splitlines()
        found = parsed(line)
        about = [found.get(word) for word in ("src", "recipe", "collection", "palette", "into")]
        assert Path("three.toml") in about or kind == "batch"
        assert f"--{name}" in line


def test_a_deed_reads_as_one_would_type_it(folder: Folder) -> None:
    asked = {"dpi": 150, "sheet": "54x36in", "ending": "tif", "name": "for the mill"}
    line = as_text(folder, said(folder, "export", "three.toml", asked))
    assert line == (
        "vecrepeat export three.toml -o 'three-files/for the mill.tif' --dpi 150 --sheet 54x36in"
    )
    asked = {"clearance": 3, "even": False, "hero-scale": [0.8, 1.2], "sway": 20, "again": True}
    toss = as_text(folder, said(folder, "toss", "three.toml", asked))
    assert toss == (
        "vecrepeat toss three.toml --clearance 3mm --sway 20 --no-even --hero-scale 0.8-1.2 --again"
    )
    roll = as_text(folder, said(folder, "roll", "three.toml", {"wall": "4x2.5m"}))
    assert roll == (
        "vecrepeat roll three.toml -o 'three-files/three-drop-{number}.png' --wall 4x2.5m"
    )
    assert as_text(folder, said(folder, "batch", "", {})) == "vecrepeat batch three.toml -o batch"


@pytest.mark.parametrize("what", ["motifs", "page", "tile"])
def test_a_beginning_is_commands_too(folder: Folder, what: str) -> None:
    name = folder.begin("Daisy")
    folder.take_in(name, folder.place_for(name, "-a.svg"), b"<svg/>")
    lines = as_text(folder, said_beginning(folder, name, what, {})).splitlines()
    assert [shlex.split(line)[1] for line in lines] == {
        "motifs": ["recipe", "toss"],
        "page": ["recipe"],
        "tile": ["recipe", "check"],
    }[what]
    for line in lines:
        parsed(line)


@pytest.mark.parametrize(
    ("kind", "design", "settings"),
    [
        pytest.param("export", "../three.toml", {}, id="a design outside"),
        pytest.param("export", "three.toml", {"profile": "/etc/x.icc"}, id="a profile outside"),
        pytest.param("proof", "three.toml", {"profile": "../x.toml"}, id="limits outside"),
        pytest.param("export", "three.toml", {"allow-dir": "/"}, id="an option of none's business"),
        pytest.param("export", "three.toml", {"dpi": "--no-cache"}, id="an option as a value"),
        pytest.param("export", "three.toml", {"dpi": {}}, id="a value that is none"),
        pytest.param("export", "three.toml", {"ending": "toml"}, id="another ending"),
        pytest.param("board", "three.toml", {}, id="another command"),
    ],
)
def test_what_leads_elsewhere_is_refused(
    folder: Folder, kind: str, design: str, settings: dict[str, Any]
) -> None:
    with pytest.raises(InputError):
        said(folder, kind, design, settings)


@pytest.mark.parametrize("name", ["../../up", "/tmp/up", ".hidden", "a/b", "{name}{number}", "-x"])
def test_a_file_s_name_stays_a_name(folder: Folder, name: str) -> None:
    (words,) = said(folder, "export", "three.toml", {"name": name})
    output = Path(words[words.index("-o") + 1])
    assert output.parent == Path("three-files")
    assert not {"{", "}"} & set(output.name)

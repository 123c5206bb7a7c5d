"""No command writes over a file that it read, nor over one of another kind than it writes."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import click
import pytest
from PIL import Image, ImageDraw
from support import svg, vecrepeat

from vecrepeat.cli import COMMANDS, cli

BODY = (
    '<rect width="100" height="100" fill="#f2ede0"/>'
    '<g id="disc"><circle cx="4" cy="30" r="12" fill="#c33"/></g>'
    '<g id="leaf"><path d="M60 60h20v12z" fill="#284"/></g>'
    '<image id="print" x="30" y="70" width="20" height="20" xlink:href="linked.png"/>'
)
RECIPE = """name = "design"
art = ["small.svg"]
loose = ["leaf.png"]
tile = "100x100mm"
motif = [
    {name = "disc", rank = "hero"},
    {name = "small/leaf", rank = "filler"},
]
[[colourway]]
name = "dusk"
colours = {"#cc3333" = "#224466"}
[[print]]
dpi = 20
"""
COLLECTION = """name = "all"
palette = {red = "#cc3333"}
[[print]]
name = "one"
role = "hero"
from = "flat.svg"
"""
FLAT = svg(BODY.partition("<image")[0])

WRITES = {
    # command: what is written without -o OUT, and OUT
    "compose": ["compose small.svg -o out/a.svg"],
    "export": [
        "export small.svg --dpi 20 -o out/{name}.png",
        "export r.toml --dpi 20 -o out/a.pdf",
    ],
    "motifs": ["motifs flat.svg --pictures out"],
    "recipe": [],
    "toss": ["toss r.toml --heroes 1 -o b.toml"],
    "trials": ["trials r.toml -n 1 --seeds 1 -o out"],
    "fill": ["fill r.toml --count 1 -o b.toml"],
    "set": ["set r.toml -o b.toml"],
    "stripe": ["stripe r.toml -o b.toml"],
    "trail": ["trail r.toml --along small/leaf -o b.toml"],
    "ditsy": ["ditsy r.toml --count 2 -o b.toml"],
    "blender": [],
    "board": [],
    "trace": ["trace flat.png -o out/a.svg", "trace flat.png -o out"],
    "check": ["check flat.svg --only alleys --picture out/a.svg"],
    "proof": ["proof flat.svg -o out/a.svg"],
    "palette": ["palette flat.svg -o out"],
    "colourways": ["colourways flat.svg --suggest 1 --dpi 20 -o out"],
    "reduce": ["reduce flat.svg --colours 2 -o out/a.svg"],
    "separate": ["separate flat.svg --format svg --format tiff --dpi 20 -o out"],
    "swatches": ["swatches flat.png --colours 2 -o out/a.css"],
    "collection": [],
    "cohesion": [],
    "linesheet": ["linesheet c.toml -o out/a.html"],
    "cloth": ["cloth small.svg --cut 10x10cm --dpi 20 -o out/a.png"],
    "roll": ["roll small.svg --wall 1x1m --roll 50cmx5m --dpi 5 -o out/{number}.png"],
    "screen": [],
    "spec": ["spec flat.svg -o out/a.svg"],
    "batch": ["batch r.toml -o out --processes 1"],
}
"""What each command writes; recipe, blender, collection and board begin what is not there yet."""


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "small.svg").write_text(svg(BODY))
    (tmp_path / "flat.svg").write_text(FLAT)
    (tmp_path / "r.toml").write_text(RECIPE)
    (tmp_path / "c.toml").write_text(COLLECTION)
    Image.new("RGB", (8, 8), "#ba8").save("linked.png")
    flat = Image.new("RGBA", (60, 40))
    ImageDraw.Draw(flat).ellipse((10, 5, 50, 35), fill="#2f7d4f")
    flat.save("leaf.png", dpi=(100, 100))
    flat.save("flat.png", dpi=(100, 100))
    return tmp_path


def contents(folder: Path) -> dict[Path, bytes]:
    return {p: p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_every_command_is_looked_at() -> None:
    assert WRITES.keys() == COMMANDS.keys()
    context = click.Context(cli)
    for name in COMMANDS:
        command = cli.get_command(context, name)
        assert command is not None
        if any("-o" in parameter.opts for parameter in command.params):
            assert WRITES[name] or name in ("recipe", "blender", "collection", "board")


@pytest.mark.parametrize("line", [line for lines in WRITES.values() for line in lines])
def test_nothing_that_stands_in_the_way_is_lost(here: Path, line: str) -> None:
    before = contents(here)
    run = vecrepeat(*line.split())
    assert run.code in (0, 1), run.err
    after = contents(here)
    written = sorted(path for path in after if path not in before)
    assert written
    assert all(after[path] == data for path, data in before.items())
    read = next(p for p in map(Path, line.split()[1:]) if p.exists())
    for path in written:
        own = path.read_bytes()
        for trap in ("read", "another kind", "pipe")[: 3 if path is written[-1] else 1]:
            path.unlink()
            if trap == "read":
                os.link(read, path)
            elif trap == "another kind":
                path.write_bytes(b"PK\x03\x04 somebody's archive")
            else:
                os.mkfifo(path)
            there = path.lstat()
            run = vecrepeat(*line.split())
            assert run.code == 2, f"{trap}: {path.name}: {run.out}"
            assert "Traceback" not in run.err
            assert path.name in run.err
            assert path.lstat().st_ino == there.st_ino
            assert path.lstat().st_size == there.st_size
            assert not list(here.rglob("*.part"))
            assert {p: data for p, data in contents(here).items() if p in before} == before
        path.unlink()
        path.write_bytes(own)
    if read == Path("small.svg"):
        again = vecrepeat(*line.split())
        assert again.code in (0, 1), f"what it wrote itself may be written again: {again.err}"


# A batch's files are its processes' to write, and those that are whole stay for the next run.
@pytest.mark.parametrize(
    "line", [lines[-1] for name, lines in WRITES.items() if lines and name != "batch"]
)
def test_a_full_disk_leaves_nothing(here: Path, line: str, monkeypatch: pytest.MonkeyPatch) -> None:
    before = contents(here)
    flush, left = os.fsync, [0]

    def full(file: int) -> None:
        left[0] -= 1
        if left[0] < 0:
            raise OSError(errno.ENOSPC, "No space left on device")
        flush(file)

    monkeypatch.setattr(os, "fsync", full)
    run = vecrepeat(*line.split())
    assert (run.code, contents(here)) == (2, before)
    assert "the disk is full" in run.err
    if line.split()[0] in ("proof", "trials", "palette", "motifs"):
        # What is one result in several files is there whole or not at all.
        left[0] = 1
        assert (vecrepeat(*line.split()).code, contents(here)) == (2, before)


SEEN = [
    *(f"{command} -o small.svg" for command in ("proof small.svg", "compose small.svg")),
    *(f"{name} r.toml -o small.svg" for name in ("compose", "proof", "spec", "toss", "set")),
    "export small.svg -o linked.png",
    "export r.toml -o leaf.png",
    "cloth r.toml -o leaf.png",
    "cloth small.svg -o linked.png",
    "toss r.toml -o notes.toml",
    "board small.svg -o small.svg",
    "recipe small.svg -o small.svg",
]


@pytest.mark.parametrize("line", SEEN)
def test_art_recipes_and_notes_stay_as_they_are(here: Path, line: str) -> None:
    (here / "notes.toml").write_text('[tool]\nname = "another program\'s"\n')
    before = contents(here)
    run = vecrepeat(*line.split())
    assert (run.code, contents(here)) == (2, before)
    assert run.err.startswith("vecrepeat: ")
    assert run.err.count("\n") == 1


def test_a_recipe_that_a_command_edits_is_the_exception(here: Path) -> None:
    assert vecrepeat("toss", "r.toml").code == 0
    tossed = (here / "r.toml").read_text()
    # Under its own name it is the same recipe, whose placements are asked after.
    run = vecrepeat("toss", "r.toml", "-o", "./r.toml")
    assert (run.code, (here / "r.toml").read_text()) == (2, tossed)
    assert "--again" in run.err
    (here / "link.toml").symlink_to("r.toml")
    assert vecrepeat("toss", "r.toml", "--again", "--seed", "7", "-o", "link.toml").code == 0
    assert (here / "link.toml").is_symlink()
    assert (here / "r.toml").read_text() != tossed


def test_two_files_of_one_run_never_become_one(here: Path) -> None:
    (here / "flat.svg").rename("line.svg")
    run = vecrepeat("colourways", "line.svg", "--dpi", "20", "--suggest", "1", "-o", "out")
    assert run.code == 0
    (here / "out" / "line-up.png").unlink()
    made = next((here / "out").glob("line-*.png"))
    made.unlink()
    os.link(here / "linked.png", here / "out" / "line-up.png")
    made.symlink_to("line-up.png")
    run = vecrepeat("colourways", "line.svg", "--dpi", "20", "--suggest", "1", "-o", "out")
    assert run.code == 2
    assert "two files would both be written" in run.err


NAMES = [
    # a recipe's name, the file for -o '{name}.png'
    ("../../x", "x.png"),
    ("a/b\\c: d?", "a-b-c- d.png"),
    (".hidden", "hidden.png"),
    ("..", "design.png"),
    ("Été & Meer", "Été & Meer.png"),
]


@pytest.mark.parametrize(("name", "file"), NAMES)
def test_a_name_becomes_a_plain_file_here(here: Path, name: str, file: str) -> None:
    (here / "in").mkdir()
    (here / "in" / "r.toml").write_text(f"name = '{name}'\nart = '../flat.svg'\n")
    before = set(contents(here))
    run = vecrepeat("export", "in/r.toml", "--dpi", "20", "-o", "{name}.png")
    assert run.code == 0, run.err
    assert {path.relative_to(here) for path in set(contents(here)) - before} == {Path(file)}


@pytest.mark.parametrize("code", ["\\u0000", "\\n", "\\u007f"])
def test_a_name_with_a_control_character_is_refused(here: Path, code: str) -> None:
    (here / "r.toml").write_text(RECIPE.replace('"design"', f'"a{code}b"'))
    run = vecrepeat("export", "r.toml", "-o", "{name}.png")
    assert run.code == 2
    assert run.err.count("\n") == 1
    assert "control characters" in run.err
    assert "line 1" in run.err


@pytest.mark.parametrize("key", ["art", "loose", "recipe", "profile", "prints", "linked", "limits"])
@pytest.mark.parametrize("what", ["pipe", "device", "folder"])
def test_what_is_no_plain_file_is_refused_at_once(here: Path, key: str, what: str) -> None:
    names = {"art": "small.svg", "loose": "leaf.png", "linked": "linked.png", "recipe": "r.toml"}
    path = here / names.get(key, "x.toml")
    path.unlink(missing_ok=True)
    if what == "pipe":
        os.mkfifo(path)
    elif what == "device":
        path.symlink_to("/dev/zero")
    else:
        path.mkdir()
    line = {
        "profile": "check r.toml --profile x.toml",
        "prints": "batch r.toml --prints x.toml -o out",
        "limits": "batch r.toml --limits x.toml -o out",
    }.get(key, "export r.toml --dpi 20 -o out.png")
    run = vecrepeat(*line.split())
    if key == "linked":
        # A picture that can't be had is left out of a drawing, and told.
        assert run.code == 0
        assert "the image “linked.png” is left out" in run.err
        return
    assert run.code == 2
    assert run.err.count("\n") == 1
    assert path.name in run.err

"""What the commands write: the table of motifs, the pattern file, the pictures."""

from __future__ import annotations

import importlib
import json
import os
import re
import struct
import subprocess
import sys
from pathlib import Path

import click
import numpy as np
import pytest
from lxml import etree
from PIL import Image
from support import SVG, ids_in, needs_cairo, references_in, svg, vecrepeat

from vecrepeat import cli

# 100 mm × 50 mm: a ground, a leaf inside, a bud over the right bound, a dot on a corner.
BODY = (
    '<rect width="100" height="50" fill="#FFEEDD"/>'
    '<defs><linearGradient id="g"><stop stop-color="#a00"/><stop offset="1" stop-color="#00a"/>'
    "</linearGradient></defs>"
    '<g id="leaf"><title>Leaf &amp; bud</title>'
    '<rect id="blade" x="30" y="10" width="20" height="10" fill="url(#g)"/></g>'
    '<circle id="bud" cx="98" cy="30" r="5" fill="#208020"/>'
    '<rect x="-2" y="-3" width="4" height="6" fill="#102030"/>'
)


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with the drawing in it, the current one."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "art.svg").write_text(svg(BODY, height="50mm", view_box="0 0 100 50"))
    return tmp_path


def called(*arguments: str | Path) -> str:
    """Standard output of a call that must succeed."""
    run = vecrepeat(*arguments)
    assert run.code == 0, run.err
    return run.out


def composed(*arguments: str) -> etree._Element:
    """The file of a compose call."""
    called("compose", "art.svg", "-o", "o.svg", *arguments)
    return etree.parse("o.svg").getroot()


def found(root: etree._Element, name: str) -> list[etree._Element]:
    return list(root.iter(f"{{{SVG}}}{name}"))


# --- motifs


def test_motifs_as_a_table(here: Path) -> None:
    lines = called("motifs", "art.svg").splitlines()
    assert lines[0] == "art.svg: page 100 mm × 50 mm, ground #ffeedd, 3 motifs"
    assert [line.split("  ")[0].strip() for line in lines[1:]] == [
        "motif",
        "Leaf & bud",
        "bud",
        "rect 3",
    ]
    assert lines[1].split("  ")[-1] == "crosses"
    assert " 20.0 × 10.0  " in lines[2]
    assert lines[2].endswith("–")
    assert " 10.0 × 10.0  " in lines[3]
    assert lines[3].endswith("  right")
    assert " 4.0 × 6.0  " in lines[4]
    assert lines[4].endswith("  left, top, top-left corner")


def test_motifs_as_json(here: Path) -> None:
    facts = json.loads(called("motifs", "art.svg", "--json"))
    assert facts["file"] == "art.svg"
    assert facts["page_mm"] == [100, 50]
    assert facts["ground"] == "#ffeedd"
    assert facts["notes"] == []
    assert [m["name"] for m in facts["motifs"]] == ["Leaf & bud", "bud", "rect 3"]
    assert [m["box_mm"] for m in facts["motifs"]] == [
        pytest.approx([30, 10, 20, 10], abs=1e-9),
        pytest.approx([93, 25, 10, 10], abs=1e-9),
        pytest.approx([-2, -3, 4, 6], abs=1e-9),
    ]
    # The curve's tolerance is 0.02 mm: a circle of 5 mm loses less than 1 % of its area.
    assert [m["area_mm2"] for m in facts["motifs"]] == [
        pytest.approx(200, rel=1e-9),
        pytest.approx(np.pi * 25, rel=0.01),
        pytest.approx(24, rel=1e-9),
    ]
    assert [m["crosses"] for m in facts["motifs"]] == [
        [],
        ["right"],
        ["left", "top", "top-left corner"],
    ]


def test_motifs_by_selector(here: Path) -> None:
    facts = json.loads(called("motifs", "art.svg", "--json", "--motifs", "#bud, #blade"))
    assert [m["name"] for m in facts["motifs"]] == ["blade", "bud"]
    assert facts["ground"] is not None, "the ground is no motif: it stays"


def test_motifs_says_where_there_is_no_ground(here: Path) -> None:
    (here / "bare.svg").write_text(svg('<circle cx="50" cy="50" r="9"/>'))
    assert ", ground none, 1 motif" in called("motifs", "bare.svg")
    assert json.loads(called("motifs", "bare.svg", "--json"))["ground"] is None


def test_notes_go_to_standard_error(here: Path) -> None:
    (here / "odd.svg").write_text(svg('<circle r="9"/><script>1</script>'))
    run = vecrepeat("motifs", "odd.svg")
    assert run.err == "note: scripts are dropped\n"
    assert "scripts" not in run.out
    as_json = vecrepeat("motifs", "odd.svg", "--json")
    assert json.loads(as_json.out)["notes"] == ["scripts are dropped"]
    assert as_json.err == ""


# --- compose

BLOCKS = [
    # (layout, the straight block in mm) of a tile of 100 mm × 50 mm
    ("block", 100, 50),
    ("half-drop", 200, 50),
    ("drop:1/3", 300, 50),
    ("drop:2/5", 500, 50),
    ("brick", 100, 100),
    ("brick:1/4", 100, 200),
]


@pytest.mark.parametrize(("layout", "width", "height"), BLOCKS, ids=[b[0] for b in BLOCKS])
@pytest.mark.parametrize("inline", [[], ["--inline"]], ids=["use", "inline"])
def test_the_pattern_is_the_straight_block(
    here: Path, layout: str, width: int, height: int, inline: list[str]
) -> None:
    root = composed("--layout", layout, *inline)
    (pattern,) = found(root, "pattern")
    # SVG 2 §14.3.1: userSpaceOnUse sizes are user units, here the millimetre.
    assert pattern.get("patternUnits") == "userSpaceOnUse"
    assert (pattern.get("width"), pattern.get("height")) == (str(width), str(height))
    assert (root.get("width"), root.get("height")) == (f"{width}mm", f"{height}mm")
    assert root.get("viewBox") == f"0 0 {width} {height}"
    fill = found(root, "rect")[-1]
    assert (fill.get("width"), fill.get("height")) == (str(width), str(height))
    assert fill.get("fill") == f"url(#{pattern.get('id')})"
    uses = found(root, "use")
    assert not uses if inline else uses


@pytest.mark.parametrize(
    "options",
    [[], ["--inline"], ["--tile-only"], ["--layout", "half-drop", "--inline"], ["--sheet", "1x1m"]],
    ids=" ".join,
)
def test_ids_are_unique_and_all_references_lead_somewhere(here: Path, options: list[str]) -> None:
    composed(*options)
    text = (here / "o.svg").read_text()
    ids = ids_in(text)
    assert len(ids) == len(set(ids))
    assert references_in(text) <= set(ids)
    assert references_in(text)


def test_the_ground_is_a_rectangle_of_its_own_under_the_pattern(here: Path) -> None:
    root = composed("--layout", "half-drop")
    ground, fill = [e for e in root if e.tag == f"{{{SVG}}}rect"]
    assert (ground.get("width"), ground.get("height")) == ("200", "50")
    assert ground.get("fill") == "#ffeedd"
    assert str(fill.get("fill")).startswith("url(")


def test_every_copy_is_placed_once(here: Path) -> None:
    """The leaf once, the bud on both sides, the dot on four corners."""
    root = composed("--json")
    assert len(found(root, "use")) == 1 + 2 + 4
    assert json.loads(called("compose", "art.svg", "-o", "o.svg", "--json"))["copies"] == 7


def test_tile_only_is_one_plain_tile(here: Path) -> None:
    root = composed("--tile-only", "--layout", "half-drop")
    assert found(root, "pattern") == []
    assert found(root, "use") == []
    assert found(root, "symbol") == []
    assert (root.get("width"), root.get("height")) == ("100mm", "50mm")


def test_a_sheet_has_its_own_size_and_the_blocks_pattern(here: Path) -> None:
    root = composed("--sheet", "54x36in", "--layout", "brick")
    # CSS Values and Units 4 §6.2: 1in = 25.4mm.
    assert (root.get("width"), root.get("height")) == ("1371.6mm", "914.4mm")
    assert root.get("viewBox") == "0 0 1371.6 914.4"
    (pattern,) = found(root, "pattern")
    assert (pattern.get("width"), pattern.get("height")) == ("100", "100")


@pytest.mark.parametrize(
    ("options", "width", "height"),
    [
        (["--repeat-width", "50mm"], "50mm", "25mm"),
        (["--repeat-height", "100mm"], "200mm", "100mm"),
        (["--repeat-width", "20cm", "--layout", "half-drop"], "400mm", "100mm"),
        (["--repeat-width", "20cm", "--tile-only"], "200mm", "100mm"),
        (["--repeat-width", "20cm", "--sheet", "1x2m"], "1000mm", "2000mm"),
        (["--repeat-width", "1/2yd", "--repeat-height", "1/4yd"], "457.2mm", "228.6mm"),
    ],
    ids=lambda v: " ".join(v) if isinstance(v, list) else v,
)
def test_a_print_size_scales_the_repeat(
    here: Path, options: list[str], width: str, height: str
) -> None:
    root = composed(*options)
    assert (root.get("width"), root.get("height")) == (width, height)


def test_compose_tells_what_it_wrote(here: Path) -> None:
    line = called("compose", "art.svg", "-o", "o.svg", "--layout", "half-drop")
    assert line.startswith("o.svg: half-drop repeat of 3 motifs")
    assert line.endswith("tile 100 mm × 50 mm\n")
    facts = json.loads(called("compose", "art.svg", "-o", "o.svg", "--json"))
    assert facts["file"] == "o.svg"
    assert (facts["layout"], facts["motifs"]) == ("block", 3)
    assert facts["tile_mm"] == [100, 50]


@pytest.mark.parametrize("command", ["compose", "export"])
def test_the_same_call_writes_the_same_bytes(here: Path, command: str) -> None:
    end = ".svg" if command == "compose" else ".png"
    for name in ("one", "two"):
        called(command, "art.svg", "-o", name + end, "--layout", "brick:1/3")
    assert (here / f"one{end}").read_bytes() == (here / f"two{end}").read_bytes()


# --- export

PICTURES = [
    # (what it shows, options, width in px, height in px); the tile is 100 mm × 50 mm
    ("the tile at 254 dpi", ["--dpi", "254"], 1000, 500),
    # 100 mm · 300 / 25.4 mm = 1181.10 px.
    ("300 dpi is the default", [], 1181, 591),
    ("a block of two columns", ["--dpi", "127", "--block", "--layout", "half-drop"], 1000, 250),
    ("a block of three rows", ["--dpi", "127", "--block", "--layout", "brick:1/3"], 500, 750),
    ("without --block one tile", ["--dpi", "127", "--layout", "half-drop"], 500, 250),
    ("a sheet", ["--dpi", "30", "--sheet", "10x20in"], 300, 600),
    ("a sheet smaller than the tile", ["--dpi", "254", "--sheet", "10x20mm"], 100, 200),
    ("a print width", ["--dpi", "100", "--repeat-width", "2in"], 200, 100),
    ("a print height", ["--dpi", "100", "--repeat-height", "2in"], 400, 200),
    (
        "both stretch",
        ["--dpi", "100", "--repeat-width", "1in", "--repeat-height", "2in"],
        100,
        200,
    ),
    ("whole pixels are exact", ["--dpi", "254", "--exact"], 1000, 500),
    ("a dpi with decimals", ["--dpi", "25.4"], 100, 50),
]


@pytest.mark.parametrize(
    ("options", "width", "height"), [p[1:] for p in PICTURES], ids=[p[0] for p in PICTURES]
)
def test_sizes_of_pictures(here: Path, options: list[str], width: int, height: int) -> None:
    called("export", "art.svg", "-o", "o.png", *options)
    with Image.open("o.png") as image:
        assert image.size == (width, height)
        assert image.mode == "RGB"


@pytest.mark.parametrize(
    ("dpi", "per_metre"),
    [
        # PNG Third Edition §11.3.4.3, pHYs: whole pixels per metre; dpi / 0.0254, rounded.
        ("300", 11811),
        ("150", 5906),
        ("254", 10000),
        ("72", 2835),
        ("25.4", 1000),
    ],
)
def test_pictures_state_their_resolution(here: Path, dpi: str, per_metre: int) -> None:
    called("export", "art.svg", "-o", "o.png", "--dpi", dpi, "--sheet", "20x20mm")
    data = (here / "o.png").read_bytes()
    at = data.index(b"pHYs")
    assert struct.unpack_from(">IIB", data, at + 4) == (per_metre, per_metre, 1)


def test_several_sizes_in_one_go_are_those_of_single_calls(here: Path) -> None:
    go = ["export", "art.svg", "--layout", "half-drop", "--block"]
    called(
        *go, "-o", "all/{name}-{layout}-{width}-{dpi}.png", "--dpi", "40", "--dpi", "61",
        "--repeat-width", "4in", "--repeat-width", "1/4yd",
    )  # fmt: skip
    names = {
        f"art-half-drop-{shown}-{dpi}.png": (width, dpi)
        for shown, width in (("4in", "4in"), ("1-4yd", "1/4yd"))
        for dpi in ("40", "61")
    }
    assert set(os.listdir("all")) == set(names)
    for name, (width, dpi) in names.items():
        called(*go, "-o", "one.png", "--dpi", dpi, "--repeat-width", width)
        assert (here / "all" / name).read_bytes() == (here / "one.png").read_bytes()


def test_a_name_is_made_of_sizes_where_none_are_given(here: Path) -> None:
    called("export", "art.svg", "-o", "{name} {width} {height} {layout}.png", "--dpi", "30")
    assert (here / "art 100mm 50mm block.png").exists()


def test_export_tells_what_it_wrote(here: Path) -> None:
    run = vecrepeat("export", "art.svg", "-o", "o.png")
    assert run.out.startswith("o.png: 1,181 × 591 px at 300 dpi")
    # 591 px at 300 dpi are 50.038 mm; 1181 px are 99.9913 mm.
    assert "snapped to 1181 × 591 px" in run.err
    assert "-0.0087 mm" in run.err
    assert "+0.0380 mm" in run.err
    facts = json.loads(called("export", "art.svg", "-o", "o.png", "--json"))
    (file,) = facts["files"]
    assert (file["width_px"], file["height_px"], file["dpi"]) == (1181, 591, 300)
    assert file["bytes"] == (here / "o.png").stat().st_size
    assert file["deviation_mm"] == pytest.approx([-0.00867, 0.038], abs=1e-5)
    assert file["deviation_ppm"] == pytest.approx([-86.7, 760], abs=0.1)


@pytest.mark.parametrize(
    ("height", "told"),
    # The page is twice as wide as high: at 2 in wide 1 in high is true.
    [("1in", ""), ("1.0004in", ""), ("1.0006in", "-0.06 %"), ("0.5in", "+100.00 %")],
)
def test_a_stretch_of_half_a_thousandth_is_told(here: Path, height: str, told: str) -> None:
    size = ("--dpi", "10", "--repeat-width", "2in", "--repeat-height", height)
    said = vecrepeat("export", "art.svg", "-o", "o.png", *size).err
    assert told in said
    assert ("stretch the drawing" in said) == bool(told)


@needs_cairo
def test_a_whole_size_is_exported_without_a_word(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # On a slow machine it may take longer than the bar waits.
    monkeypatch.setattr("vecrepeat.cli.progress.PATIENCE", 1e9)
    assert vecrepeat("export", "art.svg", "-o", "o.png", "--dpi", "254").err == ""


def pixels(path: Path) -> np.ndarray[tuple[int, ...], np.dtype[np.uint8]]:
    with Image.open(path) as image:
        return np.array(image)


def test_a_transparent_picture_is_clear_where_nothing_is_drawn(here: Path) -> None:
    called("export", "art.svg", "-o", "o.png", "--dpi", "25.4", "--transparent")
    rgba = pixels(here / "o.png")
    assert rgba.shape == (50, 100, 4)
    inside = np.zeros((50, 100), bool)
    inside[10:20, 30:50] = True
    inside[25:35, 93:] = inside[25:35, :3] = True
    inside[:3, :2] = inside[:3, -2:] = inside[-3:, :2] = inside[-3:, -2:] = True
    assert (rgba[~inside] == 0).all()
    assert (rgba[10:20, 30:50, 3] == 255).all()
    assert (rgba[26:34, 99, :] == (0x20, 0x80, 0x20, 255)).all()


def test_bare_cloth_is_white_and_the_ground_its_colour(here: Path) -> None:
    called("export", "art.svg", "-o", "o.png", "--dpi", "25.4")
    assert pixels(here / "o.png")[40, 50].tolist() == [0xFF, 0xEE, 0xDD]
    (here / "bare.svg").write_text(svg('<circle cx="50" cy="50" r="9"/>'))
    called("export", "bare.svg", "-o", "bare.png", "--dpi", "25.4")
    assert pixels(here / "bare.png")[5, 5].tolist() == [255, 255, 255]


def test_motifs_wrap_round_the_tile(here: Path) -> None:
    """A tile rolled by half its sides brings what crosses its bounds to the middle, whole.

    Common practice, no source.
    """
    called("export", "art.svg", "-o", "o.png", "--dpi", "254")
    rolled = np.roll(pixels(here / "o.png"), (250, 500), axis=(0, 1))
    # The dot of 4 mm × 6 mm, at 10 px a mm.
    dot = (rolled == (0x10, 0x20, 0x30)).all(axis=2)
    y, x = np.nonzero(dot)
    assert (x.min(), x.max() + 1, y.min(), y.max() + 1) == (480, 520, 220, 280)
    assert dot.sum() == 40 * 60


@pytest.mark.parametrize("layout", ["block", "half-drop", "brick:1/5", "drop:1/3"])
def test_a_sheet_is_its_straight_block_laid_out(here: Path, layout: str) -> None:
    size = ["--dpi", "25.4", "--layout", layout, "-o"]
    called("export", "art.svg", *size, "block.png", "--block")
    called("export", "art.svg", *size, "sheet.png", "--sheet", "331x173mm")
    block, sheet = pixels(here / "block.png"), pixels(here / "sheet.png")
    rows, columns = np.arange(173) % len(block), np.arange(331) % block.shape[1]
    assert (sheet == block[rows][:, columns]).all()


# --- the program

MODULES = [file.stem for file in Path(cli.__file__).parent.glob("[a-z]*.py")]
COMMANDS = sorted(
    name
    for module in MODULES
    for name, value in vars(importlib.import_module(f"vecrepeat.cli.{module}")).items()
    if isinstance(value, click.Command) and not isinstance(value, click.Group)
)
"""Every command that there is, whether the program knows of it or not."""


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_explains_itself(command: str) -> None:
    text = called(command, "--help")
    assert re.match(rf"Usage: .*vecrepeat {command} \[OPTIONS\]", text)
    assert called(command, "-h") == text


def test_help_lists_every_command() -> None:
    assert len(COMMANDS) == 29
    listed = re.findall(r"^  ([a-z]+)  +\S", called("--help"), re.MULTILINE)
    assert sorted(listed) == COMMANDS


def test_the_version_is_told() -> None:
    assert "0." in called("--version")


HEAVY = ["cairosvg", "cairocffi", "shapely", "svgelements", "lxml", "numpy", "cssselect2"]
"""What takes its time to import and is needed by no help text."""


@pytest.mark.parametrize(
    "code",
    [
        "import vecrepeat.cli",
        "import vecrepeat.cli.page, vecrepeat.cli.colour, vecrepeat.cli.goods",
        "import vecrepeat.cli; run(vecrepeat.cli.main, 'export', '--help')",
        "import vecrepeat.cli; run(vecrepeat.cli.main, 'export', 'a.svg', '--dpi', 'x')",
    ],
    ids=["start-up", "command modules", "help", "a bad option"],
)
def test_start_up_imports_nothing_heavy(code: str) -> None:
    program = f"""
import sys
def run(main, *arguments):
    sys.argv[1:] = arguments
    try:
        main()
    except SystemExit:
        pass
{code}
print([m for m in {HEAVY} if m in sys.modules], file=sys.stderr)
"""
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert done.stderr.splitlines()[-1] == "[]"


def test_motifs_pictures_are_a_thumbnail_each_and_a_contact_sheet(here: Path) -> None:
    """Each thumbnail holds its motif whole: ink, and a clear rim all round."""
    out = called("motifs", "art.svg", "--pictures", "pictures")
    files = sorted((here / "pictures").glob("0*.png"))
    motifs = json.loads(called("motifs", "art.svg", "--json"))["motifs"]
    assert len(files) == len(motifs)
    assert "contact-sheet.png" in out
    for file in files:
        with Image.open(file) as picture:
            alpha = np.asarray(picture)[..., 3]
        rim = np.concatenate([alpha[0], alpha[-1], alpha[:, 0], alpha[:, -1]])
        assert alpha.max() > 0
        assert rim.max() == 0
    with Image.open(here / "pictures" / "contact-sheet.png") as sheet:
        assert sheet.mode == "RGB"


def test_motifs_says_what_each_is_painted_with_and_uses(tmp_path: Path) -> None:
    body = (
        '<filter id="f"><feGaussianBlur stdDeviation="1"/></filter>'
        '<linearGradient id="g"><stop stop-color="#c00"/><stop offset="1" stop-color="#00c"/>'
        '</linearGradient><circle id="a" cx="20" cy="20" r="9" fill="url(#g)" stroke="#0a0"/>'
        '<rect id="b" x="50" y="50" width="9" height="9" filter="url(#f)"/>'
    )
    (tmp_path / "art.svg").write_text(svg(body))
    facts = json.loads(called("motifs", tmp_path / "art.svg", "--json"))["motifs"]
    assert [m["colours"] for m in facts] == [["#cc0000", "#0000cc", "#00aa00"], ["#000000"]]
    assert [m["features"] for m in facts] == [["gradient"], ["filter"]]

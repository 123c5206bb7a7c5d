"""Palettes in open formats and from pictures, brought in and written."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import tinycss2
from lxml import etree
from PIL import Image, ImagePalette
from support import SVG, vecrepeat

from vecrepeat.colour.swatches import css, gimp, parse_palette, plain, swatches_svg
from vecrepeat.core.errors import InputError
from vecrepeat.sources.palettes import picture_palette, read_palette, write_palette

COLOURS = {"Night sky": "#141e3c", "poppy": "#c0392b", "night sky!": "#f2e8d5"}

GPL = """GIMP Palette
Name: Meadow
Columns: 2
# ours
192  57  43\tpoppy red
 20  30  60
  0 128   0\tUntitled
"""
CSS = """/* --not: #ffffff; */
:root { --ink: #141E3C; --gap: 4px; --poppy: rgb(192 57 43); --leaf:green }"""
LIST = "// ours\nink #141e3c\n#C0392B, poppy\n0f8\n".replace("0f8", "#0f8")


@pytest.mark.parametrize(
    ("name", "text", "palette"),
    [
        ("a.gpl", GPL, {"poppy red": "#c0392b", "midnightblue": "#141e3c", "green": "#008000"}),
        ("a.css", CSS, {"ink": "#141e3c", "poppy": "#c0392b", "leaf": "#008000"}),
        ("a.txt", LIST, {"ink": "#141e3c", "poppy": "#c0392b", "springgreen": "#00ff88"}),
        ("a.hex", "141e3c\nc0392b\n", {"midnightblue": "#141e3c", "firebrick": "#c0392b"}),
    ],
)
def test_open_formats_are_read(name: str, text: str, palette: dict[str, str]) -> None:
    # Names are given, or those of CSS keywords (CSS Color 4 §6.1).
    found = parse_palette(text, Path(name))
    assert list(found.values()) == list(palette.values())
    assert {c: n for n, c in found.items()}.items() >= {
        c: n for n, c in palette.items() if n in text
    }.items()


@pytest.mark.parametrize(
    ("name", "text", "told"),
    [
        ("a.gpl", "192 57 43 poppy", "does not begin with “GIMP Palette”"),
        ("a.gpl", "GIMP Palette\n300 1 2 x", "line 2: “300 1 2 x” is no colour"),
        ("a.css", ":root { --gap: 4px }", "it holds no colours"),
        ("a.txt", "#141e3c\nnight", "line 2: “night” is no colour"),
        ("a.aco", "", "no kind of palette that is read"),
    ],
)
def test_what_is_no_palette(name: str, text: str, told: str) -> None:
    with pytest.raises(InputError, match=told):
        parse_palette(text, Path(name))


def test_what_is_written_is_read_by_others_and_again(tmp_path: Path) -> None:
    (rule,) = tinycss2.parse_stylesheet(css(COLOURS), skip_whitespace=True)
    declared = tinycss2.parse_declaration_list(rule.content, skip_whitespace=True)
    values = {d.name: tinycss2.serialize(d.value).strip() for d in declared}
    assert values == {"--night-sky": "#141e3c", "--poppy": "#c0392b", "--night-sky-2": "#f2e8d5"}
    assert parse_palette(plain(COLOURS), Path("a.txt")) == COLOURS
    # Pillow reads GIMP palettes too.
    (tmp_path / "a.gpl").write_text(gimp(COLOURS, "x"))
    raw, _ = ImagePalette.load(str(tmp_path / "a.gpl"))
    assert raw[:9] == bytes.fromhex("".join(c[1:] for c in COLOURS.values()))
    chips = etree.fromstring(swatches_svg(COLOURS).encode()).iter(f"{{{SVG}}}rect")
    assert [chip.get("fill") for chip in chips][1:] == list(COLOURS.values())


def test_main_colours_of_a_picture(tmp_path: Path) -> None:
    # A painted page: three areas with grain, one of them a twentieth, and a transparent rim.
    rng = np.random.default_rng(3)
    page = np.zeros((200, 200, 4))
    page[..., :3] = (242, 232, 213)
    page[40:160, 40:160, :3] = (192, 57, 43)
    page[90:130, 90:140, :3] = (20, 30, 60)
    page[..., :3] += rng.normal(0, 4, (200, 200, 1))
    page[..., 3] = 255
    page[:, :20] = 0
    Image.fromarray(page.clip(0, 255).astype(np.uint8)).save(tmp_path / "page.png")
    found = list(picture_palette(tmp_path / "page.png", 3).values())
    for colour, meant in zip(found, ((242, 232, 213), (192, 57, 43), (20, 30, 60)), strict=True):
        rgb = [int(colour[k : k + 2], 16) for k in (1, 3, 5)]
        assert rgb == pytest.approx(meant, abs=5)
    with pytest.raises(InputError, match="only a picture"):
        read_palette(tmp_path / "a.txt", 4)


def test_into_a_recipe_whose_text_stays(tmp_path: Path) -> None:
    file = tmp_path / "c.toml"
    file.write_text('# ours\nname = "x"\n[palette]\npoppy = "#ff0000" # loud\nleaf = "#00ff00"\n')
    write_palette({"poppy": "#c0392b", "ink": "#141e3c"}, file, "x")
    text = file.read_text()
    assert text.startswith('# ours\nname = "x"\n[palette]\npoppy = "#c0392b" # loud\nleaf')
    assert 'ink = "#141e3c"' in text
    (tmp_path / "in.css").write_text(CSS)
    done = vecrepeat("swatches", tmp_path / "in.css", "-o", tmp_path / "out.svg")
    assert "#141e3c  ink" in done.out
    assert vecrepeat("swatches", tmp_path / "in.css", "-o", tmp_path / "out.png").code == 2

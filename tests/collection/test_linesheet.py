"""The line sheet: one true scale, the palette's values, every colourway; and the buyer's page."""

from __future__ import annotations

import base64
import io
import json
import re
from pathlib import Path

import numpy as np
import pikepdf
import pytest
from coloraide import Color
from lxml import etree
from numpy.typing import NDArray
from PIL import Image
from support import SVG, needs_a_font, vecrepeat

from vecrepeat.collection.line import open_line
from vecrepeat.collection.linesheet import DPI, sheet_svg
from vecrepeat.collection.story import story_svg
from vecrepeat.core.errors import InputError
from vecrepeat.recipe.model import AS_DRAWN

XLINK = "{http://www.w3.org/1999/xlink}href"


def pictures(text: str) -> list[NDArray[np.uint8]]:
    """The pictures in a page of SVG, in their order."""
    links = [image.get(XLINK) for image in etree.fromstring(text.encode()).iter(f"{{{SVG}}}image")]
    data = (base64.b64decode(link.partition(",")[2]) for link in links if link)
    return [np.asarray(Image.open(io.BytesIO(one)).convert("RGB")) for one in data]


def period(row: NDArray[np.uint8]) -> float:
    """Mean pixels between places where a row begins to be dark."""
    dark = row.astype(int).sum(axis=1) < 450
    starts = np.flatnonzero(dark[1:] & ~dark[:-1])
    return float(np.diff(starts).mean())


def test_prints_are_shown_at_the_scale_that_is_told(meadow: Path) -> None:
    text = sheet_svg(open_line(meadow), AS_DRAWN)
    told = re.search(r"2 prints, all at one scale: 1 to ([\d.]+)", text)
    assert told is not None
    pixels = DPI / 25.4 / float(told.group(1))
    bands, dots = pictures(text)
    # 50 mm of each colour; dots 10 mm apart, as half of what is drawn.
    assert period(bands[40]) == pytest.approx(100 * pixels, abs=0.5)
    middle = dots[round(5 * pixels)]
    assert period(middle) == pytest.approx(10 * pixels, abs=0.5)


def test_palette_tells_srgb_lab_and_the_printers_names(meadow: Path) -> None:
    text = sheet_svg(open_line(meadow), "Dusk")
    for colour in ("#403020", "#f0e0c0", "#20a0a0"):
        light, a, b = Color(colour).convert("lab").coords()  # CSS Color 4: Lab under D50
        found = re.search(rf"{colour}.*?Lab ([\d.]+) ([+-][\d.]+) ([+-][\d.]+)<", text, re.S)
        assert found is not None
        assert [float(v) for v in found.groups()] == pytest.approx([light, a, b], abs=0.06)
    assert ">R 7<" in text
    assert ">Meadow &amp; co<" in text
    assert "#c04030" not in text


def test_story_shows_prints_of_any_role(meadow: Path) -> None:
    text = story_svg(open_line(meadow), "Dusk")
    shown = pictures(text)
    colours = {tuple(pixel) for one in shown for pixel in one[::7, ::7].reshape(-1, 3).tolist()}
    assert {(0x40, 0x30, 0x20), (0x20, 0xA0, 0xA0)} <= colours
    assert (0x10, 0x20, 0x40) not in colours
    meadow.write_text(meadow.read_text().partition('[[print]]\nname = "Dots"')[0])
    assert len(pictures(story_svg(open_line(meadow), AS_DRAWN))) > 5


@needs_a_font
def test_pages_of_a_pdf_and_files_of_pictures(meadow: Path, tmp_path: Path) -> None:
    done = vecrepeat("linesheet", meadow, "-o", tmp_path / "line.pdf", "--paper", "a4", "--json")
    assert json.loads(done.out)["colourways"] == [AS_DRAWN, "Dusk"]
    with pikepdf.open(tmp_path / "line.pdf") as pdf:
        sides = [[float(v) for v in page.mediabox[2:]] for page in pdf.pages]
    # A4 is 210 × 297 mm (ISO 216); 72 pt to the inch.
    assert sides == [pytest.approx([297 / 25.4 * 72, 210 / 25.4 * 72], abs=0.1)] * 3
    vecrepeat("linesheet", meadow, "-o", tmp_path / "line.svg", "--colourway", "Dusk")
    assert sorted(p.name for p in tmp_path.glob("line*.svg")) == ["line-dusk.svg", "line-story.svg"]


def test_buyers_page_holds_all_and_asks_for_nothing(meadow: Path, tmp_path: Path) -> None:
    vecrepeat("linesheet", meadow, "-o", tmp_path / "line.html")
    text = (tmp_path / "line.html").read_text()
    assert not re.search(r"https?:|src=|@import|fetch\(", text)
    packed = re.search(r'<script type="application/json" id="data">(.*?)</script>', text, re.S)
    assert packed is not None
    data = json.loads(packed.group(1))
    assert [way["name"] for way in data["ways"]] == [AS_DRAWN, "Dusk"]
    assert data["prints"][1]["block"] == [10, 10]
    picture = Image.open(io.BytesIO(base64.b64decode(data["ways"][1]["cloths"][1].split(",")[1])))
    # 10 mm at 75 dpi; the dot in the middle is teal at dusk.
    assert picture.size == (30, 30)
    red, green, blue = picture.convert("RGB").getpixel((15, 15))  # type: ignore[misc]
    assert red < 60 < 140 < min(green, blue)


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["meadow.toml", "-o", "line.gif"], "a line sheet is PDF, PNG, SVG or HTML"),
        (
            ["meadow.toml", "-o", "l.pdf", "--colourway", "noon"],
            "no colourway “noon” (it has Dusk)",
        ),
        (["hero.svg", "-o", "l.pdf"], "it is no collection"),
        (["none.toml", "-o", "l.pdf"], "none.toml"),
    ],
)
def test_one_line_for_what_can_not_be_shown(
    meadow: Path, monkeypatch: pytest.MonkeyPatch, arguments: list[str], told: str
) -> None:
    monkeypatch.chdir(meadow.parent)
    done = vecrepeat("linesheet", *arguments)
    assert (done.code, done.err.count("\n")) == (2, 1)
    assert told in done.err
    with pytest.raises(InputError, match="no colourway"):
        open_line(meadow).repeats("noon")

"""Proof sheets: true to scale, whole, and readable by other programs."""

from __future__ import annotations

import io
import json
import re
from pathlib import Path

import numpy as np
import pikepdf
import pypdfium2
import pytest
from lxml import etree
from support import ids_in, references_in, svg, vecrepeat

from vecrepeat.proof.drawing import SheetBox, wrapped
from vecrepeat.proof.papers import PAPERS
from vecrepeat.proof.proving import match_of
from vecrepeat.proof.scenes import SCENES, UseScene
from vecrepeat.sources.source import open_source
from vecrepeat.util.fonts import installed_fonts

BODY = """<rect width="100" height="100" fill="#f2e8d5"/>
<g id="bloom"><circle cx="30" cy="30" r="9" fill="#c33"/></g>
<g id="leaf"><path d="M60 60c8-2 14 4 12 12-8 1-12-4-12-12z" fill="#284"/></g>
<g id="bud"><circle cx="99" cy="50" r="5" fill="#245"/></g>"""
PT = 72 / 25.4


@pytest.fixture(scope="module")
def proofs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with one design proved in every way."""
    if not installed_fonts():
        pytest.skip("no font is installed")
    folder = tmp_path_factory.mktemp("proofs")
    (folder / "art.svg").write_text(svg(BODY))
    for ending in ("pdf", "svg", "html", "png"):
        run = vecrepeat("proof", folder / "art.svg", "-o", folder / f"p.{ending}", "--paper", "a4")
        assert run.code == 0, run.err
    return folder


def page(proofs: Path, number: int, px_per_mm: int) -> np.ndarray:
    """A page of the PDF as pdfium draws it, grey, so many pixels to a mm."""
    document = pypdfium2.PdfDocument(proofs / "p.pdf")
    drawn = document[number].render(scale=px_per_mm / PT).to_pil().convert("L")
    return np.asarray(drawn)


def test_pages_have_the_paper_s_size(proofs: Path) -> None:
    with pikepdf.open(proofs / "p.pdf") as pdf:
        assert len(pdf.pages) == 2
        for sheet in pdf.pages:
            x0, y0, x1, y1 = (float(v) for v in sheet.mediabox)
            assert (x1 - x0, y1 - y0) == pytest.approx((297 * PT, 210 * PT), abs=0.01)


def test_the_ruler_is_true_to_a_tenth_of_a_millimetre(proofs: Path) -> None:
    # The lower ruler's long ticks, as another program draws them at 20 px a mm.
    grey = page(proofs, 0, 20)
    root = etree.parse(proofs / "p.svg").getroot()
    width, height = (float(v) for v in root.get("viewBox", "").split()[2:])
    assert grey.shape == pytest.approx((height * 20, width * 20), abs=1)
    # Long ticks are 4 mm, others 2.6 mm at most: 3.3 mm below the cloth only long ones are left.
    bottom = 210 - 10 - 12 - 9  # margin, foot and ruler of the sheet
    row = grey[round((bottom + 3.3) * 20)]
    dark = np.flatnonzero(row < 200)
    starts = dark[np.flatnonzero(np.diff(dark, prepend=-9) > 1)]
    ends = dark[np.flatnonzero(np.diff(dark, append=dark[-1] + 9) > 1)]
    ticks = (starts + ends + 1) / 2 / 20
    assert len(ticks) > 10
    gaps = ticks - ticks[0]
    assert gaps == pytest.approx(np.arange(len(ticks)) * 10.0, abs=0.1)


def test_the_cloth_is_at_true_scale_from_the_tile_s_corner(proofs: Path) -> None:
    # The bloom is 18 mm wide about (30, 30) mm of the tile, whose corner is the cloth's.
    document = pypdfium2.PdfDocument(proofs / "p.pdf")
    drawn = np.asarray(document[0].render(scale=10 / PT).to_pil().convert("RGB")).astype(int)
    red = (np.abs(drawn - (0xCC, 0x33, 0x33)).max(axis=2) < 12)[:, :1500]
    left, top = 10 + 9, 10 + 9 + 12  # margins and rulers of the sheet
    here = red[round((top + 15) * 10) : round((top + 45) * 10), (left + 15) * 10 : (left + 45) * 10]
    rows, columns = np.flatnonzero(here.any(axis=1)), np.flatnonzero(here.any(axis=0))
    assert (columns[-1] - columns[0] + 1) / 10 == pytest.approx(18, abs=0.2)
    assert (rows[-1] + rows[0] + 1) / 20 == pytest.approx(15, abs=0.15)
    assert (columns[-1] + columns[0] + 1) / 20 == pytest.approx(15, abs=0.15)


def test_the_svg_sheet_has_no_double_ids_and_no_missing_ones(proofs: Path) -> None:
    for name in ("p.svg", "p-in-use.svg"):
        text = (proofs / name).read_text(encoding="utf-8")
        ids = ids_in(text)
        assert len(ids) == len(set(ids))
        assert set(references_in(text)) <= set(ids)


def test_pictures_are_two(proofs: Path) -> None:
    from PIL import Image

    for name in ("p.png", "p-in-use.png"):
        with Image.open(proofs / name) as image:
            assert image.size == pytest.approx((297 / 25.4 * 200, 210 / 25.4 * 200), abs=1)


def test_the_page_needs_nothing_from_outside(proofs: Path) -> None:
    text = (proofs / "p.html").read_text(encoding="utf-8")
    assert "default-src 'none'" in text
    links = [part for part in ("src=", 'href="http', "@import", "fetch(") if part in text]
    assert links == []


def test_the_page_carries_the_same_lattices_as_the_cloth(proofs: Path) -> None:
    text = (proofs / "p.html").read_text(encoding="utf-8")
    packed = text.partition('id="data">')[2].partition("</script>")[0]
    layouts = {one["name"]: one for one in json.loads(packed)["layouts"]}
    assert list(layouts) == ["block", "half-drop", "brick", "turnover-across"]
    assert layouts["half-drop"]["a"] == [100, 50]
    assert layouts["half-drop"]["b"] == [0, 100]
    assert layouts["turnover-across"]["cell"] == [200, 100]
    assert len(layouts["turnover-across"]["placements"]) == 6


@pytest.mark.parametrize(
    ("layout", "words"),
    [
        ("block", "straight match"),
        ("half-drop", "drop match: each next length hangs 50 mm lower"),
        ("drop:1/4", "drop match: each next length hangs 25 mm lower"),
    ],
)
def test_the_match_is_said_in_the_trade_s_words(proofs: Path, layout: str, words: str) -> None:
    from vecrepeat.repeat.layout import Layout

    source = open_source(proofs / "art.svg", layout=Layout.parse(layout))
    assert match_of(source.repeat) == words


@pytest.mark.parametrize("scene", SCENES, ids=lambda s: s.name)
def test_scenes_are_as_large_as_their_words_say(scene: UseScene) -> None:
    covered: list[SheetBox] = []

    def cover(d: str, where: SheetBox, which: int = 0) -> str:
        covered.append(where)
        return ""

    scene.draw(cover)
    said = re.search(r"([\d.]+)(?: × [\d.]+)? (c?m)\b", scene.size)
    assert said is not None
    assert covered[0].width == float(said[1]) * {"cm": 10, "m": 1000}[said[2]]
    assert covered[0].right <= scene.width


def test_words_are_broken_between_words() -> None:
    assert wrapped("one two three four", 12, 3) == ["one two", "three", "four"]


@pytest.mark.parametrize(
    ("arguments", "told"),
    [(("-o", "p.txt"), "PDF, PNG, SVG or HTML"), (("-o", "p.pdf", "--paper", "b5"), "b5")],
)
def test_what_can_not_be_done_is_one_line(
    proofs: Path, arguments: tuple[str, ...], told: str
) -> None:
    run = vecrepeat("proof", proofs / "art.svg", *arguments)
    assert (run.code, run.err.count("\n")) == (2, 1)
    assert told in run.err


def test_papers_lie_and_are_of_their_standards() -> None:
    # ISO 216 §3: A0 is 1 m² and its sides are as 1 to √2; each next is the last folded, and whole
    # mm are kept (from memory). Letter and tabloid: 8½ × 11 in and 11 × 17 in (from memory).
    expected = {"letter": (11 * 25.4, 8.5 * 25.4), "tabloid": (17 * 25.4, 11 * 25.4)}
    long, short = round(1000 * 2**0.25), round(1000 / 2**0.25)
    for number in range(5):
        expected[f"a{number}"] = (long, short)
        long, short = short, long // 2
    assert set(PAPERS) <= set(expected)
    assert {name: pytest.approx(expected[name]) for name in PAPERS} == PAPERS


def test_a_proof_of_what_only_the_second_engine_draws_comes_as_a_picture(tmp_path: Path) -> None:
    body = (
        '<filter id="f"><feGaussianBlur stdDeviation="1"/></filter>'
        '<g id="fog" filter="url(#f)"><circle cx="30" cy="30" r="9" fill="#c33"/></g>'
    )
    (tmp_path / "fog.svg").write_text(svg(body))
    run = vecrepeat("proof", tmp_path / "fog.svg", "-o", tmp_path / "p.svg", "--paper", "a4")
    assert run.code == 0, run.err
    root = etree.parse(io.BytesIO((tmp_path / "p.svg").read_bytes())).getroot()
    assert not list(root.iter("{*}filter"))
    assert len(list(root.iter("{*}image"))) == 3

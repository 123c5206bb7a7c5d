"""A wall's drops: side by side they are the wall."""

from __future__ import annotations

import re
from fractions import Fraction as F  # noqa: N817
from itertools import pairwise
from pathlib import Path

import numpy as np
import pikepdf
import pypdfium2
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from support import read

from vecrepeat.core.errors import InputError
from vecrepeat.core.units import Size
from vecrepeat.goods.papering import panels, write_panels
from vecrepeat.write.exporting import Exporter
from vecrepeat.write.formats import Settings

BODY = (
    '<rect width="100" height="100" fill="#f2ede0"/>'
    '<circle cx="4" cy="30" r="17" fill="#204060"/><path d="M20 70 60 40 90 95z" fill="#c0502a"/>'
)
NOTHING = F(0)
PT = 72 / 25.4
MARGIN_PT = (9 + 3) * PT
"""Room for marks, and the bleed."""


def content(file: Path) -> str:
    """The operators of a PDF's page."""
    with pikepdf.open(file) as pdf:
        return str(pdf.pages[0].Contents.read_bytes().decode())


@given(st.integers(1, 90_000), st.integers(100, 2000), st.integers(0, 99), st.integers(0, 200))
def test_panels_cover_the_wall_and_lie_over_each_other(
    wall: int, width: int, overlap: int, trim: int
) -> None:
    size = Size(F(wall), F(2500))
    if (wall - overlap) > 500 * (width - overlap):
        with pytest.raises(InputError, match="more than 500 panels"):
            panels(size, F(width), overlap=F(overlap), trim=F(trim))
        return
    found = panels(size, F(width), overlap=F(overlap), trim=F(trim))
    assert [p.number for p in found] == list(range(1, len(found) + 1))
    assert found[0].left == 0
    assert found[-1].left + found[-1].size.width == wall
    for one, other in pairwise(found):
        assert one.size.width == width
        assert one.left + one.size.width - other.left == overlap
    assert all(0 < p.size.width <= width and p.size.height == 2500 + trim for p in found)
    assert found[-1].size.width > overlap or len(found) == 1, "none hangs under the one before"


@pytest.mark.parametrize("layout", ["block", "half-drop", "brick:1/3", "turnover-across"])
def test_drops_laid_side_by_side_are_the_wall(tmp_path: Path, layout: str) -> None:
    repeat = read(tmp_path, BODY).repeat(layout)
    # A pixel to the half millimetre; panels of 130 mm on tiles of 100 mm, 10 mm over each other.
    wall, dpi, trim = Size(F(370), F(240)), F(254, 5), F(20)
    found = panels(wall, F(130), overlap=F(10), trim=trim)
    done = write_panels(
        repeat,
        "art",
        str(tmp_path / "{name}-{number}-of-{of}.png"),
        found,
        dpi=dpi,
        width=None,
        height=None,
        trim=trim,
        settings=Settings(),
    )
    assert [d.file.name for d in done] == [f"art-0{n}-of-3.png" for n in (1, 2, 3)]
    exporter = Exporter(repeat)
    exporter.write(tmp_path / "w.png", exporter.sheet(exporter.plan(dpi), size=wall))
    with Image.open(tmp_path / "w.png") as image:
        whole = np.asarray(image).astype(int)
    laid = np.zeros((520, 740, 3), int)
    for panel, one in zip(found, done, strict=True):
        with Image.open(one.file) as image:
            left = int(panel.left * 2)
            laid[:, left : left + image.width] = np.asarray(image)
    # Half the trim is above the wall. A surface's sides can round an edge by a few levels.
    assert np.abs(laid[20:500] - whole).mean() < 0.05
    assert np.abs(laid[20:500] - whole).max() <= 16


def test_a_pdf_drop_says_which_it_is(tmp_path: Path) -> None:
    repeat = read(tmp_path, BODY).repeat()
    found = panels(Size(F(300), F(200)), F(160), overlap=F(20), trim=NOTHING)
    done = write_panels(
        repeat,
        "art",
        str(tmp_path / "{number}.pdf"),
        found,
        dpi=F(100),
        width=None,
        height=None,
        trim=NOTHING,
        settings=Settings(marks=True, bleed=F(3)),
    )
    first, last = (content(one.file) for one in done)
    assert f"<{b'art  drop 1 of 2  overlap 20 mm'.hex()}> Tj" in first
    assert f"<{b'art  drop 2 of 2'.hex()}> Tj" in last
    # The next one begins 140 mm from the left: half as long a mark as the others, above and below.
    upright = re.findall(r"^(\S+) (\S+) m (\S+) (\S+) l S$", first, re.M)
    ticks = {
        (round((float(x) - MARGIN_PT) / PT, 2), round(abs(float(y) - float(end)) / PT, 2))
        for x, y, x_end, end in upright
        if x == x_end
    }
    assert (140, 2.5) in ticks
    assert {(0, 5), (160, 5)} <= ticks
    assert not any(length == 2.5 for _, length in ticks - {(140, 2.5)})


@pytest.mark.parametrize("width", [60, 160])
def test_a_drop_s_label_ends_before_the_mark_in_the_middle(tmp_path: Path, width: int) -> None:
    repeat = read(tmp_path, BODY).repeat()
    (found,) = panels(Size(F(width), F(100)), F(width), overlap=NOTHING, trim=NOTHING)
    (done,) = write_panels(
        repeat,
        "a rather long name for a design",
        str(tmp_path / "{number}.pdf"),
        [found],
        dpi=F(100),
        width=None,
        height=None,
        trim=NOTHING,
        settings=Settings(marks=True),
    )
    page = pypdfium2.PdfDocument(done.file)[0].get_textpage()
    boxes = [page.get_charbox(k) for k in range(page.count_chars())]
    assert page.get_text_bounded() == "a rather long name for a design drop 1 of 1"
    # The mark's arms are 2.5 mm long; the margin is 9 mm wide.
    assert max(box[2] for box in boxes) / PT < 9 + width / 2 - 2.5


def test_all_drops_under_one_name_are_refused(tmp_path: Path) -> None:
    repeat = read(tmp_path, BODY).repeat()
    found = panels(Size(F(300), F(200)), F(160), overlap=NOTHING, trim=NOTHING)
    with pytest.raises(InputError, match=r"put \{number\} in the name"):
        write_panels(
            repeat,
            "art",
            str(tmp_path / "a.png"),
            found,
            dpi=F(50),
            width=None,
            height=None,
            trim=NOTHING,
            settings=Settings(),
        )


def test_an_overlap_as_wide_as_the_web_is_refused() -> None:
    with pytest.raises(InputError, match="leaves nothing"):
        panels(Size(F(300), F(200)), F(160), overlap=F(160), trim=NOTHING)

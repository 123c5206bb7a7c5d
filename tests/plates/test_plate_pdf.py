"""Plates as PDF: true size, page boxes, vector, and spot inks that other programs take apart."""

from __future__ import annotations

import subprocess
import sys
from fractions import Fraction
from pathlib import Path

import numpy as np
import pikepdf
import pytest
import scipy.ndimage
from judges import installed
from numpy.typing import NDArray
from PIL import Image
from support import needs_a_font, read

from vecrepeat.colour.plates.separating import Separated, Wanted, write_plates
from vecrepeat.core.errors import InputError

sys.path.insert(0, str(Path(__file__).parents[1] / "vector"))
from pdf_judges import READERS

RED, BLUE, WHITE = "#ff0000", "#0000ff", "#ffffff"
ART = (
    f'<rect width="100" height="100" fill="{WHITE}"/>'
    f'<g id="m"><circle cx="95" cy="50" r="22" fill="{RED}"/>'
    f'<path d="M80 40C90 20 115 30 110 60Z" fill="{BLUE}"/></g>'
    f'<circle id="dot" cx="30" cy="20" r="7" fill="{BLUE}"/>'
)
DPI = 127
"""5 px to the mm: the repeat and its margins are whole pixels."""

MARGIN = 70
"""The room for marks, 14 mm, in pixels."""


def _separated(folder: Path, **wanted: object) -> Separated:
    made = {"formats": ("pdf", "tiff"), "dpi": Fraction(DPI), "trap": 0.4, **wanted}
    return write_plates(read(folder, ART).repeat(), folder / "out", Wanted(**made))  # type: ignore[arg-type]


def _inked(path: Path) -> NDArray[np.bool_]:
    with Image.open(path) as image:
        return ~np.array(image.convert("1"))


def _borders(plate: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Pixels beside a border of a plate, which antialiasing may grey."""
    grown = scipy.ndimage.binary_dilation(plate, np.ones((3, 3)))
    return np.asarray(grown & ~scipy.ndimage.binary_erosion(plate, np.ones((3, 3))), bool)


def test_boxes_are_the_true_size(tmp_path: Path) -> None:
    done = _separated(tmp_path)
    names = [name for p in done.plates for name in p["files"] if name.endswith("pdf")]
    for name in [*names, "art-all-plates.pdf"]:
        with pikepdf.open(tmp_path / "out" / name) as pdf:
            (page,) = pdf.pages
            mm = [[float(v) * 25.4 / 72 for v in box] for box in (page.mediabox, page.trimbox)]
        # A repeat of 100 mm in a margin of 14 mm; ISO 32000-1 §14.11.2: trim within media.
        assert mm[0] == pytest.approx([0, 0, 128, 128], abs=1e-4)
        assert mm[1] == pytest.approx([14, 14, 114, 114], abs=1e-4)


def test_without_marks_the_page_is_the_repeat(tmp_path: Path) -> None:
    done = _separated(tmp_path, marks=False, width=Fraction(200))
    with pikepdf.open(tmp_path / "out" / done.plates[0]["files"][0]) as pdf:
        assert [float(v) for v in pdf.pages[0].mediabox] == pytest.approx(
            [0, 0, 200 * 72 / 25.4, 200 * 72 / 25.4], abs=1e-4
        )
        assert pdf.pages[0].mediabox == pdf.pages[0].trimbox


@needs_a_font  # Poppler lacks one for the marks' words, and says so.
@pytest.mark.parametrize("reader", READERS)
def test_readers_draw_each_plate_as_its_own_raster(tmp_path: Path, reader: str) -> None:
    for plate in _separated(tmp_path).plates:
        film, tiff = (tmp_path / "out" / name for name in plate["files"])
        expected = _inked(tiff)[MARGIN:-MARGIN, MARGIN:-MARGIN]
        drawn = READERS[reader](film, DPI)[..., 0].astype(int)[MARGIN:-MARGIN, MARGIN:-MARGIN]
        # Beside the repeat's bounds lies bare paper.
        drawn, expected = drawn[1:-1, 1:-1], expected[1:-1, 1:-1]
        inner = ~_borders(expected)
        assert inner.mean() > 0.8
        assert np.array_equal(drawn[inner], np.where(expected[inner], 0, 255))


def test_plates_hold_paths_and_no_pictures(tmp_path: Path) -> None:
    _separated(tmp_path)
    for file in (tmp_path / "out").glob("*.pdf"):
        with pikepdf.open(file) as pdf:
            images = [o for o in pdf.objects if isinstance(o, pikepdf.Stream)]
            assert not [o for o in images if o.get("/Subtype") == "/Image"]
            operators = [str(i.operator) for i in pikepdf.parse_content_stream(pdf.pages[0])]
        assert "f*" in operators
        assert "Do" not in operators


def test_each_plate_names_its_colorant(tmp_path: Path) -> None:
    done = _separated(tmp_path, names={BLUE: "Nachtblau Ä"})
    for plate in done.plates:
        with pikepdf.open(tmp_path / "out" / plate["files"][0]) as pdf:
            info = pdf.pages[0].SeparationInfo
            # ISO 32000-1 §14.11.4, table 364.
            assert info.DeviceColorant == f"/{plate['name']}"
            assert info.Pages[0].objgen == pdf.pages[0].obj.objgen
            assert info.ColorSpace[0] == "/Separation"


def test_all_plates_are_one_spot_colour_each_and_overprint(tmp_path: Path) -> None:
    done = _separated(tmp_path, names={RED: "All"})
    with pikepdf.open(tmp_path / "out" / "art-all-plates.pdf") as pdf:
        page = pdf.pages[0]
        spaces = [v for k, v in page.Resources.ColorSpace.items() if k != "/DefaultRGB"]
        # ISO 32000-1 §8.6.6.4: All means every colorant; an ink of that name is called otherwise.
        assert {str(s[1]) for s in spaces} == {"/white", "/All ink", "/blue", "/All"}
        (state,) = page.Resources.ExtGState.values()
        assert bool(state.OP)
        assert bool(state.op)
        # Painted at full tint each: ISO 32000-1, figure of the function at 1 is the ink's sRGB.
        by_name = {str(s[1]): [float(v) for v in s[3].C1] for s in spaces}
        assert by_name["/All ink"] == pytest.approx([1, 0, 0], abs=1e-5)
    assert [p["name"] for p in done.plates] == ["white", "All", "blue"]


def test_what_ghostscript_takes_off_as_separations_are_the_plates(tmp_path: Path) -> None:
    ghostscript = installed("gs")
    done = _separated(tmp_path, overprint=("blue",))
    command = [ghostscript, "-q", "-dNOPAUSE", "-dBATCH", "-sDEVICE=tiffsep", f"-r{DPI}"]
    subprocess.run(
        [*command, "-sOutputFile=s.tif", str(tmp_path / "out" / "art-all-plates.pdf")],
        cwd=tmp_path,
        check=True,
        timeout=60,
    )
    for plate in done.plates:
        expected = _inked(tmp_path / "out" / plate["files"][1])[MARGIN:-MARGIN, MARGIN:-MARGIN]
        with Image.open(tmp_path / f"s({plate['name']}).tif") as image:
            found = np.array(image.convert("L"))
        # Rounded up to whole pixels at most, at the top left where PDF's pages don't begin.
        found = found[-expected.shape[0] - MARGIN : -MARGIN, MARGIN : MARGIN + expected.shape[1]]
        found, expected = found[1:-1, 1:-1], expected[1:-1, 1:-1]
        # Its rule is that a pixel a shape touches is painted.
        grown = scipy.ndimage.binary_dilation(_borders(expected), np.ones((3, 3)))
        assert (~grown).mean() > 0.7
        assert np.array_equal(found[~grown] < 128, expected[~grown])


@pytest.mark.parametrize("soft", ["halftone", "tint"])
def test_tints_and_halftones_are_no_pdf(tmp_path: Path, soft: str) -> None:
    with pytest.raises(InputError, match="halftones and tints are pixels"):
        _separated(tmp_path, soft=soft, trap=0.0)
    assert not (tmp_path / "out").exists()

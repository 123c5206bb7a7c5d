"""The vector files: conforming, self-contained, and true to the plane at every layout.

Judge: resvg, which keeps a pattern sharp where its tile is a whole number of pixels.
"""

from __future__ import annotations

import re
from fractions import Fraction as F  # noqa: N817
from pathlib import Path

import numpy as np
import pytest
from lxml import etree
from support import SVG, by_resvg, ids_in, mean_difference, read, references_in, write_svg

from vecrepeat.art.read import read_art
from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import Rect
from vecrepeat.core.units import Size
from vecrepeat.repeat.model import Repeat
from vecrepeat.repeat.wrap import copies
from vecrepeat.write.composing import compose
from vecrepeat.write.svg import expanded_svg, pattern_svg, tile_svg

# A ground, a flower over a corner, a leaf over the right bound, a stem wider than the page.
BODY = (
    '<rect width="100" height="100" fill="#fec"/>'
    '<defs><linearGradient id="g"><stop stop-color="#c00"/><stop offset="1" stop-color="#00c"/>'
    '</linearGradient><clipPath id="k"><circle cx="98" cy="60" r="9"/></clipPath></defs>'
    '<path id="stem" d="M-60 80C0 40 90 95 130 70" fill="none" stroke="#360" stroke-width="4"/>'
    '<g id="flower"><circle cx="2" cy="1" r="12" fill="url(#g)"/>'
    '<circle id="eye" cx="2" cy="1" r="4" fill="#fff"/></g>'
    '<rect id="leaf" x="85" y="50" width="30" height="20" fill="#080" clip-path="url(#k)"/>'
    '<circle cx="40" cy="40" r="6" fill="#808" opacity=".5"/>'
)
LAYOUTS = ["block", "half-drop", "drop:1/4", "drop:3/4", "brick", "brick:2/5"]


@pytest.fixture
def repeat(tmp_path: Path) -> Repeat:
    return read(tmp_path, BODY).repeat()


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("inline", [False, True], ids=["use", "inline"])
def test_the_pattern_shows_the_plane(repeat: Repeat, layout: str, inline: bool) -> None:
    """Over a sheet that ends within blocks, the pattern and the drawn-out plane are the same."""
    laid = repeat.with_layout(layout)
    sheet = Size(F(250), F(230))
    pattern = by_resvg(pattern_svg(laid, sheet=sheet, inline=inline), 500, 460)
    plane = by_resvg(expanded_svg(laid, sheet), 500, 460)
    assert mean_difference(pattern, plane) <= 0.3


@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_sheet_repeats_by_its_lattice(repeat: Repeat, layout: str) -> None:
    """At a whole number of pixels a step, the plane moved by a or by b is the plane."""
    laid = repeat.with_layout(layout)
    sheet = by_resvg(expanded_svg(laid, Size(F(240), F(240))), 480).astype(int)
    for step in (laid.lattice.a, laid.lattice.b):
        dx, dy = int(step.x * 2), int(step.y * 2)
        assert (F(dx), F(dy)) == (step.x * 2, step.y * 2)
        here = sheet[: 480 - dy, : 480 - dx]
        there = sheet[dy:, dx:]
        assert np.abs(here - there).mean() <= 0.05


def test_one_tile_is_the_drawing_with_its_wraps(repeat: Repeat) -> None:
    """The tile shows what the middle of a sheet of 3 × 3 does."""
    middle = by_resvg(expanded_svg(repeat, Size(F(300), F(300))), 600)[200:400, 200:400]
    assert mean_difference(by_resvg(tile_svg(repeat), 200), middle) <= 0.1


def test_stacking_is_the_same_on_both_sides_of_a_bound(tmp_path: Path) -> None:
    """A motif that overlaps its own copies does so alike in every tile."""
    body = (
        '<rect x="30" y="20" width="130" height="30" fill="#c00" stroke="#000" stroke-width="6"/>'
    )
    laid = read(tmp_path, body).repeat("half-drop")
    tiles = by_resvg(expanded_svg(laid, Size(F(400), F(100))), 400, 100)
    assert (tiles[:, :200] == tiles[:, 200:]).all()


def written(repeat: Repeat) -> list[tuple[str, str]]:
    """Every kind of file."""
    return [
        ("pattern", pattern_svg(repeat)),
        ("inline", pattern_svg(repeat, inline=True)),
        ("scaled", pattern_svg(repeat, scale=F(1, 3))),
        ("sheet", pattern_svg(repeat, sheet=Size(F(333), F(1000)))),
        ("tile", tile_svg(repeat)),
        ("scaled tile", tile_svg(repeat, scale=F(2))),
        ("expanded", expanded_svg(repeat, Size(F(333), F(100)))),
    ]


@pytest.mark.parametrize("layout", LAYOUTS)
def test_files_are_well_formed_and_self_contained(repeat: Repeat, layout: str) -> None:
    for kind, text in written(repeat.with_layout(layout)):
        ids = ids_in(text)
        assert len(ids) == len(set(ids)), kind
        assert references_in(text) <= set(ids), kind
        tree = etree.fromstring(text.encode())
        assert tree.tag == f"{{{SVG}}}svg"
        assert re.fullmatch(r"[\d.]+mm", str(tree.get("width"))), kind
        # The user unit is the millimetre.
        assert tree.get("viewBox") == (
            f"0 0 {str(tree.get('width'))[:-2]} {str(tree.get('height'))[:-2]}"
        ), kind


def test_a_motif_is_written_once_whatever_its_copies(repeat: Repeat) -> None:
    text = pattern_svg(repeat.with_layout("drop:1/4"))
    assert text.count('stroke="#336600"') == 1
    inline = pattern_svg(repeat.with_layout("drop:1/4"), inline=True)
    stems = [c for c in copies(repeat.with_layout("drop:1/4"), Rect(0, 0, 400, 100)) if c[0] == 0]
    assert inline.count('stroke="#336600"') == len(stems) > 4


def test_definitions_that_no_motif_needs_are_left_out(tmp_path: Path) -> None:
    unused = '<linearGradient id="unused"><stop/></linearGradient>'
    assert "unused" not in pattern_svg(read(tmp_path, f"<defs>{unused}</defs>{BODY}").repeat())


@pytest.mark.parametrize(
    ("scale", "zoom", "width"),
    [(F(1), None, "100mm"), (F(1, 2), "scale(0.5)", "50mm"), (F(3), "scale(3)", "300mm")],
    ids=str,
)
def test_a_print_size_zooms_the_pattern(
    repeat: Repeat, scale: F, zoom: str | None, width: str
) -> None:
    tree = etree.fromstring(pattern_svg(repeat, scale=scale).encode())
    (pattern,) = tree.iter(f"{{{SVG}}}pattern")
    assert pattern.get("patternTransform") == zoom
    assert tree.get("width") == width


def test_a_scaled_pattern_shows_the_same_picture(repeat: Repeat) -> None:
    one = by_resvg(pattern_svg(repeat), 400)
    assert mean_difference(one, by_resvg(pattern_svg(repeat, scale=F(1, 4)), 400)) <= 0.3
    assert mean_difference(one, by_resvg(tile_svg(repeat, scale=F(1, 4)), 400)) <= 0.3


@pytest.mark.parametrize(
    ("head", "kept"),
    [
        ("<title>Brook &amp; reed</title>", ["<title>Brook &amp; reed</title>"]),
        ("<desc>drawn in May</desc>", ["<title>art</title>", "<desc>drawn in May</desc>"]),
        (
            "<title>Brook</title><metadata><tool:licence>CC0</tool:licence></metadata>",
            ["<title>Brook</title>", "metadata"],
        ),
        ("", ["<title>art</title>"]),
    ],
    ids=["title", "description", "metadata", "none"],
)
def test_the_drawings_own_words_are_kept(tmp_path: Path, head: str, kept: list[str]) -> None:
    repeat = read(tmp_path, head + BODY).repeat()
    for text in (pattern_svg(repeat), tile_svg(repeat)):
        assert all(part in text for part in kept)
        assert text.count("<title>") == 1


def test_metadata_keeps_what_it_says(tmp_path: Path) -> None:
    """Licence and author stand in elements of other namespaces."""
    head = (
        '<metadata><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#" '
        'xmlns:dc="http://purl.org/dc/elements/1.1/"><dc:creator>A. Reed</dc:creator>'
        "</rdf:RDF></metadata>"
    )
    text = pattern_svg(read(tmp_path, head + BODY).repeat())
    etree.fromstring(text.encode())
    assert "A. Reed" in text


def test_metadata_carries_no_namespace_that_it_does_not_use(tmp_path: Path) -> None:
    """Judge: lxml. Old editors left a half-resolved entity as the URI of a prefix."""
    head = '<metadata xmlns:old="&amp;#38;ns_old;"><title>A. Reed</title></metadata>'
    text = pattern_svg(read(tmp_path, head + BODY).repeat())
    etree.fromstring(text.encode())
    assert "A. Reed" in text
    assert "ns_old" not in text


@pytest.mark.parametrize(
    "name",
    ["art.svg", "1 art.svg", "Ünïcode 葉.svg", "a&b <c>.svg", 'quo"te.svg', "...svg", "x" * 200],
)
def test_any_file_name_makes_a_well_formed_file(tmp_path: Path, name: str) -> None:
    repeat = read_art(write_svg(tmp_path, BODY, name=name)).repeat()
    for _, text in written(repeat):
        ids = ids_in(text)
        assert all(re.fullmatch(r"[A-Za-z_][\w.:-]*", i, re.ASCII) for i in ids)
        assert len(ids) == len(set(ids))


@pytest.mark.parametrize(
    "ids",
    [
        # What our own ids could be taken for.
        ["art-repeat", "art-motif-a"],
        ["a", "A", "a b", "a-b"],
        ['<&">', "a'b"],
    ],
    ids=["ours", "alike", "odd characters"],
)
def test_motif_ids_never_collide(tmp_path: Path, ids: list[str]) -> None:
    escaped = [i.replace("&", "&amp;").replace("<", "&lt;").replace('"', "&quot;") for i in ids]
    body = "".join(
        f'<g id="{i}"><circle cx="{k * 20}" cy="9" r="5"/></g>' for k, i in enumerate(escaped)
    )
    repeat = read(tmp_path, body).repeat()
    assert [p.motif.name for p in repeat.placements] == ids
    for kind, text in written(repeat):
        found = ids_in(text)
        assert len(found) == len(set(found)), kind


@pytest.mark.parametrize(
    ("options", "told"),
    [
        ({"tile_only": True, "sheet": Size(F(1), F(1))}, "one tile"),
        ({"sheet": Size(F(10) ** 9, F(1))}, "10 km"),
        ({"width": F(10) ** 9}, "10 km"),
        ({"width": F(100), "height": F(150)}, "stretch"),
    ],
    ids=["tile and sheet", "sheet too long", "tile too wide", "stretched"],
)
def test_what_compose_refuses(
    tmp_path: Path, repeat: Repeat, options: dict[str, object], told: str
) -> None:
    with pytest.raises(InputError, match=told):
        compose(repeat, tmp_path / "o.svg", **options)  # type: ignore[arg-type]
    assert not (tmp_path / "o.svg").exists()


def test_compose_counts_what_it_draws(tmp_path: Path, repeat: Repeat) -> None:
    laid = repeat.with_layout("half-drop")
    done = compose(laid, tmp_path / "o.svg")
    text = (tmp_path / "o.svg").read_text()
    assert text.count("<use ") == done.copies
    assert done.motifs == 4
    assert done.layout == "half-drop"
    tile = compose(laid, tmp_path / "t.svg", tile_only=True)
    tree = etree.parse(tmp_path / "t.svg").getroot()
    assert len([e for e in tree if e.tag == f"{{{SVG}}}g"]) == tile.copies

"""Text as paths, judged by resvg: the outlined drawing must look as the live one does."""

from __future__ import annotations

import io
import os
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import resvg_py
from lxml import etree
from PIL import Image
from plain_font import plain_font
from support import Pixels, markup_of, mean_difference, on_white, svg

from vecrepeat.art.build import Builder
from vecrepeat.art.normalform import elements_by_id
from vecrepeat.art.page import read_page
from vecrepeat.art.structure import normalise
from vecrepeat.art.style import resolve_styles
from vecrepeat.art.text import set_text
from vecrepeat.art.xml import parse
from vecrepeat.core.errors import InputError
from vecrepeat.util.fonts import find_font, installed_fonts, stand_in

SIDE = 300
NAME = "{http://www.w3.org/2000/svg}"

needs_dejavu = pytest.mark.skipif(
    (find_font("DejaVu Sans", 400, False) is None or find_font("DejaVu Serif", 700, True) is None)
    and os.environ.get("VECREPEAT_JUDGES") != "required",
    reason="the DejaVu fonts are not installed",
)


def normal(body: str, attributes: str = 'font-family="DejaVu Sans" font-size="14"') -> Any:
    """The root of a drawing in normal form."""
    root = parse(svg(body, attributes=attributes).encode())
    resolve_styles(root)
    normalise(root, read_page(root))
    return root


def outlined(body: str, attributes: str = 'font-family="DejaVu Sans" font-size="14"') -> Any:
    """The root of a drawing with its text as paths, and the notes."""
    root = normal(body, attributes)
    notes = set_text(root)
    return root, notes


def drawn(
    root: etree._Element, side: int = SIDE, system_fonts: bool = True, family: str = "DejaVu S"
) -> Pixels:
    """The drawing as resvg paints it with the fonts installed, or with none."""
    root.set("width", str(side))
    root.set("height", str(side))
    files = [
        str(face.path)
        for face in installed_fonts()
        if system_fonts and face.family.startswith(family)
    ]
    data = resvg_py.svg_to_bytes(
        svg_string=etree.tostring(root, encoding="unicode"),
        width=side,
        height=side,
        dpi=96,
        skip_system_fonts=True,
        font_files=files,
    )
    with Image.open(io.BytesIO(data)) as image:
        return np.array(image.convert("RGBA"))


def as_scene(root: etree._Element) -> etree._Element:
    """The drawing as its scene is written."""
    markup = markup_of(Builder(elements_by_id(root)).root(root))
    return etree.fromstring(svg(markup))


def shift_between(one: Pixels, other: Pixels) -> float:
    """How far the ink of two pictures lies apart at most, in pixels, by columns and rows.

    The ink up to each column (row) grows from left to right (top to bottom); where one
    picture's ink is displaced, the two curves run apart sideways by that much.
    """
    worst = 0.0
    for axis in (0, 1):
        curves = []
        for pixels in (one, other):
            ink = np.cumsum((255 - on_white(pixels)).sum(axis=(2, axis)))
            curves.append(ink / ink[-1])
        levels = np.linspace(0.01, 0.99, 197)
        places = [
            np.interp(levels, c + np.arange(len(c)) * 1e-9, np.arange(len(c))) for c in curves
        ]
        # Where there is a gap in the ink the curve is level, and its place there means nothing.
        slopes = [
            np.interp(p, np.arange(len(c) - 1) + 0.5, np.diff(c))
            for p, c in zip(places, curves, strict=True)
        ]
        sure = np.minimum(*slopes) > 0.002
        if sure.any():
            worst = max(worst, float(np.abs(places[0] - places[1])[sure].max()))
    return worst


SHADES = '<stop offset="0" stop-color="#f00"/><stop offset="1" stop-color="#00f"/>'
ACROSS = f'<linearGradient id="p">{SHADES}</linearGradient>'
ROUND = f'<radialGradient id="p" cx="30%" cy=".5" r="60%">{SHADES}</radialGradient>'
TURNED = f'<linearGradient id="p" gradientTransform="rotate(40)" y2="50%">{SHADES}</linearGradient>'
FIXED = f'<linearGradient id="p" gradientUnits="userSpaceOnUse" x2="80">{SHADES}</linearGradient>'

JUDGED = [
    # (what it shows, the drawing's content)
    ("plain", '<text x="5" y="50">Hamburg</text>'),
    ("two texts", '<text x="5" y="30">First</text><text x="5" y="70">Second</text>'),
    ("no position", '<g transform="translate(5 40)"><text>Origin</text></g>'),
    ("kerning", '<text x="5" y="30">AVATAR</text><text x="5" y="60">To. We, LT</text>'),
    ("ligatures", '<text x="5" y="50">fire affluent</text>'),
    ("accents", '<text x="5" y="50">Žluťoučký àéîöü</text>'),
    ("composed accents", '<text x="5" y="50">cafe\u0301 u\u0308ber</text>'),
    ("Greek", '<text x="5" y="50">Καλημέρα</text>'),
    ("Cyrillic", '<text x="5" y="50">Привет мир</text>'),
    ("symbols", '<text x="5" y="50">★ ✿ → ½ €</text>'),
    ("marks", '<text x="5" y="50">q\u0303 x\u0323\u0302</text>'),
    ("Hebrew", '<text x="5" y="50">שלום עולם</text>'),
    ("Hebrew, Latin and figures", '<text x="5" y="50">12 אב (3) ab, גד</text>'),
    ("Arabic", '<text x="5" y="50">مرحبا بالعالم</text>'),
    ("Arabic in two colours", '<text x="5" y="50">مر<tspan fill="red">حبا</tspan></text>'),
    ("Arabic, spaced", '<text x="5" y="50" letter-spacing="2">سلام abc</text>'),
    ("Hebrew, rotated", '<text x="5" y="50" rotate="20">שלום ab</text>'),
    ("Arabic in the middle", '<text x="50" y="50" text-anchor="middle">سلام 12</text>'),
    (
        "sizes",
        '<text x="5" y="40" font-size="5">small</text><text x="5" y="90" font-size="40">Big</text>',
    ),
    ("a size in em", '<text x="5" y="50" font-size="1.5em">Wide</text>'),
    ("serif", '<text x="5" y="50" font-family="DejaVu Serif">Serif text</text>'),
    ("monospace", '<text x="5" y="50" font-family="DejaVu Sans Mono">mono ii</text>'),
    (
        "a family in quotes",
        """<text x="5" y="50" style="font-family:'DejaVu Serif'">Quoted</text>""",
    ),
    ("the second family", '<text x="5" y="50" font-family="Nonesuch, DejaVu Serif">Next</text>'),
    ("bold", '<text x="5" y="50" font-weight="bold">Bold</text>'),
    ("weight in numbers", '<text x="5" y="50" font-weight="700">Bold</text>'),
    ("bolder", '<text x="5" y="50">a<tspan font-weight="bolder">bold</tspan></text>'),
    ("italic", '<text x="5" y="50" font-style="italic">Italic</text>'),
    (
        "bold italic",
        '<text x="5" y="50" font-family="DejaVu Serif" font-weight="bold" '
        'font-style="italic">Both</text>',
    ),
    ("condensed", '<text x="5" y="50" font-stretch="condensed">Condensed</text>'),
    (
        "mixed styles",
        '<text x="5" y="50">a<tspan font-weight="bold">b</tspan><tspan font-style="italic">'
        "c</tspan>d</text>",
    ),
    (
        "coloured tspans",
        '<text x="5" y="50"><tspan fill="red">Red</tspan><tspan fill="#00f">Blue</tspan></text>',
    ),
    (
        "nested tspans",
        '<text x="5" y="50" fill="red">a<tspan fill="blue">b<tspan font-size="20">c</tspan>'
        "d</tspan>e</text>",
    ),
    ("tspan opacity", '<text x="5" y="50">a<tspan fill-opacity=".4">bcd</tspan></text>'),
    ("text opacity", '<text x="5" y="50" opacity=".4" stroke="red">faint</text>'),
    ("currentColor", '<g color="green"><text x="5" y="50" fill="currentColor">green</text></g>'),
    ("a hidden tspan", '<text x="5" y="50">a<tspan visibility="hidden">bcd</tspan>e</text>'),
    ("a tspan not displayed", '<text x="5" y="50">a<tspan display="none">bcd</tspan>e</text>'),
    ("anchor middle", '<text x="50" y="50" text-anchor="middle">Middle</text>'),
    ("anchor end", '<text x="95" y="50" text-anchor="end">The end</text>'),
    (
        "anchor over tspans",
        '<text x="50" y="50" text-anchor="middle">a<tspan font-size="22">bc</tspan>d</text>',
    ),
    (
        "anchored lines",
        '<text text-anchor="middle"><tspan x="50" y="30">One line</tspan>'
        '<tspan x="50" y="60">Two</tspan></text>',
    ),
    (
        "lines with space between",
        '<text text-anchor="end"><tspan x="90" y="30">One</tspan>\n <tspan x="90" dy="20">'
        "Two</tspan></text>",
    ),
    (
        "anchors of lines differ",
        '<text><tspan x="50" y="30" text-anchor="end">End</tspan>'
        '<tspan x="50" y="60" text-anchor="middle">Mid</tspan></text>',
    ),
    (
        "lines by dy",
        '<text x="5" y="20"><tspan x="5">One</tspan><tspan x="5" dy="1.2em">Two</tspan>'
        '<tspan x="5" dy="1.2em">Three</tspan></text>',
    ),
    ("dx and dy", '<text x="5" y="50" dx="3 2 5" dy="0 -5 5 10">Jumping</text>'),
    ("dx in a tspan", '<text x="5" y="50">up<tspan dx="5" dy="-10">here</tspan> and on</text>'),
    ("x for each letter", '<text x="5 25 50 60" y="50">Each one</text>'),
    ("x and y for each letter", '<text x="5 25 50" y="20 40 60">Each</text>'),
    ("y alone", '<text x="5" y="40 60">Fall</text>'),
    ("inner lists win", '<text x="5 30 50 70" y="50">a<tspan x="20 60" y="70">bc</tspan>d</text>'),
    ("one rotation", '<text x="5" y="50" rotate="20">Rotate</text>'),
    ("rotations", '<text x="5" y="50" rotate="0 15 -30 45">Rotates</text>'),
    (
        "rotations go on into tspans",
        '<text x="5" y="50" rotate="0 20 40">a<tspan>bcd</tspan></text>',
    ),
    ("letter spacing", '<text x="5" y="50" letter-spacing="3">Spaced out</text>'),
    ("letter spacing in em", '<text x="5" y="50" letter-spacing=".1em">Spaced</text>'),
    ("tight letters", '<text x="5" y="50" letter-spacing="-1.5">Tightly</text>'),
    ("word spacing", '<text x="5" y="50" word-spacing="10">a b c</text>'),
    (
        "letter spacing, middle",
        '<text x="50" y="50" letter-spacing="4" text-anchor="middle">Mid</text>',
    ),
    ("a length", '<text x="5" y="50" textLength="90">Length</text>'),
    ("a shorter length", '<text x="5" y="50" textLength="40">Length it</text>'),
    ("white space collapses", '<text x="5" y="50">  a \n\t b   <tspan> c </tspan> d </text>'),
    (
        "white space kept",
        '<text x="5" y="50" xml:space="preserve">  a   b <tspan fill="red">  c</tspan></text>',
    ),
    (
        "indented tspans",
        '<text x="5" y="50">\n  <tspan>one</tspan>\n  <tspan fill="red">two</tspan>\n</text>',
    ),
    ("underline", '<text x="5" y="50" text-decoration="underline">Under it</text>'),
    ("line through", '<text x="5" y="50" text-decoration="line-through" fill="red">Struck</text>'),
    (
        "underline in a tspan",
        '<text x="5" y="50">a <tspan text-decoration="underline" fill="red">b c</tspan> d</text>',
    ),
    (
        "underline of the text under a tspan",
        '<text x="5" y="50" fill="green" text-decoration="underline">a<tspan fill="red">bcd'
        "</tspan></text>",
    ),
    (
        "underline, rotated",
        '<text x="5" y="50" rotate="10" text-decoration="underline">Turn</text>',
    ),
    (
        "superscript",
        '<text x="5" y="50">x<tspan baseline-shift="super" font-size="9">2</tspan></text>',
    ),
    (
        "subscript",
        '<text x="5" y="50">H<tspan baseline-shift="sub" font-size="9">2</tspan>O</text>',
    ),
    (
        "baseline shift",
        '<text x="5" y="50">a<tspan baseline-shift="8">b</tspan>'
        '<tspan baseline-shift="-30%">c</tspan></text>',
    ),
    ("central", '<text x="5" y="50" dominant-baseline="central">Central</text>'),
    ("middle baseline", '<text x="5" y="50" dominant-baseline="middle">Middle</text>'),
    ("hanging", '<text x="5" y="50" dominant-baseline="hanging">Hanging</text>'),
    ("text-before-edge", '<text x="5" y="50" dominant-baseline="text-before-edge">Before</text>'),
    ("a transform", '<text x="5" y="50" transform="rotate(20) scale(1.3 .8)">Turned</text>'),
    (
        "transforms of groups",
        '<g transform="skewX(20)"><text y="50" transform="translate(0 5)">Skewed</text></g>',
    ),
    ("mirrored", '<text x="-90" y="50" transform="scale(-1 1)">Mirror</text>'),
    ("a gradient in user space", FIXED + '<text x="5" y="50" fill="url(#p)">Gradient</text>'),
    ("a gradient over the box", ACROSS + '<text x="5" y="50" fill="url(#p)">Gradient</text>'),
    ("a round gradient", ROUND + '<text x="5" y="50" font-size="25" fill="url(#p)">Round</text>'),
    ("a turned gradient", TURNED + '<text x="5" y="50" font-size="25" fill="url(#p)">Turn</text>'),
    (
        "a gradient from a group",
        ACROSS + '<g fill="url(#p)"><text x="5" y="50">One</text><text x="15" y="80">Other</text>'
        "</g>",
    ),
    (
        "a gradient on a tspan",
        ACROSS + '<text x="5" y="50">a<tspan fill="url(#p)">bcd</tspan>e</text>',
    ),
    ("a stroke", '<text x="5" y="60" font-size="30" fill="none" stroke="red">Line</text>'),
    (
        "fill and stroke",
        '<text x="5" y="60" font-size="30" fill="#fd0" stroke="#00f" stroke-width="2" '
        'stroke-linejoin="round">Both</text>',
    ),
    (
        "paint order",
        '<text x="5" y="60" font-size="30" fill="#fd0" stroke="#00f" stroke-width="4" '
        'paint-order="stroke">Both</text>',
    ),
    (
        "dashes",
        '<text x="5" y="60" font-size="30" fill="none" stroke="red" stroke-dasharray="2 1">'
        "Dash</text>",
    ),
    (
        "a gradient stroke",
        ACROSS + '<text x="5" y="60" font-size="30" fill="none" stroke="url(#p)">Line</text>',
    ),
    (
        "even-odd does not reach glyphs",
        '<g fill-rule="evenodd"><text x="5" y="50" letter-spacing="-3">Overlap</text></g>',
    ),
    (
        "markers do not reach glyphs",
        '<marker id="m" markerWidth="9" markerHeight="9"><rect width="9" height="9"/>'
        '</marker><g marker-start="url(#m)"><text x="5" y="50">Bare</text></g>',
    ),
    (
        "clipped",
        '<clipPath id="k"><circle cx="40" cy="45" r="15"/></clipPath>'
        '<text x="5" y="50" clip-path="url(#k)">Clipped</text>',
    ),
    (
        "as a clip path",
        '<clipPath id="k"><text x="5" y="60" font-size="40">Clip</text></clipPath>'
        '<rect width="100" height="100" fill="red" clip-path="url(#k)"/>',
    ),
    (
        "masked",
        '<mask id="k" x="0" y="0" width=".5" height="1">'
        '<rect width="100" height="100" fill="#fff"/></mask>'
        '<text x="5" y="50" mask="url(#k)">Masked</text>',
    ),
    (
        "as a mask",
        '<mask id="k"><text x="5" y="60" font-size="40" fill="#fff">Mask</text></mask>'
        '<rect width="100" height="100" fill="red" mask="url(#k)"/>',
    ),
    (
        "blurred",
        '<filter id="f"><feGaussianBlur stdDeviation="1"/></filter>'
        '<text x="5" y="50" filter="url(#f)">Blur</text>',
    ),
    (
        "used",
        '<defs><text id="t" x="5" y="30">Used</text></defs><use href="#t"/>'
        '<use href="#t" y="40" fill="red"/>',
    ),
    (
        "a link",
        '<text x="5" y="50">a <a href="http://x.example"><tspan fill="blue">link</tspan>'
        "</a></text>",
    ),
    (
        "a pattern over the box",
        '<pattern id="p" width=".6" height="1"><rect width="20" height="9"/></pattern>'
        '<text x="5" y="50" fill="url(#p)">Pattern</text>',
    ),
    (
        "a clip path over the box",
        '<clipPath id="k" clipPathUnits="objectBoundingBox"><rect x=".2" y=".3" width=".5" '
        'height=".4"/></clipPath><text x="5" y="50" clip-path="url(#k)">Clipped</text>',
    ),
    (
        "a mask's content over the box",
        '<mask id="k" maskContentUnits="objectBoundingBox"><rect x=".2" y=".3" width=".5" '
        'height=".4" fill="#fff"/></mask><text x="5" y="50" mask="url(#k)">Masked</text>',
    ),
    (
        "blend mode",
        '<rect width="50" height="100" fill="#ff0"/>'
        '<text x="5" y="50" style="mix-blend-mode:multiply" fill="#0ff">Blend it</text>',
    ),
]


@needs_dejavu
@pytest.mark.parametrize(("what", "body"), JUDGED, ids=[what for what, _ in JUDGED])
def test_outlined_text_looks_like_live_text(what: str, body: str) -> None:
    live = drawn(normal(body))
    root, notes = outlined(body)
    assert all("“Nonesuch” is not installed" in note for note in notes)
    texts = root.iter(f"{NAME}text", f"{NAME}tspan")
    assert all(next(text.iterancestors(f"{NAME}defs"), None) is not None for text in texts)
    paths = drawn(as_scene(root), system_fonts=False)
    assert (on_white(live) < 200).any()
    assert mean_difference(live, paths) <= 1
    assert shift_between(live, paths) < 0.5


SHAPED = [
    # (the font, words whose letters join, stack, reorder or change with their neighbours)
    ("Noto Naskh Arabic", "اَلْعَرَبِيَّةُ"),
    ("Noto Sans Devanagari", "नमस्ते क्षत्रिय 12"),
    ("Noto Sans Bengali", "বাংলা কর্ম"),
    ("Noto Sans Tamil", "தமிழ் கொ"),
    ("Noto Sans Thai", "สวัสดี น้ำ"),
    ("Noto Sans Khmer", "ភាសាខ្មែរ"),
    ("Noto Sans Myanmar", "မြန်မာဘာသာ"),
    ("Noto Sans Sinhala", "ශ්\u200dරී ලංකා"),
]


@pytest.mark.parametrize(("family", "words"), SHAPED, ids=[family for family, _ in SHAPED])
def test_scripts_are_shaped_as_resvg_does(family: str, words: str) -> None:
    if find_font(family, 400, False) is None:
        pytest.skip(f"{family} is not installed")
    body = f'<text x="5" y="50">{words}</text>'
    attributes = f'font-family="{family}" font-size="14"'
    live = drawn(normal(body, attributes), family=family)
    root, notes = outlined(body, attributes)
    assert notes == ()
    assert (on_white(live) < 200).any()
    assert mean_difference(live, drawn(root, system_fonts=False)) <= 0.1


LEFT = [
    # (why, the text)
    ("steers the direction", '<text id="t" unicode-bidi="bidi-override">abc</text>'),
    ("by characters", '<text id="t">abc \u202edef</text>'),
    ("hang together", '<text id="t" textLength="50">سلام</text>'),
    ("vertically", '<text id="t" writing-mode="vertical-rl">abc</text>'),
    ("vertically", '<text id="t" style="writing-mode:tb">abc</text>'),
    ("along a path", '<text id="t"><textPath href="#p">abc</textPath></text>'),
    ("small capitals", '<text id="t" font-variant="small-caps">abc</text>'),
    ("stretched", '<text id="t" textLength="50" lengthAdjust="spacingAndGlyphs">abc</text>'),
    ("several lines", '<text id="t" textLength="50" x="1 2 3">abc</text>'),
    ("line breaks", '<text id="t" style="white-space:pre">a\nb</text>'),
    (
        "acts on a part",
        '<mask id="k"><rect width="9" height="9"/></mask>'
        '<text id="t">a<tspan mask="url(#k)">bc</tspan></text>',
    ),
]


@needs_dejavu
@pytest.mark.parametrize(("why", "body"), LEFT)
def test_what_cannot_be_done_right_is_left_and_named(why: str, body: str) -> None:
    root = normal(body)
    before = etree.tostring(root)
    notes = set_text(root)
    assert len(notes) == 1
    assert notes[0].startswith("the text “t” is not outlined: ")
    assert why in notes[0]
    assert etree.tostring(root) == before


@needs_dejavu
def test_one_text_left_does_not_keep_the_others() -> None:
    root, notes = outlined(
        '<text y="9">abc</text><text y="30" writing-mode="tb">down</text><text y="60">def</text>'
    )
    assert len(list(root.iter(f"{NAME}text"))) == 1
    assert notes == ("the text “down” is not outlined: it is written vertically",)


@needs_dejavu
def test_the_group_keeps_what_names_and_changes_the_text() -> None:
    root, _ = outlined(
        '<text id="t" x="5" y="9" transform="scale(2)" data-label="Word" aria-label="w" '
        'style="mix-blend-mode:multiply" fill="red"><title>Title</title>'
        'a<tspan id="s" fill="blue">b</tspan></text>'
    )
    group = root.find(f"{NAME}g")
    assert dict(group.attrib) == {
        "id": "t",
        "transform": "matrix(2 0 0 2 0 0)",
        "data-label": "Word",
        "aria-label": "w",
        "style": "mix-blend-mode:multiply",
        "fill": "#ff0000",
        "data-kind": "text",
        "data-box": group.get("data-box"),
    }
    assert [child.tag.removeprefix(NAME) for child in group] == ["title", "path", "path"]
    assert group[1].get("fill") is None
    assert (group[2].get("id"), group[2].get("fill")) == ("s", "#0000ff")


@needs_dejavu
def test_a_missing_font_is_named_with_what_stands_in() -> None:
    _, notes = outlined('<text font-family="Nonesuch Sans">abc</text>')
    other = stand_in("Nonesuch Sans", 400, False)
    assert other is not None
    assert notes == (f"the font “Nonesuch Sans” is not installed: “{other.family}” stands in",)


@needs_dejavu
def test_the_next_family_of_the_list_is_named() -> None:
    _, notes = outlined('<text font-family="Nonesuch, DejaVu Serif">abc</text>')
    assert notes == ("the font “Nonesuch” is not installed: “DejaVu Serif” stands in",)


@needs_dejavu
def test_generic_families_are_no_substitutes() -> None:
    assert outlined('<text font-family="sans-serif">abc</text>')[1] == ()


@needs_dejavu
def test_a_face_that_is_missing_is_noted() -> None:
    if find_font("DejaVu Math TeX Gyre", 400, False) is None:
        pytest.skip("DejaVu Math TeX Gyre is not installed")
    _, notes = outlined('<text font-weight="900" font-family="DejaVu Math TeX Gyre">a</text>')
    assert notes == ("“DejaVu Math TeX Gyre” has no weight 900 here: drawn in weight 400",)


@needs_dejavu
def test_a_character_no_font_has_is_left_out_with_a_note() -> None:
    root, notes = outlined('<text x="0">a\U000e0fffb</text>')
    assert notes == ("no installed font has “\U000e0fff” (U+E0FFF): left out",)
    assert len(list(root.iter(f"{NAME}path"))) == 1


@needs_dejavu
@pytest.mark.parametrize("live", [False, True])
def test_a_text_that_no_font_can_draw_is_refused(live: bool) -> None:
    root = normal('<text id="t">\U000e0fff \U000e0fff</text>')
    with pytest.raises(InputError, match=r"element “t”: .*no installed font has .*E0FFF"):
        set_text(root, live=live)


@needs_dejavu
def test_characters_another_font_has_are_drawn_in_that_and_told_together() -> None:
    root, notes = outlined('<text font-family="DejaVu Sans Mono">\U0001f600 \U0001f601</text>')
    assert list(root.iter(f"{NAME}path"))
    (note,) = notes
    assert note.startswith(
        "“DejaVu Sans Mono” has no “\U0001f600” (U+1F600), “\U0001f601” (U+1F601)"
    )


@pytest.mark.parametrize(
    ("attributes", "left", "right"),
    [
        # SVG 2 §11.5: the start of text from right to left is its right end. Letters are boxes
        # 10 units wide with 2 behind them.
        ('direction="rtl"', -4, 18),
        ('direction="rtl" text-anchor="middle"', 8, 30),
        ('direction="rtl" text-anchor="end"', 20, 42),
        ("", 20, 42),
        ('text-anchor="end"', -4, 18),
        # Shifts add up in the order of reading; so does Chromium, resvg goes by the look.
        ('dx="0 30"', 20, 48),
    ],
)
def test_where_text_from_right_to_left_stands(
    no_fonts: Path, attributes: str, left: float, right: float
) -> None:
    plain_font("Right", {"א": (500, 500), "ב": (500, 500)}).save(str(no_fonts / "f.ttf"))
    root, _ = outlined(f'<text x="20" font-family="Right" font-size="20" {attributes}>אב</text>')
    (path,) = root.iter(f"{NAME}path")
    across = [float(x) for x in re.findall(r"[ML]([-.\d]+)", path.get("d"))]
    assert (min(across), max(across)) == pytest.approx((left, right))


def test_live_text_names_what_stands_in_and_asks_for_it(no_fonts: Path) -> None:
    plain_font("Only", {"a": (300, 300)}).save(str(no_fonts / "f.ttf"))
    root = normal('<text>a<tspan font-family="serif">a</tspan></text>', 'font-family="Nonesuch"')
    notes = set_text(root, live=True)
    assert notes == ("the font “Nonesuch” is not installed: “Only” stands in",)
    families = [e.get("font-family") for e in root.iter(f"{NAME}text", f"{NAME}tspan")]
    assert families == ["Nonesuch, 'Only'", "serif, 'Only'"]


@needs_dejavu
@pytest.mark.parametrize(
    ("family", "weight", "italic", "stretch", "file"),
    [
        ("DejaVu Sans", 400, False, 5, "DejaVuSans.ttf"),
        ("dejavu sans", 700, False, 5, "DejaVuSans-Bold.ttf"),
        ("DejaVu Sans", 600, False, 5, "DejaVuSans-Bold.ttf"),
        ("DejaVu Sans", 500, False, 5, "DejaVuSans.ttf"),
        ("DejaVu Sans", 400, True, 5, "DejaVuSans-Oblique.ttf"),
        ("DejaVu Sans", 900, True, 5, "DejaVuSans-BoldOblique.ttf"),
        ("DejaVu Sans", 400, False, 3, "DejaVuSansCondensed.ttf"),
        ("DejaVu Sans Condensed", 700, False, 5, "DejaVuSansCondensed-Bold.ttf"),
        ("DejaVuSans-Bold", 400, False, 5, "DejaVuSans-Bold.ttf"),
        ("DejaVu Serif Bold Italic", 400, False, 5, "DejaVuSerif-BoldItalic.ttf"),
    ],
)
def test_the_best_face_is_found(
    family: str, weight: int, italic: bool, stretch: int, file: str
) -> None:
    found = find_font(family, weight, italic, stretch)
    if found is None and ("Extra" in file or "Condensed" in file):
        pytest.skip("the condensed DejaVu fonts are not installed")
    assert found is not None
    assert found.path.name == file


def test_a_font_that_is_not_installed_is_not_found() -> None:
    assert find_font("Nonesuch", 400, False) is None


@pytest.mark.parametrize("live", [False, True])
def test_without_any_font_text_is_refused(no_fonts: Path, live: bool) -> None:
    root = normal("<text>abc</text>")
    with pytest.raises(InputError, match=r".*“abc”: .* no font is installed \(") as told:
        set_text(root, live=live)
    assert "\n" not in str(told.value)


def test_damaged_fonts_are_passed_over(no_fonts: Path) -> None:
    (no_fonts / "a.ttf").write_bytes(b"")
    (no_fonts / "b.ttf").write_bytes(b"\0\1\0\0\0\x40" + b"name" * 90)
    (no_fonts / "c.ttc").write_bytes(b"ttcf\0\1\0\0\xff\xff\xff\xff" + b"x" * 40)
    (no_fonts / "d.otf").write_text("<html>")
    assert installed_fonts() == ()


@needs_dejavu
def test_a_font_cut_short_is_no_crash(request: pytest.FixtureRequest) -> None:
    whole = find_font("DejaVu Sans", 400, False)
    assert whole is not None
    data = whole.path.read_bytes()
    folder: Path = request.getfixturevalue("no_fonts")
    (folder / "cut.ttf").write_bytes(data[: len(data) // 3])
    with pytest.raises(InputError, match="no font is installed"):
        outlined("<text>abc</text>")


def test_a_variable_font_takes_the_weight_asked_for(no_fonts: Path) -> None:
    write_variable(no_fonts / "v.ttf")
    found = find_font("Varies", 650, False)
    assert found is not None
    assert (found.weights, found.italic, found.coloured) == ((100, 900), False, False)
    for weight, wide in ((100, 100), (500, 300), (900, 500)):
        root, notes = outlined(
            f'<text y="0" font-family="Varies" font-size="100" font-weight="{weight}">a</text>'
        )
        assert notes == ()
        (path,) = root.iter(f"{NAME}path")
        assert path.get("d") == f"M0 0L0 -70L{wide / 10:g} -70L{wide / 10:g} 0L0 0Z"


@needs_dejavu
def test_letter_spacing_breaks_ligatures() -> None:
    whole, _ = outlined('<text y="50" letter-spacing="0.001">fi</text>')
    joined, _ = outlined('<text y="50">fi</text>')
    one, other = (next(r.iter(f"{NAME}path")).get("d").count("M") for r in (whole, joined))
    assert (one, other) == (3, 2)


FEATURES = """
languagesystem DFLT dflt;
feature calt { sub a' b by c; } calt;
feature liga { sub b b by d; } liga;
feature kern { pos a d -300; pos [c b] a 150; } kern;
"""


@pytest.mark.parametrize("word", ["aa", "ab", "abb", "bb", "bba", "abab", "ba", "aabba"])
def test_substitutions_and_kerning_as_resvg_does_them(no_fonts: Path, word: str) -> None:
    write_features(no_fonts / "f.ttf", FEATURES)
    body = f'<text x="5" y="50" font-family="Features" font-size="20">{word}</text>'
    live = drawn(normal(body), family="Features")
    root, notes = outlined(body)
    assert notes == ()
    assert (on_white(live) < 200).any()
    assert mean_difference(live, drawn(root, system_fonts=False)) <= 0.05


def write_features(path: Path, features: str) -> None:
    """A font of four letters, boxes that differ in height and width, with OpenType features."""
    from fontTools.feaLib.builder import (  # type: ignore[import-untyped,unused-ignore]
        addOpenTypeFeaturesFromString,
    )

    builder = plain_font("Features", {"a": (300, 300), "b": (400, 500), "c": (600, 700)})
    addOpenTypeFeaturesFromString(builder.font, features)
    builder.save(str(path))


def write_variable(path: Path) -> None:
    """A font whose only letter is a square, 100 units wide at weight 100 and 500 at 900."""
    from fontTools.ttLib.tables.TupleVariation import (  # type: ignore[import-untyped,unused-ignore]
        TupleVariation,
    )

    builder = plain_font("Varies", {"a": (100, 700)})
    builder.setupFvar([("wght", 100, 100, 900, "Weight")], [])
    wider = [(0, 0), (0, 0), (400, 0), (400, 0), (0, 0), (400, 0), (0, 0), (0, 0)]
    builder.setupGvar({"a": [TupleVariation({"wght": (0, 1, 1)}, wider)], ".notdef": [], "d": []})
    builder.save(str(path))

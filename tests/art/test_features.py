"""What motifs make use of, and that CairoSVG is only trusted with what it draws as resvg does."""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path

import pytest
from lxml import etree
from support import SVG, by_resvg, mean_difference, read, root

from vecrepeat.art import features
from vecrepeat.art.features import SECOND_ENGINE, Feature, cairo_draws, features_of
from vecrepeat.art.structure import elements_by_id
from vecrepeat.exporting import Exporter
from vecrepeat.raster.paint import Window
from vecrepeat.raster.sheet import straight
from vecrepeat.vector.sheet import tile_svg

BOX = 'x="10" y="10" width="80" height="80"'
GRADIENT = '<linearGradient id="d"{}><stop stop-color="red"/><stop offset="1"/></linearGradient>'
RADIAL = '<radialGradient id="d" {}><stop stop-color="red"/><stop offset="1"/></radialGradient>'
CLIP = '<clipPath id="d">{}</clipPath>'
CLIPPED = f'<rect {BOX} clip-path="url(#d)"/>'
FILLED = f'<rect {BOX} fill="url(#d)"/>'
LINE = '<path d="M20 70L50 20L80 70" fill="none" stroke="#000" stroke-width="9" {}/>'
HOLED = '<path d="M10 10h80v80h-80zM30 30{}z" clip-rule="evenodd"/>'

KINDS = [
    # (what it shows, definitions, what is drawn, the kinds found)
    ("a plain shape has none", "", f"<rect {BOX}/>", set()),
    ("a gradient", GRADIENT, FILLED, {"gradient"}),
    ("an inherited paint counts where it paints", GRADIENT, '<g fill="url(#d)"><path d="M0 0h9v9"/></g>', {"gradient"}),
    ("and not where nothing paints", GRADIENT, '<g fill="url(#d)"/>', set()),
    ("a pattern, and what it holds", '<pattern id="d"><text>a</text></pattern>', FILLED, {"pattern fill", "text"}),
    ("a mask, and what it holds", '<mask id="d"><g opacity=".5"/></mask>', f'<rect {BOX} mask="url(#d)"/>', {"mask", "opacity group"}),
    ("a mask that masks itself ends", '<mask id="d"><g mask="url(#d)"/></mask>', f'<rect {BOX} mask="url(#d)"/>', {"mask"}),
    ("a filter", '<filter id="d"/>', f'<rect {BOX} filter="url(#d)"/>', {"filter"}),
    ("a filter by a function", "", f'<rect {BOX} filter="blur(2px)"/>', {"filter"}),
    ("what a filter shows", '<filter id="d"><feImage href="#e"/></filter><text id="e"/>', f'<rect {BOX} filter="url(#d)"/>', {"filter", "text"}),
    ("a marker", '<marker id="d"/>', LINE.format('marker-end="url(#d)"'), {"marker"}),
    ("a picture", "", '<image href="data:,"/>', {"image"}),
    ("text", "", "<text>a<tspan>b</tspan></text>", {"text"}),
    ("a blend mode", "", '<g style="mix-blend-mode:multiply"/>', {"blend mode"}),
    ("isolation is none", "", '<g style="isolation:isolate"/>', set()),
    ("an opacity group", "", '<g opacity=".5"/>', {"opacity group"}),
    ("dashes", "", LINE.format('stroke-dasharray="3 2"'), {"dashes"}),
    ("a missing paint", "", FILLED, {"missing reference"}),
    ("a clip by what is no clip", GRADIENT, CLIPPED, {"missing reference"}),
    ("a clip", CLIP.format(f"<rect {BOX}/>"), CLIPPED, {"clip path"}),
    ("a clip on a clip", CLIP.format(f'<rect {BOX} clip-path="url(#e)"/>') + '<clipPath id="e"/>', CLIPPED, {"clip path", "clip path on a clip path"}),
    ("a clip by its box", '<clipPath id="d" clipPathUnits="objectBoundingBox"/>', CLIPPED, {"clip path", "clip in fractions of the box"}),
    ("an even-odd clip", CLIP.format(HOLED.format("h40v40h-40")), CLIPPED, {"clip path", "even-odd clip"}),
    ("an even-odd clip that is none", CLIP.format(HOLED.format("v40h40v-40")), CLIPPED, {"clip path"}),
    ("even-odd on a plain shape", CLIP.format(f'<rect {BOX} clip-rule="evenodd"/>'), CLIPPED, {"clip path"}),
    ("paint order without a stroke", "", f'<rect {BOX} paint-order="stroke"/>', set()),
]  # fmt: skip


@pytest.mark.parametrize(
    ("definitions", "drawn", "kinds"), [pytest.param(*row[1:], id=row[0]) for row in KINDS]
)
def test_kinds(definitions: str, drawn: str, kinds: set[str]) -> None:
    tree = root(f"<defs>{definitions.replace('{}', '')}</defs><g id='m'>{drawn}</g>")
    motif = tree.find(f"{{{SVG}}}g")
    assert motif is not None
    found = features_of(motif, {}, elements_by_id(tree))
    assert {feature.kind for feature in found} == kinds
    assert len(set(found)) == len(found)


def test_names_the_definition_or_the_element() -> None:
    tree = root(f'<defs><filter id="f"/></defs><g id="m"><path filter="url(#f)"/>{LINE}</g>')
    [*_, motif] = tree
    etree.SubElement(motif, f"{{{SVG}}}text")
    found = features_of(motif, {}, elements_by_id(tree))
    assert found == (Feature("filter", "f"), Feature("text", "text"))


def test_what_is_above_the_motif_counts() -> None:
    tree = root(LINE.format('stroke-linecap="butt"'))
    assert not cairo_draws(features_of(tree[0], {"stroke-linecap": "round"}, {}))
    assert cairo_draws(features_of(tree[0], {}, {}))


def test_deep_trees() -> None:
    top = element = etree.Element(f"{{{SVG}}}g")
    for _ in range(5000):
        element = etree.SubElement(element, f"{{{SVG}}}g")
    etree.SubElement(element, f"{{{SVG}}}text")
    assert [feature.kind for feature in features_of(top, {}, {})] == ["text"]


def test_second_engine_holds_kinds_only() -> None:
    kinds = {v for k, v in vars(features).items() if k.isupper() and isinstance(v, str)}
    assert kinds >= SECOND_ENGINE


DRAWN = [
    # (what is drawn, definitions, the drawing, the kind that sends it to resvg, or "")
    ("a gradient", GRADIENT.format(""), FILLED, ""),
    ("a gradient, turned", GRADIENT.format(' gradientTransform="rotate(30 .5 .5)"'), FILLED, ""),
    ("a gradient that repeats", GRADIENT.format(' x2=".2" spreadMethod="repeat"'), FILLED, ""),
    ("a gradient on a flat line", GRADIENT.format(""), '<path d="M5 50H90" stroke="url(#d) red" stroke-width="9"/>', ""),
    ("a gradient from a point to itself", GRADIENT.format(' x2="0"'), FILLED, features.FLAT_GRADIENT),
    ("a gradient of one stop", '<linearGradient id="d"><stop stop-color="red"/></linearGradient>', FILLED, ""),
    ("a gradient squeezed flat", GRADIENT.format(' gradientTransform="matrix(0 0 0 1 0 0)"'), FILLED, features.FLAT_GRADIENT),
    ("a focal point within", RADIAL.format('fx=".3"'), FILLED, ""),
    ("a focal circle", RADIAL.format('fr=".2"'), FILLED, features.FOCAL_CIRCLE),
    ("a radial gradient of no radius", RADIAL.format('r="0"'), FILLED, features.FLAT_GRADIENT),
    ("a clip of shapes apart", CLIP.format('<rect width="40" height="40"/><circle cx="80" cy="80" r="9"/>'), CLIPPED, ""),
    ("a clip of shapes that cross", CLIP.format('<path d="M10 10h50v50h-50z"/><path d="M30 30v50h50v-50z"/>'), CLIPPED, features.JOINED_CLIP),
    ("a clip with a rounded shape after another", CLIP.format('<rect width="40" height="40"/><rect x="50" y="50" width="40" height="40" rx="3"/>'), CLIPPED, features.JOINED_CLIP),
    ("a clip with a hidden shape", CLIP.format('<rect width="60" height="60"/><rect width="9" height="9" visibility="hidden"/>'), CLIPPED, features.HIDDEN_CLIP),
    ("an even-odd clip", CLIP.format(HOLED.format("h40v40h-40")), CLIPPED, features.EVEN_ODD_CLIP),
    ("a clip on a clip", CLIP.format(f'<rect {BOX} clip-path="url(#e)"/>') + '<clipPath id="e"><circle r="50"/></clipPath>', CLIPPED, features.NESTED_CLIP),
    ("a cap set back", "", f'<g stroke-linecap="square">{LINE.format("stroke-linecap='butt'")}</g>', features.STROKE_RESET),
    ("dashes set back", "", f'<g stroke-dasharray="5 9">{LINE.format("stroke-dasharray='none'")}</g>', features.STROKE_RESET),
    ("an odd count of dashes", "", LINE.format('stroke-dasharray="9 3 2"'), ""),
    ("dashes before the start", "", LINE.format('stroke-dasharray="9 3" stroke-dashoffset="-7"'), ""),
    ("a dot", "", LINE.replace("M20 70L50 20L80 70", "M50 50h0").format('stroke-linecap="square"'), features.CAPPED_DOT),
    ("arcs, their flags unspaced", "", '<path d="M20 50a30 30 0 1140 30z"/>', ""),
    ("arcs too small", "", '<path d="M20 50a1 2 30 1 1 40 30z"/>', ""),
    ("an arc of negative radius", "", '<path d="M20 50a-30 20 0 1 1 40 30z"/>', features.ARC),
    ("plus signs", "", '<path d="M+10+10L+90+10L50+90"/>', features.SIGNED_PATH),
    ("plus signs set apart", "", '<path d="M +10 +10 L +90 1e+1 L 50 +90"/>', ""),
    ("stray commas", "", '<path d="M10,10L90,10L50,90,L9,9"/>', features.PATH_ERROR),
    ("moves after a close", "", '<path d="M20 20h20v20zm30 30h20v20zL5 90L9 60z"/>', ""),
    ("an odd coordinate", "", '<polygon points="10,10 90,10 50,90 7" stroke="red"/>', features.SHAPE_ERROR),
    ("geometry on a group", "", f'<g rx="30"><rect {BOX}/></g>', features.STRAY),
    ("corners that are arcs of a circle", "", f'<rect {BOX} rx="99"/>', features.ROUNDED),
    ("narrow rounded corners", "", f'<rect {BOX} rx="9"/>', ""),
    ("a visible shape in a hidden group", "", f'<g visibility="hidden"><rect {BOX} visibility="visible"/><circle r="9"/></g>', ""),
    ("a stroke below its fill", "", f'<rect {BOX} stroke="red" stroke-width="20" paint-order="stroke"/>', features.PAINT_ORDER),
    ("paint of no context", "", f'<rect {BOX} fill="context-fill"/>', features.CONTEXT),
    ("an opacity group", "", f'<g opacity=".4"><rect {BOX}/><circle r="40" fill="red"/></g>', ""),
]  # fmt: skip


@pytest.mark.parametrize(
    ("definitions", "drawn", "kind"), [pytest.param(*row[1:], id=row[0]) for row in DRAWN]
)
def test_cairo_is_trusted_only_where_it_draws_as_resvg_does(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    definitions: str,
    drawn: str,
    kind: str,
) -> None:
    tree = root(f"<defs>{definitions}</defs><g>{drawn}</g>")
    found = features_of(tree[1], {}, elements_by_id(tree))
    assert {feature.kind for feature in found} & SECOND_ENGINE == ({kind} if kind else set())
    anchor = '<path d="M1 1h1v1z"/>'
    art = read(tmp_path, f'<defs>{definitions}</defs><g class="m">{anchor}{drawn}</g>', motifs=".m")
    repeat = art.repeat()
    exporter = Exporter(repeat)
    plan = exporter.plan(Fraction(254, 5))
    size = (plan.width, plan.height)
    assert size == (200, 200)
    ours = straight(exporter.painter(plan, ground=False).paint(Window(0, 0, *size)))
    judge = by_resvg(re.sub(r"^<\?xml.*?\?>", "", tile_svg(repeat)), *size)
    assert (mean_difference(ours, judge) > 2) == bool(kind)

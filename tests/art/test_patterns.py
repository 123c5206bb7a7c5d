"""Pattern fills drawn out as copies: they must look as the pattern does, only sharper."""

from __future__ import annotations

import numpy as np
import pytest
from support import (
    Pixels,
    built,
    by_resvg,
    ids_in,
    markup_of,
    mean_difference,
    on_white,
    references_in,
    svg,
)

from vecrepeat.art import patterns
from vecrepeat.scene.nodes import Element, Fill, Group, Node
from vecrepeat.scene.nodes import Path as ScenePath
from vecrepeat.scene.visit import walk

DOT = '<circle cx="5" cy="5" r="3" fill="#c00"/>'
SHADES = '<stop offset="0" stop-color="#f00"/><stop offset="1" stop-color="#00f"/>'
STAR = "M50 5L79 95L3 40H97L21 95Z"
BIG = '<rect x="10" y="10" width="80" height="60" fill="url(#p)"/>'


def pattern(content: str = DOT, attributes: str = "", *, size: float = 10, key: str = "p") -> str:
    """A pattern in user units, its tile a square."""
    return (
        f'<pattern id="{key}" patternUnits="userSpaceOnUse" width="{size}" height="{size}" '
        f"{attributes}>{content}</pattern>"
    )


def drawn(server: str, shape: str = BIG) -> str:
    return f"<defs>{server}</defs>{shape}"


def expanded(text: str) -> tuple[Group, tuple[str, ...]]:
    """A drawing as a scene, its patterns drawn out, and what is noted of them."""
    builder, scene = built(text)
    return scene, tuple(builder.patterns.notes)


def written(scene: Group) -> str:
    return svg(markup_of(scene))


def pictures(body: str, pixels: int = 400) -> tuple[Pixels, Pixels]:
    """A drawing as resvg paints it, and what we make of it."""
    text = svg(body)
    return by_resvg(text, pixels), by_resvg(written(expanded(text)[0]), pixels)


def paths_in(scene: Node) -> list[ScenePath]:
    """All paths that are painted, in order."""
    found = [node for node, _ in walk(scene) if isinstance(node, ScenePath)]
    return [path for path in found if path.fill or path.stroke]


JUDGED = [
    # (what it shows, the drawing's content); each tile is whole pixels at 400 px a page
    # units
    ("in user space", drawn(pattern())),
    ("an offset moves the content along", drawn(pattern(DOT, 'x="3" y="4"'))),
    ("a negative offset beyond the tile", drawn(pattern(DOT, 'x="-23" y="14"'))),
    (
        "in units of the box",
        drawn('<pattern id="p" width=".25" height=".5"><circle cx="10" cy="10" r="8"/></pattern>'),
    ),
    (
        "in percent of the box",
        drawn('<pattern id="p" width="25%" height="50%"><circle cx="10" cy="10" r="8"/></pattern>'),
    ),
    (
        "an offset in units of the box",
        drawn(
            '<pattern id="p" x=".1" y="10%" width=".25" height=".5">'
            '<circle cx="10" cy="10" r="8"/></pattern>'
        ),
    ),
    (
        "in percent of the page",
        drawn(
            '<pattern id="p" patternUnits="userSpaceOnUse" width="10%" height="20%">'
            f"{DOT}</pattern>"
        ),
    ),
    (
        "content in units of the box",
        drawn(
            pattern(
                '<ellipse cx=".06" cy=".07" rx=".05" ry=".06" fill="#06c"/>',
                'patternContentUnits="objectBoundingBox"',
            )
        ),
    ),
    (
        "content and tile in units of the box",
        drawn(
            '<pattern id="p" width=".25" height=".25" patternContentUnits="objectBoundingBox">'
            '<rect width=".1" height=".2" fill="#06c"/></pattern>'
        ),
    ),
    (
        "each shape has a box of its own",
        drawn(
            '<pattern id="p" width=".25" height=".25" patternContentUnits="objectBoundingBox">'
            '<circle cx=".1" cy=".1" r=".08" fill="#06c"/></pattern>',
            '<rect x="10" y="10" width="40" height="40" fill="url(#p)"/>'
            '<rect x="50" y="60" width="20" height="40" fill="url(#p)"/>',
        ),
    ),
    # transforms
    ("scaled", drawn(pattern(DOT, 'patternTransform="scale(.5 1.5)"'))),
    ("moved", drawn(pattern(DOT, 'patternTransform="translate(3 4)"'))),
    ("turned by a right angle", drawn(pattern(DOT, 'patternTransform="rotate(90)"'))),
    (
        "scaled in units of the box",
        drawn(
            '<pattern id="p" width=".125" height=".25" patternTransform="scale(2 1)">'
            '<circle cx="5" cy="7" r="4"/></pattern>'
        ),
    ),
    (
        "on a shape with a transform",
        drawn(
            pattern(),
            f'<g transform="translate(5 5)">{BIG.replace("/>", "")}'
            ' transform="scale(.5 1.5)"/></g>',
        ),
    ),
    # viewBox
    (
        "a viewBox",
        drawn(pattern('<circle cx="50" cy="50" r="30"/>', 'viewBox="0 0 100 100"')),
    ),
    (
        "a viewBox off the origin",
        drawn(pattern('<circle r="30"/>', 'x="2" viewBox="-50 -50 100 100"')),
    ),
    (
        "a viewBox that does not fit: meet",
        drawn(
            pattern('<rect width="60" height="30"/>', 'viewBox="0 0 100 50"'),
        ),
    ),
    (
        "a viewBox with slice",
        drawn(
            pattern(
                '<rect width="60" height="30"/>',
                'viewBox="0 0 100 50" preserveAspectRatio="xMaxYMid slice"',
            ),
        ),
    ),
    (
        "a viewBox with preserveAspectRatio none",
        drawn(
            pattern(
                '<rect width="60" height="30"/>',
                'viewBox="0 0 100 50" preserveAspectRatio="none"',
            ),
        ),
    ),
    (
        "a viewBox sets content units aside",
        drawn(
            '<pattern id="p" width=".25" height=".25" viewBox="0 0 10 10" '
            f'patternContentUnits="objectBoundingBox">{DOT}</pattern>'
        ),
    ),
    # what crosses the tile
    ("content beyond the tile is cut", drawn(pattern('<circle cx="9" cy="5" r="4"/>'))),
    (
        "content beyond the tile in a viewBox is cut",
        drawn(pattern('<circle cx="90" cy="50" r="40"/>', 'viewBox="0 0 100 100"')),
    ),
    (
        "a stroke beyond the tile is cut",
        drawn(pattern('<path d="M1 1V8" stroke="#060" stroke-width="4"/>')),
    ),
    (
        "content far beyond the tile is cut",
        drawn(
            pattern(
                '<circle cx="5" cy="5" r="30" fill="none" stroke="#060" stroke-width="40"/>'
                '<circle cx="40" cy="0" r="37" fill="#fa0"/>'
            )
        ),
    ),
    (
        "a hatch that runs on",
        drawn(
            pattern(
                '<path d="M-1 1l2-2M0 10L10 0M9 11l2-2" stroke="#060" stroke-width="2"/>'
                '<circle cx="5" cy="5" r="2" fill="#fa0"/>'
            )
        ),
    ),
    (
        "a motif at all four corners over another",
        drawn(
            pattern(
                '<circle cx="5" cy="5" r="5" fill="#fa0"/>'
                '<g fill="#06c"><circle r="3"/><circle cx="10" r="3"/><circle cy="10" r="3"/>'
                '<circle cx="10" cy="10" r="3"/></g><circle cx="5" cy="5" r="3"/>'
            )
        ),
    ),
    (
        "a translucent motif at both sides",
        drawn(
            pattern(
                '<g fill="#06c" fill-opacity=".5"><circle cy="5" r="3"/>'
                '<circle cx="10" cy="5" r="3"/></g>'
            )
        ),
    ),
    # bars
    ("a background", drawn(pattern(f'<rect width="10" height="10" fill="#fd9"/>{DOT}'))),
    (
        "a translucent background",
        drawn(pattern(f'<rect width="10" height="10" fill="#06c" fill-opacity=".4"/>{DOT}')),
    ),
    (
        "a background larger than the tile",
        drawn(pattern(f'<rect x="-5" y="-5" width="30" height="30" fill="#fd9"/>{DOT}')),
    ),
    ("stripes across", drawn(pattern('<rect y="2" width="10" height="4" fill="#060"/>'))),
    ("stripes down", drawn(pattern('<path d="M2-1V11" stroke="#060" stroke-width="2"/>'))),
    (
        "a gingham",
        drawn(
            pattern(
                '<g fill="#06c" fill-opacity=".5"><rect width="10" height="5"/>'
                '<rect width="5" height="10"/></g>'
            )
        ),
    ),
    (
        "a band cut by a clip path",
        drawn(
            '<clipPath id="k"><circle cx="5" cy="5" r="4"/></clipPath>'
            + pattern('<rect y="2" width="10" height="6" clip-path="url(#k)" fill="#060"/>')
        ),
    ),
    # the shape
    ("a circle", drawn(pattern(), '<circle cx="50" cy="50" r="40" fill="url(#p)"/>')),
    ("an ellipse", drawn(pattern(), '<ellipse cx="50" cy="50" rx="45" ry="30" fill="url(#p)"/>')),
    (
        "a rounded rectangle",
        drawn(pattern(), BIG.replace("/>", ' rx="20" ry="10"/>')),
    ),
    ("a polygon", drawn(pattern(), '<polygon points="50,5 95,90 5,90" fill="url(#p)"/>')),
    ("a polyline", drawn(pattern(), '<polyline points="50,5 95,90 5,90" fill="url(#p)"/>')),
    ("a nonzero path", drawn(pattern(), f'<path d="{STAR}" fill="url(#p)"/>')),
    (
        "an even-odd path",
        drawn(pattern(), f'<path d="{STAR}" fill-rule="evenodd" fill="url(#p)"/>'),
    ),
    (
        "an even-odd path by its group",
        drawn(pattern(), f'<g fill-rule="evenodd"><path d="{STAR}" fill="url(#p)"/></g>'),
    ),
    ("a stroke", drawn(pattern(), BIG.replace("/>", ' stroke="#000" stroke-width="6"/>'))),
    (
        "a stroke below the fill",
        drawn(
            pattern(f'<rect width="10" height="10" fill="#fd9"/>{DOT}'),
            BIG.replace("/>", ' stroke="#000" stroke-width="6" paint-order="stroke"/>'),
        ),
    ),
    (
        "a stroke of the group",
        drawn(pattern(), f'<g stroke="#000" stroke-width="6" stroke-dasharray="8 4">{BIG}</g>'),
    ),
    (
        "markers",
        drawn(
            '<marker id="m" markerWidth="3" markerHeight="3" refX="1.5" refY="1.5">'
            '<circle cx="1.5" cy="1.5" r="1.5" fill="#060"/></marker>' + pattern(),
            '<path d="M20 20H80L50 80Z" fill="url(#p)" stroke="#000" stroke-width="4" '
            'marker-mid="url(#m)" paint-order="markers"/>',
        ),
    ),
    ("fill-opacity", drawn(pattern(), BIG.replace("/>", ' fill-opacity=".4"/>'))),
    (
        "fill-opacity over what overlaps",
        drawn(
            pattern(DOT + '<circle cx="7" cy="5" r="2.5" fill="#06c"/>'),
            BIG.replace("/>", ' fill-opacity=".4"/>'),
        ),
    ),
    (
        "opacity",
        drawn(pattern(), BIG.replace("/>", ' opacity=".4" stroke="#000" stroke-width="6"/>')),
    ),
    (
        "a fill of the group",
        drawn(pattern(), '<g fill="url(#p)"><rect x="10" y="10" width="80" height="60"/></g>'),
    ),
    (
        "a fallback is not needed",
        drawn(pattern(), BIG.replace("url(#p)", "url(#p) #0f0")),
    ),
    ("a hidden shape", drawn(pattern(), BIG + BIG.replace("/>", ' visibility="hidden"/>'))),
    ("a line has no inside", drawn(pattern(), BIG + '<line x2="90" y2="90" fill="url(#p)"/>')),
    # effects on the shape
    (
        "a clip path on the shape",
        drawn(
            '<clipPath id="k"><circle cx="50" cy="40" r="30"/></clipPath>' + pattern(),
            BIG.replace("/>", ' clip-path="url(#k)"/>'),
        ),
    ),
    (
        "a clip path in units of the shape's box",
        drawn(
            '<clipPath id="k" clipPathUnits="objectBoundingBox"><circle cx=".5" cy=".5" r=".4"/>'
            "</clipPath>" + pattern(),
            BIG.replace("/>", ' clip-path="url(#k)"/>').replace('"80"', '"75"'),
        ),
    ),
    (
        "a clip path on a clip path in units of the shape's box",
        drawn(
            '<clipPath id="j" clipPathUnits="objectBoundingBox"><circle cx=".5" cy=".5" r=".4"/>'
            '</clipPath><clipPath id="k" clip-path="url(#j)"><rect width="50" height="50"/>'
            "</clipPath>" + pattern(),
            BIG.replace("/>", ' clip-path="url(#k)"/>').replace('"80"', '"75"'),
        ),
    ),
    (
        "a mask on the shape",
        drawn(
            '<mask id="k"><circle cx="50" cy="40" r="45" fill="#fff" fill-opacity=".5"/></mask>'
            + pattern(),
            BIG.replace("/>", ' stroke="#000" stroke-width="30" mask="url(#k)"/>').replace(
                '"80"', '"75"'
            ),
        ),
    ),
    (
        "a mask in units of the box, on a group",
        drawn(
            '<mask id="k" maskContentUnits="objectBoundingBox">'
            '<circle cx=".5" cy=".5" r=".5" fill="#fff"/></mask>' + pattern(),
            f'<g mask="url(#k)">{BIG.replace(chr(34) + "80" + chr(34), chr(34) + "75" + chr(34))}'
            "</g>",
        ),
    ),
    (
        "a filter on the shape",
        drawn(
            '<filter id="k"><feFlood flood-color="#fd9"/><feComposite in="SourceGraphic"/>'
            "</filter>" + pattern(),
            BIG.replace("/>", ' filter="url(#k)"/>').replace('"80"', '"75"'),
        ),
    ),
    (
        "in a mask",
        drawn(
            pattern(DOT.replace("#c00", "#fff"))
            + f'<mask id="k" maskUnits="userSpaceOnUse" width="100" height="100">{BIG}</mask>',
            '<rect width="100" height="100" mask="url(#k)"/>',
        ),
    ),
    (
        "in a use",
        drawn(
            pattern() + '<circle id="c" r="20" fill="url(#p)"/>',
            '<use href="#c" x="30" y="30"/><use href="#c" x="65" y="55"/>',
        ),
    ),
    # the content
    (
        "a gradient in the pattern",
        drawn(
            f'<linearGradient id="g">{SHADES}</linearGradient>'
            + pattern('<rect x="1" y="1" width="7" height="7" fill="url(#g)"/>')
        ),
    ),
    (
        "a gradient defined in the pattern",
        drawn(
            pattern(
                f'<linearGradient id="g">{SHADES}</linearGradient>'
                '<rect x="1" y="1" width="7" height="7" fill="url(#g)"/>'
            )
        ),
    ),
    (
        "a gradient over the tile",
        drawn(
            f'<linearGradient id="g">{SHADES}</linearGradient>'
            + pattern('<rect width="10" height="10" fill="url(#g)"/>')
        ),
    ),
    (
        "the pattern's own inherited properties",
        drawn(pattern('<circle cx="5" cy="5" r="3"/>', 'fill="#06c" stroke="#c00"')),
    ),
    (
        "properties from where the pattern stands",
        f'<g fill="#06c" fill-opacity=".5">{drawn(pattern(DOT.replace(" fill=", " id=")), "")}</g>'
        + BIG,
    ),
    (
        "no properties from where the shape stands",
        drawn(
            pattern('<circle cx="5" cy="5" r="3"/>'),
            f'<g stroke="#c00" stroke-width="3" fill-opacity=".5">{BIG}</g>',
        ),
    ),
    (
        "currentColor where the pattern stands",
        f'<g color="#0a0">{drawn(pattern(DOT.replace("#c00", "currentColor")), "")}</g>'
        f'<g color="#c0c">{BIG}</g>',
    ),
    (
        "a group with a transform in the pattern",
        drawn(
            pattern(
                '<g transform="translate(5 5)" fill="#06c"><g transform="scale(.5)"><circle r="5"/>'
                '<rect width="4" height="8" fill="#c00" transform="rotate(30)"/></g></g>'
            )
        ),
    ),
    (
        "a group with opacity in the pattern",
        drawn(pattern(f'<g opacity=".5">{DOT}<circle cx="7" cy="7" r="2"/></g>')),
    ),
    (
        "a use in the pattern",
        drawn(
            '<circle id="c" r="3"/>' + pattern('<use href="#c" x="5" y="5" fill="#06c"/>'),
        ),
    ),
    (
        "a symbol in the pattern",
        drawn(
            '<symbol id="s" viewBox="0 0 10 10"><circle r="8"/></symbol>'
            + pattern('<use href="#s" x="2" y="2" width="6" height="6"/>'),
        ),
    ),
    ("a pattern without content", drawn(pattern(""), BIG + '<circle r="20"/>')),
    # patterns in patterns
    (
        "a pattern in a pattern",
        drawn(
            pattern('<rect width="1" height="1" fill="#c00"/>', size=2, key="q")
            + pattern('<circle cx="10" cy="10" r="8" fill="url(#q)"/>', size=20)
        ),
    ),
    (
        "a pattern in a pattern in a pattern",
        drawn(
            pattern('<rect width="1" height="1" fill="#c00"/>', size=2, key="r")
            + pattern('<rect width="6" height="10" fill="url(#r)"/>', size=10, key="q")
            + pattern('<rect width="20" height="25" fill="url(#q)"/>', size=30)
        ),
    ),
    (
        "a template",
        drawn(
            pattern(key="q") + '<pattern id="p" href="#q" patternTransform="scale(2)"/>',
        ),
    ),
]


@pytest.mark.parametrize("body", [c[1] for c in JUDGED], ids=[c[0] for c in JUDGED])
def test_a_pattern_drawn_out_looks_the_same(body: str) -> None:
    original, ours = pictures(body)
    assert np.ptp(on_white(original)) > 0, "the original shows nothing"
    assert mean_difference(original, ours) <= 1
    tree, notes = expanded(svg(body))
    assert not [n for n in notes if "renderer" in n]
    text = written(tree)
    assert len(set(ids_in(text))) == len(ids_in(text))
    assert references_in(text) <= set(ids_in(text))


def copies_of(item: str, xs: range, ys: range, step: float) -> str:
    """Copies of a drawing, one at each place of a grid."""
    return "".join(
        f'<g transform="translate({i * step} {j * step})">{item}</g>' for j in ys for i in xs
    )


def cut(content: str) -> str:
    """Content cut by the big rectangle."""
    return (
        '<clipPath id="big"><rect x="10" y="10" width="80" height="60"/></clipPath>'
        f'<g clip-path="url(#big)">{content}</g>'
    )


MANY = range(-12, 30)
STEP = 7.3

BY_HAND = [
    # (what it shows, the pattern, the same drawn by hand)
    (
        "dots",
        pattern('<circle cx="3" cy="4" r="2.5" fill="#c00"/>', size=STEP),
        copies_of('<circle cx="3" cy="4" r="2.5" fill="#c00"/>', MANY, MANY, STEP),
    ),
    (
        "a background under dots",
        pattern(
            '<rect width="7.3" height="7.3" fill="#fd9"/><circle cx="3" cy="4" r="2.5"/>',
            size=STEP,
        ),
        '<rect width="100" height="100" fill="#fd9"/>'
        + copies_of('<circle cx="3" cy="4" r="2.5"/>', MANY, MANY, STEP),
    ),
    (
        "stripes across",
        pattern('<rect y="2" width="7.3" height="4" fill="#060"/>', size=STEP),
        copies_of('<rect y="2" width="100" height="4" fill="#060"/>', range(1), MANY, STEP),
    ),
    (
        "translucent stripes down, as a stroked line",
        pattern(
            '<path d="M3-2V10" stroke="#060" stroke-opacity=".5" stroke-width="2"/>', size=STEP
        ),
        copies_of(
            '<path d="M3 0V100" stroke="#060" stroke-opacity=".5" stroke-width="2"/>',
            MANY,
            range(1),
            STEP,
        ),
    ),
    (
        "a gingham in a viewBox",
        pattern(
            '<g fill="#06c" fill-opacity=".5"><rect width="10" height="5"/>'
            '<rect width="5" height="10"/></g>',
            'viewBox="0 0 10 10"',
            size=STEP,
        ),
        '<g fill="#06c" fill-opacity=".5">'
        + copies_of('<rect width="100" height="3.65"/>', range(1), MANY, STEP)
        + copies_of('<rect width="3.65" height="100"/>', MANY, range(1), STEP)
        + "</g>",
    ),
    (
        "a hatch",
        pattern(
            '<path d="M-1 1l2-2M0 7.3L7.3 0M6.3 8.3l2-2" stroke="#060" stroke-width="2"/>',
            size=STEP,
        ),
        copies_of(
            '<path d="M-100 100L100-100" stroke="#060" stroke-width="2"/>',
            range(-12, 50),
            range(1),
            STEP,
        ),
    ),
    (
        "a motif over all four corners",
        pattern(
            '<g fill="#06c"><circle r="3"/><circle cx="7.3" r="3"/><circle cy="7.3" r="3"/>'
            '<circle cx="7.3" cy="7.3" r="3"/></g>',
            size=STEP,
        ),
        copies_of('<circle r="3" fill="#06c"/>', MANY, MANY, STEP),
    ),
    (
        "a motif of two colours over a side",
        pattern(
            '<circle cy="4" r="3"/><circle cx="7.3" cy="4" r="3"/>'
            '<circle cy="4" r="2" fill="#fa0"/><circle cx="7.3" cy="4" r="2" fill="#fa0"/>',
            size=STEP,
        ),
        copies_of('<circle cy="4" r="3"/><circle cy="4" r="2" fill="#fa0"/>', MANY, MANY, STEP),
    ),
    (
        "turned and skewed",
        pattern(DOT, 'patternTransform="rotate(30) skewX(20) scale(.7)"'),
        '<g transform="rotate(30) skewX(20) scale(.7)">'
        + copies_of(DOT, range(-30, 40), range(-30, 40), 10)
        + "</g>",
    ),
    (
        "stripes, turned",
        pattern('<rect width="10" height="5" fill="#06c"/>', 'patternTransform="rotate(33)"'),
        '<g transform="rotate(33)">'
        + copies_of(
            '<rect x="-200" width="400" height="5" fill="#06c"/>', range(1), range(-20, 20), 10
        )
        + "</g>",
    ),
]


@pytest.mark.parametrize(
    ("server", "by_hand"), [c[1:] for c in BY_HAND], ids=[c[0] for c in BY_HAND]
)
def test_joins_show_at_no_scale(server: str, by_hand: str) -> None:
    tree, notes = expanded(svg(drawn(server)))
    assert notes == ()
    ours, truth = by_resvg(written(tree), 333), by_resvg(svg(cut(by_hand)), 333)
    apart = np.abs(on_white(ours) - on_white(truth))
    assert apart.mean() <= 0.2
    # Where an edge that runs on is drawn by two copies, its pixel is a little darker.
    assert (apart.max(axis=2) > 64).mean() <= 2e-4


def clips_in(scene: Group) -> int:
    return len({node.clip for node, _ in walk(scene) if isinstance(node, Group) and node.clip})


def test_what_is_cut_at_the_tile_is_cut_there() -> None:
    scene, _ = expanded(svg(drawn(pattern('<circle cx="9" cy="5" r="4"/>', size=10))))
    assert clips_in(scene) == 2  # the shape's and the tile's
    assert clips_in(expanded(svg(drawn(pattern())))[0]) == 1


def only_group(body: str) -> Group:
    scene, _ = expanded(svg(body))
    while len(scene.children) == 1 and isinstance(scene.children[0], Group) and not scene.role:
        scene = scene.children[0]
    return scene


def test_the_group_takes_the_shape_s_place_and_names() -> None:
    shape = (
        '<rect id="leaf" x="10" y="10" width="80" height="60" transform="rotate(5)" '
        'tool:label="Leaf" style="mix-blend-mode:multiply" fill="url(#p)" stroke="#000"/>'
    )
    group = only_group(drawn(pattern(), shape))
    assert (group.name, group.role, group.blend) == ("Leaf", "rect", "multiply")
    assert group.transform.b == pytest.approx(np.sin(np.radians(5)))
    (inner,) = group.children
    assert isinstance(inner, Group)
    painted, outline = inner.children
    assert isinstance(painted, Group)
    assert painted.clip is not None
    assert isinstance(outline, ScenePath)
    assert outline.fill is None
    assert outline.stroke is not None
    assert (outline.stroke.paint, outline.name) == ("#000000", "")


def test_only_tiles_that_meet_the_shape_are_drawn() -> None:
    shape = '<rect x="10" y="10" width="20" height="30" fill="url(#p)"/>'
    assert len(paths_in(only_group(drawn(pattern(), shape)))) == 2 * 3
    # A slanted lattice: by the tile's shape, not by its box.
    turned = pattern(DOT, 'patternTransform="rotate(45)"')
    assert len(paths_in(only_group(drawn(turned, shape)))) < 20


NOTED = [
    # (what is wrong, the pattern, what is noted)
    ("no width", pattern().replace('width="10"', ""), "the pattern “p” paints nothing"),
    ("zero height", pattern().replace('height="10"', 'height="0"'), "it has no size"),
    ("negative", pattern().replace('height="10"', 'height="-3"'), "it has no size"),
    ("no number", pattern().replace('height="10"', 'height="wide"'), "it has no size"),
    ("an empty viewBox", pattern(DOT, 'viewBox="0 0 0 10"'), "it has no size"),
    ("flattened", pattern(DOT, 'patternTransform="scale(1 0)"'), "it has no size"),
    ("empty", pattern(""), "it is empty"),
    ("inside itself", pattern(BIG), "the pattern “p” inside itself is left out"),
]


@pytest.mark.parametrize(("server", "note"), [c[1:] for c in NOTED], ids=[c[0] for c in NOTED])
def test_what_paints_nothing_is_noted(server: str, note: str) -> None:
    tree, notes = expanded(svg(drawn(server)))
    assert len(notes) == 1
    assert note in notes[0]
    assert np.ptp(on_white(by_resvg(written(tree), 50))) == 0


def test_a_pattern_without_size_gives_way_to_the_colour_after_it() -> None:
    # SVG 2 §13.2; pservers-pattern-09-f of the SVG 1.1 suite.
    shape = BIG.replace("url(#p)", "url(#p) #00f")
    scene, _ = expanded(svg(drawn(pattern().replace('height="10"', 'height="0"'), shape)))
    assert [path.fill for path in paths_in(scene)] == [Fill("#0000ff")]


def test_a_circle_of_patterns_ends() -> None:
    fill = BIG.replace("url(#p)", "url(#{})")
    servers = pattern(fill.format("q")) + pattern(DOT + fill.format("p"), key="q")
    scene, notes = expanded(svg(drawn(servers)))
    assert notes == ("the pattern “p” inside itself is left out",)
    assert paths_in(scene)


def nest(depth: int) -> str:
    servers = "".join(
        pattern(BIG.replace("#p", f"#p{k + 1}"), size=100, key=f"p{k}") for k in range(depth)
    )
    return drawn(servers + pattern(key=f"p{depth}"), BIG.replace("#p", "#p0"))


def test_patterns_may_nest() -> None:
    scene, notes = expanded(svg(nest(10)))
    assert notes == ()
    assert paths_in(scene)


@pytest.mark.parametrize(
    ("server", "shown"),
    [
        (pattern(size=1), "4,800"),
        (pattern(size=1e-6), "5e+15"),
        (pattern(size=1e-99), "5e+201"),
    ],
    ids=["many", "absurdly many", "countless"],
)
def test_too_many_copies_are_left_to_the_renderer(server: str, shown: str) -> None:
    shape = BIG.replace("<rect", '<rect id="leaf"')
    scene, notes = expanded(svg(drawn(server, shape)))
    note = "the pattern fill of “leaf” is left to the renderer: it would take"
    assert notes == (f"{note} {shown} copies",)
    (path,) = paths_in(scene)
    assert path.fill is not None
    assert isinstance(path.fill.paint, Element)


def test_the_elements_added_are_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(patterns, "MAX_ADDED", 250)
    scene, notes = expanded(svg(drawn(pattern(), BIG * 3)))
    assert [isinstance(child, Group) for child in scene.children] == [True, True, False]
    assert len(notes) == 1
    assert "it would take 48 copies" in notes[0]


LEFT = [
    # (what is left to the renderer, the drawing)
    ("a stroke", BIG.replace("fill=", 'fill="none" stroke=')),
    ("text", '<text x="10" y="50" font-size="40" fill="url(#p)">leaf</text>'),
]


@pytest.mark.parametrize("shape", [c[1] for c in LEFT], ids=[c[0] for c in LEFT])
def test_strokes_and_text_are_left(shape: str) -> None:
    scene, notes = expanded(svg(drawn(pattern(), shape)))
    assert notes == ()
    assert "<pattern" in written(scene)


def test_markers_that_borrow_the_fill_are_left() -> None:
    marker = '<marker id="m"><circle r="1" fill="context-fill"/></marker>'
    body = drawn(
        marker + pattern(), '<path d="M20 20H80L50 80Z" fill="url(#p)" marker-mid="url(#m)"/>'
    )
    _, notes = expanded(svg(body))
    assert notes == ("the pattern fill of “path” is left to the renderer: its markers borrow it",)

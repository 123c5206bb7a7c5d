"""Which elements of a drawing are motifs, what is ground, and what motifs are called.

How drawing programs group artwork into layers, and that artists park unused motifs beside the
page, is common practice, no source.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
import shapely
from support import ids_in, markup_of, needs_cairo, read, write_svg

from vecrepeat.art.read import read_art
from vecrepeat.core.errors import InputError
from vecrepeat.draw.paint import CairoEngine, Window
from vecrepeat.draw.plan import plan_pixels
from vecrepeat.repeat.model import Ground
from vecrepeat.write.svg import tile_svg

A = '<g id="a"><rect x="5" y="5" width="20" height="20"/></g>'
B = '<g id="b"><circle cx="60" cy="60" r="10"/><circle cx="65" cy="60" r="9"/></g>'
C = '<g id="c"><rect x="70" y="10" width="15" height="15"/></g>'
R = '<rect width="9" height="9"/>'
PAGE = 'width="100" height="100"'
GROUND = f'<rect {PAGE} fill="#fed"/>'
GRADIENT = '<linearGradient id="g"><stop/><stop offset="1" stop-color="#fff"/></linearGradient>'
FADED = f'{GRADIENT}<rect {PAGE} fill="url(#g)"/>'
EDGE_CLIP = f'<clipPath id="k"><rect {PAGE}/></clipPath>'
GROUND_FED = Ground("#ffeedd")
WIDE = '<g id="{}"><g id="{}1"><rect x="-1" y="-1" width="9" height="9"/></g>' + (
    '<g id="{}2"><rect x="92" y="92" width="9" height="9"/></g></g>'
)


def wide(name: str) -> str:
    """A group that spans the page, of two named groups."""
    return WIDE.replace("{}", name)


def layer(body: str, attributes: str = "") -> str:
    return f"<g {attributes}>{body}</g>"


FOUND = [
    # (what it shows, the drawing's content, names of its motifs)
    ("top-level groups", A + B, ["a", "b"]),
    ("a loose shape", A + '<path id="p" d="M50 50h9v9z"/>', ["a", "p"]),
    ("stacking order", B + A + C, ["b", "a", "c"]),
    ("groups within a motif stay its own", layer(A + B, 'id="m"') + C, ["m", "c"]),
    ("a motif alone is one motif", B, ["b"]),
    ("a motif alone keeps its name, if it is one shape", A, ["a"]),
    ("and so over a ground", GROUND + A, ["a"]),
    # One group that holds all, as many programs write it.
    ("a wrapper", layer(A + B), ["a", "b"]),
    ("a wrapper over a ground", GROUND + layer(A + B), ["a", "b"]),
    ("a wrapper that holds the ground", layer(GROUND + A + B), ["a", "b"]),
    ("wrappers within wrappers", layer(layer(layer(A + B + C))), ["a", "b", "c"]),
    ("a wrapper with a transform", layer(A + B, 'transform="scale(.5)"'), ["a", "b"]),
    ("a wrapper with paint to inherit", layer(A + B, 'fill="#080"'), ["a", "b"]),
    # Layers, by all that marks them.
    ("layers by groupmode", layer(A + B, 'tool:groupmode="layer"') + C, ["a", "b", "c"]),
    ("layers by label", layer(A + B, 'tool:label="Layer 1"') + C, ["a", "b", "c"]),
    ("layers by id", layer(A + B, 'id="Layer_1"') + C, ["a", "b", "c"]),
    ("layers by data-name", layer(A + B, 'data-name="Artboard 2"') + C, ["a", "b", "c"]),
    ("a layer in German", layer(A + B, 'id="Ebene_1"') + C, ["a", "b", "c"]),
    ("a layer in French", layer(A + B, 'id="Calque_1"') + C, ["a", "b", "c"]),
    (
        "several layers",
        layer(A, 'tool:groupmode="layer"') + layer(B + C, 'tool:groupmode="layer"'),
        ["a", "b", "c"],
    ),
    (
        "layers within layers",
        layer(layer(A + B, 'tool:groupmode="layer"') + C, 'tool:groupmode="layer"'),
        ["a", "b", "c"],
    ),
    (
        "a layer of one motif",
        layer(A, 'tool:groupmode="layer"') + layer(C, 'tool:groupmode="layer"'),
        ["a", "c"],
    ),
    ("layers without any mark", wide("x") + wide("y"), ["x1", "x2", "y1", "y2"]),
    # A name that only starts like a layer's.
    ("a motif called layered-rose", layer(A + B, 'id="layered-rose"') + C, ["layered-rose", "c"]),
    ("a motif called Capable", layer(A + B, 'id="Capable"') + C, ["Capable", "c"]),
    # What acts on a group as a whole keeps it whole.
    ("opacity on a wrapper", layer(A + B, 'id="w" opacity=".5"'), ["w"]),
    ("opacity by style on a wrapper", layer(A + B, 'id="w" style="opacity:.5"'), ["w"]),
    ("opacity on a layer", layer(A + B, 'id="Layer_1" opacity=".5"') + C, ["Layer_1", "c"]),
    ("a blend mode on a wrapper", layer(A + B, 'id="w" style="mix-blend-mode:multiply"'), ["w"]),
    (
        "a clip on a wrapper",
        '<clipPath id="k"><rect x="10" y="10" width="80" height="80"/></clipPath>'
        + layer(A + B, 'id="w" clip-path="url(#k)"'),
        ["w"],
    ),
    (
        "a mask on a wrapper",
        '<mask id="k"><rect width="50" height="50" fill="#fff"/></mask>'
        + layer(A + B, 'id="w" mask="url(#k)"'),
        ["w"],
    ),
    ("full opacity is none", layer(A + B, 'opacity="1"'), ["a", "b"]),
    (
        "a clip at the page's edge",
        EDGE_CLIP + layer(A + B, 'clip-path="url(#k)"'),
        ["a", "b"],
    ),
    # What paints nothing is no motif.
    ("display none", A + C + layer(B, 'display="none"'), ["a", "c"]),
    ("visibility hidden", A + C + layer(B, 'visibility="hidden"'), ["a", "c"]),
    ("no fill, no stroke", A + C + layer(B, 'fill="none"'), ["a", "c"]),
    ("an empty group", A + C + "<g/>" + '<g id="e"><g/></g>', ["a", "c"]),
    ("a shape without size", A + C + '<rect x="5" y="5" width="0" height="9"/>', ["a", "c"]),
    ("opacity 0", A + C + layer(B, 'opacity="0"'), ["a", "c"]),
    ("definitions", f"<defs>{B}</defs>" + A + C, ["a", "c"]),
    ("a symbol", f"<symbol>{B}</symbol>" + A + C, ["a", "c"]),
    # Beside the page.
    ("parked beside the page", A + C + '<rect x="120" y="10" width="9" height="9"/>', ["a", "c"]),
    ("parked above the page", A + C + '<rect x="10" y="-30" width="9" height="9"/>', ["a", "c"]),
    ("crossing the edge", A + '<rect id="x" x="95" y="10" width="9" height="9"/>', ["a", "x"]),
]


@pytest.mark.parametrize(("body", "names"), [f[1:] for f in FOUND], ids=[f[0] for f in FOUND])
def test_what_the_motifs_are(tmp_path: Path, body: str, names: list[str]) -> None:
    assert [m.name for m in read(tmp_path, body).motifs] == names


SELECTED = [
    # (what it shows, content, selector, names)
    ("by id", A + B + C, "#b", ["b"]),
    (
        "by class, in stacking order",
        A + f'<g class="m" id="p">{R}</g>' + layer(B, 'class="m" id="q"'),
        ".m",
        ["p", "q"],
    ),
    ("a list", A + B + C, "#c, #a", ["a", "c"]),
    ("below a group that would be one motif", layer(A + B, 'id="m"') + C, "#m > g", ["a", "b"]),
    ("the outermost of nested matches", layer(A + B, 'id="m"'), "g", ["m"]),
    ("an attribute", A + layer(B, 'id="m" data-motif="1"'), "[data-motif]", ["m"]),
    ("within a group of opacity", layer(A + B, 'opacity=".5"'), "#b", ["b"]),
    ("a rectangle that would be ground", GROUND + A, "rect", ["rect 1", "rect 2"]),
]


@pytest.mark.parametrize(
    ("body", "selector", "names"), [s[1:] for s in SELECTED], ids=[s[0] for s in SELECTED]
)
def test_a_selector_decides(tmp_path: Path, body: str, selector: str, names: list[str]) -> None:
    art = read(tmp_path, body, motifs=selector)
    assert [m.name for m in art.motifs] == names
    assert art.ground is None


def test_a_selected_motif_keeps_the_opacity_it_stood_in(tmp_path: Path) -> None:
    """Taken out of a half-clear group, it must not become opaque."""
    art = read(tmp_path, layer(A + B, 'opacity=".5"'), motifs="#b")
    assert 'opacity="0.5"' in markup_of(art.motifs[0].scene)


def test_what_the_selector_picked_is_not_marked_in_the_art(tmp_path: Path) -> None:
    assert "chosen" not in markup_of(read(tmp_path, A + B, motifs="#b").motifs[0].scene)


def test_a_selected_motif_keeps_the_clip_it_stood_in(tmp_path: Path) -> None:
    clip = '<clipPath id="k"><rect width="60" height="100"/></clipPath>'
    art = read(tmp_path, clip + layer(A + B, 'clip-path="url(#k)"'), motifs="#b")
    assert art.motifs[0].outline.bounds[2] == pytest.approx(60, abs=1e-9)


GROUNDS: list[tuple[str, str, Ground | None, int]] = [
    # (what it shows, content, the ground, number of motifs)
    ("a rectangle", GROUND + A, GROUND_FED, 1),
    ("by percent", '<rect width="100%" height="100%" fill="red"/>' + A, Ground("#ff0000"), 1),
    ("black where nothing is said", f"<rect {PAGE}/>" + A, Ground("#000000"), 1),
    ("a path that is a rectangle", '<path d="M0 0H100V100H0z" fill="#fed"/>' + A, GROUND_FED, 1),
    ("a polygon", '<polygon points="0,0 100,0 100,100 0,100" fill="#fed"/>' + A, GROUND_FED, 1),
    ("a group with a rectangle", f"<g>{GROUND}</g>" + A, GROUND_FED, 1),
    ("groups in groups", f"<g><g>{GROUND}</g></g>" + A, GROUND_FED, 1),
    ("in a layer", f'<g id="Layer_1">{GROUND}{A}</g>', GROUND_FED, 1),
    (
        "larger, for bleed",
        '<rect x="-5" y="-5" width="110" height="110" fill="#fed"/>' + A,
        GROUND_FED,
        1,
    ),
    ("a hair smaller", '<rect x=".02" width="99.96" height="100" fill="#fed"/>' + A, GROUND_FED, 1),
    ("half clear", f'<rect {PAGE} fill="#fed" fill-opacity=".5"/>' + A, Ground("#ffeedd", 0.5), 1),
    (
        "half clear as a whole",
        f'<rect {PAGE} fill="#fed" opacity=".5"/>' + A,
        Ground("#ffeedd", 0.5),
        1,
    ),
    (
        "both",
        f'<g opacity=".5"><rect {PAGE} fill="#fed" fill-opacity=".5"/></g>' + A,
        Ground("#ffeedd", 0.25),
        1,
    ),
    ("an inherited colour", f'<g fill="#fed"><rect {PAGE}/></g>' + A, GROUND_FED, 1),
    (
        "a transform",
        '<rect width="10" height="10" transform="scale(10)" fill="#fed"/>' + A,
        GROUND_FED,
        1,
    ),
    (
        "a turned square",
        f'<rect {PAGE} transform="rotate(90 50 50)" fill="#fed"/>' + A,
        GROUND_FED,
        1,
    ),
    # No ground.
    (
        "smaller than the page",
        '<rect x="1" y="1" width="98" height="98" fill="#fed"/>' + A,
        None,
        2,
    ),
    ("not in full height", '<rect width="100" height="90" fill="#fed"/>' + A, None, 2),
    ("not at the bottom", A + GROUND, None, 2),
    ("a disc as large as the page", '<circle cx="50" cy="50" r="50"/>' + A, None, 2),
    ("rounded corners", f'<rect {PAGE} rx="9"/>' + A, None, 2),
    ("a gradient", FADED + A, None, 2),
    (
        "a stroke that is seen",
        f'<rect {PAGE} fill="#fed" stroke="#f00" stroke-width="9"/>' + A,
        None,
        2,
    ),
    ("two shapes in a group", f'<g id="m">{GROUND}<circle cx="9" cy="9" r="5"/></g>' + A, None, 2),
    ("none at all", A + B, None, 2),
]


@pytest.mark.parametrize(
    ("body", "ground", "motifs"), [g[1:] for g in GROUNDS], ids=[g[0] for g in GROUNDS]
)
def test_what_the_ground_is(tmp_path: Path, body: str, ground: Ground | None, motifs: int) -> None:
    art = read(tmp_path, body)
    assert art.ground == ground
    assert len(art.motifs) == motifs


NAMES = [
    # (what it shows, content, names)
    ("the id", f'<g id="leaf">{R}</g>', ["leaf"]),
    ("the title before the id", f'<g id="x"><title>A leaf</title>{R}</g>', ["A leaf"]),
    ("data-name before the id", f'<g id="x" data-name="A leaf">{R}</g>', ["A leaf"]),
    ("aria-label before the title", f'<g aria-label="A leaf"><title>x</title>{R}</g>', ["A leaf"]),
    (
        "a program's label before all",
        '<g id="x" tool:label="A leaf"><title>x</title><rect width="9" height="9"/></g>',
        ["A leaf"],
    ),
    (
        "the kind and number",
        f'{R}<g><circle r="9"/></g><path d="M0 0h9v9z"/>',
        ["rect 1", "group 2", "path 3"],
    ),
    (
        "the same name twice",
        f'<g data-name="n">{R}</g><g data-name="n"><rect width="8" height="8"/></g>',
        ["n", "n (2)"],
    ),
    (
        "a name that looks numbered",
        "".join(f'<g data-name="{name}">{R}</g>' for name in ("n", "n (2)", "n")),
        ["n", "n (2)", "n (3)"],
    ),
    ("white space", f"<g><title>\n A\t leaf </title>{R}</g>", ["A leaf"]),
    ("an empty title", f'<g id="x"><title> </title>{R}</g>', ["x"]),
    (
        "markup in a title",
        f'<g id="x"><title>A &lt;leaf&gt; &amp; bud</title>{R}</g>',
        ["A <leaf> & bud"],
    ),
    ("any script", f'<g id="葉">{R}</g>', ["葉"]),
    ("a very long one is cut", f'<g id="{"n" * 500}">{R}</g>', ["n" * 80]),
    (
        "a loose shape with opacity keeps its title",
        '<rect width="9" height="9" opacity=".5"><title>A leaf</title></rect>',
        ["A leaf"],
    ),
    (
        "a loose shape with opacity keeps its label",
        '<rect width="9" height="9" opacity=".5" tool:label="A leaf"/>',
        ["A leaf"],
    ),
    (
        "a loose shape with opacity keeps its kind",
        '<rect width="9" height="9" opacity=".5"/>',
        ["rect 1"],
    ),
    (
        "a use keeps its id",
        '<defs><rect id="r" width="9" height="9"/></defs><use id="u" href="#r"/>',
        ["u"],
    ),
]


@pytest.mark.parametrize(("body", "names"), [n[1:] for n in NAMES], ids=[n[0] for n in NAMES])
def test_what_motifs_are_called(tmp_path: Path, body: str, names: list[str]) -> None:
    # Something far off in the corner keeps a single group from being a wrapper.
    far = '<circle id="far" cx="99" cy="99" r="9"/>'
    assert [m.name for m in read(tmp_path, body + far).motifs] == [*names, "far"]


NOTES = [
    # (what it shows, content, a part of a note, the name it must tell)
    ("hidden", A + f'<g id="spare" display="none">{R}</g>', "hidden", "spare"),
    ("hidden by style", A + f'<g id="spare" style="display:none">{R}</g>', "hidden", "spare"),
    ("empty", A + '<g id="spare"><rect width="0" height="9"/></g>', "empty", "spare"),
    (
        "beside the page",
        A + '<rect id="spare" x="130" y="10" width="9" height="9"/>',
        "beside the page",
        "spare",
    ),
    ("a clip at the page's edge", EDGE_CLIP + layer(A + B, 'clip-path="url(#k)"'), "clip", "edge"),
    ("a gradient over the page", FADED + A, "not one flat colour", "motif"),
    ("scripts", A + "<script>1</script>", "scripts", "dropped"),
    (
        "animation",
        '<g id="a"><rect width="9" height="9"><animate attributeName="x"/></rect></g>',
        "animation",
        "dropped",
    ),
    ("foreign content", A + '<foreignObject width="9" height="9"/>', "foreign", "left out"),
]


@pytest.mark.parametrize(
    ("body", "told", "name"), [n[1:] for n in NOTES], ids=[n[0] for n in NOTES]
)
def test_what_is_left_out_is_noted(tmp_path: Path, body: str, told: str, name: str) -> None:
    (note,) = [n for n in read(tmp_path, body).notes if told in n]
    assert name in note
    assert "\n" not in note


def test_nothing_is_noted_where_nothing_is_left_out(tmp_path: Path) -> None:
    assert read(tmp_path, GROUND + A + B).notes == ()


def test_empty_layers_are_no_news_but_what_is_drawn_and_unseen_is(tmp_path: Path) -> None:
    empty = '<g id="skin"><g id="hair"/></g>'
    unseen = '<g id="veil"><rect width="9" height="9" fill="none"/></g>'
    assert read(tmp_path, A + B + empty).notes == ()
    (note,) = read(tmp_path, A + B + empty + unseen).notes
    assert "“veil”" in note
    assert "skin" not in note


def test_motifs_cross_a_clip_at_the_pages_edge(tmp_path: Path) -> None:
    """The clip would cut off just what has to come in again on the other side."""
    crossing = '<rect id="x" x="95" y="50" width="10" height="5"/>'
    art = read(tmp_path, f'{EDGE_CLIP}<g clip-path="url(#k)">{A}{crossing}</g>')
    assert art.motifs[1].outline.bounds == pytest.approx((95, 50, 105, 55), abs=1e-9)
    assert "clip-path" not in markup_of(art.motifs[1].scene)


@pytest.mark.parametrize(
    "body",
    [
        "",
        "<defs><rect width='9' height='9'/></defs>",
        GROUND,
        '<rect x="130" width="9" height="9"/>',
        f'<g display="none">{R}</g>',
        "<title>nothing</title>",
    ],
    ids=["empty", "definitions", "a ground alone", "beside the page", "hidden", "title"],
)
def test_a_drawing_without_motifs_is_refused(tmp_path: Path, body: str) -> None:
    with pytest.raises(InputError, match="no motifs"):
        read(tmp_path, body)


def test_a_selector_that_matches_nothing_is_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"\.bud"):
        read(tmp_path, A, motifs=".bud")


def test_outlines_are_in_mm_of_the_page(tmp_path: Path) -> None:
    """Through a wrapper's transform and two of the motif's own."""
    body = (
        '<g transform="translate(10 20)"><g transform="scale(2)">'
        '<rect id="x" x="5" y="5" width="10" height="1" transform="rotate(90 5 5)"/></g>'
        '<circle cx="80" cy="70" r="5"/></g>'
    )
    art = read(tmp_path, body)
    # The rectangle turns about (5, 5) to x 4…5, y 5…15; doubled and moved: 18…20, 30…50.
    assert art.motifs[0].outline.bounds == pytest.approx((18, 30, 20, 50), abs=1e-9)
    assert art.motifs[1].outline.bounds == pytest.approx((85, 85, 95, 95), abs=1e-9)


def test_files_of_other_names_share_no_ids(tmp_path: Path) -> None:
    """Two drawings with the same ids, once composed, can stand in one page."""
    gradient = '<linearGradient id="g"><stop/><stop offset="1" stop-color="#fff"/></linearGradient>'
    found = []
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        body = gradient + '<circle id="c" r="9" fill="url(#g)"/>'
        write_svg(tmp_path / name, body, name=f"{name}.svg")
        found.append(set(ids_in(tile_svg(read_art(tmp_path / name / f"{name}.svg").repeat()))))
    assert all(found)
    assert not found[0] & found[1]


def test_no_motif_is_lost_between_outline_and_index(tmp_path: Path) -> None:
    """Every motif has an outline with area."""
    art = read(tmp_path, GROUND + A + B + C)
    assert all(shapely.area(m.outline) > 0 for m in art.motifs)
    assert [m.outline.area for m in art.motifs[::2]] == pytest.approx([400, 225])


@pytest.mark.parametrize("selector", ["g:", "[*|a]", "::", "a >"])
def test_a_selector_that_can_not_be_used_is_refused(tmp_path: Path, selector: str) -> None:
    """Whatever the compiler raises: some selectors end in an unfinished branch of it."""
    with pytest.raises(InputError, match="is not understood"):
        read(tmp_path, '<circle id="a" r="9"/>', motifs=selector)


def test_the_drawings_own_opacity_is_each_motifs(tmp_path: Path) -> None:
    art = read(tmp_path, '<circle cx="30" cy="30" r="9"/>', attributes='opacity=".5"')
    assert 'opacity="0.5"' in markup_of(art.motifs[0].scene)


def test_a_motif_out_of_all_proportion_is_refused_by_name(tmp_path: Path) -> None:
    """Its copies would lie thousands deep on every spot of the cloth."""
    with pytest.raises(InputError, match=r"vast.*40 times"):
        read(tmp_path, '<circle id="vast" cx="50" cy="50" r="9000"/>')


@needs_cairo
@pytest.mark.parametrize(
    "body",
    [
        # A shorthand that is no presentation attribute, and names nothing.
        '<path d="M9 20h60l9 70z" marker="url(#a)"/>',
        # A number that no curve can be worked out with; what comes after it is no drawing.
        '<path d="M1e308,49A10,10,0,0,1,49,57"/><rect width="9" height="9"/>',
    ],
    ids=["marker attribute", "an arc from beyond"],
)
def test_odd_attributes_do_no_harm(tmp_path: Path, body: str) -> None:
    repeat = read(tmp_path, body).repeat()
    plan = plan_pixels(repeat, Fraction(25))
    painted = CairoEngine(repeat).painter(plan).paint(Window(0, 0, plan.width, plan.height))
    assert painted[..., 3].max() == 255

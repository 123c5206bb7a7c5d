"""Backdrops of loose drawings: told and left out; what is a thing stays."""

from __future__ import annotations

from pathlib import Path

import pytest
from support import write_svg

from vecrepeat.art.read import read_art
from vecrepeat.sources.source import open_source

GRADED = (
    '<linearGradient id="g"><stop stop-color="#00f"/><stop offset="1" stop-color="#fff"/>'
    "</linearGradient>"
)
FLAT = '<rect width="100" height="100" fill="#cceeff"/>'
BLOOM = '<circle cx="50" cy="50" r="20" fill="#c33"/>'
# Like paper round a traced drawing: its edge bends by half a millimetre.
RAGGED = '<path d="M5 5.4L50 5 95 5.3 95.5 50 95 95 50 94.6 5.2 95 4.8 40z" fill="#fdfdfb"/>'

BACKDROPS = [
    ("flat", FLAT + BLOOM, "flat #cceeff"),
    ("graded", GRADED + '<path d="M0 0H100V100H0z" fill="url(#g)"/>' + BLOOM, "graded"),
    ("within groups", f"<g><g id='all'><g/><path d='M1 1'/>{FLAT}{BLOOM}</g></g>", "flat #cceeff"),
    ("moved", f'<g transform="translate(-50 0) scale(2)">{FLAT}{BLOOM}</g>', "flat #cceeff"),
    (
        "smaller than the page",
        '<rect x="20" y="20" width="60" height="60" fill="#246"/>' + BLOOM,
        "flat #224466",
    ),
    ("ragged paper", RAGGED + BLOOM, "flat #fdfdfb"),
    (
        "paper that the drawing touches",
        RAGGED + '<rect x="4.9" y="5" width="9" height="90"/>',
        "flat #fdfdfb",
    ),
]

# Beyond the page lies what no viewer shows.
SKY = '<rect x="-20" y="-20" width="140" height="140" fill="#cceeff"/>'
BACKDROPS += [
    ("larger than the page", SKY + BLOOM, "flat #cceeff"),
    ("round, and larger", '<circle cx="50" cy="50" r="80" fill="#cef"/>' + BLOOM, "flat #cceeff"),
    (
        "ragged outside",
        '<path d="M-9-9H110V130Q50 90-9 130z" fill="#cef"/>' + BLOOM,
        "flat #cceeff",
    ),
]

# A stalk from the paper's lower edge cuts a third of it away.
CUT = '<path d="M5 5H95V95H62V40H30V95H5z" fill="#fefffc"/><path d="M30 40H62V95H30z" fill="#231"/>'
BACKDROPS.append(("paper that a traced drawing cuts", CUT, "flat #fefffc"))

THINGS = [
    ("an egg", '<ellipse cx="50" cy="50" rx="40" ry="48" fill="#fff"/>' + BLOOM),
    ("rounded", '<rect width="100" height="100" rx="4" fill="#333"/>' + BLOOM),
    ("outlined", '<rect x="1" y="1" width="98" height="98" fill="#fff" stroke="#000"/>' + BLOOM),
    (
        "a house",
        '<rect x="20" y="40" width="60" height="60" fill="#a52"/><path d="M10 40H90L50 5z"/>',
    ),
    ("a lantern", '<rect x="30" y="30" width="40" height="40" fill="#a52"/>' + BLOOM),
    ("all there is", FLAT),
    # The page is a wrong one: it shows next to nothing of the drawing.
    ("a whale", '<ellipse cx="50" cy="50" rx="600" ry="200" fill="#357"/>' + BLOOM),
    ("above the rest", BLOOM + '<rect width="100" height="100" fill="#cef" opacity=".2"/>'),
    ("a ring", '<circle cx="50" cy="50" r="50" fill="#fff"/>' + BLOOM),
    (
        "behind a filter",
        f'<filter id="f"><feOffset/></filter><g filter="url(#f)">{FLAT}{BLOOM}</g>',
    ),
]


@pytest.mark.parametrize(
    ("body", "told"), [row[1:] for row in BACKDROPS], ids=[r[0] for r in BACKDROPS]
)
def test_a_backdrop_is_told_and_left_out(tmp_path: Path, body: str, told: str) -> None:
    file = write_svg(tmp_path, body)
    art = read_art(file, loose=True)
    [note] = art.notes
    assert f"{told} rectangle, which would print as a box" in note
    whole = sum(motif.outline.area for motif in read_art(file, loose=True, backdrop=True).motifs)
    left = sum(motif.outline.area for motif in art.motifs)
    assert 0 < left < 0.9 * whole


@pytest.mark.parametrize("body", [row[1] for row in THINGS], ids=[row[0] for row in THINGS])
def test_a_thing_stays(tmp_path: Path, body: str) -> None:
    file = write_svg(tmp_path, body)
    art, kept = read_art(file, loose=True), read_art(file, loose=True, backdrop=True)
    assert not [note for note in art.notes if "box" in note]
    assert [m.outline.area for m in art.motifs] == [m.outline.area for m in kept.motifs]


MEADOW = '<path d="M-10 60H110V130H-10z" fill="#4a4"/>'
PAGE = '<clipPath id="k"><rect width="100" height="100"/></clipPath>'


def test_a_picture_is_cut_to_its_page(tmp_path: Path) -> None:
    """The sun runs out of the page at the right: of 40 mm it shows 30."""
    [sun] = read_art(
        write_svg(tmp_path, SKY + '<circle cx="90" cy="50" r="20" fill="#fc3"/>'), loose=True
    ).motifs
    assert tuple(sun.box) == pytest.approx((70, 30, 100, 70), abs=0.01)


@pytest.mark.parametrize("sky", [SKY, FLAT, GRADED + SKY.replace("#cceeff", "url(#g)")])
def test_a_scene_stays_whole_and_is_told(tmp_path: Path, sky: str) -> None:
    """Without its sky, straight cuts would be left of it: along 0.45 of the page's sides."""
    file = write_svg(tmp_path, sky + MEADOW + BLOOM)
    art = read_art(file, loose=True)
    [note] = art.notes
    assert "it is a scene that fills its page" in note
    assert tuple(art.motifs[0].box) == pytest.approx((0, 0, 100, 100), abs=0.01)
    told = read_art(file, loose=True, backdrop=True)
    assert not told.notes
    assert told.motifs[0].box == art.motifs[0].box


def test_a_clip_at_the_pages_edge_cuts_a_loose_drawing(tmp_path: Path) -> None:
    """As every viewer does; where nothing crosses the edge it is no more than a burden."""
    for body, box in ((MEADOW, (0, 60, 100, 100)), (BLOOM, (30, 30, 70, 70))):
        file = write_svg(tmp_path, f'{PAGE}<g clip-path="url(#k)">{body}</g>')
        art = read_art(file, loose=True)
        assert tuple(art.motifs[0].box) == pytest.approx(box, abs=0.1)
        assert not art.notes


def test_two_backdrops_are_one_too_many(tmp_path: Path) -> None:
    art = read_art(write_svg(tmp_path, FLAT + FLAT.replace("cceeff", "112233") + BLOOM), loose=True)
    assert [motif.box.width for motif in art.motifs] == pytest.approx([40], abs=0.1)
    assert [word in note for note, word in zip(art.notes, ("#cceeff", "#112233"), strict=True)] == [
        True,
        True,
    ]


def test_a_page_keeps_its_ground(tmp_path: Path) -> None:
    ground = read_art(write_svg(tmp_path, FLAT + BLOOM)).ground
    assert ground is not None
    assert ground.colour == "#cceeff"


def test_a_recipe_may_keep_a_backdrop(tmp_path: Path) -> None:
    """By its name in the recipe, which tells the folder where two files have one name."""
    for folder in ("b", "c"):
        (tmp_path / folder).mkdir()
        write_svg(tmp_path / folder, FLAT + BLOOM, name="bloom.svg")
    recipe = tmp_path / "r.toml"
    recipe.write_text(
        'loose = ["b", "c"]\ntile = "10x10in"\nmotif = [{name = "c/bloom", backdrop = true}]',
        encoding="utf-8",
    )
    source = open_source(recipe, placed=False)
    widths = {name: motif.box.width for name, motif in source.pool.motifs.items()}
    assert widths == pytest.approx({"b/bloom": 40, "c/bloom": 100}, abs=0.1)
    assert len([note for note in source.notes if "print as a box" in note]) == 1

"""Recipes on the command line: made, tossed, filled, and taken wherever a drawing is."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest
from PIL import Image
from support import SPRIG, svg, vecrepeat

BLOOM = (
    '<rect width="100" height="100" fill="#fdf6e3"/>'
    '<path fill="#c33" d="M50 20 80 50 50 80 20 50z"/>'
)
"""A simple motif on a backdrop."""


def data() -> dict[str, object]:
    return tomllib.loads(Path("d.toml").read_text(encoding="utf-8"))


def test_a_recipe_exports_as_its_drawing_does(here: Path) -> None:
    for source, layout in (("art.svg", ("--layout", "half-drop")), ("d.toml", ())):
        assert vecrepeat("export", source, "-o", f"{source}.png", "--dpi", "50", *layout).code == 0
    ours, theirs = (Image.open(f"{name}.png").convert("RGB") for name in ("d.toml", "art.svg"))
    assert ours.tobytes() == theirs.tobytes()


def test_composing_and_listing_take_a_recipe_too(here: Path) -> None:
    assert "half-drop repeat of 3 motifs" in vecrepeat("compose", "d.toml", "-o", "o.svg").out
    listed = json.loads(vecrepeat("motifs", "d.toml", "--json").out)["motifs"]
    assert [(m["name"], m["rank"], m["placed"]) for m in listed] == [
        ("bloom", "hero", 1),
        ("leaf", "secondary", 1),
        ("dot", "filler", 1),
    ]


def test_a_toss_writes_placements_that_keep_their_distance(here: Path) -> None:
    run = vecrepeat(
        *("toss", "d.toml", "--again", "--seed", "5", "--clearance", "4mm", "--json"),
        *("--heroes", "3", "--secondaries", "4", "--fillers", "6", "--direction", "two-way"),
    )
    assert run.code == 0, run.err
    facts = json.loads(run.out)
    assert facts["least_gap_mm"] >= 4
    written = data()
    assert len(written["placement"]) == len(facts["placements"]) == 13  # type: ignore[arg-type]
    assert written["toss"] == {
        "seed": 5, "clearance": 4.0, "direction": "two-way",
        "heroes": 3, "secondaries": 4, "fillers": 6,
    }  # fmt: skip
    before = Path("d.toml").read_bytes()
    assert vecrepeat("toss", "d.toml", "--again").code == 0
    assert Path("d.toml").read_bytes() == before


def test_a_folder_is_tossed_as_full_as_the_word_says(here: Path) -> None:
    """With every motif of it, though one comes as a wall and the next as an icon."""
    loose = here / "loose"
    loose.mkdir()
    for name, side in (("wall", "3000mm"), ("page", "297mm"), ("icon", "16px"), ("dot", "1mm")):
        text = svg(BLOOM, width=side, height=side)
        (loose / f"{name}.svg").write_text(text, encoding="utf-8")
    made = vecrepeat("recipe", "loose", "-o", "f.toml", "--tile", "5x5in", "--density", "airy")
    assert made.code == 0, made.err
    assert "flat #fdf6e3 rectangle, which would print as a box" in made.err
    painted = []
    for asked in ((), ("--density", "packed", "--again")):
        run = vecrepeat("toss", "f.toml", "--json", *asked)
        assert run.code == 0, run.err
        facts = json.loads(run.out)
        assert {row["motif"] for row in facts["placements"]} == {"wall", "page", "icon", "dot"}
        assert not [note for note in facts["notes"] if "nowhere" in note]
        painted.append(facts["coverage"])
    assert painted == sorted(painted)
    written = tomllib.loads(Path("f.toml").read_text(encoding="utf-8"))
    assert written["toss"]["density"] == "packed"


def test_a_motif_that_comes_nowhere_is_named(here: Path) -> None:
    run = vecrepeat("toss", "d.toml", "--again", "--hero-coverage", "0", "--json")
    notes = json.loads(run.out)["notes"]
    assert notes == ["nowhere on the tile, for want of room or of a number: “bloom”"]
    asked = ("--heroes", "0", "--json")
    assert json.loads(vecrepeat("toss", "d.toml", "--again", *asked).out)["notes"] == []
    crowded = ("--heroes", "1", "--hero-scale", "9", "--json")
    [note] = json.loads(vecrepeat("toss", "d.toml", "--again", *crowded).out)["notes"]
    assert "not placed for want of room" in note


def test_a_toss_gives_up_no_placements_unasked(here: Path) -> None:
    run = vecrepeat("toss", "d.toml")
    assert run.code == 2
    assert "--again" in run.err
    assert vecrepeat("toss", "d.toml", "-o", "other.toml", "--seed", "2").code == 0
    assert Path("other.toml").exists()


def test_filling_keeps_what_is_placed(here: Path) -> None:
    before = data()["placement"]
    assert vecrepeat("fill", "d.toml", "--clearance", "2mm", "--scale", "3-5").code == 0
    after = data()["placement"]
    assert after[:3] == before  # type: ignore[index]
    assert {row["motif"] for row in after[3:]} == {"dot"}  # type: ignore[index]


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (("toss", "art.svg"), "write a recipe first"),
        (("fill", "art.svg"), "write a recipe first"),
        (("toss", "d.toml", "-o", "sub/d.toml"), "same folder"),
        (("toss", "d.toml", "--again", "--hero-scale", "2-1"), "smaller"),
        (("toss", "d.toml", "--hero-scale", "wide"), "not understood"),
        (("recipe", "art.svg", "-o", "d.toml"), "there already"),
        (("recipe", "art.svg", "-o", "d.txt"), ".toml"),
        (("export", "art.svg", "-o", "o.png", "--layout", "pq4"), "not known"),
        (("export", "art.svg", "-o", "o.png", "--cut-to-region"), "turns nothing"),
    ],
)
def test_what_can_not_be_done_is_one_line(here: Path, call: tuple[str, ...], told: str) -> None:
    run = vecrepeat(*call)
    assert (run.code, run.err.count("\n")) == (2, 1)
    assert told in run.err


def test_a_toss_on_a_plane_group_names_the_direction_it_rules_out(here: Path) -> None:
    text = Path("d.toml").read_text(encoding="utf-8").replace("half-drop", "p4mm")
    Path("d.toml").write_text(text, encoding="utf-8")
    run = vecrepeat("toss", "d.toml", "--again", "--direction", "two-way")
    assert run.code == 2
    assert "p4mm" in run.err
    assert "four-way" in run.err


def test_what_is_to_be_cut_is_not_tossed(here: Path) -> None:
    text = Path("d.toml").read_text(encoding="utf-8").replace("half-drop", "p2mm")
    Path("d.toml").write_text(f"cut-to-region = true\n{text}", encoding="utf-8")
    run = vecrepeat("toss", "d.toml", "--again")
    assert run.code == 2
    assert "cut-to-region" in run.err


@pytest.mark.parametrize(
    ("way", "more"), [("set", {"columns": 2}), ("stripe", {"times": 1}), ("ditsy", {"count": 12})]
)
def test_other_ways_are_written_as_a_toss_is(here: Path, way: str, more: dict[str, int]) -> None:
    options = [str(word) for key, value in more.items() for word in (f"--{key}", value)]
    run = vecrepeat(way, "d.toml", "--again", "--clearance", "2mm", *options, "--json")
    assert run.code == 0, run.err
    facts = json.loads(run.out)
    assert facts["least_gap_mm"] >= 2
    written = data()
    assert len(written["placement"]) == len(facts["placements"])  # type: ignore[arg-type]
    assert written[way] == {"clearance": 2.0, **more}
    # What is written is what is drawn.
    assert vecrepeat("export", "d.toml", "-o", "d.png", "--dpi", "25").code == 0
    refused = vecrepeat(way, "d.toml")
    assert refused.code == 2
    assert f"which a {way} would give up" in refused.err


def test_a_trail_keeps_its_stem_below_what_grows_on_it(here: Path) -> None:
    stem = '<g id="stem"><path d="M0 50C30 20 70 80 100 50" fill="none" stroke="#000"/></g>'
    Path("art.svg").write_text(svg(SPRIG + stem), encoding="utf-8")
    assert vecrepeat("recipe", "art.svg", "-o", "t.toml").code == 0
    run = vecrepeat("trail", "t.toml", "--again", "--along", "stem", "--scale", "0.5", "--json")
    assert run.code == 0, run.err
    facts = json.loads(run.out)
    written = tomllib.loads(Path("t.toml").read_text(encoding="utf-8"))
    assert written["placement"][0] == {"motif": "stem"}
    assert len(written["placement"]) == len(facts["placements"]) + 1
    assert written["trail"] == {"along": "stem", "scale": 0.5}


@pytest.mark.parametrize(
    ("along", "words"),
    [((), "--along"), (("--along", "stalk"), "“stalk”"), (("--along", "no.svg"), "no.svg")],
)
def test_a_trail_without_a_path_is_refused(here: Path, along: tuple[str, ...], words: str) -> None:
    run = vecrepeat("trail", "d.toml", "--again", *along)
    assert run.code == 2
    assert words in run.err
    assert run.err.count("\n") == 1


def test_a_kaleidoscope_from_the_command_line(here: Path) -> None:
    call = ("export", "art.svg", "-o", "k.png", "--layout", "p4mm", "--cut-to-region")
    assert vecrepeat(*call, "--dpi", "50.8").code == 0
    picture = Image.open("k.png").convert("RGB")
    assert picture.size == (200, 200)
    assert picture.tobytes() == picture.transpose(Image.Transpose.FLIP_LEFT_RIGHT).tobytes()

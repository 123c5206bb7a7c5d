"""Trials: each picture is what a toss with its seed comes to."""

from __future__ import annotations

import json
import shlex
import tomllib
from pathlib import Path

import numpy as np
import pytest
from lxml import etree
from PIL import Image
from support import ids_in, references_in, vecrepeat


def test_taking_a_trial_gives_its_cloth(here: Path) -> None:
    before = Path("d.toml").read_bytes()
    asked = ("--heroes", "3", "--hero-scale", "0.5-0.9", "--clearance", "2mm", "--no-even")
    run = vecrepeat(
        "trials", "d.toml", "-n", "3", "--seeds", "3", "--seed", "5", "-o", "out", *asked, "--json"
    )
    assert run.code == 0, run.err
    facts = json.loads(run.out)
    assert sorted(trial["seed"] for trial in facts["trials"]) == [5, 6, 7]
    assert Path("d.toml").read_bytes() == before
    # The command that is told is the command that takes it.
    words = shlex.split(facts["take"].replace("SEED", "6"))
    assert words[0] == "vecrepeat"
    taken = json.loads(vecrepeat(*words[1:], "--json").out)
    told = next(trial for trial in facts["trials"] if trial["seed"] == 6)
    assert len(taken["placements"]) == told["placed"]
    for figure in ("coverage", "nearest_mean_mm", "void_spread_mm", "score"):
        assert taken[figure] == told[figure]
    assert tomllib.loads(Path("d.toml").read_text())["toss"]["seed"] == 6


def test_the_best_of_the_seeds_are_shown_the_best_first(here: Path) -> None:
    def points(*asked: str) -> dict[int, int]:
        run = vecrepeat("trials", "d.toml", *asked, "-o", "out", "--no-even", "--json")
        return {one["seed"]: one["score"]["points"] for one in json.loads(run.out)["trials"]}

    every = points("-n", "6", "--seeds", "6")
    assert list(every.values()) == sorted(every.values(), reverse=True)
    assert len(set(every.values())) > 1
    assert points("-n", "2", "--seeds", "6") == dict(list(every.items())[:2])


def test_the_sheet_names_every_seed_and_draws_each_motif_once(here: Path) -> None:
    assert (
        vecrepeat("trials", "d.toml", "-n", "4", "--seeds", "4", "-o", "out", "--no-even").code == 0
    )
    text = Path("out/trials.svg").read_text(encoding="utf-8")
    root = etree.fromstring(text.encode())
    said = [element.text for element in root.iter("{*}text")]
    assert [any((one or "").startswith(f"seed {n} ") for one in said) for n in range(1, 6)] == [
        *[True] * 4,
        False,
    ]
    ids = ids_in(text)
    assert len(ids) == len(set(ids))
    assert references_in(text) <= set(ids)
    assert sum("-motif-" in key for key in ids) == 3
    width, height = (float(root.get(k, "").removesuffix("mm")) for k in ("width", "height"))
    with Image.open("out/trials.png") as picture:
        assert picture.size == (round(6 * width), round(6 * height))


def test_each_picture_is_two_by_two_tiles_of_its_toss(here: Path) -> None:
    assert (
        vecrepeat("trials", "d.toml", "-n", "2", "--seeds", "2", "-o", "out", "--heroes", "2").code
        == 0
    )
    root = etree.parse("out/trials.svg").getroot()
    box = next(iter(root.iter("{*}clipPath")))[0]
    left, top, side = (round(6 * float(box.get(k, ""))) for k in ("x", "y", "width"))
    with Image.open("out/trials.png") as sheet:
        pixels = np.array(sheet.convert("RGB"))[top : top + side, left : left + side]
    half = side // 2
    assert len(np.unique(pixels.reshape(-1, 3), axis=0)) > 20
    # Down, the upper half comes again; across, it does half a tile lower.
    assert (pixels[:half] == pixels[half:]).all()
    assert (np.roll(pixels[:, :half], half // 2, axis=0) == pixels[:, half:]).all()


def test_a_drawing_may_be_tried_before_it_has_a_recipe(here: Path) -> None:
    run = vecrepeat("trials", "art.svg", "-n", "1", "--seeds", "1", "-o", "out")
    assert run.code == 0, run.err
    assert "vecrepeat recipe art.svg -o art.toml, then vecrepeat toss art.toml" in run.out


def test_a_sheet_that_cannot_be_made_is_refused_in_one_line(here: Path) -> None:
    run = vecrepeat("trials", "d.toml", "-o", "out", "--direction", "free", "--sway", "999")
    assert run.code == 2
    assert run.err.count("\n") == 1
    assert not Path("out").exists()


def test_trials_on_several_cores_are_those_of_one(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = ("trials", "d.toml", "-n", "1", "--seeds", "6", "-o", "out", "--no-even", "--json")
    told = []
    for count in (1, 2):
        monkeypatch.setattr("vecrepeat.proof.seeds.cores", lambda count=count: count)
        run = vecrepeat(*asked)
        told.append((run.out, Path("out/trials.svg").read_bytes()))
    assert told[0] == told[1]

"""``vecrepeat board``: what it works on, and the lines it ends with when it can't."""

from __future__ import annotations

import signal
import socket
from pathlib import Path

import pytest
from browsing import board_of, write_art
from support import vecrepeat

from vecrepeat.sources.source import open_source


def test_a_drawing_gets_a_recipe_beside_it_and_stays_as_it_is(tmp_path: Path) -> None:
    write_art(tmp_path).unlink()
    art = tmp_path / "art.svg"
    before = art.read_bytes()
    with board_of(art, "--layout", "half-drop") as board:
        assert board.ask("/api/cloth")[0] == 200
    assert art.read_bytes() == before
    found = open_source(tmp_path / "art.toml")
    assert str(found.repeat.layout) == "half-drop"
    assert [p.motif.name for p in found.repeat.placements] == ["disc", "leaf", "square"]
    # A second time it is gone on with.
    with board_of(art) as board:
        assert board.ask("/api/cloth")[0] == 200


@pytest.mark.parametrize("undone", [True, False], ids=["nothing unsaved", "something unsaved"])
def test_ctrl_c_ends_it_and_keeps_the_journal_while_it_is_needed(
    tmp_path: Path, undone: bool
) -> None:
    recipe = write_art(tmp_path)
    with board_of(recipe) as board:
        steps: list[object] = [{"order": ["0", "1"]}]
        if undone:
            steps.append({"cursor": 0})
        for n, step in enumerate(steps):
            assert board.ask("/api/step", {"after": n, "step": step})[0] == 200
        board.process.send_signal(signal.SIGINT)
        assert board.process.wait(20) == 0
    assert (tmp_path / ".three.toml.journal").exists() is not undone


def test_another_drawing_s_recipe_is_left_alone(tmp_path: Path) -> None:
    recipe = write_art(tmp_path)
    (tmp_path / "three.svg").write_text((tmp_path / "art.svg").read_text())
    before = recipe.read_bytes()
    run = vecrepeat("board", tmp_path / "three.svg", "--no-browser")
    assert run.code == 2
    assert "not this drawing's" in run.err
    assert recipe.read_bytes() == before


@pytest.mark.parametrize(
    ("options", "said"),
    [
        pytest.param(["none.toml"], "there is no such file", id="no recipe"),
        pytest.param(["none.svg"], "none.svg", id="no drawing"),
        pytest.param(["three.toml", "--layout", "brick"], "for drawings", id="layout of a recipe"),
        pytest.param(["all.toml/big"], "open {}/three.toml", id="a print"),
        pytest.param(["all.toml/none"], "it has big", id="no print"),
        pytest.param(["three.toml", "-o", "four.toml"], "for drawings", id="another recipe"),
    ],
)
def test_what_can_not_be_worked_on_is_said_in_one_line(
    tmp_path: Path, options: list[str], said: str
) -> None:
    write_art(tmp_path)
    (tmp_path / "all.toml").write_text(
        'name = "All"\n[palette]\nink = "#000000"\n'
        '[[print]]\nname = "Big"\nrole = "hero"\nfrom = "three.toml"\n'
    )
    run = vecrepeat("board", tmp_path / options[0], *options[1:], "--no-browser")
    assert run.code == 2
    assert said.format(tmp_path) in run.err
    assert run.err.count("\n") == 1


def test_a_port_that_is_taken_is_said_in_one_line(tmp_path: Path) -> None:
    recipe = write_art(tmp_path)
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        run = vecrepeat("board", recipe, "--port", port, "--no-browser")
    assert (run.code, run.err.count("\n")) == (2, 1)
    assert f"port {port} is taken" in run.err

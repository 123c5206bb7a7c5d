"""States and steps: what the page and the server must agree on."""

from __future__ import annotations

from typing import Any

import pytest

from vecrepeat.board.state import History, first_state
from vecrepeat.core.errors import InputError
from vecrepeat.recipe.model import Placed

KNOWN = {"disc": None, "leaf": None}
START = History((first_state([Placed("disc"), Placed("leaf", (3.0, 4.0))], "block"),))


def test_a_changed_row_leaves_the_others() -> None:
    after = START.after({"rows": {"1": {"motif": "leaf", "at": [5, 6]}}}, KNOWN)
    assert after.now.placed == (Placed("disc"), Placed("leaf", (5.0, 6.0)))


def test_an_order_takes_off_what_it_does_not_name() -> None:
    after = START.after({"order": ["1"]}, KNOWN)
    assert after.now.placed == (Placed("leaf", (3.0, 4.0)),)
    assert list(after.now.rows) == ["1"]


def test_a_cursor_goes_back_and_a_new_step_forgets_what_was_undone() -> None:
    gone = START.after({"order": ["1"]}, KNOWN)
    back = gone.after({"cursor": 0}, KNOWN)
    assert back.now == START.now
    anew = back.after({"layout": "half-drop"}, KNOWN)
    assert [state.layout for state in anew.states] == ["block", "half-drop"]


@pytest.mark.parametrize(
    "step",
    [
        pytest.param({"rows": {"1": {"motif": "moth"}}}, id="a motif that is not there"),
        pytest.param({"rows": {"1": {"motif": "disc", "at": [1]}}}, id="half a place"),
        pytest.param({"rows": {"1": {"motif": "disc", "scale": 0}}}, id="a scale of nothing"),
        pytest.param({"rows": {"1": {"motif": "disc", "at": [float("nan"), 1]}}}, id="no number"),
        pytest.param({"rows": {"1": {"motif": "disc", "colour": "red"}}}, id="an unknown key"),
        pytest.param({"order": ["0", "0"]}, id="one placement twice"),
        pytest.param({"order": ["0", "7"]}, id="a placement that is not there"),
        pytest.param({"layout": "sideways"}, id="an unknown layout"),
        pytest.param({"cursor": 1}, id="a moment that has not been"),
        pytest.param([], id="no step"),
    ],
)
def test_what_makes_no_sense_is_refused(step: Any) -> None:
    with pytest.raises(InputError):
        START.after(step, KNOWN)

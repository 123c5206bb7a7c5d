"""The journal keeps every step, and what a crash cut short spoils nothing."""

from __future__ import annotations

from pathlib import Path

import pytest

from vecrepeat.board.journal import Journal, journal_path, read_journal
from vecrepeat.errors import InputError


def written(folder: Path, steps: int) -> Path:
    path = journal_path(folder / "design.toml")
    journal = Journal(path)
    journal.write("text", {"order": []}, "digest", [])
    for n in range(steps):
        journal.add({"what": f"step {n}"})
    return path


def test_it_lies_hidden_beside_the_recipe(tmp_path: Path) -> None:
    assert written(tmp_path, 0) == tmp_path / ".design.toml.journal"


def test_steps_come_back_in_order(tmp_path: Path) -> None:
    found = read_journal(written(tmp_path, 3))
    assert found is not None
    assert (found.text, found.digest) == ("text", "digest")
    assert [step["what"] for step in found.steps] == ["step 0", "step 1", "step 2"]


@pytest.mark.parametrize("cut", [1, 2, 9])
def test_a_line_cut_short_is_left_out(tmp_path: Path, cut: int) -> None:
    path = written(tmp_path, 3)
    path.write_bytes(path.read_bytes()[:-cut])
    found = read_journal(path)
    assert found is not None
    assert len(found.steps) == 2


def test_none_is_none(tmp_path: Path) -> None:
    assert read_journal(tmp_path / ".none.journal") is None


def test_another_file_of_its_name_is_not_taken_for_one(tmp_path: Path) -> None:
    path = tmp_path / ".design.toml.journal"
    path.write_text("dear diary\n")
    with pytest.raises(InputError, match="no journal"):
        read_journal(path)


def test_two_boards_do_not_write_into_one_another(tmp_path: Path) -> None:
    path = journal_path(tmp_path / "design.toml")
    mine, theirs = Journal(path), Journal(path)
    mine.write("text", {}, "digest", [])
    theirs.write("text", {}, "digest", [{"what": "theirs"}])
    with pytest.raises(InputError, match="another board"):
        mine.add({"what": "mine"})
    found = read_journal(path)
    assert found is not None
    assert found.steps == ({"what": "theirs"},)

"""The journal keeps every step, and whatever spoils a part of it spoils nothing else unsaid."""

from __future__ import annotations

import errno
import json
import os
from pathlib import Path
from typing import Any

import pytest
from browsing import NO_FILES, RECIPE, write_art
from garbled_journals import move, tried
from killed_boards import killed

from vecrepeat.board.desk import Desk
from vecrepeat.board.journal import Journal, journal_path, read_journal
from vecrepeat.core.errors import InputError
from vecrepeat.core.units import counted
from vecrepeat.recipe.model import Placed

STEPS = [{"what": f"step {n}"} for n in range(3)]


def written(folder: Path) -> Path:
    path = journal_path(folder / "design.toml")
    journal = Journal(path)
    journal.write("text", {"order": []}, "digest", [])
    for step in STEPS:
        journal.add(step)
    return path


def test_it_lies_hidden_beside_the_recipe(tmp_path: Path) -> None:
    assert written(tmp_path) == tmp_path / ".design.toml.journal"


def test_steps_come_back_in_order(tmp_path: Path) -> None:
    found = read_journal(written(tmp_path))
    assert found is not None
    assert found.head is not None
    assert (found.head["text"], found.head["digest"]) == ("text", "digest")
    assert [line.step for line in found.lines] == STEPS
    assert (found.last, found.unread) == (3, 0)


def test_steps_added_and_steps_written_at_once_are_the_same_bytes(tmp_path: Path) -> None:
    path = written(tmp_path)
    before = path.read_bytes()
    Journal(path).write("text", {"order": []}, "digest", STEPS)
    assert path.read_bytes() == before


@pytest.mark.parametrize("cut", [1, 2, 9])
def test_an_end_cut_short_takes_no_step_with_it(tmp_path: Path, cut: int) -> None:
    path = written(tmp_path)
    path.write_bytes(path.read_bytes()[:-cut])
    found = read_journal(path)
    assert found is not None
    assert len(found.lines) == 3
    # But for the line's end, its last line can't be read any more.
    assert (found.last, found.unread) == ((3, 0) if cut == 1 else (None, 1))


def test_none_is_none(tmp_path: Path) -> None:
    assert read_journal(tmp_path / ".none.journal") is None


@pytest.mark.parametrize("make", NO_FILES)
def test_what_can_not_be_read_at_all_is_named(tmp_path: Path, make: Any) -> None:
    file = write_art(tmp_path)
    make(journal_path(file))
    with pytest.raises(InputError, match=r"\.three\.toml\.journal: can't read the journal"):
        Desk(file)


@pytest.mark.parametrize("seed", range(0, 200, 20))
def test_a_garbled_journal_loses_no_step_without_a_word(tmp_path: Path, seed: int) -> None:
    for one in range(seed, seed + 20):
        tried(tmp_path, one)


def test_a_step_whose_predecessors_are_lost_is_made_all_the_same(tmp_path: Path) -> None:
    file = write_art(tmp_path)
    desk = Desk(file)
    new = {"motif": "leaf", "at": [5, 5]}
    desk.step(0, move(1))
    desk.step(1, {"rows": {"new": new}, "order": ["0", "1", "2", "new"], "what": "laid"})
    desk.step(2, {"rows": {"new": {**new, "turn": 9}}, "what": "the new one turned"})
    desk.step(3, {"rows": {"newer": new}, "order": ["0", "1", "2", "new", "newer"]})
    desk.step(4, {"cursor": 1})
    desk.step(5, move(6, "2", "square"))
    lines = desk.journal.path.read_bytes().splitlines(keepends=True)
    # Two heads come first. Without the step that laid it, “new” can't be turned.
    desk.journal.path.write_bytes(b"".join(lines[:3] + lines[4:]))
    found = Desk(file)
    assert "2 of 6 steps are lost; 1 step could be made in part" in found.told[0]
    assert found.now == desk.now
    # Moments that undoing leads to: after the first step, and the other branch is gone.
    assert [state.placed[0].at for state in found.history.states] == [
        (20, 50),
        (1.5, 50),
        (1.5, 50),
    ]
    found.close()


def test_an_undoing_that_is_lost_is_known_by_what_was_done_next(tmp_path: Path) -> None:
    file = write_art(tmp_path)
    desk = Desk(file)
    for n, step in enumerate([move(1), move(2), {"cursor": 0}, move(4, "2", "square")]):
        desk.step(n, step)
    lines = desk.journal.path.read_bytes().splitlines(keepends=True)
    desk.journal.path.write_bytes(b"".join(lines[:4] + lines[5:]))
    found = Desk(file)
    assert found.history.states == desk.history.states
    assert "1 of 4 steps is lost" in found.told[0]


@pytest.mark.parametrize(
    "text",
    [
        pytest.param("dear diary\n", id="another text"),
        # As boards wrote it before there were checksums.
        pytest.param(
            '{"version":1,"digest":"","base":{"order":[],"rows":{},"layout":"block"},"text":""}\n'
            '{"rows":{"0":{"motif":"disc","at":[1,2]}},"what":"disc moved"}\n',
            id="an old journal",
        ),
        pytest.param("", id="nothing"),
    ],
)
def test_another_file_of_its_name_is_set_aside_and_told(tmp_path: Path, text: str) -> None:
    file = write_art(tmp_path)
    path = journal_path(file)
    for n in (1, 2):
        path.write_text(text)
        desk = Desk(file)
        aside = path.with_name(f"{path.name}.aside-{n}")
        assert aside.read_text() == text
        assert f"its {counted(len(text.splitlines()), 'line')} can't be read" in desk.told[0]
        assert str(aside) in desk.told[0]
        assert not path.exists()
        assert not desk.dirty


def test_a_motif_that_is_gone_locks_no_board_out(tmp_path: Path) -> None:
    # The recipe leaves placements to the drawing, so that it does not name the motif itself.
    file = write_art(tmp_path, 'art = ["art.svg"]\n')
    desk = Desk(file)
    desk.step(0, move(1, "1", "leaf"))
    desk.step(1, move(2, "2", "square"))
    art = tmp_path / "art.svg"
    art.write_text(art.read_text().replace('id="leaf"', 'id="frond"'))
    found = Desk(file)
    assert "the art has no motif “leaf” any more (bring it back" in found.told[0]
    assert "1 of 2 steps is lost" in found.told[0]
    assert found.now.placed == (Placed("disc"), Placed("square", (2.5, 50.0)))
    assert found.text_now().count("motif =") == 2
    # The way out that it names.
    found.close()
    art.write_text(art.read_text().replace('id="frond"', 'id="leaf"'))
    found.journal.path.with_name(f"{found.journal.path.name}.aside-1").replace(found.journal.path)
    again = Desk(file)
    assert (again.told, again.now) == ([], desk.now)


@pytest.mark.parametrize("began", [False, True], ids=["at the first step", "later"])
def test_a_full_disk_is_called_so_and_steps_work_once_there_is_room(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, began: bool
) -> None:
    file = write_art(tmp_path)
    desk = Desk(file)
    made = [move(1)] if began else []
    for step in made:
        desk.step(0, step)

    def full(handle: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", full)
        for _ in range(3):
            with pytest.raises(InputError, match=r"\.journal: .*the disk is full \(steps are kept"):
                desk.step(len(made), move(2))
    assert desk.steps == made
    # Stopped now, it is taken up without the step that was refused, and with no complaint.
    taken = read_journal(desk.journal.path)
    assert [line.step for line in taken.lines] == made if taken else not made
    desk.step(len(made), move(3))
    desk.step(len(made) + 1, move(4))
    found = Desk(file)
    assert (found.steps, found.told) == ([*made, move(3), move(4)], [])


def test_a_disk_that_fills_up_within_a_line_leaves_the_journal_whole(tmp_path: Path) -> None:
    resource = pytest.importorskip("resource")
    file = write_art(tmp_path)
    desk = Desk(file)
    desk.step(0, move(1))
    before = desk.journal.path.read_bytes()
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    try:
        # The system takes the part that fits, as it does on a full disk.
        resource.setrlimit(resource.RLIMIT_FSIZE, (len(before) + 40, hard))
        with pytest.raises(InputError, match="larger than this disk allows"):
            desk.step(1, {**move(2), "what": "x" * 20_000})
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert desk.journal.path.read_bytes() == before
    desk.step(1, move(2))
    assert Desk(file).steps == [move(1), move(2)]


def test_a_journal_that_is_deleted_is_written_anew(tmp_path: Path) -> None:
    file = write_art(tmp_path)
    desk = Desk(file)
    desk.step(0, move(1))
    desk.journal.path.unlink()
    desk.step(1, move(2))
    assert Desk(file).steps == [move(1), move(2)]


def test_what_something_else_writes_there_is_not_gone_over_nor_taken_away(tmp_path: Path) -> None:
    # Where a folder knows no locks, say.
    file = write_art(tmp_path)
    mine = Desk(file)
    mine.step(0, move(1))
    theirs = Desk(file)
    theirs.step(1, move(2))
    with pytest.raises(InputError, match="something else has written to the journal"):
        mine.step(1, move(3))
    mine.save()
    assert Desk(file).steps == [move(1), move(2)]


def test_a_board_that_is_killed_at_any_moment_loses_no_step(tmp_path: Path) -> None:
    steps, _ = killed(tmp_path, 1)
    assert steps


def test_a_board_stopped_between_saving_and_taking_the_journal_away_knows_its_own_work(
    tmp_path: Path,
) -> None:
    file = write_art(tmp_path)
    desk = Desk(file)
    desk.step(0, move(1))
    journal = desk.journal.path.read_bytes()
    desk.save()
    desk.journal.path.write_bytes(journal)
    found = Desk(file)
    assert (found.foreign, found.dirty, found.told) == (False, False, [])


def test_messages_name_paths_as_they_were_given(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_art(tmp_path)
    (tmp_path / "desk").mkdir()
    (tmp_path / "desk" / "link.toml").symlink_to("../three.toml")
    monkeypatch.chdir(tmp_path)
    journal = Path(".three.toml.journal")
    journal.write_text("dear diary\n")
    desk = Desk(Path("desk/link.toml"))
    assert "kept as desk/../.three.toml.journal.aside-1" in desk.told[0]
    assert str(tmp_path) not in desk.told[0]


def test_a_step_keeps_what_json_has(tmp_path: Path) -> None:
    # RFC 8259: whatever letters a step's words have, a line stays a line.
    path = journal_path(tmp_path / "design.toml")
    journal = Journal(path)
    journal.write(RECIPE, {}, "", [])
    step = {"what": "a\r\nb\u2028c\x85d\x00“é”"}
    journal.add(step)
    found = read_journal(path)
    assert found is not None
    assert found.lines[0].step == step
    assert json.loads(path.read_bytes().splitlines()[2].partition(b" ")[2])["step"] == step

"""One board at a time holds a recipe, and the next says where the first one is."""

from __future__ import annotations

import errno
import json
import os
import shutil
import stat
import webbrowser
from pathlib import Path
from typing import Any

import pytest
from browsing import NO_FILES, board_of, write_art
from support import vecrepeat

from vecrepeat.board import hold as holding
from vecrepeat.board.hold import HeldError, Hold, followed
from vecrepeat.core.errors import InputError


def test_a_second_board_says_where_the_first_is_and_opens_its_page(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    recipe = write_art(tmp_path)
    link = tmp_path / "elsewhere"
    link.symlink_to(tmp_path)
    (tmp_path / "other.toml").symlink_to(recipe)
    opened: list[str] = []
    monkeypatch.setattr(webbrowser, "open", opened.append)
    with board_of(recipe) as board:
        # By whichever path.
        for other in (recipe, link / "three.toml", tmp_path / "other.toml"):
            run = vecrepeat("board", other)
            assert (run.code, run.out, run.err.count("\n")) == (2, "", 1)
            assert "another board is at work on this recipe" in run.err
            assert board.address in run.err
        assert opened == [board.address] * 3
        assert vecrepeat("board", recipe, "--no-browser").code == 2
        assert len(opened) == 3
        # The key is in the file: nobody else may read it.
        file = tmp_path / ".three.toml.board"
        assert stat.S_IMODE(file.stat().st_mode) == 0o600
        # The first one goes on.
        assert board.ask("/api/step", {"after": 0, "step": {"order": ["0"]}})[0] == 200
        board.kill()
    assert file.exists()
    # The lock went with its process, and every step is there.
    with board_of(recipe) as again:
        assert json.loads(again.ask("/api/cloth")[2])["takenUp"] == 1


def test_a_recipe_that_is_let_go_can_be_held_again(tmp_path: Path) -> None:
    recipe = tmp_path / "three.toml"
    for _ in range(2):
        with Hold(recipe) as hold:
            hold.tell("http://127.0.0.1:1/#key")
            with pytest.raises(HeldError) as refused:
                Hold(recipe)
            assert refused.value.address == "http://127.0.0.1:1/#key"
        assert list(tmp_path.iterdir()) == []


def test_a_lock_file_that_was_taken_away_is_not_taken_from_the_next(tmp_path: Path) -> None:
    recipe = tmp_path / "three.toml"
    first = Hold(recipe)
    first.path.unlink()
    with Hold(recipe) as other:
        first.release()
        assert other.path.exists()
        with pytest.raises(HeldError):
            Hold(recipe)


def no_locks(handle: int) -> None:
    raise OSError(errno.ENOLCK, "No locks available")


def test_where_there_are_no_locks_a_page_that_answers_is_one_that_holds(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    recipe = write_art(tmp_path)
    with board_of(recipe) as board:
        with monkeypatch.context() as patch:
            patch.setattr(holding, "_lock", no_locks)
            with pytest.raises(HeldError, match=r"127\.0\.0\.1"):
                Hold(recipe)
        board.kill()
    monkeypatch.setattr(holding, "_lock", no_locks)
    with Hold(recipe) as hold:
        assert "knows no locks" in hold.note


def test_a_board_on_another_machine_is_named_by_it(tmp_path: Path) -> None:
    recipe = tmp_path / "three.toml"
    with Hold(recipe) as hold:
        hold.path.write_text(json.dumps(["studio-mac", "http://127.0.0.1:1/#key"]))
        with pytest.raises(HeldError, match="on the machine “studio-mac”") as refused:
            Hold(recipe)
        # Its address is that machine's alone.
        assert refused.value.address == ""
        assert "127.0.0.1" not in str(refused.value)


@pytest.mark.parametrize("make", NO_FILES)
def test_what_is_no_lock_file_is_named(tmp_path: Path, make: Any) -> None:
    make(tmp_path / ".three.toml.board")
    with pytest.raises(InputError, match=r"\.three\.toml\.board"):
        Hold(tmp_path / "three.toml")


@pytest.mark.skipif(os.name != "posix", reason="POSIX permissions")
def test_another_person_s_board_is_named_with_a_way_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / ".three.toml.board"
    file.write_text("")

    def forbidden(*arguments: object) -> int:
        raise PermissionError(errno.EACCES, "Permission denied")

    monkeypatch.setattr(os, "open", forbidden)
    with pytest.raises(InputError, match=r"another person's board.*delete this file"):
        Hold(tmp_path / "three.toml")


def test_a_stranger_s_lock_file_does_not_get_the_key(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / ".three.toml.board"
    file.write_text("")
    file.chmod(0o666)
    before = file.open()
    uid = os.geteuid()
    # The first look at who has it says: another.
    answers = iter([uid + 1])
    monkeypatch.setattr(os, "geteuid", lambda: next(answers, uid))
    with before, Hold(tmp_path / "three.toml") as hold:
        hold.tell("http://127.0.0.1:1/#key")
        assert before.read() == ""
        assert "#key" in file.read_text()
        assert stat.S_IMODE(file.stat().st_mode) == 0o600


def test_links_are_followed_and_paths_stay_as_given(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("one").mkdir()
    Path("one/link.toml").symlink_to("../three.toml")
    Path("ring.toml").symlink_to("ring.toml")
    assert followed(Path("one/link.toml")) == Path("one/../three.toml")
    assert followed(Path("three.toml")) == Path("three.toml")
    with pytest.raises(InputError, match="in a circle"):
        followed(Path("ring.toml"))


def test_a_drawing_s_recipe_is_begun_by_one_board_alone(tmp_path: Path) -> None:
    write_art(tmp_path).unlink()
    shutil.copy(tmp_path / "art.svg", tmp_path / "drawn.svg")
    with Hold(tmp_path / "drawn.toml"):
        run = vecrepeat("board", tmp_path / "drawn.svg", "--no-browser")
    assert run.code == 2
    assert "another board is at work" in run.err
    assert not (tmp_path / "drawn.toml").exists()

"""Jobs: one queue of commands, with progress, stop and result, the same in every tab."""

from __future__ import annotations

import http.client
import json
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from browsing import Board, board_of, write_art
from support import vecrepeat

EXPORT = {"kind": "export", "settings": {"dpi": 60, "name": "small"}}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("jobs")


@pytest.fixture(scope="module")
def board(folder: Path) -> Iterator[Board]:
    with board_of(write_art(folder)) as found:
        yield found


def told(board: Board, path: str, body: Any = None) -> Any:
    """The answer to a request that must be answered."""
    status, _, answer = board.ask(f"/api/{path}", body)
    assert status == 200, answer
    return json.loads(answer)


class Tab:
    """One that hears the news."""

    def __init__(self, board: Board) -> None:
        self.line = http.client.HTTPConnection("127.0.0.1", board.port, timeout=30)
        headers = {"X-Board-Token": board.token}
        self.line.request("GET", board.at("/api/events"), headers=headers)
        self.answer = self.line.getresponse()

    def hear(self, number: int, *states: str) -> dict[str, Any]:
        """Wait until a job is in one of some states."""
        end = time.monotonic() + 60
        while time.monotonic() < end:
            job = json.loads(self.answer.readline()).get("job")
            if job and job["number"] == number and job["state"] in states:
                return dict(job)
        raise AssertionError(f"job {number} is in none of {states}")

    def close(self) -> None:
        self.line.close()


def test_a_job_s_file_is_the_command_s_to_the_byte_and_every_tab_hears_of_it(
    board: Board, folder: Path
) -> None:
    with closing(Tab(board)) as one, closing(Tab(board)) as other:
        # What is written is what lies on the cloth, saved or not.
        steps = len(told(board, "cloth")["steps"])
        told(board, "step", {"after": steps, "step": {"ground": "#102030", "tile": "80x80mm"}})
        job = told(board, "start", EXPORT)
        for tab in (one, other):
            done = tab.hear(job["number"], "done", "failed")
            assert (done["state"], done["error"]) == ("done", "")
    file = folder / "three-files" / "small.png"
    assert done["said"] == "vecrepeat export three.toml -o three-files/small.png --dpi 60"
    assert "small.png" in done["lines"][0]
    again = folder / "again.png"
    run = vecrepeat("export", folder / "three.toml", "-o", again, "--dpi", "60")
    assert run.code == 0, run.err
    assert file.read_bytes() == again.read_bytes()
    (listed,) = told(board, "written")["files"]
    assert (listed["name"], listed["bytes"]) == ("small.png", file.stat().st_size)
    assert abs(listed["when"] - file.stat().st_mtime) < 1


def test_a_file_is_taken_once_and_by_its_ticket_alone(board: Board, folder: Path) -> None:
    kept = folder / "three-files" / "kept.txt"
    kept.parent.mkdir(exist_ok=True)
    kept.write_text("kept")
    address = told(board, "take", {"file": "three-files/kept.txt"})["address"]
    status, headers, body = board.ask(address, token="")
    assert (status, body) == (200, b"kept")
    assert headers["content-disposition"].startswith("attachment")
    assert board.ask(address, token="")[0] == 404
    assert board.ask("/taken/guessed/kept.txt", token="")[0] == 404
    (kept.parent / "link.txt").symlink_to("/etc/passwd")
    for file in ("three.toml", "art.svg", "../x", "three-files/link.txt", "three-files/none"):
        assert board.ask("/api/take", {"file": file})[0] == 400, file
    assert all(one["name"] != "link.txt" for one in told(board, "written")["files"])


def test_a_stopped_job_leaves_nothing_half_written_and_the_next_one_runs(
    board: Board, folder: Path
) -> None:
    # 40 m of cloth at 1200 dpi and more colours than one: minutes.
    settings = {"sheet": "40x40m", "dpi": 1200, "name": "long", "ending": "tif"}
    with closing(Tab(board)) as tab:
        long = told(board, "start", {"kind": "export", "settings": settings})
        waits = told(board, "start", EXPORT)
        tab.hear(long["number"], "working")
        output = folder / "three-files"
        end = time.monotonic() + 30
        while not list(output.glob(".vecrepeat-*")) and time.monotonic() < end:
            time.sleep(0.05)
        assert list(output.glob(".vecrepeat-*"))
        assert told(board, "stop", {"number": long["number"]})["state"] == "stopped"
        assert tab.hear(waits["number"], "done", "failed")["state"] == "done"
    assert not list(output.glob(".vecrepeat-*"))
    assert not (output / "long.tif").exists()


def test_what_can_not_be_done_is_a_job_that_says_why(board: Board) -> None:
    with closing(Tab(board)) as tab:
        job = told(board, "start", {"kind": "export", "settings": {"dpi": "many"}})
        assert "not usable" in tab.hear(job["number"], "failed", "done")["error"]
    for asked in ({"kind": "toss", "settings": {}}, {"kind": "rm", "settings": {}}):
        assert board.ask("/api/start", asked)[0] == 400
    assert board.ask("/api/stop", {"number": 99})[0] == 400


def test_how_large_a_file_will_be_is_told_beforehand(board: Board, folder: Path) -> None:
    asked = {"dpi": 254, "sheet": "200x100mm", "ending": "png"}
    foreseen = told(board, "foresee", {"settings": asked})
    # 10 px to the mm.
    assert foreseen["pixels"] == [2000, 1000]
    assert foreseen["size"] == [200, 100]
    with closing(Tab(board)) as tab:
        job = told(board, "start", {"kind": "export", "settings": {**asked, "name": "foreseen"}})
        tab.hear(job["number"], "done")
    size = (folder / "three-files" / "foreseen.png").stat().st_size
    assert foreseen["bytes"] == pytest.approx(size, rel=0.3)

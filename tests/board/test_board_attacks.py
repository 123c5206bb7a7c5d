"""What a hostile or hasty request, a heavy cloth and an odd disk do to the board: nothing."""

from __future__ import annotations

import asyncio
import http.client
import json
import signal
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import psutil
import pytest
from browsing import NO_FILES, RECIPE, Board, board_of, write_art

from vecrepeat.board.desk import Desk
from vecrepeat.board.helper import Helper
from vecrepeat.core.errors import InputError

SOON = 2.0
"""Seconds in which Ctrl+C ends the board, whatever is at work."""
HEAVY = {"what": ["clearance", "voids", "alleys"], "clearance": 99}
STEP = {"rows": {"0": {"motif": "leaf", "at": [1, 1]}}}


def write_heavy(folder: Path) -> Path:
    """Write a recipe of which looking takes minutes: 400 leaves in many layers."""
    rows = "".join(
        f'    {{motif = "leaf", at = [{k * 37 % 100}, {k * 61 % 100}], turn = {k}}},\n'
        for k in range(400)
    )
    head = RECIPE.partition("placement")[0].replace('"half-drop"', '"block"')
    return write_art(folder, f"{head}placement = [\n{rows}]\n")


@pytest.fixture(scope="module")
def board(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Board]:
    with board_of(write_art(tmp_path_factory.mktemp("attacks"))) as found:
        yield found


@pytest.fixture(scope="module")
def heavy(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Board]:
    with board_of(write_heavy(tmp_path_factory.mktemp("heavy"))) as found:
        yield found


def raw(board: Board, path: str, body: bytes) -> tuple[int, str]:
    """Post bytes; return status and the error's sentence."""
    line = http.client.HTTPConnection("127.0.0.1", board.port, timeout=30)
    line.request("POST", board.at(path), body, {"X-Board-Token": board.token})
    answer = line.getresponse()
    found = answer.status, json.loads(answer.read())["error"]
    line.close()
    return found


DEEP = b"[" * 100_000 + b"]" * 100_000
NOT_QUITE_AS_DEEP = b"[" * 900 + b"]" * 900


@pytest.mark.parametrize(
    ("path", "body"),
    [
        ("step", b'{"after":Infinity,"step":{}}'),
        ("step", b'{"after":-Infinity,"step":{}}'),
        ("step", b'{"after":NaN,"step":{}}'),
        ("step", b'{"after":1e400,"step":{}}'),
        ("step", b'{"after":0.0,"step":{}}'),
        ("step", b'{"after":true,"step":{}}'),
        ("step", b'{"after":"0","step":{}}'),
        ("step", b'{"after":null,"step":{}}'),
        ("step", b'{"after":' + b"9" * 4000 + b',"step":{}}'),
        ("step", b'{"after":' + b"9" * 5000 + b',"step":{}}'),
        ("step", DEEP),
        ("step", b'{"after":0,"step":' + DEEP + b"}"),
        ("step", b'{"after":0,"step":{"what":' + NOT_QUITE_AS_DEEP + b"}}"),
        ("step", b'{"after":0,"step":{"more":' + NOT_QUITE_AS_DEEP + b"}}"),
        ("step", b'{"after":0,"step":{"order":' + NOT_QUITE_AS_DEEP + b"}}"),
        ("step", b'{"after":0,"step":{"rows":' + NOT_QUITE_AS_DEEP + b"}}"),
        ("step", b'{"after":0,"step":{"cursor":true}}'),
        ("step", b'{"after":0,"step":{"cursor":-1}}'),
        ("step", b'{"after":0,"step":{"order":[0]}}'),
        ("step", b'{"after":0,"step":{"layout":["block"]}}'),
        ("step", b'{"after":0,"step":{"rows":{"9":{"motif":"disc"}}}}'),
        ("step", b'{"after":0,"step":{"rows":{"0":{"motif":"disc","at":[1e400,1]}}}}'),
        ("step", b'{"after":0,"step":{"rows":{"0":{"motif":{},"at":[1,1]}}}}'),
        # Half of a surrogate pair: JSON has it, UTF-8 has not.
        ("step", b'{"after":0,"step":{"what":"\\ud800","order":["0"]}}'),
        ("lie", b'{"layout":"\\ud800"}'),
        ("lie", b'{"layout":"drop:1/99999999999"}'),
        ("lie", b"{}"),
        ("colour", b'{"what":"dress","row":{"name":"\\ud800","colours":{"\\ud800":"#fff"}}}'),
        ("colour", b'{"what":"code","group":1e300}'),
        ("colour", b'{"what":"toss"}'),
        ("colour", b"null"),
        ("find", b'{"profile":"\\ud800"}'),
        ("find", b'{"profile":"../../etc/passwd"}'),
        ("use", b'{"scene":"x"}'),
        ("use", b"[]"),
        ("look", b'{"what":["clearance"],"clearance":Infinity}'),
        ("look", b'{"what":["clearance"],"clearance":1e400}'),
        ("look", b'{"what":["clearance"],"clearance":1000}'),
        ("look", b'{"what":["clearance"],"clearance":-1}'),
        ("look", b'{"what":5,"clearance":1}'),
        ("look", b"[1]"),
        ("arrange", b'{"way":"toss","settings":{"seed":1e400}}'),
        ("arrange", b'{"way":"toss","settings":{"seed":' + b"9" * 4000 + b"}}"),
        ("arrange", b'{"way":"toss","settings":{"clearance":"' + b"9" * 400 + b'mm"}}'),
        ("arrange", b'{"way":"toss","settings":{"never":1}}'),
        ("arrange", b'{"way":"rm","settings":{}}'),
        ("arrange", b'{"way":"trail","settings":{"along":"/etc/passwd"}}'),
        ("arrange", b'"seed"'),
        ("fill", b'{"settings":{"seed":{}}}'),
        ("step", b'{"after":0,"step":{"motifs":{"disc":{"width":-1}}}}'),
        ("step", b'{"after":0,"step":{"motifs":{"none":{}}}}'),
        ("step", b'{"after":0,"step":{"settings":{"toss":{"seed":-1}}}}'),
        ("step", b'{"after":0,"step":{"settings":{"rm":{}}}}'),
        ("save", b"[]"),
        ("reread", b"{}"),
        ("step", b"\xff\xfe"),
        ("step", b""),
    ],
)
def test_what_is_no_request_is_answered_with_400(board: Board, path: str, body: bytes) -> None:
    status, error = raw(board, f"/api/{path}", body)
    assert status == 400
    assert error
    assert json.loads(board.ask("/api/cloth")[2])["steps"] == []


def in_background(work: Callable[[], Any]) -> tuple[threading.Thread, list[Any]]:
    """Begin work in a thread; what it returns comes into the list."""
    found: list[Any] = []
    thread = threading.Thread(target=lambda: found.append(work()))
    thread.start()
    return thread, found


def wait_for_helper(board: Board) -> psutil.Process:
    """The process that looks, once it is at it."""
    end = time.monotonic() + 30
    while time.monotonic() < end:
        for child in psutil.Process(board.process.pid).children():
            # It has read its modules by then.
            if child.cpu_times().user > 1.0:
                return child
        time.sleep(0.05)
    pytest.fail("nothing looks")


def test_steps_do_not_wait_for_a_look_and_a_newer_look_goes_before_it(heavy: Board) -> None:
    looking, found = in_background(lambda: heavy.ask("/api/look", HEAVY))
    wait_for_helper(heavy)
    begun = time.monotonic()
    assert heavy.ask("/api/step", {"after": 0, "step": STEP})[0] == 200
    assert time.monotonic() - begun < 1
    assert not found
    assert heavy.ask("/api/look", {"what": [], "clearance": 1})[0] == 200
    looking.join(15)
    assert found[0][0] == 409
    assert "a newer request" in json.loads(found[0][2])["error"]


def test_a_look_that_nobody_waits_for_any_more_makes_room(heavy: Board) -> None:
    line = http.client.HTTPConnection("127.0.0.1", heavy.port, timeout=30)
    line.request("POST", heavy.at("/api/look"), json.dumps(HEAVY), {"X-Board-Token": heavy.token})
    helper = wait_for_helper(heavy)
    line.close()
    assert psutil.wait_procs([helper], 10)[0]


@pytest.mark.parametrize("ended", ["Ctrl+C", "killed"])
def test_the_board_ends_at_once_in_the_middle_of_a_look_and_its_helper_with_it(
    tmp_path: Path, ended: str
) -> None:
    with board_of(write_heavy(tmp_path)) as board:
        assert board.ask("/api/step", {"after": 0, "step": STEP})[0] == 200

        def look() -> int:
            try:
                return board.ask("/api/look", HEAVY)[0]
            except (OSError, http.client.HTTPException):
                return 0

        def listen() -> None:
            line = http.client.HTTPConnection("127.0.0.1", board.port, timeout=30)
            line.request("GET", board.at("/api/events"), headers={"X-Board-Token": board.token})
            with suppress(OSError, http.client.HTTPException):
                line.getresponse().read()
            line.close()

        threads = [in_background(look)[0], in_background(listen)[0]]
        helper = wait_for_helper(board)
        begun = time.monotonic()
        if ended == "Ctrl+C":
            board.process.send_signal(signal.SIGINT)
            assert board.process.wait(20) == 0
            assert time.monotonic() - begun < SOON
            assert board.process.stderr is not None
            assert "Traceback" not in board.process.stderr.read()
            assert not (tmp_path / ".three.toml.board").exists()
        else:
            board.kill()
        assert psutil.wait_procs([helper], 10)[0]
        for thread in threads:
            thread.join(10)
    assert Desk(tmp_path / "three.toml").taken_up == 1


def test_ctrl_c_ends_the_board_while_its_own_threads_are_busy(tmp_path: Path) -> None:
    # Art that takes long to read anew: the reading has no process of its own.
    recipe = write_art(tmp_path)
    with board_of(recipe) as board:
        slow = "".join(
            f'<path id="p{k}" d="M{k % 90} 9'
            + "".join(f"L{(k + i * i) % 97} {i * 7 % 89}" for i in range(3000))
            + 'z"/>'
            for k in range(60)
        )
        art = tmp_path / "art.svg"
        art.write_text(art.read_text().replace("</svg>", f"{slow}</svg>"))

        def reread() -> int:
            try:
                return board.ask("/api/reread", {"drop": False})[0]
            except (OSError, http.client.HTTPException):
                return 0

        thread, found = in_background(reread)
        time.sleep(0.5)
        begun = time.monotonic()
        assert not found
        board.process.send_signal(signal.SIGINT)
        assert board.process.wait(20) == 0
        assert time.monotonic() - begun < SOON
        assert board.process.stderr is not None
        assert "Traceback" not in board.process.stderr.read()
        thread.join(10)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["art.svg", "three.toml"]


def test_looking_is_given_up_when_its_time_is_over(tmp_path: Path) -> None:
    desk = Desk(write_heavy(tmp_path))

    async def asked() -> None:
        helper = Helper(desk, 0.2, "ask for less")
        begun = time.monotonic()
        with pytest.raises(InputError, match=r"longer than 0\.2 s \(ask for less\)"):
            await helper.ask("", "look", HEAVY)
        assert time.monotonic() - begun < SOON

    asyncio.run(asked())


@pytest.mark.parametrize("make", NO_FILES)
def test_a_recipe_that_becomes_another_thing_is_told_and_hangs_nothing(
    tmp_path: Path, make: Any
) -> None:
    recipe = write_art(tmp_path)
    before = recipe.read_bytes()
    with board_of(recipe) as board:
        recipe.unlink()
        make(recipe)
        assert board.ask("/api/step", {"after": 0, "step": STEP})[0] == 200
        status, _, body = board.ask("/api/save", {})
        assert (status, "changed on disk" in json.loads(body)["error"]) == (409, True)
        status, _, body = board.ask("/api/reread", {"drop": True})
        assert status == 400
        assert "three.toml" in json.loads(body)["error"]
        (recipe.rmdir if recipe.is_dir() else recipe.unlink)()
        recipe.write_bytes(before)
        assert board.ask("/api/save", {})[0] == 200
        assert json.loads(board.ask("/api/cloth")[2])["standing"]["dirty"] is False
    assert b"[1.0, 1.0]" in recipe.read_bytes() or b"[1, 1]" in recipe.read_bytes()

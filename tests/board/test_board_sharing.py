"""Devices of the network: over what certificate they come in, what they reach, and who does not."""

from __future__ import annotations

import asyncio
import hashlib
import http.client
import json
import re
import signal
import socket
import ssl
import sys
from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from browsing import Board, board_of, faults_of, on_page, rested, write_art
from starlette.applications import Starlette
from support import vecrepeat

from vecrepeat.board.folder import Folder
from vecrepeat.board.pairing import TRIES, Pairing
from vecrepeat.board.sharing import Share, Sharing, own_address
from vecrepeat.board.workshop import Workshop
from vecrepeat.core.errors import InputError

AT = "127.0.0.2"
"""Stands for the machine's address in a network. Linux has all of 127/8 without being told."""

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="127.0.0.2 is there on Linux alone")


@dataclass
class Shared:
    """A board that is shared: its machine's side, and what the terminal says of the other."""

    board: Board
    port: int
    fingerprint: str
    folder: Path

    def ask(
        self, path: str, body: Any = None, token: str = "", **headers: str
    ) -> tuple[int, dict[str, str], Any]:
        """Ask as a device does, which knows the certificate by its fingerprint alone."""
        given = {"X-Board-Token": token} | {k.replace("_", "-"): v for k, v in headers.items()}
        line = http.client.HTTPSConnection(AT, self.port, timeout=30, context=trusting())
        with closing(line):
            data = None if body is None else json.dumps(body)
            line.request("GET" if body is None else "POST", self.board.at(path), data, given)
            answer = line.getresponse()
            text = answer.read()
            kind = answer.getheader("content-type") or ""
            found = json.loads(text) if kind == "application/json" else text.decode()
            return answer.status, {k.lower(): v for k, v in answer.getheaders()}, found

    def standing(self) -> dict[str, Any]:
        """What the machine's page is told."""
        found: dict[str, Any] = json.loads(self.board.ask("/api/sharing")[2])
        return found

    def pair(self) -> str:
        """Pair a device; return its token."""
        status, _, said = self.ask("/api/pair", {"word": self.standing()["word"]})
        assert status == 200, said
        return str(said["token"])

    def let_all_go(self) -> None:
        for device in self.standing()["devices"]:
            self.board.ask("/api/sharing/letgo", {"number": device["number"]})


def trusting() -> ssl.SSLContext:
    context = ssl.create_default_context()
    context.check_hostname, context.verify_mode = False, ssl.CERT_NONE
    return context


def asked_of(app: Starlette, path: str, body: Any = None) -> tuple[int, Any]:
    """Ask an application without a server; return status and JSON."""
    scope: dict[str, Any] = {
        "type": "http",
        "method": "GET" if body is None else "POST",
        "path": path,
        "query_string": b"",
        "headers": [],
        "client": ("192.0.2.7", 50000),
    }
    sent: list[Any] = []

    async def receive() -> Any:
        return {"type": "http.request", "body": json.dumps(body).encode()}

    async def send(message: Any) -> None:
        sent.append(message)

    asyncio.run(app(scope, receive, send))
    return sent[0]["status"], json.loads(sent[1]["body"])


@contextmanager
def shared_board(folder: Path) -> Iterator[Shared]:
    """A board that is shared, its temporary files in the folder too."""
    recipe = write_art(folder)
    with ExitStack() as stack:
        with pytest.MonkeyPatch.context() as patch:
            patch.setenv("TMPDIR", str(folder))
            board = stack.enter_context(board_of(recipe, "--share", "--address", AT))
        lines = [board.process.stdout.readline() for _ in range(3)] if board.process.stdout else []
        port = re.fullmatch(rf".*https://{AT}:(\d+)/\n", lines[0])
        assert port, lines
        yield Shared(board, int(port[1]), lines[2].rpartition(" ")[2].strip(), folder)


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shared]:
    with shared_board(tmp_path_factory.mktemp("shared")) as found:
        yield found


@pytest.fixture
def shared(opened: Shared) -> Iterator[Shared]:
    yield opened
    opened.let_all_go()


def test_the_certificate_is_the_one_whose_fingerprint_is_shown(shared: Shared) -> None:
    with (
        socket.create_connection((AT, shared.port), 30) as plain,
        trusting().wrap_socket(plain) as line,
    ):
        made = line.getpeercert(binary_form=True)
        assert made is not None
        assert line.version() == "TLSv1.3"
    digits = hashlib.sha256(made).hexdigest().upper()
    assert shared.fingerprint == ":".join(digits[k : k + 2] for k in range(0, 64, 2))
    # A client that takes this one for its root finds it good for this address, and no other.
    context = ssl.create_default_context(cadata=ssl.DER_cert_to_PEM_cert(made))
    for name, good in ((AT, True), ("127.0.0.3", False)):
        with socket.create_connection((AT, shared.port), 30) as plain:
            if good:
                context.wrap_socket(plain, server_hostname=name).close()
                continue
            with pytest.raises(ssl.SSLCertVerificationError):
                context.wrap_socket(plain, server_hostname=name)


def test_its_key_is_not_on_the_disk(shared: Shared) -> None:
    kept = [path for path in shared.folder.rglob("*") if path.is_file()]
    assert kept
    assert not [path for path in kept if b"PRIVATE KEY" in path.read_bytes()]
    assert not list(shared.folder.rglob("vecrepeat-board-*"))


@pytest.mark.parametrize("path", ["/api/cloth", "/api/events", "/api/home", "/api/written"])
def test_a_device_that_is_not_paired_reads_nothing(shared: Shared, path: str) -> None:
    # Nor does the machine's own token help: it is not to be carried about.
    for token in ("", "wrong", shared.board.token):
        status, headers, body = shared.ask(path, token=token)
        assert (status, body) == (401, "this device is not paired")
        assert "script-src 'self'" in headers["content-security-policy"]


def test_a_paired_device_works_and_the_machine_s_side_is_not_its_business(shared: Shared) -> None:
    token = shared.pair()
    assert shared.ask("/api/cloth", token=token)[2]["name"] == "three"
    assert shared.board.ask("/api/cloth", token=token)[0] == 403
    for path, body in (
        ("/api/sharing", None),
        ("/api/sharing/code", None),
        ("/api/sharing/reopen", {}),
        ("/api/sharing/letgo", {"number": 1}),
    ):
        assert shared.ask(path, body, token)[0] in (404, 405)
    assert len(shared.standing()["devices"]) == 1


@pytest.mark.parametrize(
    "headers",
    [
        pytest.param({"Host": "evil.example"}, id="a name that was made to point here"),
        pytest.param({"Host": AT}, id="no port"),
        pytest.param({"Origin": "https://evil.example"}, id="a foreign origin"),
        pytest.param({"Origin": "null"}, id="an opaque origin"),
        pytest.param({"Origin": "http://"}, id="the same address without encryption"),
        pytest.param({"Sec_Fetch_Site": "cross-site"}, id="another site's page"),
    ],
)
def test_another_origin_is_refused_even_with_the_token(
    shared: Shared, headers: dict[str, str]
) -> None:
    token = shared.pair()
    own = f"{AT}:{shared.port}"
    given = {k: v + own if v.endswith("//") else v for k, v in headers.items()}
    assert shared.ask("/api/cloth", token=token, Host=own, Origin=f"https://{own}")[0] == 200
    assert shared.ask("/api/cloth", token=token, **given)[0] == 403
    assert shared.ask("/api/pair", {"word": "silk"}, **given)[0] == 403


def test_a_second_device_is_told_and_one_that_is_let_go_hears_no_more(shared: Shared) -> None:
    token = shared.pair()
    status, _, said = shared.ask("/api/pair", {"word": "silk"})
    assert status == 400
    assert "no more devices may be paired" in said["error"]
    line = http.client.HTTPSConnection(AT, shared.port, timeout=30, context=trusting())
    with closing(line):
        line.request("GET", shared.board.at("/api/events"), headers={"X-Board-Token": token})
        news = line.getresponse()
        assert json.loads(news.readline())["shares"] is False
        out = shared.folder / "three-files"
        out.mkdir(exist_ok=True)
        (out / "tile.png").write_bytes(b"tile")
        ways = [
            shared.ask("/api/take", {"file": "three-files/tile.png"}, token)[2]["address"]
            for _ in range(2)
        ]
        assert shared.ask(ways[0])[0] == 200
        shared.let_all_go()
        assert shared.ask(ways[1])[0] == 404
        # It ends at once, and not with what all were told.
        assert news.read() == b""
    assert shared.ask("/api/cloth", token=token)[0] == 401


def test_a_stranger_may_not_send_much(shared: Shared) -> None:
    assert shared.ask("/api/pair", {"word": "silk" * 1000})[0] == 413


def test_ctrl_c_ends_both_sides_soon(tmp_path: Path) -> None:
    with shared_board(tmp_path) as shared:
        line = http.client.HTTPSConnection(AT, shared.port, timeout=30, context=trusting())
        with closing(line):
            line.request(
                "GET", shared.board.at("/api/events"), headers={"X-Board-Token": shared.pair()}
            )
            news = line.getresponse()
            assert news.readline()
            shared.board.process.send_signal(signal.SIGINT)
            assert shared.board.process.wait(20) == 0
            assert news.read() == b""
        with pytest.raises(ConnectionRefusedError):
            socket.create_connection((AT, shared.port), 30)
    assert not list(tmp_path.glob(".three.toml.*"))


def test_wrong_words_are_told_at_the_machine_which_opens_pairing_again() -> None:
    now, told = 0.0, list[str]()
    sharing = Sharing(Share(address=AT), 0, told.append)
    sharing.listening.close()
    sharing.pairing = Pairing(clock=lambda: now)
    word = sharing.pairing.word
    workshop = Workshop(Folder(Path()), (), lambda name: "")
    ways = sharing.for_devices(workshop.tabs), sharing.for_the_machine(workshop)
    app = Starlette(routes=[route for way in ways for route in way])
    for _ in range(TRIES):
        assert asked_of(app, "/api/pair", {"word": "velvet"})[0] == 400
        now += 60
    assert told == ["too many wrong words: pairing is closed (open it on the page)"]
    standing = asked_of(app, "/api/sharing")[1]
    assert (standing["closed"], standing["word"]) == (True, None)
    standing = asked_of(app, "/api/sharing/reopen", {})[1]
    assert (standing["closed"], standing["word"] == word) == (False, False)
    assert asked_of(app, "/api/pair", {"word": standing["word"]})[0] == 200
    assert told[-1] == "device 1 is paired, at 192.0.2.7"


@pytest.mark.parametrize(
    ("options", "said"),
    [
        pytest.param(["--devices", "2"], "add --share", id="devices without sharing"),
        pytest.param(["--share", "--address", "192.0.2.99"], "no address of this", id="another's"),
        pytest.param(["--share", "--address", "0.0.0.0"], "no address to share", id="all"),
        pytest.param(["--share", "--address", "localhost"], "no address to share", id="a name"),
    ],
)
def test_what_can_not_be_shared_is_said_in_one_line(
    tmp_path: Path, options: list[str], said: str
) -> None:
    run = vecrepeat("board", write_art(tmp_path), "--no-browser", *options)
    assert (run.code, run.err.count("\n")) == (2, 1)
    assert said in run.err


@pytest.mark.parametrize(
    ("found", "good"),
    [("192.168.1.20", True), ("10.0.0.2", True), ("8.8.8.8", False), (None, False)],
)
def test_no_address_of_the_open_internet_is_taken_by_itself(
    monkeypatch: pytest.MonkeyPatch, found: str | None, good: bool
) -> None:
    class Probe(socket.socket):
        def connect(self, address: Any) -> None:
            if found is None:
                raise OSError

        def getsockname(self) -> Any:
            return found, 50000

    monkeypatch.setattr(socket, "socket", Probe)
    if good:
        assert own_address() == found
        return
    with pytest.raises(InputError, match="--address"):
        own_address()


# -------------------------------------------------------------------- the pages


def test_a_tablet_moves_a_motif_and_the_machine_sees_it(shared: Shared, chromium: Any) -> None:
    machine = chromium.new_page()
    machine.goto(shared.board.address)
    machine.wait_for_selector("body[data-ready]")
    context = chromium.new_context(
        viewport={"width": 800, "height": 1100}, has_touch=True, ignore_https_errors=True
    )
    tablet = context.new_page()
    tablet.goto(f"https://{AT}:{shared.port}/")
    tablet.wait_for_selector("#pair")
    assert faults_of(tablet) == {}
    tablet.fill("#word", "  " + shared.standing()["word"].title())
    tablet.tap("#pair button")
    tablet.wait_for_selector("#shelf a")
    assert tablet.is_hidden("#tablet")
    tablet.tap("#shelf a")
    tablet.wait_for_selector("body[data-ready] #weave")
    tablet.wait_for_function("() => window.board")
    before = machine.evaluate("() => board.store.rows.find(row => row.motif === 'disc').at")
    fingers = context.new_cdp_session(tablet)
    x, y = on_page(tablet, 20, 50)
    for kind, points in (
        ("touchStart", [(x, y)]),
        ("touchMove", [(x + 15, y)]),
        ("touchMove", [(x + 60, y + 10)]),
        ("touchEnd", []),
    ):
        told = [{"x": px, "y": py} for px, py in points]
        fingers.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": told})
    rested(tablet)
    machine.wait_for_function(
        """before => {
            const [x, y] = board.store.rows.find(row => row.motif === 'disc').at;
            return x !== before[0] && y !== before[1];
        }""",
        arg=before,
    )
    # Let go, it is back where the word is typed.
    shared.let_all_go()
    tablet.wait_for_selector("#pair")
    for page in (machine, context):
        page.close()


def test_the_machine_s_page_says_how_and_lets_go(shared: Shared, chromium: Any) -> None:
    page = chromium.new_page()
    first = shared.board.address.partition("design.html")[0]
    page.goto(f"{first}#{shared.board.token}")
    page.click("#tablet")
    page.wait_for_selector("body[data-ready] #code:not([hidden])")
    assert page.text_content("#word") == shared.standing()["word"]
    assert page.text_content("#fingerprint") == shared.fingerprint
    assert page.text_content("#address") == f"https://{AT}:{shared.port}/"
    assert faults_of(page) == {}
    token = shared.pair()
    page.click("#devices button")
    page.wait_for_selector("#devices:empty", state="attached")
    assert shared.ask("/api/cloth", token=token)[0] == 401
    assert page.is_visible("#word")
    page.close()

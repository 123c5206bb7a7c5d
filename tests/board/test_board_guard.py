"""The board answers to its own page, on its own host, with this run's token, and to nobody else."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
import shapely.affinity
from browsing import RECIPE, Board, board_of, write_art

from vecrepeat.sources.source import open_source

STEP = {"after": 0, "step": {"order": []}}


@pytest.fixture(scope="module")
def board(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Board]:
    with board_of(write_art(tmp_path_factory.mktemp("guard"))) as found:
        yield found


def test_its_own_page_is_answered(board: Board) -> None:
    status, headers, body = board.ask("/api/cloth")
    assert status == 200
    assert [m["name"] for m in json.loads(body)["motifs"]] == ["disc", "leaf", "square"]
    # No script but our own, no frame, no form, nothing kept or guessed.
    policy = dict(
        part.strip().split(" ", 1) for part in headers["content-security-policy"].split(";")
    )
    assert policy["default-src"] == "'none'"
    assert policy["script-src"] == "'self'"
    assert policy["frame-ancestors"] == "'none'"
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["cache-control"] == "no-store"


@pytest.mark.parametrize("path", ["/api/cloth", "/api/events"])
@pytest.mark.parametrize("token", ["", "wrong", "ü"], ids=["none", "wrong", "not ASCII"])
def test_a_wrong_token_reads_nothing(board: Board, path: str, token: str) -> None:
    status, _, body = board.ask(path, token=token.encode().decode("latin-1"))
    assert status == 403
    assert b"disc" not in body


def test_a_wrong_token_changes_nothing(board: Board) -> None:
    assert board.ask("/api/step", STEP, token="wrong")[0] == 403
    assert json.loads(board.ask("/api/cloth")[2])["steps"] == []


@pytest.mark.parametrize(
    "headers",
    [
        pytest.param({"Origin": "http://evil.example"}, id="a foreign origin"),
        pytest.param({"Origin": "null"}, id="an opaque origin"),
        pytest.param({"Origin": "http://127.0.0.1:1"}, id="another port of this machine"),
        pytest.param({"Host": "evil.example"}, id="a name that was made to point here"),
        pytest.param({"Sec-Fetch-Site": "cross-site"}, id="another site's page"),
        pytest.param({"Sec-Fetch-Site": "same-site"}, id="another port's page"),
    ],
)
@pytest.mark.parametrize("path", ["/", "/js/main.js", "/api/cloth"])
def test_another_origin_is_refused_even_with_the_token(
    board: Board, path: str, headers: dict[str, str]
) -> None:
    assert board.ask(path, **{k.replace("-", "_"): v for k, v in headers.items()})[0] == 403


@pytest.mark.parametrize(
    "path",
    ["/../guard.py", "/js/../../guard.py", "/%2e%2e/guard.py", "/js/%2e%2e%2f%2e%2e%2fdesk.py"],
)
def test_only_the_page_s_own_files_are_served(board: Board, path: str) -> None:
    status, _, body = board.ask(path)
    assert status in (403, 404)
    assert b"import" not in body


def test_it_listens_on_loopback_alone(board: Board) -> None:
    import psutil

    listening = [
        one.laddr.ip
        for one in psutil.Process(board.process.pid).net_connections(kind="inet")
        if one.status == psutil.CONN_LISTEN
    ]
    assert listening == ["127.0.0.1"]


@pytest.mark.parametrize("body", ["[", "[]", '{"after": 0}', '{"after": "x", "step": {}}'])
def test_what_can_not_be_read_is_an_error_of_one_sentence(board: Board, body: str) -> None:
    import http.client

    line = http.client.HTTPConnection("127.0.0.1", board.port, timeout=30)
    line.request("POST", board.at("/api/step"), body, {"X-Board-Token": board.token})
    answer = line.getresponse()
    assert answer.status == 400
    assert json.loads(answer.read())["error"]
    line.close()


def test_marks_are_those_of_the_checks(board: Board) -> None:
    # In the half-drop of 100 mm tiles, the disc of 10 mm at (20, 50) and the square's left upper
    # corner at (40, 70): √(20² + 20²) − 10 = 18.28 mm.
    status, _, body = board.ask("/api/look", {"what": ["clearance"], "clearance": 19})
    assert status == 200
    gaps = [round(pair["gap"], 1) for pair in json.loads(body)["clearance"]["near"]]
    assert 18.3 in gaps


def test_a_toss_keeps_its_clearance_and_writes_nothing(board: Board, tmp_path: Path) -> None:
    asked = {"seed": 3, "clearance": 4}
    first, again, other = (
        json.loads(board.ask("/api/arrange", {"way": "toss", "settings": settings})[2])
        for settings in (asked, asked, {**asked, "seed": 4})
    )
    assert first["rows"] == again["rows"] != other["rows"]
    assert sorted(row["motif"] for row in first["rows"]) == ["disc", "leaf", "square"]
    assert json.loads(board.ask("/api/cloth")[2])["steps"] == []


def test_a_toss_on_a_turned_layout_keeps_clear_of_images_too(tmp_path: Path) -> None:
    recipe = write_art(tmp_path, RECIPE.replace('"half-drop"', '"block+turnover-across"'))
    with board_of(recipe) as board:
        status, _, body = board.ask(
            "/api/arrange", {"way": "toss", "settings": {"seed": 3, "clearance": 4}}
        )
    assert status == 200, body
    rows = json.loads(body)["rows"]
    assert len(rows) == 3
    lines = "".join(
        f'    {{motif = "{r["motif"]}", at = {r["at"]}, turn = {r.get("turn", 0)}}},\n'
        for r in rows
    )
    kept = RECIPE.replace('"half-drop"', '"block+turnover-across"')
    head, _, tail = kept.partition("placement = [")
    recipe.write_text(head + "placement = [\n" + lines + tail[tail.index("]\n\n#") :])
    repeat = open_source(recipe).repeat
    outlines = [
        shapely.affinity.translate(placement.outline, *map(float, repeat.lattice.at(i, j)))
        for placement in repeat.placements
        for i in range(-1, 2)
        for j in range(-1, 2)
    ]
    assert len(repeat.placements) == 6
    nearest = min(
        one.distance(other) for k, one in enumerate(outlines) for other in outlines[k + 1 :]
    )
    assert nearest >= 4 - 1e-3

"""Drawing in another process: the same pixels, and one clear error where it fails."""

from __future__ import annotations

import os
import pathlib
import pickle
import signal
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from fractions import Fraction
from unittest import mock

import cairocffi
import numpy as np
import pytest
from support import read

from vecrepeat.core import allowance
from vecrepeat.core.errors import InputError
from vecrepeat.draw import cairo, cairo_worker
from vecrepeat.draw.cairo import CairoDocument, CairoFailure
from vecrepeat.draw.cairo_worker import Drawing
from vecrepeat.draw.paint import Window
from vecrepeat.scene.nodes import Box, Fill, Path
from vecrepeat.util.worker import Worker
from vecrepeat.write.exporting import Exporter

SCENES = [
    Path(Box(0, 0, 2, 3), Fill("#ff0000")),
    Path(Box(0, 0, 9, 9), Fill("#0000ff")),
]
RED, GREEN, BLUE = (255, 0, 0, 255), (0, 255, 0, 255), (0, 0, 255, 255)


def request(**changed: object) -> dict[str, object]:
    """A green canvas of 8 × 4 px with the red motif at (1, 0), columns 1 to 5 wanted."""
    asked: dict[str, object] = {
        "canvas": (8, 4),
        "columns": (1, 5),
        "ground": (0, 1, 0, 1),
        "draw": [(0, 1, 0, 0, 1, 1, 0)],
    }
    return asked | changed


def test_the_wanted_columns_come_as_red_green_blue_alpha() -> None:
    out = np.zeros((4, 5, 4), np.uint8)
    CairoDocument(SCENES).draw(request(), out)
    expected = np.full((4, 5, 4), GREEN, np.uint8)
    expected[:3, :2] = RED
    assert (out == expected).all()


def test_part_of_a_larger_picture_can_be_drawn_into() -> None:
    picture = np.zeros((6, 9, 4), np.uint8)
    CairoDocument(SCENES).draw(request(draw=[(1, 1, 0, 0, 1, 0, 0)]), picture[1:5, 2:7])
    assert (picture[1:5, 2:7] == BLUE).all()
    picture[1:5, 2:7] = 0
    assert not picture.any()


def workers() -> list[Worker]:
    return [hand.worker for hand in cairo._idle if hand.worker is not None]


def test_a_worker_that_was_killed_is_replaced() -> None:
    document, out = CairoDocument(SCENES), np.zeros((4, 5, 4), np.uint8)
    document.draw(request(), out)
    before = workers()
    for worker in before:
        os.kill(worker.pid, signal.SIGKILL)
        while worker.runs:
            time.sleep(0.01)
    document.draw(request(draw=[(1, 1, 0, 0, 1, 0, 0)]), out)
    assert (out == BLUE).all()
    assert workers()[-1].pid not in {worker.pid for worker in before}


@pytest.fixture
def none_started(monkeypatch: pytest.MonkeyPatch) -> None:
    """The workers of the tests before are not there for a while."""
    monkeypatch.setattr(cairo, "_idle", [cairo._Hand() for _ in range(cairo.AT_ONCE)])


@pytest.mark.usefixtures("none_started")
def test_one_that_ends_while_it_draws_is_told() -> None:
    ended = Worker(["-c", "raise SystemExit(9)"])
    document = CairoDocument(SCENES)
    with (
        mock.patch.object(cairo, "running", return_value=ended),
        pytest.raises(CairoFailure, match=r"cairo ended \(code 9\)"),
    ):
        document.draw(request(), np.zeros((4, 5, 4), np.uint8))


@pytest.mark.usefixtures("none_started")
def test_those_started_ahead_are_given_the_first_document_at_once() -> None:
    cairo.start_ahead()
    first = {worker.pid for worker in workers()}
    assert len(first) == cairo.AT_ONCE
    cairo.start_ahead()
    document = CairoDocument(SCENES)
    assert all(hand.held is document for hand in cairo._idle)
    document.draw(request(), np.zeros((4, 5, 4), np.uint8))
    assert {worker.pid for worker in workers()} == first
    for worker in workers():
        worker.close()


@pytest.mark.parametrize("shared", [True, False], ids=["memory of both", "a pipe"])
def test_threads_that_ask_at_the_same_time_get_their_own_pictures(
    shared: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    if not shared:
        monkeypatch.setattr(cairo._Hand, "room", lambda *_: None)
    document = CairoDocument(SCENES)

    def drawn(side: int) -> bool:
        # Each as large as its number, so that none can be taken for another.
        out = np.zeros((side, side, 4), np.uint8)
        asked = request(
            canvas=(side + 3, side), columns=(2, side), draw=[(side % 2, 1, 0, 0, 1, 0, 0)]
        )
        document.draw(asked, out)
        shown = (9, 7) if side % 2 else (3, 0)
        expected = np.full((side, side, 4), GREEN, np.uint8)
        expected[: shown[0], : shown[1]] = BLUE if side % 2 else RED
        return bool((out == expected).all())

    with ThreadPoolExecutor(4) as pool:
        assert all(pool.map(drawn, range(10, 50)))


def test_workers_draw_all_documents_in_turn() -> None:
    out, again = (np.zeros((4, 5, 4), np.uint8) for _ in range(2))
    first = CairoDocument(SCENES)
    first.draw(request(), out)
    pids = {worker.pid for worker in workers()}
    second = CairoDocument([SCENES[1], SCENES[0]])
    turned = np.full((4, 5, 4), BLUE, np.uint8)
    for document, expected in ((second, turned), (first, out.copy()), (second, turned)):
        document.draw(request(), again)
        assert (again == expected).all()
    assert {worker.pid for worker in workers()} >= pids


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux bounds a process so")
def test_between_requests_a_worker_has_no_limits() -> None:
    import resource

    # A long document is read before there is a request for it.
    document = CairoDocument(SCENES)
    document.draw(request(), np.zeros((4, 5, 4), np.uint8))
    for what in (resource.RLIMIT_AS, resource.RLIMIT_CPU):
        for worker in workers():
            soft, hard = resource.prlimit(worker.pid, what)
            assert soft == hard


def test_a_failure_names_the_motif_and_leaves_the_worker_usable() -> None:
    document, out = CairoDocument(SCENES), np.zeros((4, 5, 4), np.uint8)
    with pytest.raises(CairoFailure) as caught:
        document.draw(request(draw=[(0, 1, 0, 0, 1, 0, 0), (1, 0, 0, 0, 0, 0, 0)]), out)
    assert caught.value.motif == 1
    document.draw(request(), out)
    assert (out[3] == GREEN).all()


def test_a_motif_that_can_not_be_drawn_is_one_clear_error(tmp_path: pathlib.Path) -> None:
    repeat = read(tmp_path, '<rect id="leaf" x="9" y="9" width="9" height="9"/>').repeat()
    exporter = Exporter(repeat, engine="cairo")
    plan = exporter.plan(Fraction(72))
    with (
        mock.patch.object(CairoDocument, "draw", side_effect=CairoFailure("it is too much", 0)),
        pytest.raises(InputError, match=r"“leaf”: the first engine can't draw it: it is too much"),
    ):
        exporter.painter(plan).paint(Window(0, 0, 9, 9))


def test_a_document_that_can_not_be_read_is_an_answer() -> None:
    out = np.empty((10, 10, 4), np.uint8)
    document = CairoDocument(SCENES)
    document.data = document.data[:-9]
    for hand in cairo._idle:
        hand.held = None
    with pytest.raises(CairoFailure, match="UnpicklingError: pickle data was truncated"):
        document.draw(request(), out)


def test_failures_in_the_process_are_answers() -> None:
    failed, answer = cairo_worker._answer(
        Drawing(pickle.dumps(SCENES)), request(draw=[(7, 1, 0, 0, 1, 0, 0)]), bytearray()
    )
    assert failed == 1
    assert b'"motif": 7' in answer
    assert b"IndexError" in answer


def test_a_picture_that_takes_too_long_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    # Four million pixels 10,000 times over: no machine draws them in a second.
    monkeypatch.setattr(allowance, "picture_seconds", lambda pixels, size: 1.0)
    asked = request(canvas=(2000, 2000), columns=(0, 5), draw=[(1, 999, 0, 1, 999, 0, 0)] * 10_000)
    with pytest.raises(CairoFailure, match="takes longer than 1 s"):
        CairoDocument(SCENES).draw(asked, np.empty((2000, 5, 4), np.uint8))


def test_rounded_corners_are_quarters_of_ellipses() -> None:
    # cairo's own arc is the judge: a rectangle whose corners meet is a circle.
    round_ = pickle.dumps([Path(Box(10, 10, 80, 80, 40, 40), Fill("#ff0000"))])
    data = Drawing(round_).picture((100, 100), (0, 100), None, [(0, 1, 0, 0, 1, 0, 0)])
    image = cairocffi.ImageSurface(cairocffi.FORMAT_ARGB32, 100, 100)
    context = cairocffi.Context(image)
    context.arc(50, 50, 40, 0, 2 * np.pi)
    context.set_source_rgb(1, 0, 0)
    context.fill()
    drawn, circle = (np.frombuffer(d, np.uint8).astype(int) for d in (data, image.get_data()))
    # A cubic is up to 0.03 % of the radius off a circle.
    assert np.abs(drawn - circle).max() <= 8

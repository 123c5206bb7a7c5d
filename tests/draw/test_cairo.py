"""Drawing in another process: the same pixels, and one clear error where it fails."""

from __future__ import annotations

import os
import signal
import sys
import time
from fractions import Fraction
from pathlib import Path
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
from vecrepeat.util.worker import Worker
from vecrepeat.write.exporting import Exporter

NS = 'xmlns="http://www.w3.org/2000/svg"'
DOCUMENT = (
    f'<svg {NS} width="1" height="1"><defs><g>'
    '<g><rect width="2" height="3" fill="#f00"/></g><g><rect width="9" height="9" fill="#00f"/></g>'
    "</g></defs></svg>"
).encode()
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
    CairoDocument(DOCUMENT).draw(request(), out)
    expected = np.full((4, 5, 4), GREEN, np.uint8)
    expected[:3, :2] = RED
    assert (out == expected).all()


def test_part_of_a_larger_picture_can_be_drawn_into() -> None:
    picture = np.zeros((6, 9, 4), np.uint8)
    CairoDocument(DOCUMENT).draw(request(draw=[(1, 1, 0, 0, 1, 0, 0)]), picture[1:5, 2:7])
    assert (picture[1:5, 2:7] == BLUE).all()
    picture[1:5, 2:7] = 0
    assert not picture.any()


def worker_pid() -> int:
    assert cairo._worker is not None
    return cairo._worker.pid


def test_a_worker_that_was_killed_is_replaced() -> None:
    document, out = CairoDocument(DOCUMENT), np.zeros((4, 5, 4), np.uint8)
    document.draw(request(), out)
    first = cairo._worker
    assert first is not None
    os.kill(first.pid, signal.SIGKILL)
    while first.runs:
        time.sleep(0.01)
    document.draw(request(draw=[(1, 1, 0, 0, 1, 0, 0)]), out)
    assert (out == BLUE).all()
    assert worker_pid() != first.pid


@pytest.fixture
def none_started(monkeypatch: pytest.MonkeyPatch) -> None:
    """The worker of the tests before is not there for a while."""
    monkeypatch.setattr(cairo, "_worker", None)
    monkeypatch.setattr(cairo, "_held", None)


@pytest.mark.usefixtures("none_started")
def test_one_that_ends_while_it_draws_is_told() -> None:
    ended = Worker(["-c", "raise SystemExit(9)"])
    document = CairoDocument(DOCUMENT)
    with (
        mock.patch.object(cairo, "running", return_value=ended),
        pytest.raises(CairoFailure, match=r"CairoSVG ended \(code 9\)"),
    ):
        document.draw(request(), np.zeros((4, 5, 4), np.uint8))


@pytest.mark.usefixtures("none_started")
def test_one_started_ahead_is_given_the_first_document_at_once() -> None:
    cairo.start_ahead()
    first = worker_pid()
    cairo.start_ahead()
    document = CairoDocument(DOCUMENT)
    assert cairo._held is document
    document.draw(request(), np.zeros((4, 5, 4), np.uint8))
    assert worker_pid() == first
    assert cairo._worker is not None
    cairo._worker.close()


def test_one_worker_draws_all_documents_in_turn() -> None:
    out, again = (np.zeros((4, 5, 4), np.uint8) for _ in range(2))
    first = CairoDocument(DOCUMENT)
    first.draw(request(), out)
    pid = worker_pid()
    second = CairoDocument(DOCUMENT.replace(b"#f00", b"#00f"))
    turned = np.where((out == RED).all(2)[..., None], BLUE, out)
    for document, expected in ((second, turned), (first, out.copy()), (second, turned)):
        document.draw(request(), again)
        assert (again == expected).all()
    assert worker_pid() == pid


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux bounds a process so")
def test_between_requests_a_worker_has_no_limits() -> None:
    import resource

    # A long document is read before there is a request for it.
    document = CairoDocument(DOCUMENT)
    document.draw(request(), np.zeros((4, 5, 4), np.uint8))
    for what in (resource.RLIMIT_AS, resource.RLIMIT_CPU):
        soft, hard = resource.prlimit(worker_pid(), what)
        assert soft == hard


def test_a_failure_names_the_motif_and_leaves_the_worker_usable() -> None:
    document, out = CairoDocument(DOCUMENT), np.zeros((4, 5, 4), np.uint8)
    with pytest.raises(CairoFailure) as caught:
        document.draw(request(draw=[(0, 1, 0, 0, 1, 0, 0), (1, 0, 0, 0, 0, 0, 0)]), out)
    assert caught.value.motif == 1
    document.draw(request(), out)
    assert (out[3] == GREEN).all()


def test_a_motif_that_can_not_be_drawn_is_one_clear_error(tmp_path: Path) -> None:
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
    with pytest.raises(CairoFailure, match="ParseError: not well-formed"):
        CairoDocument(b'<svg {http://a}b="1"/>').draw(request(), out)


def test_failures_in_the_process_are_answers() -> None:
    failed, answer = cairo_worker._answer(
        Drawing(DOCUMENT), request(draw=[(7, 1, 0, 0, 1, 0, 0)]), bytearray()
    )
    assert failed == 1
    assert b'"motif": 7' in answer
    assert b"IndexError" in answer


def test_a_picture_that_takes_too_long_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    # Four million pixels 10,000 times over: no machine draws them in a second.
    monkeypatch.setattr(allowance, "picture_seconds", lambda pixels, size: 1.0)
    asked = request(canvas=(2000, 2000), columns=(0, 5), draw=[(1, 999, 0, 1, 999, 0, 0)] * 10_000)
    with pytest.raises(CairoFailure, match="takes longer than 1 s"):
        CairoDocument(DOCUMENT).draw(asked, np.empty((2000, 5, 4), np.uint8))


def test_rounded_corners_are_quarters_of_ellipses() -> None:
    # cairo's own arc is the judge: a rectangle whose corners meet is a circle.
    round_ = DOCUMENT.replace(
        b'<rect width="2" height="3" fill="#f00"/>',
        b'<rect x="10" y="10" width="80" height="80" rx="40" fill="#f00"/>',
    )
    data = Drawing(round_).picture((100, 100), (0, 100), None, [(0, 1, 0, 0, 1, 0, 0)])
    image = cairocffi.ImageSurface(cairocffi.FORMAT_ARGB32, 100, 100)
    context = cairocffi.Context(image)
    context.arc(50, 50, 40, 0, 2 * np.pi)
    context.set_source_rgb(1, 0, 0)
    context.fill()
    drawn, circle = (np.frombuffer(d, np.uint8).astype(int) for d in (data, image.get_data()))
    # A cubic is up to 0.03 % of the radius off a circle.
    assert np.abs(drawn - circle).max() <= 8

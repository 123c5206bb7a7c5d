"""The process that resvg runs in: its pictures, its failures, its end."""

from __future__ import annotations

import contextlib
import os
import re
import signal
import subprocess
import sys
import threading
import time
import warnings
from pathlib import Path

import numpy as np
import psutil
import pytest
from PIL import Image
from support import needs_a_font

from vecrepeat.draw import resvg
from vecrepeat.draw.resvg import ResvgError, rasterise
from vecrepeat.util import worker
from vecrepeat.util.fonts import generic_families
from vecrepeat.util.worker import PATIENCE

FILTER_ALL = 'filter="url(#f)" width="199" height="199"'


def document(body: str, width: int = 200, height: int = 200, *, before: str = "") -> str:
    return (
        f'{before}<svg xmlns="http://www.w3.org/2000/svg" '
        'xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'width="{width}" height="{height}">{body}</svg>'
    )


def draws() -> bool:
    """Whether a plain picture comes out right."""
    svg = document('<rect width="5" height="9" fill="#102030"/>', 7, 9)
    picture = rasterise(svg, 7, 9)
    return picture[:, :5].reshape(-1, 4).tolist() == [[16, 32, 48, 255]] * 45 and not (
        picture[:, 5:].any()
    )


def worker_pid() -> int:
    return resvg._idle[-1].pid


def test_a_picture_is_premultiplied_rgba_of_the_size_asked_for() -> None:
    assert draws()
    for level in range(0, 256, 5):
        svg = document(
            f'<rect width="9" height="4" fill="#c86432" fill-opacity="{level / 255}"/>', 9, 4
        )
        picture = rasterise(svg, 9, 4)
        assert picture.shape == (4, 9, 4)
        assert picture.dtype == np.uint8
        r, g, b, a = (int(v) for v in picture[2, 5])
        assert a == level
        assert all(
            abs(v - whole * a / 255) <= 1
            for v, whole in zip((r, g, b), (200, 100, 50), strict=True)
        )


def test_premultiplying_rounds_exactly(tmp_path: Path) -> None:
    c, a = (grid.astype(np.uint8) for grid in np.meshgrid(np.arange(256), np.arange(256)))
    Image.fromarray(np.dstack([c, c, c, a])).save(tmp_path / "all.png")
    picture = resvg._decoded((tmp_path / "all.png").read_bytes(), 256, 256)
    expected = np.rint(c.astype(float) * a / 255)
    assert np.array_equal(picture[..., 0], expected)
    assert np.array_equal(picture[..., 3], a)


def test_a_large_picture_needs_no_leave_from_pillow(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Image, "MAX_IMAGE_PIXELS", 1000)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        picture = rasterise(document('<rect width="900" height="900"/>', 900, 900), 900, 900)
    assert picture[..., 3].min() == 255
    assert Image.MAX_IMAGE_PIXELS == 1000


def test_few_workers_serve_many_requests_and_threads() -> None:
    draws()
    pid = worker_pid()
    results: list[bool] = []
    threads = [threading.Thread(target=lambda: results.append(draws())) for _ in range(16)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert results == [True] * 16
    pids = [idle.pid for idle in resvg._idle]
    assert pid in pids
    assert len(pids) <= resvg.AT_ONCE


@needs_a_font
@pytest.mark.parametrize(
    "family", [None, "serif", "Georgia, serif", "sans-serif", "monospace", "cursive", "fantasy"]
)
def test_text_is_drawn_with_fonts_alone(family: str | None) -> None:
    named = f' font-family="{family}"' if family else ""
    svg = document(f'<text x="10" y="120" font-size="90"{named}>HHH</text>')
    assert not rasterise(svg, 200, 200).any()
    assert rasterise(svg, 200, 200, fonts=generic_families()).any()
    assert not rasterise(svg, 200, 200).any()


@pytest.mark.parametrize("fonts", [(), ("Any",)])
@pytest.mark.parametrize(
    "element",
    [
        '<image width="200" height="200" href="{}"/>',
        "<image width='200' xlink:href='{}' height='200'/>",
        '<image title="a>b" width="200" height="200"\nhref =\n" {}"/>',
        '<filter id="f"><feImage href="{}"/></filter><rect filter="url(#f)" '
        'width="199" height="199"/>',
        '<g xmlns:s="http://www.w3.org/2000/svg"><s:image width="200" height="200" href="{}"/></g>',
    ],
)
def test_no_file_is_read(tmp_path: Path, element: str, fonts: tuple[str, ...]) -> None:
    Image.new("RGB", (10, 10), "lime").save(tmp_path / "lime.png")
    with pytest.raises(ResvgError, match="image from elsewhere"):
        rasterise(document(element.format(tmp_path / "lime.png")), 200, 200, fonts=fonts)


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such limit")
def test_no_file_could_be_read_if_one_were_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    Image.new("RGB", (10, 10), "lime").save(tmp_path / "lime.png")
    svg = document(f'<image width="200" height="200" href="{tmp_path / "lime.png"}"/>')
    never = re.compile("(?!)")
    monkeypatch.setattr(resvg, "_FILE_IMAGE_RE", never)
    assert not rasterise(svg, 200, 200).any()


def test_an_image_given_as_data_is_drawn() -> None:
    data = (
        "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5E"
        "rkJggg=="
    )
    svg = document(f'<image width="200" height="200" href="data:image/png;base64,{data}"/>')
    assert rasterise(svg, 200, 200)[100, 100, 3] > 0


@pytest.mark.parametrize(
    "svg",
    ["", "no drawing", document("<g>"), document("<a:b/>"), '<svg width="9"/>', "\ud800", "\0"],
)
def test_what_is_no_drawing_is_refused_in_one_line(svg: str) -> None:
    with pytest.raises(ResvgError) as caught:
        rasterise(svg, 20, 20)
    assert "\n" not in str(caught.value)
    assert draws()


@pytest.mark.parametrize(("width", "height"), [(0, 5), (5, -1), (1 << 20, 1 << 20)])
def test_a_size_that_is_no_picture_is_refused(width: int, height: int) -> None:
    with pytest.raises(ResvgError, match="px"):
        rasterise(document(""), width, height)


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGSEGV, signal.SIGTERM])
def test_a_killed_worker_is_replaced(how: signal.Signals) -> None:
    draws()
    pid = worker_pid()
    os.kill(pid, how)
    psutil.wait_procs([psutil.Process(pid)] if psutil.pid_exists(pid) else [], timeout=5)
    assert draws()
    assert worker_pid() != pid


def test_a_worker_killed_at_work_is_a_failure_and_then_replaced() -> None:
    draws()
    pid = worker_pid()
    killing = threading.Timer(0.3, os.kill, (pid, signal.SIGKILL))
    killing.start()
    with pytest.raises(ResvgError, match="crashed"):
        rasterise(endless(), 200, 200)
    killing.join()
    assert draws()


def endless() -> str:
    """A drawing that takes minutes."""
    noise = '<feTurbulence baseFrequency=".5" numOctaves="1000000"/>'
    return document(f'<filter id="f">{noise}</filter><rect {FILTER_ALL}/>')


@pytest.mark.parametrize("fonts", [(), ("Any",)])
def test_a_drawing_that_takes_too_long_is_given_up(fonts: tuple[str, ...]) -> None:
    start, spent = time.monotonic(), resvg.processor_time()
    # What loading fonts may take is no time for the drawing.
    with pytest.raises(ResvgError, match="longer than 1 s"):
        rasterise(endless(), 200, 200, fonts=fonts, seconds=1)
    assert 0.999 < resvg.processor_time() - spent < 2
    # Processor time is bounded; by the clock it may take longer where other programs run.
    assert time.monotonic() - start < PATIENCE + 5
    assert draws()


DEEP = 10_000
HOSTILE = {
    "huge filter region": '<filter id="f" filterUnits="userSpaceOnUse" x="-1e9" y="-1e9" '
    'width="2e9" height="2e9"><feGaussianBlur stdDeviation="1e6"/></filter>'
    '<rect width="1e9" height="1e9" filter="url(#f)"/>',
    "huge numbers": '<rect x="-1e9" width="1e38" height="1e38" stroke="#00f" '
    'stroke-width="1e30" stroke-dasharray="1e-9"/>',
    "no numbers": '<path d="MNaN 1e400 L 1e39 3e38 C 1e38 1e38 -1e38 0 0 1e38z" '
    'transform="scale(1e30)"/>',
    "fine dashes": '<path d="M0 0H1e6" stroke="red" stroke-dasharray="0.001"/>',
    "deep groups": "<g>" * DEEP + '<rect width="9" height="9"/>' + "</g>" * DEEP,
    "deep layers": '<g opacity=".9">' * 1000 + '<rect width="9" height="9"/>' + "</g>" * 1000,
    "use in itself": '<g id="a"><use xlink:href="#a"/></g><use xlink:href="#a"/>',
    "a thousand million copies": "".join(
        f'<g id="g{i}">' + f'<use xlink:href="#g{i + 1}"/>' * 10 + "</g>" for i in range(9)
    )
    + '<g id="g9"><rect width="9" height="9"/></g>',
    "mask in itself": '<mask id="m"><rect width="9" height="9" mask="url(#m)"/></mask>'
    '<rect width="99" height="99" mask="url(#m)"/>',
    "pattern in itself": '<pattern id="p" width="1" height="1" patternUnits="userSpaceOnUse">'
    '<rect width="9" height="9" fill="url(#p)"/></pattern>'
    '<rect width="99" height="99" fill="url(#p)"/>',
    "huge pattern": '<pattern id="p" width="60000" height="60000" patternUnits="userSpaceOnUse">'
    '<rect width="1e6" height="1e6"/></pattern><rect width="1e6" height="1e6" fill="url(#p)"/>',
    "endless noise": '<filter id="f"><feTurbulence baseFrequency="1e9" numOctaves="1000000"/>'
    f"</filter><rect {FILTER_ALL}/>",
    "huge kernel": '<filter id="f"><feConvolveMatrix order="1000" kernelMatrix="'
    + "1 " * 1_000_000
    + f'"/></filter><rect {FILTER_ALL}/>',
    "marker in itself": '<marker id="m" markerWidth="3" markerHeight="3">'
    '<path marker-start="url(#m)" d="M0 0L1 1"/></marker><path d="M0 0'
    + "l1 1" * 20_000
    + '" marker-mid="url(#m)"/>',
}


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_drawing_does_no_harm(name: str) -> None:
    start = time.monotonic()
    with contextlib.suppress(ResvgError):
        assert rasterise(document(HOSTILE[name]), 200, 200, seconds=1).shape == (200, 200, 4)
    assert time.monotonic() - start < PATIENCE + 5
    assert draws()


def test_entities_that_multiply_do_no_harm() -> None:
    entities = '<!ENTITY a0 "aaaaaaaaaa">' + "".join(
        f'<!ENTITY a{i} "{f"&a{i - 1};" * 10}">' for i in range(1, 10)
    )
    with pytest.raises(ResvgError, match="entity"):
        rasterise(document("<g>&a9;</g>", before=f"<!DOCTYPE svg [{entities}]>"), 20, 20)


@pytest.mark.skipif(not hasattr(psutil.Process, "rlimit"), reason="no limits to read here")
def test_the_memory_of_the_worker_is_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    bounds: list[int] = []
    send = worker.Worker.send

    def noting(self: worker.Worker, *parts: bytes) -> None:
        bounds.append(psutil.Process(self.pid).rlimit(psutil.RLIMIT_AS)[0])
        send(self, *parts)

    monkeypatch.setattr(worker.Worker, "send", noting)
    draws()
    assert len(bounds) == 1
    assert 0 < bounds[0] <= 1 << 30
    with pytest.raises(ResvgError, match="memory"):
        rasterise(document(HOSTILE["huge pattern"]), 200, 200)


@pytest.mark.skipif(not hasattr(os, "fork"), reason="no fork here")
@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_a_forked_child_has_a_worker_of_its_own() -> None:
    draws()
    pid = worker_pid()
    child = os.fork()
    if child == 0:
        code = 1
        try:
            code = 0 if not resvg._idle and draws() and worker_pid() != pid else 2
            worker._close_all()
        finally:
            os._exit(code)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0
    assert draws()
    assert worker_pid() == pid


def test_the_worker_ends_with_the_program() -> None:
    program = (
        "from vecrepeat.draw import resvg\n"
        'svg = \'<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"/>\'\n'
        "resvg.rasterise(svg, 9, 9)\n"
        "print(resvg._idle[-1].pid, flush=True)\n"
    )
    for ending in ("", "import os; os._exit(0)"):
        done = subprocess.run(
            [sys.executable, "-W", "error", "-c", program + ending],
            capture_output=True,
            text=True,
            timeout=30,
            check=True,
        )
        assert done.stderr == ""
        pid = int(done.stdout)
        until = time.monotonic() + 5
        while psutil.pid_exists(pid) and time.monotonic() < until:
            time.sleep(0.02)
        assert not psutil.pid_exists(pid)


def test_the_worker_starts_light(tmp_path: Path) -> None:
    """Nothing of numpy, Pillow or what starts processes; nor a module that lies in the way."""
    (tmp_path / "struct.py").write_text("raise SystemExit('wrong module')")
    heavy = {"numpy", "PIL", "lxml", "shapely", "subprocess"}
    program = (
        "import sys; import vecrepeat.draw.resvg_worker\n"
        f"raise SystemExit(repr({heavy} & {{*sys.modules}}))"
    )
    done = subprocess.run([sys.executable, "-P", "-c", program], capture_output=True, text=True)
    assert done.stderr.strip() == "set()"
    path = os.pathsep.join(entry or os.getcwd() for entry in sys.path)
    worker = subprocess.run(
        [sys.executable, "-P", "-m", "vecrepeat.draw.resvg_worker"],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": path},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
    )
    assert (worker.returncode, worker.stderr) == (0, "")

"""The program as the shell starts it: Ctrl+C, a sign of life, and memory."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

import psutil
import pytest
from support import DEMO, svg

from vecrepeat.cli.progress import _Work
from vecrepeat.core.allowance import MEMORY

pytestmark = pytest.mark.skipif(os.name != "posix", reason="sends signals")

VEILED = "".join(
    f'<linearGradient id="g{k}"><stop stop-color="#c{k}4" stop-opacity=".3"/>'
    f'<stop offset="1" stop-color="#2{k}8" stop-opacity=".8"/></linearGradient>'
    for k in range(9)
) + "".join(
    f'<g id="m{n}">'
    + "".join(
        f'<path d="M{n}{k} {k}0l{9 + k * 7} 40 30 {k * 9}-80-{5 + k}z" fill="url(#g{k})"/>'
        for k in range(9)
    )
    + "</g>"
    for n in range(1, 4)
)
"""Translucent gradients over one another: more mixtures than can be worked out in a minute."""


def started(folder: Path, *command: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        command, cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True
    )


def program(*arguments: str) -> Sequence[str]:
    return (sys.executable, "-m", "vecrepeat", *arguments)


def stopped(process: subprocess.Popen[str]) -> str:
    """What a program says that Ctrl+C has ended, within two seconds and with all its workers."""
    assert process.stderr is not None
    first = process.stderr.readline()
    below = psutil.Process(process.pid).children(recursive=True)
    begun = time.monotonic()
    process.send_signal(signal.SIGINT)
    said = first + process.communicate()[1]
    assert process.returncode == 130
    assert time.monotonic() - begun < 2
    _, alive = psutil.wait_procs(below, timeout=1)
    # Those that have ended and are not yet asked for by anyone don't count.
    assert all(one.status() == psutil.STATUS_ZOMBIE for one in alive)
    return said


@pytest.mark.parametrize(
    "arguments",
    [
        ("export", "art.svg", "-o", "out.png", "--dpi", "2400"),
        ("export", "art.svg", "-o", "out.tif", "--dpi", "1200", "--sheet", "9x9m"),
        ("batch", "art.toml", "-o", "out"),
        ("palette", "veiled.svg"),
        ("separate", "veiled.svg", "-o", "out", "--soft", "tint"),
        ("toss", "art.toml", "-o", "out.toml"),
    ],
    ids=lambda arguments: f"{arguments[0]} {arguments[3][-4:]}" if len(arguments) > 3 else None,
)
def test_ctrl_c_ends_a_command_and_leaves_nothing(tmp_path: Path, arguments: Sequence[str]) -> None:
    (tmp_path / "art.svg").write_bytes((DEMO / "night-garden.svg").read_bytes())
    (tmp_path / "veiled.svg").write_text(svg(VEILED))
    (tmp_path / "art.toml").write_text(
        'art = "art.svg"\n[toss]\nhero-coverage = 0.9\nhero-scale = 0.05\n'
        "[[print]]\ndpi = 2400\n[[print]]\ndpi = 2000\n"
    )
    said = stopped(started(tmp_path, *program(*arguments)))
    assert said.splitlines()[-1] == "stopped"
    assert "Traceback" not in said
    left = {p.name for p in tmp_path.rglob("*") if p.is_file()} - {".batch-journal.jsonl"}
    assert left == {"art.svg", "veiled.svg", "art.toml"}


def test_ctrl_c_ends_what_does_not_listen(tmp_path: Path) -> None:
    """A library at work in one call of minutes, as Python's own Ctrl+C would wait for."""
    code = (
        "import hashlib\nfrom vecrepeat.cli import attended\n"
        "attended.main = lambda: hashlib.pbkdf2_hmac('sha256', b'', b'', 10**9)\n"
        "attended.attended()"
    )
    assert stopped(started(tmp_path, sys.executable, "-c", code)).endswith("stopped\n")


def test_a_log_gets_a_line_and_a_screen_a_bar_that_moves() -> None:
    work = _Work("art.png", 8)
    assert work.line() == "art.png: 0 s"
    assert work.bar(1) != work.bar(2)
    work.step(2)
    assert work.line() == "art.png: 25%, 0 s"
    work.step(6)
    assert work.bar(3).startswith("[" + "█" * 29)


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux holds a process to that")
def test_memory_is_held_to_its_bound(tmp_path: Path) -> None:
    code = (
        "import numpy\nfrom vecrepeat.cli import attended\n"
        "import vecrepeat.cli as cli\n"
        f"cli.cli.main = lambda **_: numpy.ones({MEMORY}, numpy.uint8)\n"
        "attended.attended()"
    )
    process = started(tmp_path, sys.executable, "-c", code)
    said = process.communicate()[1]
    assert process.returncode == 2
    assert "takes more than the 1.8 GB of memory" in said.splitlines()[-1]

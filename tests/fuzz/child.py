"""The process that reads and draws one hostile drawing after the other, and tells of each.

Run by :mod:`fuzz.harness`. A request is a line ``PATH``; an answer is a line of JSON. The
process bounds its own memory, and notes files that are opened outside the drawing's folder.
With ``--inside`` cairo draws in it too, unbounded: starting a worker for each drawing takes
most of the time of a long run.
"""

from __future__ import annotations

import contextlib
import faulthandler
import json
import os
import pickle
import re
import resource
import site
import sys
import sysconfig
import tempfile
import time
import traceback
import warnings
import zlib
from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from vecrepeat.scene.nodes import Node

MEMORY = 3 << 30
"""Address space of this process; how much is really used is told in the answer."""

PIXELS = 64

_WRITING = os.O_CREAT | os.O_WRONLY | os.O_RDWR

_PROCESS_RE = re.compile(r"/proc/\d+/statm?")
"""How much time and memory a process of ours has taken."""

_allowed: list[str] = []
_opened: list[str] = []
_watching = False


def _audit(event: str, arguments: tuple[Any, ...]) -> None:
    if not _watching:
        return
    if event in ("socket.connect", "urllib.Request", "os.system", "exec"):
        if event != "exec":
            _opened.append(f"{event} {arguments[1:2]}")
        return
    if event != "open" or not isinstance(arguments[0], (str, bytes)):
        return
    if isinstance(arguments[2], int) and arguments[2] & _WRITING:
        return
    if _PROCESS_RE.fullmatch(os.fsdecode(arguments[0])):
        return
    path = os.path.realpath(os.fsdecode(arguments[0]))
    if not any(path == root or path.startswith(root + os.sep) for root in _allowed):
        _opened.append(path)


def _peak(pid: int) -> int:
    """The largest resident set of a process in MB since it was last set back; 0 if unknown."""
    with contextlib.suppress(OSError, ValueError):
        for line in Path(f"/proc/{pid}/status").read_text().splitlines():
            if line.startswith("VmHWM"):
                return int(line.split()[1]) // 1000
    return 0


def _set_back(pid: int) -> None:
    with contextlib.suppress(OSError):
        Path(f"/proc/{pid}/clear_refs").write_text("5")


def _processor_time() -> float:
    """Seconds of processor time of this process and the workers that draw for it."""
    from vecrepeat.draw import resvg
    from vecrepeat.util import worker

    drawing = sum(w.processor_time for w in worker._all if w not in resvg._idle)
    return time.process_time() + resvg.processor_time() + drawing


def work(path: Path, out: Path) -> str:
    """Read, compose and export a drawing in one of several ways; say how it ended."""
    from lxml import etree

    from vecrepeat.art.read import read_art
    from vecrepeat.core.errors import InputError
    from vecrepeat.proof.inventory import motif_rows
    from vecrepeat.write.exporting import Exporter
    from vecrepeat.write.svg import pattern_svg, tile_svg

    way = zlib.crc32(path.read_bytes())
    selector = "svg > *" if way % 5 == 0 else None
    layout = ("block", "half-drop", "brick 1/3", "drop 1/4")[way % 4]
    try:
        art = read_art(path, motifs=selector, live_text=way % 7 == 0)
        repeat = art.repeat(layout)
        motif_rows(art.motifs, art.repeat(), {})
        roomy = etree.XMLParser(huge_tree=True)
        for text in (tile_svg(repeat), pattern_svg(repeat)):
            etree.fromstring(text.encode(), roomy)
        exporter = Exporter(repeat)
        longest = max(repeat.width, repeat.height)
        plan = exporter.plan(PIXELS * Fraction(254, 10) / longest)
        exporter.write(out / "out.png", exporter.sheet(plan), transparent=way % 2 == 0)
    except InputError as error:
        return f"refused: {error.what}"
    return f"drawn by {exporter.engine}"


def answer(path: Path, out: Path) -> dict[str, Any]:
    """Everything that is to be known of one drawing."""
    global _watching
    from vecrepeat.draw import resvg

    _opened.clear()
    _allowed[:] = [*_roots(), str(path.parent.resolve()), str(out.resolve())]
    pids = [os.getpid(), *(worker.pid for worker in resvg._idle)]
    for pid in pids:
        _set_back(pid)
    start, started = time.perf_counter(), _processor_time()
    failure = where = ""
    faulthandler.dump_traceback_later(10, file=sys.stderr)
    with warnings.catch_warnings(record=True) as warned:
        warnings.simplefilter("always")
        _watching = True
        try:
            end = work(path, out)
        except BaseException as error:
            end = "failed"
            text = str(error).splitlines() or [""]
            failure = f"{type(error).__name__}: {text[0][:200]}"
            frames = traceback.extract_tb(error.__traceback__)
            ours = [f for f in frames if "/vecrepeat/" in f.filename] or frames
            where = f"{_short(ours[-1].filename)}:{ours[-1].lineno} ({frames[-1].name})"
        finally:
            _watching = False
            faulthandler.cancel_dump_traceback_later()
    return {
        "end": end,
        "failure": failure,
        "where": where,
        "seconds": time.perf_counter() - start,
        "processor": _processor_time() - started,
        "mb": _peak(os.getpid()),
        "resvg_mb": max((_peak(worker.pid) for worker in resvg._idle), default=0),
        "opened": list(_opened),
        "warnings": sorted(
            {
                f"{_short(w.filename)}:{w.lineno} {w.category.__name__}: {w.message}"[:200]
                for w in warned
            }
        ),
    }


def _short(name: str) -> str:
    parts = Path(name).parts
    start = max(
        (k for k, part in enumerate(parts) if part in ("vecrepeat", "site-packages")), default=0
    )
    return "/".join(parts[start:])


def _roots() -> list[str]:
    """Folders that Python and the fonts are in."""
    import vecrepeat
    from vecrepeat.util import fonts

    found = [
        *(sys.prefix, sys.base_prefix, sysconfig.get_path("stdlib"), *site.getsitepackages()),
        *(
            str(Path(vecrepeat.__file__).parent),
            str(Path(__file__).parent),
            *map(str, fonts._folders()),
        ),
        *("/etc/fonts", "/var/cache/fontconfig", os.devnull, "/dev/urandom"),
    ]
    return [os.path.realpath(root) for root in found]


class _Inside:
    """cairo within this process; in the place of :class:`CairoDocument`."""

    def __init__(self, scenes: Sequence[Node]) -> None:
        self._document = pickle.dumps(tuple(scenes))

    def draw(self, request: dict[str, Any], out: Any, pictures: Any = ()) -> None:
        """Draw a request into ``out``, and lay pictures with it."""
        import numpy as np

        from vecrepeat.draw import cairo_worker
        from vecrepeat.draw.cairo import CairoFailure
        from vecrepeat.draw.cairo_library import NATIVE_ORDER

        drawing = None
        try:
            drawing = cairo_worker.Drawing(self._document)
            data = drawing.picture(**request, pictures=b"".join(p.tobytes() for p in pictures))
        except Exception as error:
            number = None if drawing is None else drawing.drawn
            reason = f"{type(error).__name__}: {error}"
            raise CairoFailure(reason, number) from error
        native = np.frombuffer(data, np.uint8).reshape(out.shape)
        for channel, source in enumerate(NATIVE_ORDER):
            out[..., channel] = native[..., source]


def main() -> None:
    """Answer one line after the other until there are no more."""
    answers = os.fdopen(os.dup(1), "w", buffering=1)
    os.dup2(2, 1)
    hard = resource.getrlimit(resource.RLIMIT_AS)[1]
    # Only the soft limit: resvg's own process sets one of its own.
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, hard))
    if "--inside" in sys.argv:
        from vecrepeat.draw import paint

        vars(paint)["CairoDocument"] = _Inside
    sys.addaudithook(_audit)
    with tempfile.TemporaryDirectory() as folder:
        for line in sys.stdin:
            print(json.dumps(answer(Path(line.rstrip("\n")), Path(folder))), file=answers)


if __name__ == "__main__":
    main()

"""Gives drawings to a process of their own and judges what it tells of them."""

from __future__ import annotations

import ctypes
import json
import os
import select
import struct
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType

import psutil
from lxml import etree

# What was once read would not be read again.
os.environ["VECREPEAT_CACHE"] = "off"

SECONDS = 20.0
"""Seconds of processor time that a drawing may take: measuring has 12, drawing comes after."""

MEGABYTES = 1000
LATE = 3 * SECONDS
"""Seconds by the clock that count as too many: other programs run too."""

GRACE = 60.0
"""Seconds by the clock after which a drawing is given up altogether."""

_IN_OPEN = 0x20
_IN_ISDIR = 0x40000000
_EVENT = struct.Struct("iIII")


@dataclass(frozen=True)
class Verdict:
    """How one drawing ended.

    Attributes:
        end: ``drawn by …``, ``refused: …`` or ``failed``.
        failures: what is wrong, each with the place it comes from; empty where all is well.
        warnings: what Python warned of on the way.
        seconds: of processor time it took, or a quarter of those by the clock if those are more.
        mb: peak memory in MB, of our process or of resvg's.
    """

    end: str
    failures: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    seconds: float = 0.0
    mb: int = 0


@dataclass
class Watch:
    """Tells whether any process opens a file of a folder, by the kernel (Linux's inotify)."""

    folder: Path
    _fd: int = -1

    def __post_init__(self) -> None:
        if sys.platform == "linux":
            libc = ctypes.CDLL(None, use_errno=True)
            self._fd = libc.inotify_init1(os.O_NONBLOCK | os.O_CLOEXEC)
            libc.inotify_add_watch(self._fd, os.fsencode(self.folder), _IN_OPEN)

    def seen(self) -> bool:
        """Whether a file has been opened since this was last asked."""
        if self._fd < 0:
            return False
        try:
            events = os.read(self._fd, 65536)
        except BlockingIOError:
            return False
        at = 0
        while at < len(events):
            _, mask, _, length = _EVENT.unpack_from(events, at)
            # Whoever lists the folders of /tmp opens the folder itself.
            if not mask & _IN_ISDIR:
                return True
            at += _EVENT.size + length
        return False

    def close(self) -> None:
        if self._fd >= 0:
            os.close(self._fd)


@dataclass
class Harness:
    """One child process at a time, replaced when it dies or hangs; a context manager.

    Attributes:
        inside: have cairo draw within the child: quicker by far, but not as it really is.
    """

    inside: bool = False
    _child: subprocess.Popen[str] | None = None
    _told: list[str] = field(default_factory=list)

    def __enter__(self) -> Harness:
        self._folder = tempfile.TemporaryDirectory(prefix="fuzz-")
        base = Path(self._folder.name)
        self.art, outside = base / "art", base / "outside"
        self.art.mkdir()
        outside.mkdir()
        canary = (
            '<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9">'
            '<path id="a" d="M0 0h9v9z"/></svg>'
        )
        for suffix, text in (("svg", canary), ("css", "*{fill:red}"), ("txt", "5"), ("png", "x")):
            (outside / f"canary.{suffix}").write_text(text)
        self._watch = Watch(outside)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._end()
        self._watch.close()
        self._folder.cleanup()

    def judge(self, data: bytes, name: str = "case.svg") -> Verdict:
        """Have a drawing read and drawn."""
        path = self.art / name
        path.write_bytes(data)
        return self.judge_file(path)

    def judge_file(self, path: Path) -> Verdict:
        """Have a drawing read and drawn where it is."""
        child = self._child or self._start()
        assert child.stdin is not None
        assert child.stdout is not None
        self._watch.seen()
        self._told.clear()
        try:
            child.stdin.write(f"{path}\n")
            child.stdin.flush()
        except OSError:
            self._end()
            return Verdict("failed", ("died before it was asked",))
        ready, _, _ = select.select([child.stdout], [], [], GRACE)
        line = child.stdout.readline() if ready else ""
        if not line:
            code = child.poll() if ready else None
            if ready:
                code = child.wait()
            self._end()
            what = f"died (code {code})" if ready else f"no answer within {GRACE:.0f} s"
            return Verdict("failed", (f"{what} at {self._place()}",), seconds=GRACE)
        found = json.loads(line)
        failures = []
        if found["failure"]:
            failures.append(f"{found['failure']} at {found['where']}")
        if found["processor"] > SECONDS or found["seconds"] > LATE:
            failures.append(f"took longer than {SECONDS:.0f} s at {self._place()}")
        if found["mb"] > MEGABYTES:
            failures.append(f"took more than {MEGABYTES} MB")
        if found["resvg_mb"] > MEGABYTES:
            failures.append(f"took more than {MEGABYTES} MB in resvg's process")
        failures += [f"opened {name}" for name in dict.fromkeys(found["opened"])]
        if self._watch.seen():
            failures.append("opened a file outside the art's folder")
        return Verdict(
            found["end"],
            tuple(failures),
            tuple(found["warnings"]),
            max(found["processor"], found["seconds"] / 4),
            max(found["mb"], found["resvg_mb"]),
        )

    def _start(self) -> subprocess.Popen[str]:
        child = subprocess.Popen(
            [
                *(sys.executable, str(Path(__file__).with_name("child.py"))),
                *(["--inside"] if self.inside else []),
            ],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        assert child.stderr is not None
        stream, told = child.stderr, self._told

        def listen() -> None:
            for line in stream:
                if len(told) < 400:
                    told.append(line)

        self._listener = threading.Thread(target=listen, daemon=True)
        self._listener.start()
        self._child = child
        return child

    def _place(self) -> str:
        """Where it stood when its time was up, by what faulthandler wrote."""
        ours = [line.strip() for line in self._told if "/vecrepeat/" in line]
        return ours[0].rpartition("/vecrepeat/")[2] if ours else "an unknown place"

    def _end(self) -> None:
        child, self._child = self._child, None
        if child is None:
            return
        try:
            below = psutil.Process(child.pid).children(recursive=True)
        except psutil.NoSuchProcess:
            below = []
        child.kill()
        child.wait()
        for process in below:
            if process.is_running():
                process.kill()
        # The workers below hold its end of the pipe open until they are gone.
        self._listener.join(5)
        for stream in (child.stdin, child.stdout, child.stderr):
            if stream is not None:
                stream.close()


def key_of(failure: str) -> str:
    """A failure without what differs from case to case."""
    kind, _, where = failure.partition(" at ")
    return f"{kind.partition(':')[0]} at {where}" if where else kind


def smaller(data: bytes, holds: Callable[[bytes], bool], tries: int = 150) -> bytes:
    """Take away elements and attributes for as long as ``holds`` stays true of the rest."""
    try:
        root = etree.fromstring(data)
    except (etree.XMLSyntaxError, ValueError):
        return data
    best = etree.tostring(root)
    if not holds(best):
        return data
    progress = True
    while progress and tries > 0:
        progress = False
        count = len(list(root.iter()))
        for index in range(count - 1, -1, -1):
            changes = ["element"] if index else []
            elements = list(etree.fromstring(best).iter())
            if index >= len(elements):
                continue
            changes += [str(name) for name in elements[index].attrib]
            for change in changes:
                tries -= 1
                if tries <= 0:
                    return best
                tree = etree.fromstring(best)
                element = list(tree.iter())[index]
                if change == "element":
                    parent = element.getparent()
                    if parent is None:
                        continue
                    parent.remove(element)
                else:
                    del element.attrib[change]
                text = etree.tostring(tree)
                if holds(text):
                    best, progress = text, True
                    if change == "element":
                        break
        root = etree.fromstring(best)
    return best

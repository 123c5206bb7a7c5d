"""The process in which resvg runs, apart from the program that needs its pictures.

resvg's wheel can panic, or take the whole process down, on hostile drawings. So it runs here
and answers one request after the other over pipes, until the pipe in ends. Run by
:mod:`vecrepeat.draw.resvg`; nothing heavy is imported, so that it starts at once.

A request is :data:`REQUEST` (width and height in pixels, bytes of the families and of the
drawing), what :data:`FAMILIES` are to be drawn in, a line each, and the drawing, in UTF-8. Without
families the system's fonts are not loaded. An answer is :data:`ANSWER` (0 for a picture and
1 for a failure, bytes that follow) and the PNG or the reason in UTF-8.
"""

import os
import struct
import sys
from typing import Any, BinaryIO

import resvg_py

try:
    import resource
except ImportError:  # Windows has no such limits.
    resource = None  # type: ignore[assignment]

REQUEST = struct.Struct("<IIIQ")
ANSWER = struct.Struct("<BQ")

FAMILIES = ("serif", "sans_serif", "monospace", "cursive", "fantasy")
"""The generic families; text without a family is in the first."""


def _usual_files() -> int | None:
    """Leave no core files; return the usual number of open files, None where that is unknown."""
    if resource is None:
        return None
    hard = resource.getrlimit(resource.RLIMIT_CORE)[1]
    resource.setrlimit(resource.RLIMIT_CORE, (0, hard))
    return resource.getrlimit(resource.RLIMIT_NOFILE)[0]


def _allow_files(usual: int | None, allowed: bool) -> None:
    """Let files be opened, or not: a drawing may name files, and none is ever to be read."""
    if resource is not None and usual is not None:
        hard = resource.getrlimit(resource.RLIMIT_NOFILE)[1]
        # Those that are open already stay so.
        resource.setrlimit(resource.RLIMIT_NOFILE, (usual if allowed else 0, hard))


def _read(stream: BinaryIO, size: int) -> bytes:
    """Read exactly ``size`` bytes, or end this process where the pipe ends."""
    data = stream.read(size)
    if len(data) < size:
        raise SystemExit(0)
    return data


def main() -> None:
    """Answer requests until the pipe in ends."""
    requests = sys.stdin.buffer
    # Whatever resvg prints must not get in among the answers.
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    usual = _usual_files()
    while True:
        width, height, named, size = REQUEST.unpack(_read(requests, REQUEST.size))
        names = _read(requests, named).decode().splitlines()
        svg = _read(requests, size)
        try:
            _allow_files(usual, bool(names))
            fonts: dict[str, Any] = {
                f"{key}_family": name for key, name in zip(FAMILIES, names, strict=False)
            }
            picture = resvg_py.svg_to_bytes(
                svg_string=svg.decode(),
                width=width,
                height=height,
                dpi=96,
                languages=["en"],
                skip_system_fonts=not names,
                font_family=fonts.get("serif_family"),
                **fonts,
            )
            failed, data = 0, bytes(picture)
        except BaseException as error:  # A panic is no Exception.
            failed, data = 1, f"{type(error).__name__}: {error}".encode(errors="replace")
        answers.write(ANSWER.pack(failed, len(data)))
        answers.write(data)
        answers.flush()


if __name__ == "__main__":
    main()

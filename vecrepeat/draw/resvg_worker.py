"""The process in which resvg runs, apart from the program that needs its pictures.

resvg's wheel can panic, or take the whole process down, on hostile drawings. So it runs here and
answers one request after the other. Run by :mod:`vecrepeat.draw.resvg`; nothing heavy is
imported, so that it starts at once.

A message (:mod:`vecrepeat.util.inbox`) is :data:`REQUEST` (width and height in pixels, bytes of
the families), what :data:`FAMILIES` are to be drawn in, a line each, and the drawing, in UTF-8.
Without families the system's fonts are not loaded. The answer is the PNG or the reason in UTF-8.
"""

from __future__ import annotations

import struct
from typing import Any

import resvg_py

from vecrepeat.util.inbox import answer_all

try:
    import resource
except ImportError:  # Windows has no such limits.
    resource = None  # type: ignore[assignment]

REQUEST = struct.Struct("<III")

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


def _answer(usual: int | None, message: bytes) -> tuple[bool, bytes]:
    width, height, named = REQUEST.unpack_from(message)
    names = message[REQUEST.size : REQUEST.size + named].decode().splitlines()
    try:
        _allow_files(usual, bool(names))
        fonts: dict[str, Any] = {
            f"{key}_family": name for key, name in zip(FAMILIES, names, strict=False)
        }
        picture = resvg_py.svg_to_bytes(
            svg_string=message[REQUEST.size + named :].decode(),
            width=width,
            height=height,
            dpi=96,
            languages=["en"],
            skip_system_fonts=not names,
            font_family=fonts.get("serif_family"),
            **fonts,
        )
        return False, bytes(picture)
    except BaseException as error:  # A panic is no Exception.
        return True, f"{type(error).__name__}: {error}".encode(errors="replace")


def main() -> None:
    """Answer requests until the pipe in ends."""
    usual = _usual_files()
    answer_all(lambda message: _answer(usual, message))


if __name__ == "__main__":
    main()

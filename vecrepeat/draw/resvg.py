"""A picture of an SVG document by resvg, drawn in a process of its own.

resvg draws what cairo does not: filters, masks, blend modes. But its wheel can panic on
some filters, and a hostile drawing can make it ask for tens of gigabytes, which ends its
process. So worker processes draw, are bounded in memory and time, and are replaced when they
fail; the caller sees a :class:`ResvgError` and nothing worse. Threads that ask at the same time
get a worker each, up to :data:`AT_ONCE`.
"""

from __future__ import annotations

import io
import os
import re
import threading
import time
import weakref
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from PIL import PngImagePlugin

from vecrepeat.core import allowance
from vecrepeat.draw.resvg_worker import REQUEST
from vecrepeat.util.cores import cores
from vecrepeat.util.worker import Worker, WorkerEnded, running

SECONDS_FOR_FONTS = 10.0
"""Seconds of processor time that loading the system's fonts may take, once in each worker."""

MEMORY = 640 << 20
"""Bytes of memory that any picture may take."""

MEMORY_PER_PIXEL = 160
"""Bytes on top of that for each pixel: each result of a filter is a picture of four bytes."""

MEMORY_PER_BYTE = 12
"""Bytes on top of that for each byte of the drawing: its tree and what is packed in it."""

MAX_PIXELS = 1 << 28
"""The largest picture: 1 GiB of RGBA."""

SHRINKS = (2**-15, 2**-14, 3 * 2**-15, -(2**-15), -(2**-14))
"""By how much to draw filters smaller, in the order of trying.

resvg works out the size of a filter's pictures in more than one way. Where the region is
nearly a whole number of pixels long they round apart, otherwise at every place, and resvg
panics or, worse, draws some pictures sheared. That is common, as people like round numbers. A
hair's breadth, 0.03 px on 1,000 px, takes the length away from the whole number: to below it,
since resvg rounds lengths up, and with them the radius of feMorphology. What chance leaves is
found by drawing twice: two draws a hair's breadth apart agree unless one is sheared, and a
third tells which.
"""

_WITH_TEXT = b'<svg xmlns="http://www.w3.org/2000/svg" width="1" height="1"><text>a</text></svg>'
"""What makes a worker load the fonts, which it then keeps."""

_FILE_IMAGE_RE = re.compile(
    r"""<(?:[\w.-]+:)?(?:image|feImage)\b(?:[^>"']|"[^"]*"|'[^']*')*?"""
    r"""\bhref\s*=\s*["']\s*(?!\s*data:|\s*\#)"""
)
"""An image that is neither in the document nor given as data."""


class ResvgError(RuntimeError):
    """resvg gave no picture; the message is one line saying why."""


class ResvgTimeError(ResvgError):
    """resvg was still drawing when its time was up."""


class ResvgPanicError(ResvgError):
    """resvg found itself in a state that it takes to be impossible.

    With some filters that hangs on how sizes round: drawn at a slightly other scale, the same
    drawing may do.
    """


AT_ONCE = min(4, cores())
"""Pictures that are drawn at the same time."""

_turns = threading.BoundedSemaphore(AT_ONCE)
_lock = threading.Lock()
_idle: list[Worker] = []
"""Workers that draw nothing now, the latest used last."""

_lettered: weakref.WeakSet[Worker] = weakref.WeakSet()
"""Workers that have loaded the fonts."""

_spent = 0.0


def processor_time() -> float:
    """Return how many seconds of processor time all pictures so far took.

    Loading fonts is not counted, and where the system doesn't tell, it is by the clock.
    """
    return _spent


def _after_fork() -> None:
    global _lock, _turns, _idle, _lettered
    _turns, _lock = threading.BoundedSemaphore(AT_ONCE), threading.Lock()
    _idle, _lettered = [], weakref.WeakSet()


if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_after_fork)


def rasterise(
    svg: str, width: int, height: int, *, fonts: Sequence[str] = (), seconds: float | None = None
) -> NDArray[np.uint8]:
    """Draw an SVG document.

    The root's ``width`` and ``height`` must be the picture's own size in plain pixels, as
    resvg rounds a page to whole pixels before it scales it. Images in it must be ``data:``
    URLs: no file is read.

    Args:
        svg: the whole document.
        width: of the picture in pixels.
        height: of the picture in pixels.
        fonts: draw text, with the system's fonts, and the generic families in these; without
            them it draws nothing. See :func:`vecrepeat.util.fonts.generic_families`.
        seconds: of processor time until drawing is given up; by default
            :func:`~vecrepeat.core.allowance.picture_seconds`.

    Returns:
        Premultiplied RGBA of shape (height, width, 4).

    Raises:
        ResvgError: there is no picture: the drawing is refused or not well-formed, resvg
            panics, crashes, or takes too long or too much memory. The message is one line.
    """
    if width < 1 or height < 1 or width * height > MAX_PIXELS:
        raise ResvgError(f"resvg does not draw {width:,} × {height:,} px")
    if _FILE_IMAGE_RE.search(svg):
        raise ResvgError("resvg is given no drawing that takes an image from elsewhere")
    try:
        data = svg.encode()
    except UnicodeEncodeError as error:
        raise ResvgError(f"resvg can't read the drawing: {error}") from error
    if seconds is None:
        seconds = allowance.picture_seconds(width * height, len(data))
    memory = MEMORY + MEMORY_PER_PIXEL * width * height + MEMORY_PER_BYTE * len(data)
    failed, answer = _ask(width, height, "\n".join(fonts).encode(), data, memory, seconds)
    if failed:
        reason = " ".join(answer.decode(errors="replace").split())
        kind, _, what = reason.partition(": ")
        if kind == "PanicException":
            raise ResvgPanicError(f"resvg panics: {what[:300]}")
        raise ResvgError(f"resvg refuses the drawing: {what[:300]}")
    return _decoded(answer, width, height)


def _ask(
    width: int, height: int, fonts: bytes, svg: bytes, memory: int, seconds: float
) -> tuple[bool, bytearray]:
    """Have a worker draw that does nothing else; start one where none does."""
    with _turns:
        with _lock:
            worker = _idle.pop() if _idle else None
        try:
            worker = running(worker, "vecrepeat.draw.resvg_worker")
        except OSError as error:
            raise ResvgError(f"resvg can't be started: {error}") from error
        try:
            if fonts and worker not in _lettered:
                # Apart from the drawing, which would else have that time for itself.
                request = REQUEST.pack(1, 1, len(fonts)) + fonts
                _answer(worker, request, _WITH_TEXT, MEMORY, SECONDS_FOR_FONTS, counted=False)
                _lettered.add(worker)
            request = REQUEST.pack(width, height, len(fonts)) + fonts
            return _answer(worker, request, svg, memory, seconds)
        finally:
            with _lock:
                _idle.append(worker)


def _answer(
    worker: Worker,
    request: bytes,
    svg: bytes,
    memory: int,
    seconds: float,
    *,
    counted: bool = True,
) -> tuple[bool, bytearray]:
    """Return whether drawing failed, and the PNG or the reason."""
    global _spent
    before, start = worker.processor_time, time.perf_counter()
    took = 0.0
    try:
        answer = worker.ask(request, svg, memory=memory, seconds=seconds)
        took = worker.processor_time - before
        return answer
    except WorkerEnded as error:
        if error.late:
            took = seconds
            raise ResvgTimeError(f"resvg {error}") from None
        raise ResvgError(f"resvg {error}; is the package resvg-py installed?") from None
    finally:
        if counted:
            with _lock:
                # One that crashed can't be asked any more.
                _spent += took or min(seconds, time.perf_counter() - start)


def _decoded(png: bytes | bytearray, width: int, height: int) -> NDArray[np.uint8]:
    """Return a PNG from resvg as premultiplied RGBA of shape (height, width, 4)."""
    # Image.open would warn of large pictures or refuse them; ours are as large as we asked.
    with PngImagePlugin.PngImageFile(io.BytesIO(png)) as image:
        if image.size != (width, height) or image.mode != "RGBA":
            raise ResvgError(
                f"resvg drew {image.size[0]} × {image.size[1]} px instead of {width} × {height}"
            )
        return np.array(image.convert("RGBa"))

"""Outside judges: general-purpose SVG renderers that share no code with the package's own path.

Each judge draws a whole SVG document into a picture of exactly ``width`` × ``height`` pixels and
returns it as straight RGBA, shape (height, width, 4). A judge that is not there skips the test
that asks for it; with ``VECREPEAT_JUDGES=required`` in the environment it fails it.

Judges: resvg (through its wheel), librsvg (rsvg-convert), Chromium (headless), CairoSVG. The
last is what our own painter is built on, so it is an independent judge of nothing but patterns.
"""

from __future__ import annotations

import importlib
import io
import os
import re
import shutil
import subprocess
import tempfile
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import NoReturn

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

Pixels = NDArray[np.uint8]
Judge = Callable[[str, int, int], Pixels]

PATIENCE = 120
"""Seconds that one picture may take."""

_ROOT_RE = re.compile(r"<(?:[\w.-]+:)?svg\b[^>]*>")
_SIDE_RE = re.compile(r"""\s(?:width|height)=("[^"]*"|'[^']*')""")


def sized(text: str, width: int, height: int) -> str:
    """The same document with its root's ``width`` and ``height`` in whole pixels.

    Renderers round a page that is given in mm to whole pixels before they scale it, each in its
    own way. With the picture's own size written in, there is nothing to round: the viewBox maps
    onto the pixels and a whole-pixel tile stays one.
    """
    root = _ROOT_RE.search(text)
    assert root is not None
    assert " viewBox=" in root[0]
    bare = _SIDE_RE.sub("", root[0])
    return (
        f'{text[: root.start()]}{bare[:-1]} width="{width}" height="{height}">{text[root.end() :]}'
    )


def resvg(text: str, width: int, height: int) -> Pixels:
    """The document as resvg draws it."""
    data = _module("resvg_py").svg_to_bytes(
        svg_string=sized(text, width, height),
        width=width,
        height=height,
        dpi=96,
        languages=["en"],
        skip_system_fonts=True,
    )
    return _decoded(bytes(data), width, height)


def librsvg(text: str, width: int, height: int) -> Pixels:
    """The document as librsvg draws it."""
    program = installed("rsvg-convert")
    done = subprocess.run(
        [program, f"--width={width}", f"--height={height}", "--unlimited", "--format=png"],
        input=sized(text, width, height).encode(),
        capture_output=True,
        timeout=PATIENCE,
    )
    assert done.returncode == 0, done.stderr.decode(errors="replace")
    return _decoded(done.stdout, width, height)


def chromium(text: str, width: int, height: int) -> Pixels:
    """The document as Chromium draws it, as a picture in a page at one device pixel per pixel."""
    program = installed("chromium", "chromium-browser", "google-chrome")
    with tempfile.TemporaryDirectory(prefix="judge-", ignore_cleanup_errors=True) as name:
        folder = Path(name)
        (folder / "art.svg").write_text(sized(text, width, height), encoding="utf-8")
        (folder / "page.html").write_text(
            "<!doctype html><meta charset=utf-8><style>html,body{margin:0;overflow:hidden}"
            f"img{{display:block;width:{width}px;height:{height}px}}</style>"
            "<img src=art.svg>",
            encoding="utf-8",
        )
        # A taller window than the picture: headless Chromium counts its own frame, if any, in it.
        flags = [
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-quic",
            "--no-first-run",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
            "--hide-scrollbars",
            "--force-device-scale-factor=1",
            "--force-color-profile=srgb",
            "--default-background-color=00000000",
            f"--window-size={width},{height + 200}",
            f"--user-data-dir={folder / 'profile'}",
            f"--screenshot={folder / 'shot.png'}",
        ]
        done = subprocess.run(
            [program, *flags, (folder / "page.html").as_uri()],
            stdin=subprocess.DEVNULL,
            capture_output=True,
            timeout=PATIENCE,
        )
        shot = folder / "shot.png"
        assert shot.exists(), done.stderr.decode(errors="replace")[-2000:]
        with Image.open(shot) as image:
            pixels = np.array(image.convert("RGBA"))
    assert pixels.shape[0] >= height
    assert pixels.shape[1] >= width
    return pixels[:height, :width]


def cairosvg(text: str, width: int, height: int) -> Pixels:
    """The document as CairoSVG draws it."""
    data = _module("cairosvg").svg2png(
        bytestring=sized(text, width, height).encode(), output_width=width, output_height=height
    )
    return _decoded(data, width, height)


JUDGES: dict[str, Judge] = {"resvg": resvg, "librsvg": librsvg, "chromium": chromium}
"""The independent ones, by name."""


def on_white(pixels: Pixels) -> NDArray[np.float64]:
    """Straight RGBA laid on white, as RGB."""
    alpha = pixels[..., 3:] / 255
    laid: NDArray[np.float64] = pixels[..., :3] * alpha + 255 * (1 - alpha)
    return laid


def difference(one: Pixels, other: Pixels) -> NDArray[np.float64]:
    """How far two pictures are apart on white, per pixel and channel, in levels of 255."""
    assert one.shape[:2] == other.shape[:2]
    return np.abs(on_white(one) - on_white(other))


def _decoded(data: bytes, width: int, height: int) -> Pixels:
    with Image.open(io.BytesIO(data)) as image:
        pixels = np.array(image.convert("RGBA"))
    assert pixels.shape == (height, width, 4)
    return pixels


def _module(name: str) -> ModuleType:
    try:
        return importlib.import_module(name)
    except ImportError:
        _missing(name)


def installed(*names: str) -> str:
    for name in names:
        if found := shutil.which(name):
            return found
    _missing(" or ".join(names))


def _missing(what: str) -> NoReturn:
    if os.environ.get("VECREPEAT_JUDGES") == "required":
        pytest.fail(f"the judge {what} is required and not installed")
    pytest.skip(f"the judge {what} is not installed")

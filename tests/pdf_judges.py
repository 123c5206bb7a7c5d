"""Independent PDF readers, which share no code: pdfium, poppler, MuPDF and Ghostscript.

Each draws a file's first page at so many dpi and returns RGB, shape (height, width, 3). One that
is missing skips the test, or fails it with ``VECREPEAT_JUDGES=required``.
"""

from __future__ import annotations

import importlib
import io
import os
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

Pixels = NDArray[np.uint8]


def pdfium(file: Path, dpi: float) -> Pixels:
    document = _module("pypdfium2").PdfDocument(file)
    image = document[0].render(scale=dpi / 72).to_pil()
    pixels = np.array(image.convert("RGB"))
    document.close()
    return pixels


def poppler(file: Path, dpi: float) -> Pixels:
    if shutil.which("pdftoppm") is None:
        _missing("pdftoppm")
    command = ["pdftoppm", "-r", str(dpi), str(file)]
    done = subprocess.run(command, capture_output=True, timeout=120, check=True)
    assert done.stderr == b"", done.stderr
    with Image.open(io.BytesIO(done.stdout)) as image:
        return np.array(image.convert("RGB"))


def ghostscript(file: Path, dpi: float) -> Pixels:
    if shutil.which("gs") is None:
        _missing("gs")
    command = ["gs", "-q", "-dNOPAUSE", "-dBATCH", "-dSAFER", "-sDEVICE=png16m", "-sOutputFile=-"]
    command += [f"-r{dpi}", "-dTextAlphaBits=4", "-dGraphicsAlphaBits=4", str(file)]
    done = subprocess.run(command, capture_output=True, timeout=120, check=True)
    with Image.open(io.BytesIO(done.stdout)) as image:
        return np.array(image.convert("RGB"))


def mupdf(file: Path, dpi: float) -> Pixels:
    pymupdf = _module("pymupdf")
    document = pymupdf.open(file)
    picture = document[0].get_pixmap(matrix=pymupdf.Matrix(dpi / 72, dpi / 72), alpha=False)
    samples = np.frombuffer(picture.samples, np.uint8)
    return samples.reshape(picture.height, picture.width, 3).copy()


# Ghostscript starts slowly: for what it alone may do otherwise.
READERS: dict[str, Callable[[Path, float], Pixels]] = {
    "pdfium": pdfium,
    "poppler": poppler,
    "mupdf": mupdf,
}


def _module(name: str) -> ModuleType:
    try:
        return importlib.import_module(name)
    except ImportError:
        _missing(name)
        raise


def _missing(what: str) -> None:
    if os.environ.get("VECREPEAT_JUDGES") == "required":
        pytest.fail(f"the judge {what} is required and not installed")
    pytest.skip(f"the judge {what} is not installed")

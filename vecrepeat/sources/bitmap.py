"""Pixel files as they are drawn on a tablet: read within bounds, in sRGB, with their own size.

Sources: Exif 2.3 §4.6.4 (Orientation), ICC.1 (profiles).
"""

from __future__ import annotations

import io
import os
import struct
import warnings
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import (
    Image,
    ImageCms,
    ImageFile,
    ImageOps,
    JpegImagePlugin,
    PngImagePlugin,
    TiffImagePlugin,
    WebPImagePlugin,
)

from vecrepeat.art.images import MAX_BYTES, MAX_PIXELS, MAX_TOTAL
from vecrepeat.core.errors import InputError
from vecrepeat.core.units import MM_PER_INCH, Size, format_mm
from vecrepeat.util.files import read_file
from vecrepeat.util.imagefiles import own_dpi, png_damage, png_of

DEFAULT_DPI = Fraction(300)
"""Taken where a file says nothing: what pictures for print are commonly drawn at (common
practice, no source)."""

Pixels = NDArray[np.uint8]

_FORMATS: dict[bytes, tuple[str, type[ImageFile.ImageFile]]] = {
    b"\x89PNG\r\n\x1a\n": ("PNG", PngImagePlugin.PngImageFile),
    b"RIFF": ("WebP", WebPImagePlugin.WebPImageFile),
    b"II*\x00": ("TIFF", TiffImagePlugin.TiffImageFile),
    b"MM\x00*": ("TIFF", TiffImagePlugin.TiffImageFile),
    b"II+\x00": ("TIFF", TiffImagePlugin.TiffImageFile),
    b"MM\x00+": ("TIFF", TiffImagePlugin.TiffImageFile),
    b"\xff\xd8\xff": ("JPEG", JpegImagePlugin.JpegImageFile),
}
# What Pillow raises over damaged files.
_DAMAGE = (
    *(OSError, SyntaxError, ValueError, EOFError, KeyError, IndexError, TypeError),
    *(OverflowError, AttributeError, struct.error, zlib.error, Image.DecompressionBombError),
)
_DEEP = ("I", "F", "I;16", "I;16B", "I;16L", "I;16N")
_READ_WELL = "RGB with transparency, 8 or 16 bits a channel"
_ORIENTATION = 0x0112


@dataclass(frozen=True, eq=False)
class Bitmap:
    """A pixel file that has been read.

    Attributes:
        file: where it came from.
        pixels: straight RGBA in sRGB, shape (height, width, 4).
        has_alpha: whether the file says where there is ink, by alpha or a transparent colour.
        size: its width and height in mm, exact.
        png: the same pixels as a PNG file; the file itself where it is one that needs no change.
        notes: what was changed or assumed, a clause each, to be told of the file.
    """

    file: Path
    pixels: Pixels
    has_alpha: bool
    size: Size
    png: bytes
    notes: tuple[str, ...]

    @property
    def dpi(self) -> tuple[Fraction, Fraction]:
        """Pixels per inch across and down."""
        height, width = self.pixels.shape[:2]
        return (width * MM_PER_INCH / self.size.width, height * MM_PER_INCH / self.size.height)


def read_bitmap(
    path: Path, *, dpi: Fraction | None = None, width: Fraction | None = None
) -> Bitmap:
    """Read a PNG, WebP, TIFF or JPEG file.

    Args:
        path: the file.
        dpi: pixels per inch, in place of what the file says.
        width: of the whole picture in mm, in place of what the file says.

    Raises:
        InputError: it can't be read, is damaged, of no known format or too large.
    """
    if dpi is not None and width is not None:
        raise InputError("a dpi and a width exclude each other", hint="give one of them")
    data = read_file(path, MAX_TOTAL)
    kind, plugin = next(
        (found for start, found in _FORMATS.items() if data.startswith(start)), ("", None)
    )
    if plugin is None:
        raise InputError(
            "neither PNG, WebP, TIFF nor JPEG", file=path, hint="save it as PNG with transparency"
        )
    if kind == "PNG" and (wrong := png_damage(data)):
        raise InputError(
            f"the PNG file is damaged or cut short: {wrong}", file=path, hint="save it again"
        )
    try:
        # Image.open would warn of large pictures or refuse them before we can say so.
        with _quiet(kind), plugin(io.BytesIO(data)) as image:
            _check_size(path, kind, data, image.size)
            return _read(path, kind, data, image, dpi, width)
    except InputError:
        raise
    except _DAMAGE as error:
        if isinstance(error, SyntaxError) and "unknown" in str(error):
            raise InputError(
                f"this kind of {kind} is not read", file=path, hint=f"save it as {_READ_WELL}"
            ) from None
        reason = " ".join(str(error).split())[:100] or type(error).__name__
        raise InputError(
            f"the {kind} file is damaged or cut short: {reason}", file=path, hint="save it again"
        ) from None


@contextmanager
def _quiet(kind: str) -> Iterator[None]:
    """Keep Pillow and libtiff from writing on standard error: we say in one line what is wrong."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        if kind != "TIFF":
            yield
            return
        kept = os.dup(2)
        try:
            with open(os.devnull, "wb") as nowhere:
                os.dup2(nowhere.fileno(), 2)
            yield
        finally:
            os.dup2(kept, 2)
            os.close(kept)


def _check_size(path: Path, kind: str, data: bytes, size: tuple[int, int]) -> None:
    # A TIFF is often not packed at all; it is embedded as a PNG.
    most = MAX_TOTAL if kind == "TIFF" else MAX_BYTES
    if len(data) > most:
        raise InputError(f"the file is larger than {most >> 20} MiB", file=path)
    width, height = size
    if width < 1 or height < 1:
        raise InputError("the picture has no pixels", file=path)
    if width * height > MAX_PIXELS:
        raise InputError(
            f"{width:,} × {height:,} px is too large, the most is {MAX_PIXELS // 10**6} "
            "million pixels",
            file=path,
            hint="save it smaller",
        )


def _read(
    path: Path,
    kind: str,
    data: bytes,
    image: ImageFile.ImageFile,
    dpi: Fraction | None,
    width: Fraction | None,
) -> Bitmap:
    """Return an opened file's pixels, upright and in sRGB."""
    notes = []
    if getattr(image, "n_frames", 1) > 1:
        notes.append(f"it holds {image.n_frames} pictures: the first is taken")  # type: ignore[attr-defined]
    changed = kind != "PNG"
    if changed:
        notes.append("the same pixels are kept as PNG, without loss")
    profile = image.info.get("icc_profile")
    own = own_dpi(image)
    image.load()
    if image.mode in _DEEP and kind == "TIFF":
        notes.append("its 16 bits a channel become 8")
    has_alpha = image.has_transparency_data
    turned = int(image.getexif().get(_ORIENTATION, 1))
    upright: Image.Image = image
    if 1 < turned <= 8:
        upright = ImageOps.exif_transpose(image)
        notes.append("it is turned upright, as its Exif orientation says")
        changed = True
        if own is not None and turned >= 5:
            own = (own[1], own[0])
    if upright.mode in _DEEP:
        upright = _eight_bits(path, upright)
    shown, converted = _in_srgb(upright, profile)
    if converted:
        notes.append(f"its colours are converted from {converted} to sRGB")
        changed = True
    elif image.mode == "CMYK":
        notes.append("CMYK without a profile is converted by plain arithmetic")
    pixels = np.array(shown)
    size, assumed = _size((shown.width, shown.height), own, dpi, width)
    return Bitmap(
        file=path,
        pixels=pixels,
        has_alpha=has_alpha,
        size=size,
        png=_packed(path, pixels, has_alpha) if changed else data,
        notes=(*notes, *assumed),
    )


def _size(
    pixels: tuple[int, int],
    own: tuple[Fraction, Fraction] | None,
    dpi: Fraction | None,
    width: Fraction | None,
) -> tuple[Size, tuple[str, ...]]:
    """Return a picture's size in mm, and what was assumed."""
    notes: tuple[str, ...] = ()
    if dpi is not None:
        own = (dpi, dpi)
    elif own is None:
        own = (DEFAULT_DPI, DEFAULT_DPI)
        if width is None:
            across = format_mm(pixels[0] * MM_PER_INCH / DEFAULT_DPI)
            notes = (
                f"it does not say its dpi: {DEFAULT_DPI} is taken, which makes it "
                f"{across} wide (give its dpi or its width)",
            )
    across_mm, down_mm = (side * MM_PER_INCH / per for side, per in zip(pixels, own, strict=True))
    if width is not None:
        return Size(width, down_mm * width / across_mm), notes
    return Size(across_mm, down_mm), notes


def _in_srgb(image: Image.Image, profile: Any) -> tuple[Image.Image, str]:
    """Return a picture as RGBA in sRGB, and the name of the profile it came from, or ""."""
    if not isinstance(profile, bytes) or not profile:
        return image.convert("RGBA"), ""
    try:
        source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        name = ImageCms.getProfileDescription(source).strip()
        space = source.profile.xcolor_space.strip()
    except (OSError, ImageCms.PyCMSError):
        return image.convert("RGBA"), ""
    if "srgb" in name.lower() and space == "RGB":
        return image.convert("RGBA"), ""
    alpha = image.convert("RGBA").getchannel("A")
    mode = {"RGB": "RGB", "GRAY": "L", "CMYK": "CMYK"}.get(space)
    plain = image if image.mode == mode else image.convert(mode) if mode in ("RGB", "L") else None
    if plain is None or mode is None:
        return image.convert("RGBA"), ""
    target = ImageCms.createProfile("sRGB")
    shown = ImageCms.profileToProfile(
        plain,
        source,
        target,
        renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
        outputMode="RGB",
        flags=ImageCms.Flags.BLACKPOINTCOMPENSATION,
    )
    assert shown is not None
    shown.putalpha(alpha)
    return shown, name or "its profile"


def _eight_bits(path: Path, image: Image.Image) -> Image.Image:
    """Return a grey picture of more than 8 bits in 8, nearest values."""
    values = np.asarray(image)
    if values.dtype.kind == "f":
        raise InputError(
            "floating-point pixels are not read", file=path, hint="save it with 8 or 16 bits"
        )
    grey = (np.clip(values.astype(np.int64), 0, 65535) * 255 + 32767) // 65535
    return Image.fromarray(grey.astype(np.uint8))


def _packed(path: Path, pixels: Pixels, has_alpha: bool) -> bytes:
    """Return pixels as a PNG file.

    Raises:
        InputError: it is larger than pictures may be.
    """
    data = png_of(Image.fromarray(pixels if has_alpha else pixels[..., :3]))
    if len(data) > MAX_BYTES:
        raise InputError(
            f"as a PNG the picture is larger than {MAX_BYTES >> 20} MiB",
            file=path,
            hint="save it smaller",
        )
    return data

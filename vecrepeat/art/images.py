"""Pictures in a drawing: taken in as ``data:`` URLs, and how sharp they print.

A drawing may name pictures beside it; nothing else of the machine, and nothing of the
network, is read on its behalf.

Sources: SVG 2 §12.3 (``image``), RFC 2397 (``data:`` URLs).
"""

from __future__ import annotations

import base64
import binascii
import io
import os
import re
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple
from urllib.parse import unquote, unquote_to_bytes

from lxml import etree

from vecrepeat.art.xml import HREF, SVG, href, local, remove, take
from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import number
from vecrepeat.util.files import note_missing, read_plain
from vecrepeat.util.imagefiles import data_url, png_damage

if TYPE_CHECKING:
    from PIL import ImageFile

MAX_BYTES = 64 << 20
"""The largest picture in bytes, packed as it is in its file."""

MAX_PIXELS = 70_000_000
"""The largest picture in pixels: 28 × 28 in at 300 dpi. Drawing one takes 13 bytes for each."""

MAX_TOTAL = 256 << 20
"""The most bytes of all pictures of a drawing together, repeated ones counted each time."""

_SCHEME_RE = re.compile(r"([a-z][a-z0-9+.-]+):", re.IGNORECASE)
_DATA_RE = re.compile(r"data:([^,]*),(.*)", re.IGNORECASE | re.DOTALL)
_DRIVE_RE = re.compile(r"[a-z]:", re.IGNORECASE)
_UNPACK_SVG = "open it and paste its shapes into the drawing"


class _Picture(NamedTuple):
    """A picture that may be drawn: its format, its size in pixels and its file's bytes."""

    kind: str
    width: int
    height: int
    data: bytes


class _RefusedError(Exception):
    """A picture is left out; the message says why, and what to do."""


class _DamagedError(_RefusedError):
    """A picture is damaged, which would be printed so, or be missing; the message says how."""


def embed_images(root: etree._Element, file: Path, allowed: Sequence[Path]) -> tuple[str, ...]:
    """Make every picture of a drawing a ``data:`` URL, in place, and leave out what can't be.

    Pictures given as ``data:`` URLs stay, if they are PNG, JPEG, WebP or GIF. Relative paths
    are looked for in the drawing's folder, then in each folder of ``allowed``; absolute ones must
    lie in one of the latter. No link leads out of them. Links of ``feImage`` to elements stay.

    Args:
        root: the document; best in normal form, so that what ``use`` repeats is counted.
        file: the drawing; a picture that is the drawing itself is left out.
        allowed: further folders that pictures may lie in.

    Returns:
        A sentence for each picture left out.

    Raises:
        InputError: a part of a picture is missing or damaged.
    """
    notes: dict[str, None] = {}
    total = 0
    known: dict[str, _Picture | str] = {}
    for element in [*root.iter(f"{{{SVG}}}image", f"{{{SVG}}}feImage")]:
        link = href(element)
        if local(element) == "feImage" and (link.startswith("#") or not link):
            continue
        if link not in known:
            try:
                known[link] = picture = _picture(link, file, allowed)
                _refuse_damaged(picture, link)
            except _DamagedError as error:
                raise InputError(
                    str(error),
                    element=element.get("id"),
                    hint="put a whole picture in its place",
                ) from None
            except _RefusedError as error:
                known[link] = str(error)
        found = known[link]
        if isinstance(found, _Picture):
            total += len(found.data)
            if total <= MAX_TOTAL:
                take(element, "href")
                element.set(HREF, _kept(link, found))
                if local(element) == "image":
                    _give_size(element, found)
                continue
            found = (
                f"the drawing's images come to more than {MAX_TOTAL >> 20} MiB: "
                "the rest of them is left out"
            )
        notes[found] = None
        if local(element) == "image":
            remove(element)
        else:
            # A filter's picture becomes an empty one.
            take(element, "href", HREF)
    return tuple(notes)


def _give_size(image: etree._Element, picture: _Picture) -> None:
    """Give an image the width and height that follow where they are not given (SVG 2 §12.3)."""
    width, height = image.get("width"), image.get("height")
    try:
        if width is None:
            share = 1.0 if height is None else float(height) / picture.height
            image.set("width", number(picture.width * share))
        if height is None:
            share = 1.0 if width is None else float(width) / picture.width
            image.set("height", number(picture.height * share))
    except ValueError:
        return


def pixels_of(link: str) -> tuple[int, int]:
    """Return the width and height in pixels of a picture that a ``data:`` URL holds, 0 of none."""
    try:
        picture = _from_data(link)
    except _RefusedError:
        return (0, 0)
    return (picture.width, picture.height)


def _picture(link: str, file: Path, allowed: Sequence[Path]) -> _Picture:
    """Return the picture a link names.

    Raises:
        _RefusedError: it is none, or may not be read.
    """
    if not link:
        raise _RefusedError("an image without a link is left out")
    scheme = _SCHEME_RE.match(link)
    kind = scheme.group(1).lower() if scheme else ""
    if kind == "data":
        return _from_data(link)
    name = _short(link)
    if link.startswith("#"):
        raise _RefusedError(f"the image “{name}” is left out: it shows an element, not a picture")
    if kind not in ("", "file"):
        raise _RefusedError(
            f"the image “{name}” is left out: nothing is fetched from elsewhere (save it beside "
            "the drawing and link to that)"
        )
    path = _found(link, file.parent, allowed)
    try:
        if path == file.resolve():
            raise _RefusedError(f"the image “{name}” is left out: it is the drawing itself")
        # No link is followed that was put there since its path was looked at.
        data = read_plain(path, MAX_BYTES + 1, flags=getattr(os, "O_NOFOLLOW", 0))
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise _RefusedError(f"the image “{name}” is left out: {reason.lower()}") from None
    return _identified(data, f"the image “{name}”")


def _found(link: str, folder: Path, allowed: Sequence[Path]) -> Path:
    """Return the file a link names, all symbolic links followed, within a permitted folder.

    Raises:
        _RefusedError: there is none.
    """
    name = _short(link)
    local_link = re.sub(r"^file:(//(localhost(?=/))?)?", "", link, flags=re.IGNORECASE)
    text = unquote(re.split(r"[?#]", local_link)[0]).replace("\\", "/")
    absolute = local_link != link or text.startswith("/") or _DRIVE_RE.match(text) is not None
    outside = False
    try:
        for base in ([] if absolute else [folder]) + list(allowed):
            permitted = base.resolve()
            path = (base / text).resolve()
            if not path.is_relative_to(permitted) and not any(
                path.is_relative_to(other.resolve()) for other in allowed
            ):
                outside = True
            elif path.exists():
                return path
            else:
                note_missing(path)
    except (OSError, ValueError, RuntimeError):
        raise _RefusedError(f"the image “{name}” is left out: not the name of a file") from None
    if outside or absolute:
        raise _RefusedError(
            f"the image “{name}” is left out: it is not in the drawing's folder "
            "(permit its own with --allow-dir)"
        )
    raise _RefusedError(f"the image “{name}” is left out: there is no such file")


def _from_data(link: str) -> _Picture:
    """Return the picture in a ``data:`` URL.

    Raises:
        _RefusedError: it is none.
    """
    parts = _DATA_RE.match(link)
    if parts is None:
        raise _RefusedError("an embedded image is left out: its data: URL is damaged")
    head, body = parts.groups()
    if len(body) > 4 * MAX_BYTES:
        raise _RefusedError(f"an embedded image is left out: larger than {MAX_BYTES >> 20} MiB")
    data = unquote_to_bytes(body)
    if head.strip().lower().endswith("base64"):
        plain = re.sub(rb"\s+", b"", data).rstrip(b"=")
        try:
            data = base64.b64decode(plain + b"=" * (-len(plain) % 4), validate=True)
        except (binascii.Error, ValueError):
            raise _RefusedError("an embedded image is left out: its data: URL is damaged") from None
    return _identified(data, "an embedded image")


def _identified(data: bytes, what: str) -> _Picture:
    """Return data as a picture.

    Raises:
        _RefusedError: it is of no format that is drawn, damaged or too large.
    """
    if len(data) > MAX_BYTES:
        raise _RefusedError(f"{what} is left out: larger than {MAX_BYTES >> 20} MiB")
    kind = _format(data)
    if kind == "svg":
        raise _RefusedError(f"{what} is left out: it is an SVG drawing ({_UNPACK_SVG})")
    if not kind:
        raise _RefusedError(
            f"{what} is left out: neither PNG, JPEG, WebP nor GIF (convert it to one of them)"
        )
    try:
        with _opened(kind, data) as image:
            width, height = image.size
    except _damages():
        width = height = 0
    if width < 1 or height < 1:
        raise _DamagedError(f"{what} is damaged or cut short")
    if width * height > MAX_PIXELS:
        raise _RefusedError(
            f"{what} is left out: {width:,} × {height:,} px is too large (make it smaller)"
        )
    return _Picture(kind, width, height, data)


def _refuse_damaged(picture: _Picture, link: str) -> None:
    """Look through a whole picture, whose head can be read.

    Raises:
        _DamagedError: it is damaged.
    """
    wrong = png_damage(picture.data) if picture.kind == "png" else ""
    # A WebP that is cut short can't be opened at all.
    if picture.kind in ("jpeg", "gif"):
        try:
            with _opened(picture.kind, picture.data) as image:
                # A JPEG is looked through as well at an eighth of its size, and quicker.
                image.draft(None, (max(1, picture.width // 8), max(1, picture.height // 8)))
                image.load()
        except _damages() as error:
            wrong = " ".join(str(error).split())
    if wrong:
        embedded = link[:5].lower() == "data:"
        what = "an embedded image" if embedded else f"the image “{_short(link)}”"
        raise _DamagedError(f"{what} is damaged or cut short: {wrong}")


def _opened(kind: str, data: bytes) -> ImageFile.ImageFile:
    # Most drawings hold no picture, and Pillow takes a while to import.
    from PIL import GifImagePlugin, JpegImagePlugin, PngImagePlugin, WebPImagePlugin

    formats: dict[str, Callable[[io.BytesIO], ImageFile.ImageFile]] = {
        "png": PngImagePlugin.PngImageFile,
        "jpeg": JpegImagePlugin.JpegImageFile,
        "webp": WebPImagePlugin.WebPImageFile,
        "gif": GifImagePlugin.GifImageFile,
    }
    # Image.open would warn of large pictures or refuse them before we can say so.
    return formats[kind](io.BytesIO(data))


def _damages() -> tuple[type[Exception], ...]:
    """Return what Pillow raises over damaged files."""
    from PIL import Image

    return (OSError, SyntaxError, ValueError, EOFError, Image.DecompressionBombError)


def _format(data: bytes) -> str:
    """Return a picture's format by its first bytes, "" if it is none that is known."""
    if data.startswith(b"\x89PNG\r\n\x1a\n"):
        return "png"
    if data.startswith(b"\xff\xd8\xff"):
        return "jpeg"
    if data.startswith((b"GIF87a", b"GIF89a")):
        return "gif"
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "webp"
    head = data[:1024].lstrip(b"\xef\xbb\xbf \t\r\n")
    if data.startswith(b"\x1f\x8b") or (head.startswith(b"<") and b"<svg" in data[:65536]):
        return "svg"
    return ""


def _kept(link: str, picture: _Picture) -> str:
    """Return a picture's ``data:`` URL, the one it came as where any program can read that."""
    plain = f"data:image/{picture.kind};base64,"
    if link.startswith(plain) and re.fullmatch(r"[A-Za-z0-9+/]*={0,2}", link[len(plain) :]):
        return link
    return data_url(picture.data, picture.kind)


def _short(link: str) -> str:
    return link if len(link) <= 80 else f"{link[:60]}…{link[-19:]}"

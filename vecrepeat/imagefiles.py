"""Pictures as the bytes of files, and as links that hold them."""

from __future__ import annotations

import base64
import io
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from PIL import Image


def png_of(image: Image.Image) -> bytes:
    """Return a picture as a PNG file."""
    data = io.BytesIO()
    image.save(data, "PNG")
    return data.getvalue()


def data_url(data: bytes, kind: str = "png") -> str:
    """Return a picture's file as a ``data:`` URL (RFC 2397)."""
    return f"data:image/{kind};base64,{base64.b64encode(data).decode()}"

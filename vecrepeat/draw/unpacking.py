"""Pictures unpacked from the bytes of their files."""

from __future__ import annotations

import io

from PIL import (
    GifImagePlugin,
    Image,
    ImageFile,
    ImageOps,
    JpegImagePlugin,
    PngImagePlugin,
    WebPImagePlugin,
)

from vecrepeat.core.errors import InputError

_FORMATS: dict[bytes, type[ImageFile.ImageFile]] = {
    b"\x89PNG": PngImagePlugin.PngImageFile,
    b"\xff\xd8\xff": JpegImagePlugin.JpegImageFile,
    b"RIFF": WebPImagePlugin.WebPImageFile,
    b"GIF8": GifImagePlugin.GifImageFile,
}


def unpacked(data: bytes) -> Image.Image:
    """Return a picture upright, as its Exif data say.

    Its size has been looked at when the drawing was read: ``Image.open`` would refuse large ones.

    Raises:
        InputError: it is damaged, or of no format that drawings hold.
    """
    error: Exception = ValueError("no PNG, JPEG, WebP or GIF")
    for start, plugin in _FORMATS.items():
        if data.startswith(start):
            try:
                with plugin(io.BytesIO(data)) as image:
                    return ImageOps.exif_transpose(image)
            except (OSError, SyntaxError, ValueError, EOFError) as damage:
                error = damage
    raise InputError(
        f"a picture in the drawing is damaged: {error}", hint="save it and place it anew"
    )

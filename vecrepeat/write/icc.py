"""ICC profiles: sRGB as a tag, and conversion to a printer's colours through littleCMS.

Source: ICC.1 (profile header §7.2: the size at byte 0, class at 12, colour space at 16, date at
24); rendering intents and black point compensation as littleCMS does them.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import lru_cache
from io import BytesIO
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms

from vecrepeat.core.difference import ciede2000
from vecrepeat.core.errors import InputError
from vecrepeat.core.names import listed
from vecrepeat.util.files import read_file

INTENTS = {
    "perceptual": ImageCms.Intent.PERCEPTUAL,
    "relative": ImageCms.Intent.RELATIVE_COLORIMETRIC,
    "saturation": ImageCms.Intent.SATURATION,
    "absolute": ImageCms.Intent.ABSOLUTE_COLORIMETRIC,
}
"""Rendering intents by name."""

MOVED = 2.0
"""From this CIEDE2000 difference on, a colour counts as moved. The report's own steps (L*, a* and
b* in eight bits each) come to about half of it."""

_MODES = {"RGB ": "RGB", "CMYK": "CMYK", "GRAY": "L"}
_CLASSES = ("prtr", "mntr", "spac", "scnr")

_MAX_BYTES = 64 << 20


@lru_cache(maxsize=1)
def srgb_profile() -> bytes:
    """Return littleCMS's sRGB profile, the same bytes each time: its date is taken out."""
    data = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    # ICC.1 §7.2.8: year, month, day, hour, minute and second, two bytes each.
    data[24:36] = bytes((7, 208, 0, 1, 0, 1, 0, 0, 0, 0, 0, 0))
    return bytes(data)


class Moved(NamedTuple):
    """A colour that a printer shows otherwise.

    Attributes:
        colour: as ``#rrggbb``.
        delta: how far from it the printed colour is, CIEDE2000.
    """

    colour: str
    delta: float


@dataclass(frozen=True, eq=False)
class Conversion:
    """From sRGB to the colours of a profile, by littleCMS.

    Attributes:
        name: the profile's description.
        mode: ``RGB``, ``CMYK`` or ``L``: what its colours are.
        icc: the profile itself.
        intent: a name of :data:`INTENTS`.
        black_point: whether the darkest black is fitted to the printer's.
    """

    name: str
    mode: str
    icc: bytes
    intent: str
    black_point: bool
    _transform: Any = field(repr=False)

    def apply(self, rgb: NDArray[np.uint8]) -> NDArray[np.uint8]:
        """Return colours of shape (height, width, 3) as the profile's, (height, width, samples).

        Each pixel is converted by itself, so that strips come out as the whole would.
        """
        done = ImageCms.applyTransform(Image.fromarray(rgb), self._transform)
        assert done is not None
        result = np.asarray(done)
        return result if result.ndim == 3 else result[..., None]

    def moved(self, colours: Iterable[str]) -> list[Moved]:
        """Return the colours that come out otherwise, the furthest first.

        Each is converted as it will be in the file, and both it and the outcome are looked up as
        L*a*b* by littleCMS, relative to the paper's white. See :data:`MOVED`.
        """
        names = list(dict.fromkeys(colours))
        if not names:
            return []
        rgb = np.array([list(bytes.fromhex(name[1:])) for name in names], np.uint8)[None]
        wanted = _lab(Image.fromarray(rgb), ImageCms.createProfile("sRGB"))
        inks = self.apply(rgb)
        image = Image.fromarray(inks[..., 0] if self.mode == "L" else inks, self.mode)
        printed = _lab(image, _profile(self.icc))
        deltas = ciede2000(wanted, printed).tolist()
        found = [Moved(name, delta) for name, delta in zip(names, deltas, strict=True)]
        return sorted((m for m in found if m.delta >= MOVED), key=lambda m: -m.delta)

    def note(self, colours: Iterable[str]) -> str | None:
        """Return the colours that move as a sentence, or None where none does."""
        moved = self.moved(colours)
        if not moved:
            return None
        shown = listed([f"{m.colour} by {m.delta:.0f}" for m in moved], 8)
        return f"out of the gamut of {self.name}, by ΔE2000: {shown}"


def open_conversion(
    path: Path, *, intent: str = "relative", black_point: bool = True
) -> Conversion:
    """Read a profile and prepare the conversion from sRGB.

    Args:
        path: an ICC profile of a printer, a display or a colour space, in RGB, CMYK or grey.
        intent: a name of :data:`INTENTS`.
        black_point: fit the darkest black to the printer's.

    Raises:
        InputError: the file can't be read or is no such profile, or the intent is not known.
    """
    if intent not in INTENTS:
        raise InputError(f"intent “{intent}” is not known", hint=f"use {', '.join(INTENTS)}")
    data = read_file(path, _MAX_BYTES, "profile")
    hint = "give an ICC profile of a printer or colour space in RGB, CMYK or grey"
    try:
        profile = _profile(data)
        space, kind = profile.profile.xcolor_space, profile.profile.device_class
        name = (profile.profile.profile_description or path.stem).strip()
    except (OSError, ValueError):
        raise InputError("this is no ICC profile", file=path, hint=hint) from None
    if space not in _MODES or kind not in _CLASSES:
        what = f"a profile of class {kind.strip()} in {space.strip()} is no use for a print"
        raise InputError(what, file=path, hint=hint)
    flags = ImageCms.Flags.BLACKPOINTCOMPENSATION if black_point else ImageCms.Flags.NONE
    mode = _MODES[space]
    try:
        transform = ImageCms.buildTransform(
            ImageCms.createProfile("sRGB"), profile, "RGB", mode, INTENTS[intent], flags
        )
    except ImageCms.PyCMSError as error:
        raise InputError(f"littleCMS can't convert to it: {error}", file=path, hint=hint) from None
    return Conversion(name, mode, data, intent, black_point, transform)


def _profile(data: bytes) -> ImageCms.ImageCmsProfile:
    return ImageCms.ImageCmsProfile(BytesIO(data))


def _lab(image: Image.Image, profile: Any) -> NDArray[np.float64]:
    """Return the colours of a one-row image as L*a*b*, shape (n, 3)."""
    to_lab = ImageCms.buildTransform(
        profile,
        ImageCms.createProfile("LAB"),
        image.mode,
        "LAB",
        ImageCms.Intent.RELATIVE_COLORIMETRIC,
    )
    lab = ImageCms.applyTransform(image, to_lab)
    assert lab is not None
    values: NDArray[np.float64] = np.asarray(lab)[0].astype(np.float64)
    # Pillow keeps L* as 0 to 255 and a* and b* as signed bytes.
    values[:, 0] *= 100 / 255
    values[:, 1:] = (values[:, 1:] + 128) % 256 - 128
    return values

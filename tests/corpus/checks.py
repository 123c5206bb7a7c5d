"""What is measured of one file: its ink against its outline, our picture against resvg's."""

from __future__ import annotations

import base64
import copy
import math
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

import numpy as np
from judges import librsvg
from lxml import etree
from numpy.typing import NDArray
from PIL import Image

from vecrepeat.art.page import Page, read_page
from vecrepeat.art.read import Art, read_art
from vecrepeat.art.xml import HREF, SVG, href, local, parse, read_bytes
from vecrepeat.core.errors import InputError
from vecrepeat.draw.paint import Window
from vecrepeat.draw.resvg import ResvgError, rasterise
from vecrepeat.repeat.model import Repeat
from vecrepeat.scene.outline import DEFAULT_TOLERANCE
from vecrepeat.util.fonts import generic_families
from vecrepeat.write.composing import compose
from vecrepeat.write.exporting import Exporter

Pixels = NDArray[np.uint8]

INK_PIXELS = 1600
"""Side of the picture in which ink is looked for."""

SIDE = 300
"""The longer side in pixels of the pictures that are compared."""

LIMIT = 2.0
"""The greatest mean difference in levels of 255 that counts as the same picture."""

BLOCK = 12
"""Side in pixels of the block of a picture that is looked at by itself."""

SPOT = 48.0
"""The greatest mean difference of a block in levels that counts as the same detail."""

WHOLE = "corpus-whole"
_FONTED = ("text", "tspan")


@dataclass(frozen=True)
class Ink:
    """How one drawing's outline fits its ink, in mm.

    Attributes:
        file: the drawing.
        short: the most by which ink lies outside the outline's box, on any side.
        excess: the most by which the outline's box is larger than the ink, on any side.
        size: the longer side of the ink.
        pixel: the side of a pixel: what is measured is known no better.
        features: what the drawing uses.
    """

    file: Path
    short: float
    excess: float
    size: float
    pixel: float
    features: tuple[str, ...]

    @property
    def holds(self) -> bool:
        """Whether all ink lies inside, as far as the outline's tolerance and a pixel can tell.

        An edge's faintest pixel reaches up to one pixel out.
        """
        return self.short <= self.pixel + DEFAULT_TOLERANCE

    @property
    def close(self) -> bool:
        """Whether the box is no larger than it may be: 1 % of the size, or 0.1 mm."""
        return self.excess <= max(0.01 * self.size, 0.1) + self.pixel

    def line(self) -> str:
        return (
            f"{self.file.name}: short {self.short:.3f} mm, excess {self.excess:.3f} mm of "
            f"{self.size:.1f} mm (pixel {self.pixel:.3f}) [{', '.join(self.features)}]"
        )


@dataclass(frozen=True)
class Drawn:
    """How one drawing's picture compares.

    Attributes:
        file: the drawing.
        engine: which engine drew it, or "" where it was refused.
        difference: mean difference in levels from resvg, or where that is over the limit from
            librsvg if it is nearer; NaN where there is nothing to compare.
        spot: the same of the block of :data:`BLOCK` pixels a side that differs most: a detail that
            is missing hardly shows in the mean of a page.
        named: what the reader or the exporter says of it.
        refused: why it was refused, or "".
        ours_to_reference: mean difference of ours from a picture beside the file, or NaN.
        resvg_to_reference: the same of resvg's.
    """

    file: Path
    engine: str = ""
    difference: float = math.nan
    spot: float = math.nan
    named: tuple[str, ...] = ()
    refused: str = ""
    ours_to_reference: float = math.nan
    resvg_to_reference: float = math.nan

    @property
    def is_other(self) -> bool:
        """Whether it is drawn otherwise than by resvg and by librsvg."""
        return self.difference > LIMIT

    @property
    def is_silent(self) -> bool:
        """Whether it is drawn otherwise and nothing is said.

        Where a picture beside the drawing bears ours out, it is resvg that errs.
        """
        return self.is_other and not self.named and not self.is_borne_out

    @property
    def is_borne_out(self) -> bool:
        """Whether ours is the picture beside the drawing, which resvg's is not."""
        return self.ours_to_reference <= LIMIT < self.resvg_to_reference

    def line(self) -> str:
        reference = (
            ""
            if math.isnan(self.ours_to_reference)
            else f", to reference: ours {self.ours_to_reference:.1f}, "
            f"resvg {self.resvg_to_reference:.1f}"
        )
        return (
            f"{self.difference:6.1f} (spot {self.spot:.0f}) {self.file.name} by {self.engine}"
            f"{reference} [{'; '.join(self.named)[:300]}]"
        )


def _tree(file: Path) -> tuple[etree._Element, Page]:
    root = parse(read_bytes(file))
    return root, read_page(root)


def reference(
    root: etree._Element, page: Page, width: int, height: int, *, room: float = 0.0
) -> Pixels:
    """A drawing as resvg paints it, premultiplied RGBA; with room around its page.

    Args:
        root: the drawing as it was written.
        page: its page.
        width: of the picture in pixels.
        height: of the picture in pixels.
        room: how much is shown around the page, in shares of its size.

    Raises:
        ResvgError: resvg doesn't draw it.
    """
    fonts = generic_families() if any(local(e) in _FONTED for e in root.iter()) else ()
    return rasterise(_sized(root, page, width, height, room), width, height, fonts=fonts)


def _sized(root: etree._Element, page: Page, width: int, height: int, room: float = 0.0) -> str:
    """A drawing as text, its page as large in units as its picture is in pixels."""
    root = copy.deepcopy(root)
    view = [float(v) for v in (root.get("viewBox") or "").replace(",", " ").split()]
    if not view:
        view = [0.0, 0.0, page.viewport.width, page.viewport.height]
    x, y, w, h = view
    grown = (x - room * w, y - room * h, w * (1 + 2 * room), h * (1 + 2 * room))
    root.set("viewBox", " ".join(f"{v:.12g}" for v in grown))
    root.set("width", str(width))
    root.set("height", str(height))
    for name in ("x", "y"):
        root.attrib.pop(name, "")
    # Stretched to whole pixels as ours is, by less than a pixel: crisp edges jump by one.
    if room or abs(float(page.width / page.height) * h / w - 1) < 0.005:
        root.set("preserveAspectRatio", "none")
    return str(etree.tostring(root, encoding="unicode"))


def with_images(root: etree._Element, folder: Path) -> etree._Element:
    """Put the pictures of the drawing's own folder into the drawing, as resvg is given no files."""
    for element in root.iter(f"{{{SVG}}}image", f"{{{SVG}}}feImage"):
        link = href(element)
        if link.startswith(("data:", "#")) or not link:
            continue
        path = folder / link
        kind = {".png": "png", ".jpg": "jpeg", ".jpeg": "jpeg", ".svg": "svg+xml"}.get(path.suffix)
        if kind is None or not path.is_file():
            continue
        data = base64.b64encode(path.read_bytes()).decode()
        element.attrib.pop(HREF, "")
        element.set("href", f"data:image/{kind};base64,{data}")
    return root


def wrapped(root: etree._Element, folder: Path) -> Path:
    """Write a copy of a drawing whose whole content is one group."""
    root = copy.deepcopy(root)
    group = etree.Element(f"{{{SVG}}}g", {"id": WHOLE})
    group.extend(list(root))
    root.append(group)
    path = folder / "whole.svg"
    path.write_bytes(etree.tostring(root))
    return path


def _whole_art(file: Path) -> Art:
    with tempfile.TemporaryDirectory() as folder:
        return read_art(wrapped(_tree(file)[0], Path(folder)), motifs=f"#{WHOLE}")


ROOM = 0.3
"""How much around the page is searched for ink, in shares of the page."""


def ink(file: Path) -> Ink:
    """Measure a drawing's ink, taken as one motif.

    Raises:
        InputError: the drawing is refused.
        ResvgError: resvg doesn't draw it.
    """
    root, page = _tree(file)
    (motif,) = _whole_art(file).motifs
    width, height = float(page.width), float(page.height)
    scale = INK_PIXELS / (max(width, height) * (1 + 2 * ROOM))
    columns, rows = (round(side * (1 + 2 * ROOM) * scale) for side in (width, height))
    alpha = reference(root, page, columns, rows, room=ROOM)[..., 3] > 0
    across, down = np.flatnonzero(alpha.any(axis=0)), np.flatnonzero(alpha.any(axis=1))
    if not len(across):
        raise InputError("resvg draws nothing", file=file)
    painted = np.array([across[0], down[0], across[-1] + 1, down[-1] + 1], np.float64)
    painted = painted / ([columns, rows] * 2) * (1 + 2 * ROOM) - ROOM
    painted *= [width, height] * 2
    outside = (np.array(motif.box) - painted) * [1, 1, -1, -1]
    return Ink(
        file,
        short=float(max(0.0, outside.max())),
        excess=float(max(0.0, (-outside).max())),
        size=float(max(painted[2] - painted[0], painted[3] - painted[1])),
        pixel=1 / scale,
        features=tuple(dict.fromkeys(f.kind for f in motif.features)),
    )


def picture(exporter: Exporter, width: int) -> Pixels:
    """The page as an export draws it, without what comes in from the tiles beside it."""
    repeat = exporter.repeat
    height = max(1, round(width * repeat.height / repeat.width))
    apart = _apart(repeat)
    alone = Exporter(apart)
    dpi = Fraction(width * 254, 10) / repeat.width
    plan = alone.plan(dpi, width=apart.width, height=Fraction(height * 9 * 254, 10) / dpi)
    assert (plan.width, plan.height) == (width * 9, height * 9)
    return alone.painter(plan).paint(Window(0, 0, width, height))


def _apart(repeat: Repeat) -> Repeat:
    """The page on a cloth of larger tiles, where it stands alone, on the same pixels."""
    return replace(repeat, width=repeat.width * 9, height=repeat.height * 9)


def composed(art: Art) -> float:
    """Compose a drawing; return how librsvg's picture of that differs from its of the drawing.

    In levels. What shows of the composed file is the page, without what comes in from the
    tiles beside it.

    Raises:
        XMLSyntaxError: lxml doesn't parse what was written.
    """
    file = art.file
    root, page = _tree(file)
    width = max(1, round(SIDE * min(1.0, float(art.width / art.height))))
    height = max(1, round(width * float(art.height / art.width)))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "composed.svg"
        compose(art.repeat(), path)
        etree.parse(path)
        compose(_apart(art.repeat()), path, tile_only=True)
        ours = etree.parse(path).getroot()
    ours.set("viewBox", f"0 0 {float(art.width):.12g} {float(art.height):.12g}")
    theirs = with_images(root, file.parent)
    return difference(*(_by_librsvg(tree, page, width, height) for tree in (ours, theirs)))


def _by_librsvg(root: etree._Element, page: Page, width: int, height: int) -> Pixels:
    return _premultiplied(librsvg(_sized(root, page, width, height), width, height))


def _premultiplied(pixels: Pixels) -> Pixels:
    alpha = pixels[..., 3:].astype(np.uint16)
    pixels = pixels.copy()
    pixels[..., :3] = (pixels[..., :3] * alpha + 127) // 255
    return pixels


def difference(one: Pixels, other: Pixels) -> float:
    """Mean difference of two premultiplied pictures in levels, on white or black, the greater."""
    return differences(one, other)[0]


def differences(one: Pixels, other: Pixels) -> tuple[float, float]:
    """:func:`difference` of the pictures, and of the block that differs most."""
    a, b = one.astype(np.float64), other.astype(np.float64)
    on_black = np.abs(a[..., :3] - b[..., :3]).mean(axis=2)
    on_white = np.abs((a[..., :3] - a[..., 3:]) - (b[..., :3] - b[..., 3:])).mean(axis=2)
    pair = np.stack([on_black, on_white])
    down, across = (range(0, side, BLOCK) for side in pair.shape[1:])
    sums = np.add.reduceat(np.add.reduceat(pair, down, axis=1), across, axis=2)
    return float(pair.mean(axis=(1, 2)).max()), float(sums.max() / BLOCK**2)


def drawn(file: Path, *, whole: bool = False) -> Drawn:
    """Compare a drawing's picture with resvg's, and both with a reference beside it.

    Args:
        file: the drawing.
        whole: take all of it as one motif.
    """
    try:
        art = _whole_art(file) if whole else read_art(file)
        exporter = Exporter(art.repeat())
        page_width, page_height = float(art.width), float(art.height)
        beside = _beside(file)
        width = max(1, round(SIDE * min(1.0, page_width / page_height)))
        if beside is not None:
            width = beside.shape[1]
        ours = picture(exporter, width)
    except InputError as error:
        return Drawn(file, refused=error.what)
    named = _named(art, exporter)
    root, page = _tree(file)
    size = ours.shape[1], ours.shape[0]
    try:
        theirs = reference(with_images(root, file.parent), page, *size)
    except ResvgError as error:
        named = (*named, f"judge: {error}")
        theirs = _by_librsvg(root, page, *size)
    result = Drawn(file, exporter.engine, *differences(ours, theirs), named)
    if result.is_other or result.spot > SPOT:
        mean, spot = differences(ours, _by_librsvg(root, page, *size))
        result = replace(
            result, difference=min(result.difference, mean), spot=min(result.spot, spot)
        )
    if beside is not None and beside.shape == ours.shape:
        result = replace(
            result,
            ours_to_reference=difference(ours, beside),
            resvg_to_reference=difference(theirs, beside),
        )
    return result


def _named(art: Art, exporter: Exporter) -> tuple[str, ...]:
    note = exporter.engine_note()
    return (*([note] if note else []), *art.notes)


def _beside(file: Path) -> Pixels | None:
    """The reference picture beside a fixture, premultiplied."""
    path = file.with_name(f"{file.stem}-ref.png")
    if not path.is_file():
        return None
    with Image.open(path) as image:
        return _premultiplied(np.array(image.convert("RGBA")))


def share(values: Sequence[bool]) -> float:
    """The share that is true, in percent."""
    return 100 * sum(values) / max(1, len(values))

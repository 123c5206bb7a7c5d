"""Loose motif files: each SVG, PNG, WebP or TIFF of a folder is one motif.

A drawing's own motifs become one; a picture is a motif by what its alpha leaves to be seen.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import shapely

from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import Affine, Rect
from vecrepeat.core.names import listed
from vecrepeat.repeat.model import Motif
from vecrepeat.scene.kinds import IMAGE, Feature
from vecrepeat.scene.nodes import Group, Image

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from vecrepeat.sources.bitmap import Bitmap

DRAWINGS = (".svg", ".svgz")
PICTURES = (".png", ".webp", ".tif", ".tiff")

TRACED_PIXELS = 16_000_000
"""Larger pictures are outlined on every other pixel, or fewer, each standing for its neighbours."""

SMOOTHING = 0.5
"""By how many pixels steps are smoothed: the outline stays half a pixel outside the ink."""

HAZE = 8
"""Alpha of 255 that no eye sees on paper or cloth (common practice, no source)."""


@dataclass(frozen=True, eq=False)
class Loose:
    """A motif from a file of its own.

    Attributes:
        motif: named by the file; its origin is the upper left of the picture or the page.
        notes: what was left out, changed or assumed, a sentence each.
    """

    motif: Motif
    notes: tuple[str, ...] = ()


def read_loose(
    path: str | Path,
    *,
    dpi: Fraction | None = None,
    width: Fraction | None = None,
    backdrops: Collection[str] = (),
) -> list[Loose]:
    """Read one motif file, or all of a folder sorted by name; folders in it are not entered.

    Args:
        path: an SVG, SVGZ, PNG, WebP or TIFF file, or a folder of such.
        dpi: of pictures, in place of what each says of itself.
        width: of each whole picture or page in mm, in place of its own.
        backdrops: names of motifs that keep the rectangle that they stand on.

    Returns:
        A motif for each file, no two of one name.

    Raises:
        InputError: a file can't be read or is no motif; the folder holds none; both a dpi and
            a width.
    """
    if dpi is not None and width is not None:
        raise InputError("a dpi and a width exclude each other", hint="give one of them")
    path = Path(path)
    files, others = _files(path)
    taken: set[str] = set()
    found = []
    for file in files:
        name, copy = file.stem, 2
        while name in taken:
            name, copy = f"{file.stem} ({copy})", copy + 1
        taken.add(name)
        if _suffix(file) in DRAWINGS:
            read = _drawing(file, width, name in backdrops)
        else:
            read = _picture(file, dpi, width)
        found.append(replace(read, motif=replace(read.motif, name=name)))
    found = _told_once(files, found)
    if others:
        note = f"{path.name}: not motif files, so not read: {listed(others, 5)}"
        found[0] = replace(found[0], notes=(*found[0].notes, note))
    return found


def _told_once(files: Sequence[Path], found: Sequence[Loose]) -> list[Loose]:
    """Return motifs with what is noted of several files noted once, of the first of them."""
    about: dict[str, list[str]] = {}
    for file, one in zip(files, found, strict=True):
        for note in one.notes:
            about.setdefault(note, []).append(file.name)
    return [
        replace(
            one,
            notes=tuple(
                f"{listed(about[note])}: {note}"
                for note in one.notes
                if about[note][0] == file.name
            ),
        )
        for file, one in zip(files, found, strict=True)
    ]


def _suffix(file: Path) -> str:
    return file.suffix.lower()


def _files(path: Path) -> tuple[list[Path], list[str]]:
    """Return the files to read, and the names of the others that a folder holds."""
    if not path.is_dir():
        return [path], []
    try:
        inside = sorted(
            file for file in path.iterdir() if file.is_file() and not file.name.startswith(".")
        )
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise InputError(f"can't read the folder: {reason}", file=path) from None
    files = [file for file in inside if _suffix(file) in DRAWINGS + PICTURES]
    if not files:
        raise InputError(
            "the folder holds no motif files", file=path, hint="SVG, PNG, WebP or TIFF"
        )
    return files, [file.name for file in inside if file not in files]


def _drawing(file: Path, width: Fraction | None, backdrop: bool) -> Loose:
    """Return all that an SVG file draws as one motif, its backdrop if that is to be kept."""
    from vecrepeat.art.read import read_art

    art = read_art(file, loose=True, backdrop=backdrop)
    motif = united(file.stem, art.motifs)
    if width is not None:
        motif = motif.scaled(float(width / art.width))
    return Loose(motif, art.notes)


def united(name: str, motifs: Sequence[Motif]) -> Motif:
    """Return several motifs of one drawing, one or more, as one, the first at the bottom."""
    return Motif(
        name=name,
        parts=np.concatenate([motif.parts for motif in motifs]),
        scene=Group(tuple(motif.scene for motif in motifs)),
        features=tuple(dict.fromkeys(chain(*(m.features for m in motifs)))),
        colours=tuple(dict.fromkeys(chain(*(m.colours for m in motifs)))),
        regions=tuple(chain(*(m.regions for m in motifs))),
        dpi=min((m.dpi for m in motifs if m.dpi is not None), default=None),
    )


def _picture(file: Path, dpi: Fraction | None, width: Fraction | None) -> Loose:
    """Return a picture as a motif.

    Raises:
        InputError: nothing in it is transparent, or nothing else.
    """
    from vecrepeat.sources.bitmap import read_bitmap

    bitmap = read_bitmap(file, dpi=dpi, width=width)
    alpha = bitmap.pixels[..., 3]
    _refuse_box(bitmap)
    ink = alpha > 0
    if not ink.any():
        raise InputError("the picture is empty: all of it is transparent", file=file)
    notes = list(bitmap.notes)
    seen = int((alpha >= HAZE).sum())
    if int(ink.sum()) > 1.2 * seen:
        notes.append(
            "a haze too faint to be seen lies around its ink and counts as ink; "
            "erase it for a closer outline"
        )
    w, h = (float(side) for side in bitmap.size)
    down, across = alpha.shape
    motif = Motif(
        name=file.stem,
        parts=_outline(ink, w, h),
        scene=Group((Image(bitmap.uri, Rect(0.0, 0.0, w, h), (across, down), "none"),)),
        features=(Feature(IMAGE, file.stem),),
        dpi=float(min(bitmap.dpi)),
    )
    return Loose(motif, notes=tuple(notes))


def _refuse_box(bitmap: Bitmap) -> None:
    """Raise where a picture would be a box: all of it opaque, or a flat card with a margin.

    Raises:
        InputError: it would.
    """
    alpha = bitmap.pixels[..., 3]
    rows, columns = (np.flatnonzero((alpha > 0).any(axis=axis)) for axis in (1, 0))
    if not len(rows):
        return
    card = bitmap.pixels[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    if int(card[..., 3].min()) < 255:
        return
    colour = flat_border(card)
    if card.shape != bitmap.pixels.shape and not _is_paper_card(card, colour):
        # A motif that is a rectangle, with nothing around it.
        return
    what = (
        "nothing in it is transparent: it would print as a box"
        if colour is None
        else f"it stands on a flat {colour} ground: it would print as a box"
    )
    raise InputError(
        what,
        file=bitmap.file,
        hint="save it with a transparent ground, or trace it with vecrepeat trace",
    )


def _is_paper_card(card: NDArray[np.uint8], colour: str | None) -> bool:
    """Whether an opaque rectangle is paper with something drawn on it."""
    from vecrepeat.core.colours import is_paper, rgb_of

    if colour is None or not is_paper(colour):
        return False
    return bool((np.abs(card[..., :3].astype(np.int16) - rgb_of(colour)) > 32).any())


def flat_border(pixels: NDArray[np.uint8], levels: int = 6, share: float = 0.9) -> str | None:
    """Return the colour of a picture's border as ``#rrggbb`` where it is flat, else None.

    Args:
        pixels: RGB or RGBA, shape (height, width, 3 or 4).
        levels: by how many levels a pixel may differ from the colour.
        share: of the border's pixels that may not differ by more.
    """
    rgb = pixels[..., :3]
    border = np.concatenate([rgb[0], rgb[-1], rgb[:, 0], rgb[:, -1]]).astype(np.int16)
    middle = np.median(border, axis=0)
    near = (np.abs(border - middle) <= levels).all(axis=1)
    if near.mean() < share:
        return None
    colours, counts = np.unique(border[near], axis=0, return_counts=True)
    red, green, blue = (int(v) for v in colours[counts.argmax()])
    return f"#{red:02x}{green:02x}{blue:02x}"


def _outline(ink: NDArray[np.bool_], width: float, height: float) -> NDArray[np.object_]:
    """Return polygons in mm that hold every pixel with ink and half a pixel around it."""
    from vecrepeat.art.pixelmasks import GROWTH, trace
    from vecrepeat.scene.areas import as_parts

    rows, columns = ink.shape
    step = 1
    while ink.size > TRACED_PIXELS:
        step *= 2
        padded = np.pad(ink, [(0, side % 2) for side in ink.shape])
        ink = padded[::2] | padded[1::2]
        ink = ink[:, ::2] | ink[:, 1::2]
    to_mm = Affine.scaling(width / columns * step, height / rows * step)
    traced = as_parts(trace(ink, GROWTH, SMOOTHING))
    # Nothing is drawn beyond the picture.
    page = shapely.box(0, 0, width, height)
    cut = shapely.intersection(shapely.transform(traced, to_mm.apply), page)
    parts = shapely.get_parts(cut)
    kept: NDArray[np.object_] = parts[shapely.get_type_id(parts) == shapely.GeometryType.POLYGON]
    return kept

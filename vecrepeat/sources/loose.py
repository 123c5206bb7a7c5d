"""Loose motif files: each SVG, PNG, WebP or TIFF of a folder is one motif.

A drawing's own motifs become one; a picture is a motif by what its alpha leaves to be seen.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import shapely

from vecrepeat.core.colours import hex_of, is_paper, rgb_of
from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import Affine, Rect
from vecrepeat.core.names import kind_of, listed, shown, unique
from vecrepeat.repeat.model import Motif
from vecrepeat.scene.kinds import IMAGE, Feature
from vecrepeat.scene.nodes import Group, Image
from vecrepeat.util.cache import remembered
from vecrepeat.util.imagefiles import data_url

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from vecrepeat.sources.bitmap import Bitmap

DRAWINGS = (".svg", ".svgz")
PICTURES = (".png", ".webp", ".tif", ".tiff")

MOST_WHYS, MOST_NAMED = 4, 12
"""So many notes say why files are left out, and so many files are named in each."""

TRACED_PIXELS = 16_000_000
"""Larger pictures are outlined on every other pixel, or fewer, each standing for its neighbours."""

SMOOTHING = 0.5
"""By how many pixels steps are smoothed: the outline stays half a pixel outside the ink."""

HAZE = 8
"""Alpha of 255 that no eye sees on paper or cloth (common practice, no source)."""


class LeftOut(NamedTuple):
    """A file of a folder that can be no motif, and why not."""

    file: Path
    why: InputError

    @property
    def name(self) -> str:
        """The file's name, as a note can say it."""
        return shown(self.file.name)

    @property
    def reason(self) -> str:
        """Why, and what to do."""
        hint = self.why.hint or "mend it, or take it out of the folder"
        return str(InputError(self.why.what, element=self.why.element, hint=hint))


class Loose(NamedTuple):
    """What was read of a motif file or a folder of them.

    Attributes:
        found: a motif for each file, or why there is none, named by it, no two of one name.
        notes: what was left out, changed or assumed, a sentence each.
    """

    found: dict[str, Motif | LeftOut]
    notes: list[str]

    @property
    def motifs(self) -> list[Motif]:
        """The motifs alone."""
        return [one for one in self.found.values() if isinstance(one, Motif)]


def read_loose(path: str | Path, *, backdrops: Collection[str] = ()) -> Loose:
    """Read one motif file, or all of a folder sorted by name; folders in it are not entered.

    A motif's origin is the upper left of the picture or the page. In a folder a file that can be
    no motif is left out, and keeps its name, so that others have theirs when it is mended.

    Args:
        path: an SVG, SVGZ, PNG, WebP or TIFF file, or a folder of such.
        backdrops: names of motifs that keep the rectangle that they stand on.

    Raises:
        InputError: a file that is named by itself can be no motif; a folder holds none.
    """
    path = Path(path)
    files, others = motif_files(path)
    found: dict[str, Motif | LeftOut] = {}
    told: dict[str, list[str]] = {}
    for file in files:
        name = unique(file.stem, found, "{} ({})")
        try:
            motif, notes = _read(file, name in backdrops)
        except InputError as error:
            if len(files) == 1:
                raise
            found[name] = LeftOut(file, error)
            continue
        found[name] = replace(motif, name=name)
        for note in notes:
            told.setdefault(note, []).append(shown(file.name))
    left = [one for one in found.values() if isinstance(one, LeftOut)]
    if len(left) == len(files):
        raise InputError(
            f"none of its {len(files)} files can be a motif, "
            f"such as {left[0].name}: {left[0].reason}",
            file=path,
        )
    # First: what is beyond the most notes is only counted.
    said = _left_out(left)
    said += [f"{listed(names)}: {note}" for note, names in told.items()]
    if others:
        said.append(f"{path.name}: not motif files, so not read: {listed(others, 5)}")
    return Loose(found, said)


def _left_out(left: Sequence[LeftOut]) -> list[str]:
    """Return notes of files left out, those alike in one, all of them named in few lines."""
    kinds: dict[str, list[LeftOut]] = {}
    for one in left:
        kinds.setdefault(kind_of(f"{one.name}: {one.reason}"), []).append(one)
    alike = list(kinds.values())
    if len(alike) > MOST_WHYS:
        alike[MOST_WHYS - 1 :] = [[one for those in alike[MOST_WHYS - 1 :] for one in those]]
    said = []
    for those in alike:
        same = len({one.reason for one in those}) == 1
        how = "left out" if same else "left out, for several reasons, the first"
        names = listed([one.name for one in those], MOST_NAMED)
        said.append(f"{names}: {how}: {those[0].reason}")
    return said


def motif_files(path: Path) -> tuple[list[Path], list[str]]:
    """Return the motif files that a path means, and the names of the others that it holds.

    Raises:
        InputError: it is a folder without any, or one that can't be read.
    """
    if not path.is_dir():
        return [path], []
    try:
        inside = sorted(
            file for file in path.iterdir() if file.is_file() and not file.name.startswith(".")
        )
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise InputError(f"can't read the folder: {reason}", file=path) from None
    files = [file for file in inside if file.suffix.lower() in DRAWINGS + PICTURES]
    if not files:
        raise InputError(
            "the folder holds no motif files", file=path, hint="SVG, PNG, WebP or TIFF"
        )
    return files, [shown(file.name) for file in inside if file not in files]


def _read(file: Path, backdrop: bool) -> tuple[Motif, list[str]]:
    """Return a file's motif, with notes.

    Raises:
        InputError: it can't be read, or is no motif.
    """
    try:
        file.name.encode()
    except UnicodeEncodeError:
        raise InputError(
            "its name is not UTF-8, and no recipe could name it", file=file, hint="rename it"
        ) from None
    if file.suffix.lower() in DRAWINGS:
        return _drawing(file, backdrop)
    return remembered("picture", file, None, partial(_picture, file))


def _drawing(file: Path, backdrop: bool) -> tuple[Motif, list[str]]:
    """Return all that an SVG file draws as one motif, its backdrop if kept, with notes."""
    from vecrepeat.art.read import read_art

    art = read_art(file, loose=True, backdrop=backdrop)
    return art.motifs[0], list(art.notes)


def _picture(file: Path) -> tuple[Motif, list[str]]:
    """Return a picture as a motif, with notes.

    Raises:
        InputError: nothing in it is transparent, or nothing else.
    """
    from vecrepeat.sources.bitmap import read_bitmap

    bitmap = read_bitmap(file)
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
        scene=Group((Image(data_url(bitmap.png), Rect(0.0, 0.0, w, h), (across, down), "none"),)),
        features=(Feature(IMAGE, file.stem),),
        dpi=float(min(bitmap.dpi)),
    )
    return motif, notes


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
    if colour is None or not is_paper(colour):
        return False
    return bool((np.abs(card[..., :3].astype(np.int16) - rgb_of(colour)) > 32).any())


def flat_border(pixels: NDArray[np.uint8], levels: int = 6) -> str | None:
    """Return the colour of a picture's border as ``#rrggbb`` where it is flat, else None.

    Args:
        pixels: RGB or RGBA, shape (height, width, 3 or 4).
        levels: by how many levels nine in ten of its pixels may differ from the colour at most.
    """
    rgb = pixels[..., :3]
    border = np.concatenate([rgb[0], rgb[-1], rgb[:, 0], rgb[:, -1]]).astype(np.int16)
    middle = np.median(border, axis=0)
    near = (np.abs(border - middle) <= levels).all(axis=1)
    if near.mean() < 0.9:
        return None
    colours, counts = np.unique(border[near], axis=0, return_counts=True)
    return hex_of(colours[counts.argmax()])


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

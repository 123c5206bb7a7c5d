"""Flat-coloured pixel motifs to true vectors, by colour and without gaps.

The palette comes first, out of the picture's own colours. Then every point of a finer grid gets
one of them, edges by the antialiasing that says where they run. Each colour is traced by
vtracer, in the order of its area; it goes on a little under those above it, so that neighbours
share one line and no ground shows between them. What was written is drawn again and measured
against the pixels.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
from scipy import ndimage

from vecrepeat.core.colours import rgb_of
from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import number
from vecrepeat.core.names import id_start, slug
from vecrepeat.core.units import Size, counted, format_bytes, format_mm
from vecrepeat.sources.bitmap import Bitmap, read_bitmap
from vecrepeat.sources.loose import flat_border
from vecrepeat.sources.reduced_colours import Labels, labels_of, reduced
from vecrepeat.sources.traced_paths import TracedLayer, edge_error, layers_of
from vecrepeat.util.files import write_whole
from vecrepeat.util.xmltext import escaped
from vecrepeat.write.svg import document

SPECK = Fraction(5, 100)
"""Areas smaller than this many mm² are dropped, where nothing else is asked for."""

MAX_PIXELS = 40_000_000
"""The largest picture that is traced."""

FINE_PIXELS = 6_000_000
"""Smaller pictures are traced on a finer grid, of about this many points at most."""

MAX_FINER = 3
"""By how much finer the grid is at most."""

PAPER_LEVELS = 12
"""By how many levels of 255 paper may vary and still be flat."""

Step = Callable[[int], None]


@dataclass(frozen=True)
class Traced:
    """What was written.

    Attributes:
        file: the SVG file.
        picture: what was traced.
        size: in mm.
        bytes: of the file.
        colours: in it, those with most area first.
        ground: the paper's colour that was dropped, if any.
        nodes: points of all paths.
        specks: areas that were dropped as too small.
        edge_mean: mean distance in mm between the paths' edges and the pixels'.
        edge_max: the largest one.
        notes: what the reader should know, a sentence each.
    """

    file: Path
    picture: Path
    size: Size
    bytes: int
    colours: tuple[str, ...]
    ground: str | None
    nodes: int
    specks: int
    edge_mean: float
    edge_max: float
    notes: tuple[str, ...]

    def line(self) -> str:
        """Return the facts as one line."""
        size = " × ".join(format_mm(side) for side in self.size)
        return (
            f"{self.file}: {size}, {counted(len(self.colours), 'colour')}, "
            f"{counted(self.nodes, 'node')}, edges off by {self.edge_mean:.3f} mm on average "
            f"and {self.edge_max:.3f} mm at most, {format_bytes(self.bytes)}"
        )

    def as_dict(self) -> dict[str, Any]:
        """Return the facts as plain data."""
        return {
            "file": str(self.file),
            "picture": str(self.picture),
            "size_mm": [float(side) for side in self.size],
            "bytes": self.bytes,
            "colours": list(self.colours),
            "ground": self.ground,
            "nodes": self.nodes,
            "specks": self.specks,
            "edge_error_mm": {"mean": self.edge_mean, "max": self.edge_max},
            "notes": list(self.notes),
        }


def outputs(pictures: Sequence[Path], output: Path) -> list[tuple[Path, Path]]:
    """Return the SVG file for each picture: the one given, or one in the folder given.

    Raises:
        InputError: several pictures and one file, or two pictures of one name.
    """
    if output.suffix.lower() == ".svg" and not output.is_dir():
        if len(pictures) > 1:
            raise InputError(
                f"{len(pictures)} pictures can't be written to one file",
                file=output,
                hint="give a folder",
            )
        return [(pictures[0], output)]
    if output.suffix and not output.is_dir():
        raise InputError(
            f"tracing writes SVG, not “{output.suffix}”", file=output, hint="end the name in .svg"
        )
    pairs = [(picture, output / f"{picture.stem}.svg") for picture in pictures]
    written: set[Path] = set()
    for picture, file in pairs:
        if file in written:
            raise InputError(
                f"two pictures would be written to {file}",
                file=picture,
                hint="rename one, or trace them apart",
            )
        written.add(file)
    return pairs


def trace_picture(
    picture: Path,
    file: Path,
    *,
    colours: int | None = None,
    speck: Fraction = SPECK,
    keep_ground: bool = False,
    dpi: Fraction | None = None,
    width: Fraction | None = None,
    progress: Step | None = None,
) -> Traced:
    """Trace a picture into an SVG file of the same size.

    Args:
        picture: a PNG, WebP, TIFF or JPEG file.
        file: the SVG file to write.
        colours: to how many colours to reduce it, the ground not counted; by default those that
            it is made of.
        speck: the area in mm² below which an area is dropped.
        keep_ground: keep a flat ground as a rectangle.
        dpi: of the picture, in place of what it says of itself.
        width: of the picture in mm, in place of what it says.
        progress: called with the steps done since its last call, 100 in all.

    Raises:
        InputError: the picture can't be read, is empty, too large or not flat-coloured; the
            file can't be written.
    """
    step = progress or (lambda _: None)
    bitmap = read_bitmap(picture, dpi=dpi, width=width)
    rows, columns = bitmap.pixels.shape[:2]
    if rows * columns > MAX_PIXELS:
        raise InputError(
            f"{columns:,} × {rows:,} px is too large to trace, the most is "
            f"{MAX_PIXELS // 10**6} million pixels",
            file=picture,
            hint="save it smaller",
        )
    notes = [f"{picture.name}: {note}" for note in bitmap.notes]
    opaque = int(bitmap.pixels[..., 3].min()) == 255
    ground = flat_border(bitmap.pixels, PAPER_LEVELS) if opaque else None
    palette = _palette(bitmap, colours, ground)
    step(10)
    finer = max(1, min(MAX_FINER, int((FINE_PIXELS / (rows * columns)) ** 0.5)))
    labels, flat = labels_of(bitmap.pixels, palette, finer)
    if flat < 0.9:
        notes.append(
            f"{picture.name}: {1 - flat:.0%} of its area is not of one of the {len(palette)} flat "
            "colours: shades and textures are lost"
        )
    paper = None if ground is None or keep_ground else palette.index(ground)
    if paper is not None:
        _drop_paper(labels, paper)
    pixel_area = float(bitmap.size.width * bitmap.size.height) / labels.size
    specks = _drop_specks(labels, len(palette), float(speck) / pixel_area)
    if not (labels >= 0).any():
        raise InputError(
            "nothing is left to trace", file=picture, hint="lower --speck, or use --keep-ground"
        )
    if paper is not None and (labels == paper).any():
        notes.append(
            f"{picture.name}: where the motif encloses its paper, {ground} is kept as paint; "
            "delete that path if the cloth is to show through"
        )
    step(30)
    layers = layers_of(labels, palette, bitmap.size, finer)
    step(40)
    mean, largest = edge_error(layers, labels, palette, bitmap.size)
    text = _svg(picture.stem, layers, bitmap.size, ground if keep_ground else None)
    write_whole(file, text.encode())
    step(20)
    return Traced(
        file=file,
        picture=picture,
        size=bitmap.size,
        bytes=len(text.encode()),
        colours=tuple(layer.colour for layer in layers),
        ground=None if keep_ground else ground,
        nodes=sum(layer.nodes for layer in layers),
        specks=specks,
        edge_mean=mean,
        edge_max=largest,
        notes=tuple(notes),
    )


def _palette(bitmap: Bitmap, colours: int | None, ground: str | None) -> list[str]:
    """Return the picture's colours; the ground's, if there is one, is the last."""
    pixels = bitmap.pixels
    ink = pixels[..., 3] >= 128
    if ground is not None:
        away = np.abs(pixels[..., :3].astype(np.int16) - rgb_of(ground)).max(axis=2)
        ink &= away > PAPER_LEVELS
    if not ink.any():
        raise InputError(
            "the picture is empty: there is nothing in it but its ground", file=bitmap.file
        )
    palette = reduced(pixels[..., :3], ink, colours, ground=ground, file=bitmap.file)
    return palette if ground is None else [*(c for c in palette if c != ground), ground]


def _drop_paper(labels: Labels, paper: int) -> None:
    """Take away the paper from outside; what motifs enclose of it stays as paint."""
    areas, _ = ndimage.label(labels == paper)
    rim = np.concatenate([areas[0], areas[-1], areas[:, 0], areas[:, -1]])
    outside = np.isin(areas, np.unique(rim[rim > 0]))
    labels[outside] = -1


def _drop_specks(labels: Labels, colours: int, least: float) -> int:
    """Give areas of fewer than ``least`` pixels to what lies next to them; return how many."""
    small = np.zeros(labels.shape, bool)
    found = 0
    for colour in range(-1, colours):
        areas, count = ndimage.label(labels == colour)
        sizes = np.bincount(areas.ravel(), minlength=count + 1)
        few = sizes < least
        few[0] = False
        found += int(few.sum())
        small |= few[areas]
    if found and not small.all():
        near = ndimage.distance_transform_edt(small, return_distances=False, return_indices=True)
        labels[...] = labels[tuple(near)]
    elif found:
        labels[...] = -1
    return found


def _svg(name: str, layers: Sequence[TracedLayer], size: Size, ground: str | None) -> str:
    """Return the drawing: one group, a path for each colour, and the ground if it is kept."""
    w, h = (number(float(side)) for side in size)
    rect = "" if ground is None else f'<rect width="{w}" height="{h}" fill="{ground}"/>\n'
    if ground is not None:
        layers = [layer for layer in layers if layer.colour != ground]
    key = id_start(slug(name) or "motif")
    paths = "".join(f'<path fill="{layer.colour}" d="{layer.d}"/>\n' for layer in layers)
    body = f'{rect}<g id="{key}">\n<title>{escaped(name)}</title>\n{paths}</g>\n'
    return document(size.width, size.height, body)

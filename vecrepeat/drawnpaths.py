"""Paths that a designer has drawn, as lines to lay motifs along."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
from lxml import etree
from numpy.typing import NDArray

from vecrepeat.art.outline import matrix_of
from vecrepeat.art.paths import SHAPES, shape_segments
from vecrepeat.art.polylines import Polylines, Shape
from vecrepeat.art.read import read_art
from vecrepeat.art.xml import SVG, XLINK, local
from vecrepeat.errors import InputError
from vecrepeat.geometry import IDENTITY, Affine
from vecrepeat.repeat import Motif
from vecrepeat.sources import Source

Floats = NDArray[np.float64]

TOLERANCE = 0.05
"""The greatest distance in mm between a curve and the line it is taken for."""

SHORTEST = 1.0
"""Paths shorter than this many mm are specks, not paths."""


def paths_of(source: Source, along: str) -> list[Floats]:
    """Return the lines of a motif, or of all motifs of a drawing beside the source.

    Args:
        source: a recipe that has been read.
        along: a motif's name, or an SVG file beside the recipe.

    Returns:
        For each line its points in mm of the page, shape (n, 2), the longest line first.

    Raises:
        InputError: there is neither, the drawing can't be read, or it holds no line.
    """
    motif = source.pool.motifs.get(along)
    if motif is not None:
        motifs = [motif]
    elif Path(along).suffix.lower() in (".svg", ".svgz"):
        motifs = list(read_art(source.file.parent / along).motifs)
    else:
        raise InputError(
            f"“{along}” is neither a motif nor an SVG file",
            file=source.file,
            hint="vecrepeat motifs lists the motifs",
        )
    lines = [line for one in motifs for line in motif_lines(one)]
    if not lines:
        raise InputError(f"“{along}” holds no line to go along", file=source.file)
    return sorted(lines, key=lambda line: -_length(line))


def motif_lines(motif: Motif) -> list[Floats]:
    """Return the lines that a motif's shapes are drawn along, in its own mm.

    What is stroked and not filled counts as a line; where nothing is, all outlines do.
    """
    names = f'xmlns="{SVG}" xmlns:xlink="{XLINK}"'
    root = etree.fromstring(f"<g {names}>{motif.markup}</g>")
    shapes = list(_shapes(root, IDENTITY, {"fill": "black", "stroke": "none"}))
    drawn = [shape for shape, stroked in shapes if stroked] or [shape for shape, _ in shapes]
    lines = Polylines.of(drawn, TOLERANCE)
    found = []
    for k in range(len(lines)):
        points = lines.points(k)
        if lines.closed[k]:
            points = np.concatenate([points, points[:1]])
        if _length(points) >= SHORTEST:
            found.append(points)
    return found


def _shapes(
    element: etree._Element, matrix: Affine, style: dict[str, str]
) -> Iterator[tuple[Shape, bool]]:
    style = {**style, **{k: v for k in style if (v := element.get(k)) is not None}}
    matrix = matrix @ matrix_of(element)
    if local(element) in SHAPES:
        segments = shape_segments(element)
        stroked = style["stroke"] != "none" and style["fill"] == "none"
        yield Shape(0, segments, matrix, None, None, ()), stroked
    for child in element:
        yield from _shapes(child, matrix, style)


def _length(points: Floats) -> float:
    return float(np.hypot(*np.diff(points, axis=0).T).sum())

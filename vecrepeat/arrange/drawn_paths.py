"""Paths that a designer has drawn, as lines to lay motifs along."""

from __future__ import annotations

import pathlib

import numpy as np
from numpy.typing import NDArray

from vecrepeat.art.read import read_art
from vecrepeat.core.errors import InputError
from vecrepeat.repeat.model import Motif
from vecrepeat.scene.nodes import Path
from vecrepeat.scene.polylines import PaintedShape, Polylines
from vecrepeat.scene.segments import segments_of
from vecrepeat.scene.visit import walk
from vecrepeat.sources.source import Source

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
    elif pathlib.Path(along).suffix.lower() in (".svg", ".svgz"):
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
    shapes = [
        (
            PaintedShape(0, segments, matrix, None, None, ()),
            node.stroke is not None and node.fill is None,
        )
        for node, matrix in walk(motif.scene)
        if isinstance(node, Path) and len((segments := segments_of(node.outline)).points)
    ]
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


def _length(points: Floats) -> float:
    return float(np.hypot(*np.diff(points, axis=0).T).sum())

"""Measure by how much a window's pixels depend on where the window is cut.

Usage: python docs/measure_windows.py

Draws one tile of each demo drawing whole and again in pieces, and prints how many pixels
differ and by how many levels of 255. `docs/how-it-works.md` quotes the figures.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from unittest import mock

import numpy as np

import vecrepeat
from vecrepeat.draw import paint
from vecrepeat.draw.paint import Painter, Window
from vecrepeat.repeat.model import Motif, Placement, Repeat
from vecrepeat.scene.nodes import Group
from vecrepeat.scene.visit import repainted

DEMO = Path(__file__).parent.parent / "demo-svg"
SIDE = 1500
PIECE = 97
"""Pieces of an odd size, so that cuts fall anywhere on the motifs."""


def flat(repeat: Repeat) -> Repeat:
    """Return the repeat with every gradient replaced by a plain colour."""

    def plain(motif: Motif) -> Motif:
        scene = repainted(motif.scene, lambda p: p if isinstance(p, str) else "#808080")
        assert isinstance(scene, Group)
        return Motif(motif.name, motif.parts, scene)

    placements = tuple(Placement(plain(p.motif)) for p in repeat.placements)
    return replace(repeat, placements=placements)


def joined(painter: Painter, width: int, height: int, across: bool) -> np.ndarray:
    """Return the tile put together of upright pieces, or of level ones."""
    length = width if across else height
    pieces: Iterable[Window] = (
        Window(at, 0, min(PIECE, length - at), height)
        if across
        else Window(0, at, width, min(PIECE, length - at))
        for at in range(0, length, PIECE)
    )
    return np.concatenate([painter.paint(w) for w in pieces], axis=1 if across else 0)


def told(name: str, words: str, one: np.ndarray, other: np.ndarray) -> None:
    """Print how far two pictures are from each other."""
    each = np.abs(one.astype(int) - other).max(axis=2)
    share = f"{(each > 0).mean() * 100:.4f}%"
    print(f"{name:26} {words:39} {share:>10} differ, by {each.max()} at most")


def main() -> None:
    """Print the figures."""
    for name in ("night-garden", "brook"):
        repeat = vecrepeat.read_art(DEMO / f"{name}.svg").repeat("block")
        for kind, art in (("as drawn", repeat), ("no gradients", flat(repeat))):
            title = f"{name}, {kind}"
            drawn = {}
            # resvg draws all of each motif for every piece, which takes minutes: once is enough.
            for engine in ("cairo", "resvg") if kind == "as drawn" else ("cairo",):
                exporter = vecrepeat.Exporter(art, engine=engine)
                plan = exporter.plan(Fraction(SIDE * 254, 10) / art.width)
                painter = exporter.painter(plan)
                size = (plan.width, plan.height)
                drawn[engine] = whole = painter.paint(Window(0, 0, *size))
                if engine == "cairo":
                    with mock.patch.object(
                        paint._CairoPainter, "_canvas", lambda self, window, found: window
                    ):
                        parts = joined(painter, *size, True)
                    told(title, "cairo, into columns, canvas not widened", parts, whole)
                for words, across in (("columns", True), ("rows", False)):
                    told(title, f"{engine}, into {words}", joined(painter, *size, across), whole)
            if len(drawn) < 2:
                continue
            one, other = drawn.values()
            told(title, "resvg against cairo", one, other)
            mean = np.abs(one.astype(int) - other).mean()
            print(f"{title:26} resvg against cairo: {mean:.2f} levels on average")


if __name__ == "__main__":
    main()

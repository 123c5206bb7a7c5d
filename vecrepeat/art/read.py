"""From an SVG file to motifs with outlines: the one way art comes in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

from vecrepeat.core.errors import InputError
from vecrepeat.repeat.layout import Layout
from vecrepeat.repeat.model import Ground, Motif, Placement, Repeat
from vecrepeat.scene.outline import DEFAULT_TOLERANCE
from vecrepeat.util.cache import remembered


@dataclass(frozen=True, eq=False)
class Art:
    """A drawing that has been read.

    Attributes:
        file: where it came from.
        width: the page's width in mm, exact.
        height: the page's height in mm, exact.
        motifs: in stacking order, the first at the bottom.
        ground: the flat page-filling colour, if there is one.
        metadata: the drawing's own title, description and metadata, as markup.
        notes: what was left out or taken in a special way, a sentence each.
    """

    file: Path
    width: Fraction
    height: Fraction
    motifs: tuple[Motif, ...]
    ground: Ground | None
    metadata: str
    notes: tuple[str, ...]

    @property
    def name(self) -> str:
        """Short name, for files and ids."""
        return self.file.stem

    def repeat(self, layout: Layout | str = "block", *, cut: bool = False) -> Repeat:
        """Return the repeat whose tile is the page; see :meth:`Repeat.with_layout`.

        Raises:
            InputError: the layout's name is not known, or the page does not suit it.
        """
        return Repeat(
            name=self.name,
            width=self.width,
            height=self.height,
            placements=tuple(Placement(motif) for motif in self.motifs),
            ground=self.ground,
            metadata=self.metadata,
        ).with_layout(layout, cut=cut)


def read_art(
    path: str | Path,
    *,
    motifs: str | None = None,
    tolerance: float = DEFAULT_TOLERANCE,
    allowed: Sequence[Path] = (),
    live_text: bool = False,
    loose: bool = False,
    backdrop: bool = False,
) -> Art:
    """Read an SVG drawing whose page is the tile.

    Args:
        path: the SVG (or gzipped SVGZ) file.
        motifs: a CSS selector of the elements to take as motifs, in place of finding them.
        tolerance: the greatest distance in mm between a curve and its outline.
        allowed: folders besides the drawing's own that linked pictures may be taken from.
        live_text: keep text live; else it is turned into paths, which look alike anywhere.
        loose: it is one motif, without a ground; what lies beside the page is kept where it
            belongs to what is on it.
        backdrop: keep a rectangle behind all of a loose motif, which is left out else.

    Raises:
        InputError: the file can't be read, is not SVG, is hostile, has no usable page size,
            or holds no motif.
    """
    file = Path(path)
    how = (live_text, loose, backdrop)

    def work() -> Art:
        # What is known from before needs none of it, and it takes a while to import.
        from vecrepeat.art.stages import read_drawing

        return read_drawing(file, motifs, tolerance, allowed, *how)

    try:
        art = remembered(
            "drawing",
            file,
            (motifs, tolerance, [str(path.resolve()) for path in allowed], *how),
            work,
            lettered=True,
        )
    except InputError as error:
        raise error.of(file) from error.__cause__
    return replace(art, file=file)

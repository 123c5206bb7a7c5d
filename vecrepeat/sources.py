"""What a command is given: a drawing (or, later, a recipe), as one endless cloth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from vecrepeat.art.read import read_art
from vecrepeat.layout import Layout
from vecrepeat.repeat import Repeat


@dataclass(frozen=True, eq=False)
class Source:
    """A source that has been read.

    Attributes:
        file: where it came from.
        repeat: the endless cloth.
        notes: what was left out or taken in a special way, a sentence each.
    """

    file: Path
    repeat: Repeat
    notes: tuple[str, ...]

    @property
    def name(self) -> str:
        """Short name, for files and ids."""
        return self.repeat.name


def open_source(
    path: str | Path,
    *,
    layout: Layout | None = None,
    motifs: str | None = None,
    allowed: Sequence[Path] = (),
    outline_text: bool = False,
) -> Source:
    """Read a source.

    Args:
        path: the file.
        layout: how tiles tessellate; by default what the source says, else a block.
        motifs: a CSS selector of the elements to take as motifs.
        allowed: folders besides the source's own that linked pictures may be taken from.
        outline_text: turn text into paths.

    Raises:
        InputError: it can't be read or used.
    """
    art = read_art(path, motifs=motifs, allowed=allowed, outline_text=outline_text)
    return Source(art.file, art.repeat(layout or Layout()), art.notes)

"""A collection's prints, opened once and seen in any of its colourways."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from vecrepeat.core.errors import InputError
from vecrepeat.core.names import slug
from vecrepeat.recipe.collection import Collection, Print
from vecrepeat.recipe.files import is_collection, read_collection
from vecrepeat.repeat.model import Repeat
from vecrepeat.sources.source import Source, open_source


@dataclass(frozen=True, eq=False)
class Line:
    """A collection and its prints as sources, in the collection's order.

    Attributes:
        collection: what its file says.
        sources: one for each print.
    """

    collection: Collection
    sources: tuple[Source, ...]

    @cached_property
    def prints(self) -> tuple[Print, ...]:
        """What the collection says of each print."""
        return self.collection.prints

    @property
    def notes(self) -> list[str]:
        """What was taken in a special way in any print, a sentence each."""
        return [
            f"{one.name}: {note}"
            for one, source in zip(self.prints, self.sources, strict=True)
            for note in source.notes
        ]

    def repeats(self, way: str) -> Sequence[Repeat]:
        """Return the prints at their print sizes, in one of the collection's ways.

        Raises:
            InputError: there is none of that name.
        """
        self.collection.palette_in(way)
        return [source.in_colourway(way) for source in self.sources]


def open_line(file: Path) -> Line:
    """Open all prints of a collection.

    Raises:
        InputError: it is no collection, or one of its prints can't be used.
    """
    if file.is_file() and not is_collection(file):
        raise InputError(
            "it is no collection",
            file=file,
            hint="a collection's [[print]] tables have a role; vecrepeat collection begins one",
        )
    collection = read_collection(file)
    return Line(collection, tuple(_opened(file, one) for one in collection.prints))


def _opened(file: Path, one: Print) -> Source:
    try:
        return open_source(file / slug(one.name))
    except InputError as error:
        raise error.of(one.file) from None

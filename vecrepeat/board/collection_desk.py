"""The desk of a collection: its text, the steps that were made to it, and the disk.

A collection's file is small, so each step is written at once, and what is undone too: there is
nothing to save and nothing to lose.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from vecrepeat.board.desk import ConflictError
from vecrepeat.board.hold import followed
from vecrepeat.board.rewriting import with_palette_colour
from vecrepeat.board.stamps import Stamp, stamp_of
from vecrepeat.core.errors import InputError
from vecrepeat.recipe.collection import Collection, parse_collection
from vecrepeat.recipe.files import beside, is_recipe, read_recipe
from vecrepeat.recipe.values import UnfitError, read_colour
from vecrepeat.sources.source import Source
from vecrepeat.util.files import read_text, write_whole

MOST_STEPS = 1000
"""So many steps can be undone."""


@dataclass(eq=False)
class Shelved:
    """What a helper opens prints of, and keeps of them.

    Attributes:
        file: the collection's.
        allowed: folders besides the art's own that linked pictures may be taken from.
        drawn: recipes and drawings that were opened.
        pictures: what was drawn, by what it was drawn of.
    """

    file: Path
    allowed: tuple[Path, ...]
    drawn: dict[Path, Source] = field(default_factory=dict)
    pictures: dict[str, bytes] = field(default_factory=dict)


class CollectionDesk:
    """A collection at work.

    Args:
        file: the collection's.
        allowed: folders besides the art's own that linked pictures may be taken from.

    Attributes:
        collection: what the text says now.
        source: what helpers open; another one where prints have changed.
        count: how often the text has changed.
        version: how often prints have.
        fault: why what is on the disk can't be used, "" where it can.

    Raises:
        InputError: it can't be read, or is no collection.
    """

    def __init__(self, file: Path, allowed: tuple[Path, ...] = ()) -> None:
        # A rename would put a file in the place of a link to one.
        self.file, self._allowed = followed(file), allowed
        self._turn = threading.Lock()
        self.count = self.version = 0
        self.fault = ""
        self._begin(read_text(self.file, "collection"))

    def _begin(self, text: str) -> None:
        """Start from a text on the disk; no step leads back over it."""
        self.collection = parse_collection(text, self.file)
        self._moments = [(text, "")]
        self._cursor = 0
        self._reopen()

    def _reopen(self) -> None:
        self.source = Shelved(self.file, self._allowed)
        self._note()

    def _note(self) -> None:
        """Note what is on the disk: of recipes that are long, what they name is read once."""
        self._seen = stamp_of(self.file)
        self._made_from = list(_made_from(self.collection))
        self._art = self._stamps()

    def _stamps(self) -> dict[Path, Stamp]:
        found = self._made_from
        files = [f for path in found for f in (path.iterdir() if path.is_dir() else [path])]
        return {path: stamp_of(path) for path in files}

    @property
    def now(self) -> str:
        """The text."""
        return self._moments[self._cursor][0]

    def standing(self) -> dict[str, Any]:
        """Return how things stand, as pages take it."""
        steps = self._moments
        return {
            "count": self.count,
            "version": self.version,
            "fault": self.fault,
            "undo": steps[self._cursor][1],
            "redo": steps[self._cursor + 1][1] if self._cursor + 1 < len(steps) else "",
        }

    # ---------------------------------------------------------------- steps

    def recolour(self, after: int, way: str, name: str, colour: str) -> None:
        """Change a colour of the palette, or of a colourway, in the file.

        Args:
            after: how often the text had changed where the step was made.
            way: one of the collection's ways.
            name: the palette's.
            colour: ``#rrggbb``.

        Raises:
            InputError: there is no such way, name or colour, or the file can't be written.
            ConflictError: another tab was quicker, or something else has changed the file.
        """
        palette = self.collection.palette_in(way)
        if name not in palette:
            raise InputError(f"the palette has no “{name[:40]}”", file=self.file)
        try:
            colour = read_colour(colour)
        except UnfitError as error:
            raise InputError(f"a colour is {error}") from None
        with self._turn:
            self._expect(after)
            self._go_to(with_palette_colour(self.now, way, name, colour), f"{name} {colour}")

    def turn(self, after: int, by: int) -> None:
        """Undo the last step (-1) or make the next one again (1); raises as :meth:`recolour`."""
        with self._turn:
            self._expect(after)
            to = self._cursor + (1 if by > 0 else -1)
            if 0 <= to < len(self._moments):
                self._write(self._moments[to][0])
                self._cursor = to

    def keep(self, after: int, text: str, what: str) -> None:
        """Take a text that a command has written over this desk's as a step.

        Raises:
            ConflictError: something else was written meanwhile.
        """
        with self._turn:
            self._expect(after)
            self._took(text)
            self._add(text, what)

    def _expect(self, after: int) -> None:
        if after != self.count:
            raise ConflictError("another tab was quicker")

    def _go_to(self, text: str, what: str) -> None:
        if text != self.now:
            self._write(text)
            self._add(text, what)

    def _add(self, text: str, what: str) -> None:
        self._moments = [*self._moments[: self._cursor + 1], (text, what)][-MOST_STEPS:]
        self._cursor = len(self._moments) - 1

    def _write(self, text: str) -> None:
        if read_text(self.file, "collection") != self.now:
            raise ConflictError("something else has changed the collection on the disk")
        parse_collection(text, self.file)
        write_whole(self.file, text.encode(), edits=self.file)
        self._took(text)

    def _took(self, text: str) -> None:
        self.collection = parse_collection(text, self.file)
        self._note()
        self.count += 1

    # ---------------------------------------------------------------- the disk

    def look(self) -> bool:
        """Look at the disk; return whether something else has changed the file or its prints."""
        # A step that is being made is no news.
        if not self._turn.acquire(blocking=False):
            return False
        try:
            return self._looked()
        finally:
            self._turn.release()

    def _looked(self) -> bool:
        if stamp_of(self.file) != self._seen:
            self._seen = stamp_of(self.file)
            try:
                text = read_text(self.file, "collection")
                same = text == self.now
                if not same:
                    self._begin(text)
                    self.count += 1
            except InputError as error:
                self.fault = str(error)
                return True
            changed = bool(self.fault) or not same
            self.fault = ""
            return changed
        if self._stamps() == self._art:
            return False
        self._reopen()
        self.version += 1
        return True


def _made_from(collection: Collection) -> Iterator[Path]:
    """Yield the files, and the folders of files, that prints are made from."""
    for one in collection.prints:
        yield one.file
        if not is_recipe(one.file):
            continue
        with suppress(InputError):
            keys = read_recipe(one.file).keys
            yield from (p for key in ("art", "loose") for p in beside(one.file, keys.get(key)))

"""The desk: one recipe, what is on the disk of it, its history and its journal."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from vecrepeat.board.journal import Journal, journal_path, read_journal
from vecrepeat.board.state import History, State, first_state, read_state
from vecrepeat.errors import InputError
from vecrepeat.files import write_whole
from vecrepeat.layout import Layout
from vecrepeat.recipe import Placed, parse_recipe
from vecrepeat.recipefiles import beside
from vecrepeat.recipes import with_layout, with_placements
from vecrepeat.sources import Source, open_source


class ConflictError(Exception):
    """What was asked for would go over something that has changed meanwhile."""


@dataclass(frozen=True)
class Disk:
    """A file as it lies on the disk, so far as is needed to see it change."""

    stamp: tuple[int, int, int] | None

    @classmethod
    def of(cls, path: Path) -> Disk:
        """Return a file as it is now."""
        try:
            found = path.stat()
        except OSError:
            return cls(None)
        return cls((found.st_mtime_ns, found.st_size, found.st_ino))


class Desk:
    """A recipe at work.

    Args:
        file: the recipe.
        allowed: folders besides the art's own that linked pictures may be taken from.

    Raises:
        InputError: the recipe, its art or its journal can't be read.
    """

    def __init__(self, file: Path, allowed: tuple[Path, ...] = ()) -> None:
        # A rename would put a file in the place of a link to one.
        self.file = file.resolve()
        self.allowed = allowed
        self.journal = Journal(journal_path(self.file))
        self.steps: list[Any] = []
        self.taken_up = 0
        self.version = 0
        found = read_journal(self.journal.path)
        self._read()
        if found is not None:
            self.text, self.known = found.text, found.digest
            self.history = History((read_state(found.base, self.source.pool.motifs),))
            for step in found.steps:
                self._make(step)
            self.taken_up = len(self.steps)
            self._begin()

    def _read(self) -> None:
        """Take the recipe as it is on the disk."""
        data = self.file.read_bytes() if self.file.exists() else b""
        self.source: Source = open_source(self.file, allowed=self.allowed, placed=False)
        self.seen = Disk.of(self.file)
        self.text = data.decode()
        self.known = _digest(data)
        self.on_disk = self.known
        recipe = self.source.recipe
        assert recipe is not None
        placed = recipe.placements or tuple(Placed(name) for name in self.source.pool.drawn)
        layout = str(recipe.keys.get("layout", Layout()))
        self.history = History((first_state(placed, layout),))
        self.saved = self.history.now
        self.steps = []
        art = (
            *beside(self.file, recipe.keys.get("art")),
            *beside(self.file, recipe.keys.get("loose")),
        )
        self.art = {path: Disk.of(path) for path in art}

    # ---------------------------------------------------------------- steps

    @property
    def now(self) -> State:
        """What lies on the cloth."""
        return self.history.now

    @property
    def dirty(self) -> bool:
        """Whether something is not saved."""
        return not self.now.same_as(self.saved)

    def step(self, after: int, step: Any) -> int:
        """Make a step and write it down.

        Args:
            after: how many steps there were where the step was made.
            step: see :meth:`vecrepeat.board.state.History.after`.

        Returns:
            How many steps there are now.

        Raises:
            InputError: it can't be made, or not written down; nothing has changed then.
            ConflictError: another tab was quicker.
        """
        if after != len(self.steps):
            raise ConflictError("another tab was quicker")
        history = self.history.after(step, self.source.pool.motifs)
        cell = Layout.parse(history.now.layout)
        cell.cell(self.source.page.width, self.source.page.height)
        if not self.journal.begun:
            self._begin()
        self.journal.add(step)
        self.history = history
        self.steps.append(step)
        return len(self.steps)

    def _make(self, step: Any) -> None:
        self.history = self.history.after(step, self.source.pool.motifs)
        self.steps.append(step)

    def _begin(self) -> None:
        base = self.history.states[0].as_dict()
        self.journal.write(self.text, base, self.known, self.steps)

    # ---------------------------------------------------------------- the disk

    @property
    def foreign(self) -> bool:
        """Whether the recipe on the disk is not what this board knows."""
        return self.on_disk != self.known

    @property
    def art_changed(self) -> bool:
        """Whether the art on the disk is not what was read."""
        return any(Disk.of(path) != seen for path, seen in self.art.items())

    def look(self) -> bool:
        """Look at the disk; return whether the recipe there is another than at the last look."""
        stamp = Disk.of(self.file)
        if stamp == self.seen:
            return False
        before, self.seen = self.on_disk, stamp
        try:
            self.on_disk = _digest(self.file.read_bytes())
        except OSError:
            self.on_disk = ""
        return self.on_disk != before

    def save(self, *, over: bool = False) -> None:
        """Write the recipe, and take the journal away.

        Args:
            over: write over what something else has put there.

        Raises:
            InputError: it can't be written, or a recipe can't say it.
            ConflictError: the recipe on the disk has been changed by something else.
        """
        self.seen = Disk(None)
        self.look()
        if self.foreign and not over:
            raise ConflictError("the recipe was changed on disk by something else")
        data = self.text_now().encode()
        write_whole(self.file, data, edits=self.file)
        self.known = self.on_disk = _digest(data)
        self.seen = Disk.of(self.file)
        self.saved = self.now
        self.journal.remove()

    def text_now(self) -> str:
        """Return the recipe as it would be saved now.

        It is made from the text that was opened, so that undoing to the start gives that text
        to the byte.

        Raises:
            InputError: a recipe can't say it.
        """
        base, now, text = self.history.states[0], self.now, self.text
        if now.placed != base.placed:
            if not now.order and self.source.pool.drawn:
                raise InputError(
                    "a recipe of a drawing can't say that nothing is placed",
                    hint="leave one motif on the cloth",
                )
            text = with_placements(text, now.placed)
        if now.layout != base.layout:
            text = with_layout(text, now.layout)
        read = parse_recipe(text, self.file)
        if now.placed != base.placed and read.placements != tuple(map(_written, now.placed)):
            raise InputError("the recipe would not read back as it is shown", file=self.file)
        return text

    def reread(self, *, drop: bool) -> None:
        """Read recipe and art anew.

        Args:
            drop: take the recipe as it is on the disk and let the steps go; else keep them,
                and take only the art anew.

        Raises:
            InputError: it can't be read, or steps name motifs that are no more; all stays.
        """
        kept = (self.text, self.known, self.history, self.saved, self.steps)
        everything = dict(vars(self))
        try:
            self._read()
            if drop:
                self.journal.remove()
                self.taken_up = 0
            else:
                self.text, self.known, self.history, self.saved, self.steps = kept
                for one in self.now.placed:
                    if one.motif not in self.source.pool.motifs:
                        raise InputError(f"the art has no motif “{one.motif}” any more")
        except InputError:
            vars(self).update(everything)
            raise
        self.version += 1


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def _written(placed: Placed) -> Placed:
    """Return a placement as a recipe's decimals keep it."""
    at = None if placed.at is None else (round(placed.at[0], 4), round(placed.at[1], 4))
    return Placed(
        placed.motif, at, round(placed.turn % 360, 4), round(placed.scale, 5), placed.flip
    )

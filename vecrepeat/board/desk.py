"""The desk: one recipe, what is on the disk of it, its history and its journal."""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple

from vecrepeat.board.hold import followed
from vecrepeat.board.journal import FoundJournal, Journal, journal_path, read_journal
from vecrepeat.board.rewriting import with_arranging
from vecrepeat.board.seeds import Seed, keep_seeds, read_seeds, seeds_of
from vecrepeat.board.stamps import Stamp, stamp_of, stamps_of
from vecrepeat.board.state import CLOTH, MOTIF, History, State, first_state, plain_settings
from vecrepeat.board.takingup import take_up
from vecrepeat.core.errors import InputError
from vecrepeat.core.units import Size, parse_size
from vecrepeat.recipe.edit import placement_row, with_colourways, with_keys, with_placements
from vecrepeat.recipe.files import beside
from vecrepeat.recipe.model import Placed, parse_recipe
from vecrepeat.repeat.layout import Layout
from vecrepeat.repeat.model import Repeat
from vecrepeat.sources.first import ranks
from vecrepeat.sources.source import Source, open_source, require_tile, sized
from vecrepeat.util.files import MOST_TEXT, read_plain, write_whole


class ConflictError(Exception):
    """What was asked for would go over something that has changed meanwhile."""


def said_size(size: Size) -> str:
    """Return a tile's size as a recipe says it, exactly."""
    return "x".join(f"{side}mm" for side in size)


def on_tile(page: Repeat, tile: str, file: Path) -> Repeat:
    """Return a page on a tile of another size; "" is its own.

    Raises:
        InputError: that is no size of a tile.
    """
    if not tile:
        return page
    size = parse_size(tile, "tile")
    require_tile(size, file)
    return replace(page, width=size.width, height=size.height)


class Reading(NamedTuple):
    """A recipe and its art, as they were on the disk."""

    data: bytes
    source: Source
    seen: Stamp
    art: dict[Path, Stamp]


class Desk:
    """A recipe at work.

    Args:
        file: the recipe.
        allowed: folders besides the art's own that linked pictures may be taken from.

    Attributes:
        told: what is lost of an earlier board's steps, a sentence each.
        seeds: tosses kept from earlier; see :mod:`vecrepeat.board.seeds`.

    Raises:
        InputError: the recipe, its art or its journal can't be read.
    """

    def __init__(self, file: Path, allowed: tuple[Path, ...] = ()) -> None:
        # A rename would put a file in the place of a link to one.
        self.file = followed(file)
        self.allowed = allowed
        self.journal = Journal(journal_path(self.file))
        self.taken_up = 0
        self.version = 0
        self.told: list[str] = []
        self._turn = threading.Lock()
        self.source: Source
        self._begin_with(self.read())
        self.seeds: list[Seed] = []
        try:
            self.seeds = read_seeds(self.file, self.source.pool.motifs)
        except InputError as error:
            self.told.append(str(error))
        found = read_journal(self.journal.path)
        if found is not None:
            self._take_up(found)

    def read(self) -> Reading:
        """Read the recipe and its art as they are on the disk; nothing changes here.

        Raises:
            InputError: they can't be read.
        """
        # Looked at first: whatever changes while it is read is seen at the next look.
        seen = stamp_of(self.file)
        try:
            data = read_plain(self.file, MOST_TEXT + 1)
        except FileNotFoundError:
            # Worded where recipes are read.
            data = b""
        except OSError as error:
            reason = str(error.strerror).lower()
            raise InputError(f"can't read the recipe: {reason}", file=self.file) from None
        source = open_source(self.file, allowed=self.allowed, placed=False)
        return Reading(data, source, seen, stamps_of(source.recipe))

    def _begin_with(self, reading: Reading) -> None:
        """Start from a recipe as it is on the disk."""
        self._show(reading)
        self.text = reading.data.decode()
        self.known = self.on_disk
        recipe = self.source.recipe
        assert recipe is not None
        placed = recipe.placements or tuple(Placed(name) for name in self.source.pool.drawn)
        keys = recipe.keys
        layout, ground = str(keys.get("layout", Layout())), str(keys.get("ground", ""))
        tile = said_size(keys["tile"]) if "tile" in keys else ""
        rows = {n: {k: v for k, v in row.items() if k in MOTIF} for n, row in recipe.motifs.items()}
        first = replace(
            first_state(placed, layout, tile, ground, recipe.colourways),
            motifs={name: plain_settings(row) for name, row in rows.items() if row},
            settings={way: plain_settings(keys) for way, keys in recipe.arranged.items() if keys},
        )
        self.history = History((first,))
        self.saved = self.history.now
        self.steps: list[Any] = []

    def _show(self, reading: Reading) -> None:
        """Take the art, and note what is on the disk."""
        self.source, self.seen, self.art = reading.source, reading.seen, reading.art
        self.on_disk = _digest(reading.data)

    def _take_up(self, found: FoundJournal) -> None:
        """Go on where an earlier board was; what can't be gone on with is set aside and told."""
        taken = take_up(found, self.source.pool.motifs, self._suits)
        if taken.faults:
            aside = self.journal.set_aside(found.data)
            faults = "; ".join(taken.faults)
            self.told.append(
                f"the journal of an earlier board can't be gone on with: {faults}. It is kept as "
                f"{aside}, and the cloth is as the recipe says"
                if taken.history is None
                else f"not all of an earlier board's journal could be taken up: {faults}. All "
                f"else is here again, and the journal as it was is kept as {aside}"
            )
        if taken.history is None or found.head is None:
            self.journal.remove()
            return
        self.history, self.steps = taken.history, list(taken.steps)
        self.taken_up = len(self.steps)
        self.text, self.known = found.head["text"], found.head["digest"]
        if taken.base_changed:
            self.text = with_placements(self.text, self.history.states[0].placed)
        with suppress(InputError):
            # One that ended after it had saved, and before it took the journal away.
            if _digest(self.text_now().encode()) == self.on_disk:
                self.known = self.on_disk
        self._begin()

    def _suits(self, state: State) -> None:
        page = on_tile(self.source.page, state.tile, self.file)
        Layout.parse(state.layout).cell(page.width, page.height)
        sized(self.source.pool, {n: r for n, r in state.motifs.items() if "least-line" in r})

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
        with self._turn:
            if after != len(self.steps):
                raise ConflictError("another tab was quicker")
            history = self.history.after(step, self.source.pool.motifs)
            self._suits(history.now)
            if not self.journal.begun:
                self._begin()
            self.journal.add(step)
            self.history = history
            self.steps.append(step)
            return len(self.steps)

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
        return stamps_of(self.source.recipe) != self.art

    def look(self) -> bool:
        """Look at the disk; return whether the recipe there is another than at the last look."""
        stamp = stamp_of(self.file)
        if stamp == self.seen:
            return False
        before, self.seen = self.on_disk, stamp
        try:
            self.on_disk = _digest(read_plain(self.file, MOST_TEXT + 1))
        except OSError:
            self.on_disk = ""
        return self.on_disk != before

    def save(self, *, over: bool = False) -> None:
        """Write the recipe, and take the journal away; ``over`` what something else has put there.

        Raises:
            InputError: it can't be written, or a recipe can't say it.
            ConflictError: the recipe on the disk has been changed by something else.
        """
        with self._turn:
            self.seen = None
            self.look()
            if self.foreign and not over:
                raise ConflictError("the recipe was changed on disk by something else")
            data = self.text_now().encode()
            write_whole(self.file, data, edits=self.file)
            self.known = self.on_disk = _digest(data)
            self.seen = stamp_of(self.file)
            self.saved = self.now
            self._end_journal()

    def names(self, path: Path) -> bool:
        """Whether a file is among the recipe's loose motifs."""
        recipe = self.source.recipe
        loose = beside(self.file, recipe.keys.get("loose")) if recipe else ()
        return any(one in (path, path.parent) for one in loose)

    def name_art(self, named: Mapping[str, list[str]]) -> None:
        """Save the recipe with other files of art; undoing begins there.

        Raises:
            InputError: it can't be written or read.
            ConflictError: as :meth:`save`.
        """
        self.save()
        data = read_plain(self.file, MOST_TEXT + 1)
        write_whole(self.file, with_keys(data.decode(), named).encode(), edits=self.file)
        try:
            self.take(self.read(), drop=True)
        except InputError:
            write_whole(self.file, data, edits=self.file)
            raise

    def welcome(self, names: list[str]) -> dict[str, Any] | None:
        """Return the step that gives new motifs ranks, and no more width than the largest has.

        None where ranks are guessed and sizes suit.
        """
        motifs = self.source.pool.motifs
        others = [m.box.width for name, m in motifs.items() if name not in names]
        guessed = dict(zip(motifs, ranks(list(motifs.values())), strict=True))
        said = any("rank" in row for row in self.now.motifs.values())
        rows: dict[str, dict[str, Any]] = {name: {} for name in names}
        for name, row in rows.items():
            if said:
                row["rank"] = guessed[name]
            if others and motifs[name].box.width > max(others):
                row["width"] = round(max(others), 2)
        rows = {name: row for name, row in rows.items() if row}
        return {"motifs": rows, "what": f"{', '.join(rows)} came in"} if rows else None

    def close(self, patience: float = -1) -> None:
        """End the work: no step is made any more, and a journal that nobody needs goes.

        A step or a save that is being made gets so many seconds; -1 is for ever.
        """
        if self._turn.acquire(timeout=patience) and not self.dirty:
            self._end_journal()

    def _end_journal(self) -> None:
        """Take the journal away, which nobody needs; what was tossed is kept."""
        self._keep_tosses()
        self.journal.remove()

    def _keep_tosses(self) -> None:
        if tossed := seeds_of(self.history.states):
            try:
                self.seeds = keep_seeds(self.file, [*self.seeds, *tossed])
            except InputError as error:
                # The recipe is saved all the same.
                self.told.append(f"seeds to go back to are not kept: {error}")

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
        changed = {key: now.cloth[key] for key in CLOTH if now.cloth[key] != base.cloth[key]}
        if changed:
            text = with_keys(text, changed)
        text = with_arranging(text, base, now)
        if now.colourways != base.colourways:
            text = with_colourways(text, now.colourways)
        read = parse_recipe(text, self.file)
        shown = [placement_row(one) for one in now.placed]
        lain = now.placed == base.placed or [placement_row(r) for r in read.placements] == shown
        if not lain or (now.colourways != base.colourways and read.colourways != now.colourways):
            raise InputError("the recipe would not read back as it is shown", file=self.file)
        return text

    def take(self, reading: Reading, *, drop: bool) -> None:
        """Go on with a recipe and art that were read anew.

        ``drop`` takes the recipe as it is on the disk and lets the steps go; else they are kept,
        and only the art is new.

        Raises:
            InputError: steps name motifs that are no more; all stays.
        """
        if drop:
            self._keep_tosses()
            self._begin_with(reading)
            self.journal.remove()
            self.taken_up = 0
        else:
            motifs = reading.source.pool.motifs
            for state in self.history.states:
                for one in state.rows.values():
                    if one.motif not in motifs:
                        raise InputError(
                            f"the art has no motif “{one.motif}” any more",
                            file=self.file,
                            hint="give it back its name there, or take what is on the disk",
                        )
            self._show(reading)
        self.version += 1


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()

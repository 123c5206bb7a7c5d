"""The journal: every step since the recipe was opened, written down before it is answered.

Each line is a checksum and JSON. The head says what the steps start from, and stands there
twice, since all hang on it. A step's line tells its number and which moment it was made on, so
that the others can be made where one is lost. The last line tells how many steps there are; each
step is written over it, with a last line of its own.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from vecrepeat.core.errors import InputError
from vecrepeat.util.files import read_plain, write_error, write_whole

VERSION = 2


@dataclass(frozen=True)
class JournalLine:
    """A step as the journal has it.

    Attributes:
        number: of the step, from 1.
        on: the number of the step that made the moment which it was made on; 0 is the first.
        to: likewise of the moment that undoing or redoing went to; None for any other step.
        step: see :meth:`vecrepeat.board.state.History.after`.
    """

    number: int
    on: int
    to: int | None
    step: Mapping[str, Any]


class Trail:
    """Which step made each of the moments that undoing can reach, by the steps' numbers."""

    def __init__(self) -> None:
        self.made = [0]
        self.cursor = 0

    def line(self, number: int, step: Mapping[str, Any]) -> JournalLine:
        """Return the line of the next step."""
        to = self.made[step["cursor"]] if "cursor" in step else None
        return JournalLine(number, self.made[self.cursor], to, step)

    def go(self, number: int, step: Mapping[str, Any]) -> None:
        """Make a step."""
        if "cursor" in step:
            self.cursor = step["cursor"]
        else:
            self.cursor += 1
            self.made[self.cursor :] = [number]


@dataclass(frozen=True)
class FoundJournal:
    """What an earlier board left.

    Attributes:
        data: all of it, as it lies there.
        head: ``text``, the recipe's text that the steps start from, ``base``, the moment, and
            ``digest``, SHA-256 of the recipe's file as the board last knew it; None where it
            can't be read.
        lines: those that could be read, in order.
        last: how many steps there were; None where that is lost.
        unread: how many lines can't be read.
    """

    data: bytes
    head: Mapping[str, Any] | None
    lines: tuple[JournalLine, ...]
    last: int | None
    unread: int


def journal_path(recipe: Path) -> Path:
    """Return where a recipe's journal is kept: hidden, beside it."""
    return recipe.parent / f".{recipe.name}.journal"


def read_journal(path: Path) -> FoundJournal | None:
    """Return what an earlier board left, or None where nothing is.

    Raises:
        InputError: there is something that can't be read at all.
    """
    try:
        data = read_plain(path, -1)
    except FileNotFoundError:
        return None
    except OSError as error:
        reason = str(error.strerror).lower()
        raise InputError(
            f"can't read the journal: {reason}", file=path, hint="move it away to start afresh"
        ) from None
    found: dict[str, Any] = {}
    lines: dict[int, JournalLine] = {}
    unread = 0
    for text in data.splitlines():
        try:
            mark, _, said = text.partition(b" ")
            value = json.loads(said) if mark == _checksum(said) else {}
            if value.get("version") == VERSION:
                same = found.setdefault("head", value) == value
            elif "last" in value:
                same = found.setdefault("last", value["last"]) == value["last"]
            else:
                line = JournalLine(**value)
                same = lines.setdefault(line.number, line) == line
            # A line that another journal has at that place says nothing of this one.
            unread += not same
        except (ValueError, TypeError, AttributeError, RecursionError):
            unread += 1
    in_order = tuple(lines[number] for number in sorted(lines))
    return FoundJournal(data, found.get("head"), in_order, found.get("last"), unread)


class Journal:
    """The journal that this board writes."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._size = self._size_now()
        self._count: int | None = None
        self._trail = Trail()
        self._end = 0

    @property
    def begun(self) -> bool:
        """Whether a step can be added to what lies on the disk."""
        return self._count is not None and self.path.exists()

    def write(self, text: str, base: Any, digest: str, steps: Sequence[Any]) -> None:
        """Write the whole journal anew.

        Raises:
            InputError: it can't be written, or something else writes there.
        """
        self._refuse_foreign()
        head = _line({"version": VERSION, "digest": digest, "base": base, "text": text})
        trail, lines = Trail(), [head, head]
        for number, step in enumerate(steps, 1):
            lines.append(_line(asdict(trail.line(number, step))))
            trail.go(number, step)
        data, last = b"".join(lines), _line({"last": len(steps)})
        with self._explain_errors():
            write_whole(self.path, data + last, edits=self.path)
        self._trail, self._count, self._end = trail, len(steps), len(data)
        self._size = len(data) + len(last)
        _sync_folder(self.path.parent)

    def add(self, step: Mapping[str, Any]) -> None:
        """Write one more step, and wait until the disk has it.

        Raises:
            InputError: it can't be written, or something else writes there.
        """
        assert self._count is not None
        self._refuse_foreign()
        number = self._count + 1
        line, last = _line(asdict(self._trail.line(number, step))), _line({"last": number})
        try:
            with self._explain_errors(), self.path.open("r+b") as out:
                out.seek(self._end)
                out.write(line + last)
                out.flush()
                os.fsync(out.fileno())
        except InputError:
            self._take_back()
            raise
        self._trail.go(number, step)
        self._count = number
        self._end += len(line)
        self._size = self._end + len(last)

    def _take_back(self) -> None:
        """Take back what was written of a step in vain; the next one writes all anew."""
        with suppress(OSError), self.path.open("r+b") as out:
            out.truncate(self._end)
            out.seek(self._end)
            out.write(_line({"last": self._count}))
        self._size, self._count = self._size_now(), None

    def set_aside(self, data: bytes) -> Path:
        """Write what can't be read beside the journal; return where.

        Raises:
            InputError: it can't be written.
        """
        number = 1
        while (path := self.path.with_name(f"{self.path.name}.aside-{number}")).exists():
            number += 1
        write_whole(path, data)
        return path

    def remove(self) -> None:
        """Take the journal away: all that it says is saved, or let go.

        What something else has written there stays.
        """
        if self._size_now() == self._size:
            self.path.unlink(missing_ok=True)
            self._size = self._count = None

    def _size_now(self) -> int | None:
        try:
            return self.path.stat().st_size
        except OSError:
            return None

    def _refuse_foreign(self) -> None:
        if self._size_now() not in (None, self._size):
            raise InputError(
                "something else has written to the journal",
                file=self.path,
                hint="close what else works on this recipe, and start the board again",
            )

    @contextmanager
    def _explain_errors(self) -> Iterator[None]:
        try:
            yield
        except (OSError, InputError) as error:
            if isinstance(error, OSError):
                error = write_error(self.path, error)
            hint = "steps are kept again when that is put right"
            raise InputError(error.what, file=self.path, hint=hint) from None


def _checksum(said: bytes) -> bytes:
    return hashlib.sha256(said).hexdigest()[:16].encode()


def _line(value: Any) -> bytes:
    said = json.dumps(value, ensure_ascii=False, separators=(",", ":")).encode()
    return _checksum(said) + b" " + said + b"\n"


def _sync_folder(folder: Path) -> None:
    """Wait until the disk has a folder's names, where it can be asked to."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)

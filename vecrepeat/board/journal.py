"""The journal: every step since the recipe was opened, written down before it is answered.

One line of JSON each, the first line says what the steps start from. A line that a crash cut
short is left out; all before it hold.
"""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from vecrepeat.errors import InputError
from vecrepeat.files import write_error, write_whole

VERSION = 1


@dataclass(frozen=True)
class Found:
    """What an earlier board left.

    Attributes:
        text: the recipe's text that the steps start from.
        base: the moment they start from, plain data.
        digest: SHA-256 of the recipe's file as the board last knew it.
        steps: the steps in order.
    """

    text: str
    base: Any
    digest: str
    steps: tuple[Any, ...]


def journal_path(recipe: Path) -> Path:
    """Return where a recipe's journal is kept: hidden, beside it."""
    return recipe.parent / f".{recipe.name}.journal"


def read_journal(path: Path) -> Found | None:
    """Return what an earlier board left, or None where nothing is.

    Raises:
        InputError: there is a file that is no journal, or it can't be read.
    """
    try:
        lines = path.read_bytes().split(b"\n")
    except FileNotFoundError:
        return None
    except OSError as error:
        raise InputError(f"can't read the journal: {error.strerror}", file=path) from None
    # What stands after the last line's end was cut short.
    read = []
    for line in lines[:-1]:
        try:
            read.append(json.loads(line))
        except ValueError:
            break
    try:
        head = read[0]
        if head["version"] != VERSION:
            raise KeyError
        return Found(head["text"], head["base"], head["digest"], tuple(read[1:]))
    except (IndexError, KeyError, TypeError):
        raise InputError(
            "it is no journal of a board", file=path, hint="move it away to start afresh"
        ) from None


class Journal:
    """The journal that this board writes.

    Args:
        path: where.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._size: int | None = None

    def write(self, text: str, base: Any, digest: str, steps: Sequence[Any]) -> None:
        """Write the whole journal anew.

        Raises:
            InputError: it can't be written.
        """
        head = {"version": VERSION, "digest": digest, "base": base, "text": text}
        data = b"".join(_line(one) for one in (head, *steps))
        write_whole(self.path, data, edits=self.path)
        self._size = len(data)

    @property
    def begun(self) -> bool:
        """Whether there is a journal of this board's on the disk."""
        return self._size is not None

    def add(self, step: Any) -> None:
        """Write one more step, and wait until the disk has it.

        Raises:
            InputError: it can't be written, or something else writes there.
        """
        try:
            if self.path.stat().st_size != self._size:
                raise InputError(
                    "another board is at work on this recipe", file=self.path, hint="close one"
                )
            with self.path.open("ab") as out:
                self._size += out.write(_line(step))
                out.flush()
                os.fsync(out.fileno())
        except OSError as error:
            raise write_error(self.path, error) from None

    def remove(self) -> None:
        """Take the journal away: all that it says is saved, or let go."""
        self.path.unlink(missing_ok=True)
        self._size = None


def _line(value: Any) -> bytes:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"

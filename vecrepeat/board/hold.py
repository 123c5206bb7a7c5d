"""Holding a recipe: one board at a time works on it, and the next is told where.

The lock is the system's, so it ends with its process however that ends. What is locked is a
hidden file beside the recipe, by whichever path that is reached: the recipe itself is replaced
at every save. The file says where the board's page is; the key is in it, so it is its owner's
alone to read.
"""

from __future__ import annotations

import errno
import http.client
import json
import os
import socket
import stat
import sys
import time
from contextlib import closing, suppress
from pathlib import Path
from typing import Self

from vecrepeat.core.errors import InputError
from vecrepeat.util.files import write_error

_HELD = (errno.EAGAIN, errno.EACCES, errno.EDEADLK)
"""What locking fails with where another process has the lock; anything else: there are no locks."""

PATIENCE = 2.0
"""Seconds in which a board that is just starting is to say where it is."""

if sys.platform == "win32":
    import msvcrt

    def _lock(handle: int) -> None:
        # What is locked can't be read there: a byte far behind what is written. From memory.
        os.lseek(handle, 1 << 30, os.SEEK_SET)
        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
else:
    import fcntl

    def _lock(handle: int) -> None:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)


class HeldError(InputError):
    """Another board holds the recipe.

    Args:
        recipe: which.
        address: of that board's page, or "" where it isn't known or is another machine's.
        host: the machine it runs on, where that is not this one.
    """

    def __init__(self, recipe: Path, address: str, host: str) -> None:
        self.address = address
        where = f" on the machine “{host}”" if host else ""
        hint = f"its page: {address}" if address else "close it first"
        super().__init__(f"another board is at work on this recipe{where}", file=recipe, hint=hint)


def followed(path: Path) -> Path:
    """Return the file that a path leads to through links, relative where the path is.

    Raises:
        InputError: links lead round in a circle.
    """
    for _ in range(40):
        if not path.is_symlink():
            return path
        path = path.parent / path.readlink()
    raise InputError("its links lead round in a circle", file=path)


class Hold:
    """A recipe held for this board; ``note`` is to be told where the folder knows no locks.

    Raises:
        HeldError: another board has it.
        InputError: the file beside it can't be written.
    """

    def __init__(self, recipe: Path) -> None:
        recipe = followed(recipe)
        self.path = recipe.parent / f".{recipe.name}.board"
        self.note = ""
        while True:
            self._open()
            try:
                _lock(self._handle)
            except OSError as error:
                self._refuse(recipe, error.errno in _HELD)
            if self._is_ours():
                return
            os.close(self._handle)

    def _open(self) -> None:
        flags = os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0)
        try:
            self._handle = os.open(self.path, flags | getattr(os, "O_NONBLOCK", 0), 0o600)
        except PermissionError as error:
            if not self.path.exists():
                raise write_error(self.path, error) from None
            raise InputError(
                "another person's board works here, or did",
                file=self.path,
                hint="if it has ended, delete this file",
            ) from None
        except OSError as error:
            raise write_error(self.path, error) from None

    def _refuse(self, recipe: Path, locked: bool) -> None:
        """Say that another board has the recipe; return if none has."""
        host, address = self._read_address(PATIENCE if locked else 0)
        here = host in ("", socket.gethostname())
        if locked or (address and (not here or _answers(address))):
            os.close(self._handle)
            raise HeldError(recipe, address if here else "", "" if here else host)
        self.note = "this folder knows no locks: see that no second board works on the recipe"

    def _read_address(self, patience: float) -> tuple[str, str]:
        """Return the host and the address in the file, once they are there."""
        end = time.monotonic() + patience
        while True:
            try:
                os.lseek(self._handle, 0, os.SEEK_SET)
                host, address = json.loads(os.read(self._handle, 4096))
                return str(host), str(address)
            except (OSError, ValueError, TypeError):
                if time.monotonic() > end:
                    return "", ""
                time.sleep(0.05)

    def _is_ours(self) -> bool:
        """Whether what is locked is the file of that name, and nobody else's to read."""
        if not self._is_there():
            return False
        mine = os.fstat(self._handle)
        if not stat.S_ISREG(mine.st_mode):
            os.close(self._handle)
            raise InputError("this is no plain file", file=self.path, hint="delete it")
        if sys.platform != "win32":
            if mine.st_uid != os.geteuid():
                self.path.unlink()
                return False
            os.fchmod(self._handle, 0o600)
        return True

    def _is_there(self) -> bool:
        """Whether the file of that name is the one that was opened."""
        try:
            return os.path.samestat(os.fstat(self._handle), os.stat(self.path))
        except FileNotFoundError:
            # One that has just ended took it away.
            return False

    def tell(self, address: str) -> None:
        """Write down where this board's page is.

        Raises:
            InputError: it can't be written.
        """
        try:
            os.ftruncate(self._handle, 0)
            os.lseek(self._handle, 0, os.SEEK_SET)
            os.write(self._handle, json.dumps([socket.gethostname(), address]).encode())
        except OSError as error:
            raise write_error(self.path, error) from None

    def __enter__(self) -> Self:
        """Return itself."""
        return self

    def __exit__(self, *what: object) -> None:
        """Let the recipe go."""
        self.release()

    def release(self) -> None:
        """Let the recipe go, and take the file away."""
        if self._handle < 0:
            return
        # Windows takes no open file away; elsewhere it goes before another can lock it.
        mine = self._is_there()
        if mine and sys.platform != "win32":
            self.path.unlink()
        os.close(self._handle)
        self._handle = -1
        if mine and sys.platform == "win32":
            with suppress(OSError):
                self.path.unlink()


def _answers(address: str) -> bool:
    """Whether something answers at an address of this machine."""
    try:
        with closing(http.client.HTTPConnection(address.split("/")[2], timeout=1)) as line:
            line.request("HEAD", "/")
            return line.getresponse().status == 200
    except (OSError, IndexError, http.client.HTTPException):
        return False

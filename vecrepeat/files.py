"""Writing files whole or not at all."""

from __future__ import annotations

import errno
import os
import shutil
import tempfile
import threading
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, BinaryIO

from vecrepeat.errors import InputError

_REASONS = {
    errno.ENOSPC: "the disk is full",
    errno.EDQUOT: "the disk quota is used up",
    errno.EACCES: "writing there is not permitted",
    errno.EPERM: "writing there is not permitted",
    errno.EROFS: "the disk is read-only",
    errno.EISDIR: "there is a folder of that name",
    errno.ENOTDIR: "a part of the path is not a folder",
    errno.EEXIST: "a part of the path is not a folder",
    errno.ENAMETOOLONG: "the name is too long",
    errno.EFBIG: "the file is larger than this disk allows",
}


def write_error(path: Path, error: OSError) -> InputError:
    """Return the one-line error for a failed write."""
    reason = _REASONS.get(error.errno or 0) or (error.strerror or str(error)).lower()
    return InputError(f"can't write the file: {reason}", file=path, hint="choose another place")


_unfinished: set[str] = set()
_settling = threading.Lock()
"""Held while a file or folder gets or loses the name that it is listed under."""


@contextmanager
def scratch_folder() -> Iterator[Path]:
    """Make a folder for as long as it is worked in."""
    with _settling:
        folder = tempfile.mkdtemp(prefix="vecrepeat-")
        _unfinished.add(folder)
    try:
        yield Path(folder)
    finally:
        shutil.rmtree(folder, ignore_errors=True)
        _unfinished.discard(folder)


def discard_unfinished() -> None:
    """Remove what is half written, for good: nothing gets a name any more in this process."""
    _settling.acquire()
    for path in _unfinished:
        with suppress(OSError):
            os.unlink(path)
        shutil.rmtree(path, ignore_errors=True)


@contextmanager
def written_whole(path: Path) -> Iterator[BinaryIO]:
    """Open a file for writing beside ``path`` and rename it there when all went well.

    A kill at any moment leaves at most a ``.part`` file, never half a file under the final
    name. Missing folders are made.

    Raises:
        InputError: the folder or file can't be written, or the disk is full.
    """
    path = Path(path)
    part: str | None = None
    try:
        if path.is_dir():
            raise IsADirectoryError(errno.EISDIR, "is a directory")
        path.parent.mkdir(parents=True, exist_ok=True)
        with _settling:
            handle, part = tempfile.mkstemp(dir=path.parent, prefix=".vecrepeat-", suffix=".part")
            _unfinished.add(part)
        with os.fdopen(handle, "wb") as out:
            yield out
            out.flush()
            os.fsync(out.fileno())
        # mkstemp makes private files; a print file is an ordinary one.
        umask = os.umask(0)
        os.umask(umask)
        os.chmod(part, 0o666 & ~umask)
        with _settling:
            os.replace(part, path)
            _unfinished.discard(part)
            part = None
    except OSError as error:
        raise write_error(path, error) from None
    finally:
        if part is not None:
            with suppress(FileNotFoundError):
                os.unlink(part)
            _unfinished.discard(part)


def write_whole(path: Path, data: bytes | memoryview) -> None:
    """Write bytes through :func:`written_whole`."""
    with written_whole(path) as out:
        out.write(data)


def read_toml(path: Path, unreadable: str, unparsed: str) -> dict[str, Any]:
    """Return a TOML file's data.

    Args:
        path: the file.
        unreadable: what to say where it can't be read, before the reason.
        unparsed: what to say where it is not TOML, likewise.

    Raises:
        InputError: it can't be read, or is not TOML.
    """
    try:
        data = path.read_bytes()
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise InputError(f"{unreadable}: {reason}", file=path) from None
    return parse_toml(data, path, unparsed)


def parse_toml(data: bytes, path: Path, unparsed: str) -> dict[str, Any]:
    """Return the data of a TOML file that has been read; see :func:`read_toml`."""
    try:
        return tomllib.loads(data.decode())
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise InputError(f"{unparsed}: {error}", file=path) from None

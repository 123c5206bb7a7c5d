"""Writing files whole or not at all."""

from __future__ import annotations

import errno
import os
import stat
import tempfile
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
        handle, part = tempfile.mkstemp(dir=path.parent, prefix=".vecrepeat-", suffix=".part")
        with os.fdopen(handle, "wb") as out:
            yield out
            out.flush()
            os.fsync(out.fileno())
        # mkstemp makes private files; a print file is an ordinary one.
        umask = os.umask(0)
        os.umask(umask)
        os.chmod(part, 0o666 & ~umask)
        os.replace(part, path)
        part = None
    except OSError as error:
        raise write_error(path, error) from None
    finally:
        if part is not None:
            with suppress(FileNotFoundError):
                os.unlink(part)


def write_whole(path: Path, data: bytes | memoryview) -> None:
    """Write bytes through :func:`written_whole`."""
    with written_whole(path) as out:
        out.write(data)


def read_plain(path: Path) -> bytes:
    """Return the bytes of a plain file.

    Raises:
        OSError: it can't be read, or is another thing: a pipe would be waited for without end.
    """
    wait_not = getattr(os, "O_NONBLOCK", 0)
    with open(path, "rb", opener=lambda name, flags: os.open(name, flags | wait_not)) as stream:
        if not stat.S_ISREG(os.fstat(stream.fileno()).st_mode):
            raise OSError(errno.EINVAL, "it is no plain file")
        return stream.read()


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

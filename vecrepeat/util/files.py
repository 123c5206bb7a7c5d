"""Reading files within bounds, and writing them whole or not at all, never over a source."""

from __future__ import annotations

import errno
import hashlib
import os
import re
import shutil
import stat
import tempfile
import threading
import tomllib
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from typing import Any, BinaryIO

from vecrepeat.core.errors import InputError
from vecrepeat.util.filekinds import HEAD, kind_of

MOST_TEXT = 4 << 20
"""The longest recipe or table in bytes: some 40,000 placements."""

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


class _Run:
    """The files that one command has read and written, by what they are on the disk.

    A name won't do: hard links, symbolic links and the case of letters give a file several. Nor
    will what it is on the disk alone: an editor that saves meanwhile puts another in its place.

    Attributes:
        read: files that were read.
        written: files that got their final names.
        once: whether a file is written at most once; a program that uses the library may write
            the same file again and again, and read it meanwhile.
    """

    def __init__(self, once: bool) -> None:
        self.read: set[object] = set()
        self.written: set[object] = set()
        self.once = once


_run = _Run(once=False)
_unfinished: set[str] = set()
_records: list[dict[Path, str]] = []
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
def one_run() -> Iterator[None]:
    """Hold what is done within as one command: forget what was read and written before it.

    Each file is written once.
    """
    global _run
    before, _run = _run, _Run(once=True)
    try:
        yield
    finally:
        _run = before


def _keys(path: Path, found: os.stat_result) -> set[object]:
    return {os.path.realpath(path), (found.st_dev, found.st_ino)}


def read_plain(path: Path, most: int, *, flags: int = 0) -> bytes:
    """Return at most so many bytes of a plain file, which no output is then written over.

    Args:
        path: the file.
        most: how many bytes to read at most, -1 for all.
        flags: for :func:`os.open`, besides the usual ones.

    Raises:
        OSError: it can't be read, or is a folder, a pipe or a device: none is waited for.
        ValueError: no file can have that name.
    """
    if path.is_dir():
        raise IsADirectoryError(errno.EISDIR, "this is a folder, not a file")
    flags |= os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    with open(os.open(path, flags), "rb") as stream:
        found = os.fstat(stream.fileno())
        if not stat.S_ISREG(found.st_mode):
            raise OSError(errno.EINVAL, "it is not a plain file")
        data = stream.read(most)
    note_read(path, found)
    for record in _records:
        record[path] = _digest(data)
    return data


@contextmanager
def recorded() -> Iterator[dict[Path, str]]:
    """Give what files held that are read within, by their digests; "" of one that is missing."""
    record: dict[Path, str] = {}
    _records.append(record)
    try:
        yield record
    finally:
        _records.remove(record)


def note_missing(path: Path) -> None:
    """Note that a file was looked for and is not there; see :func:`recorded`."""
    for record in _records:
        record[path] = ""


def digest_of(path: Path) -> str:
    """Return the digest of what a file holds now, "" if it is not there; see :func:`recorded`.

    Raises:
        OSError: it can't be read.
    """
    return _digest(read_plain(path, -1)) if path.exists() else ""


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def note_read(path: Path, found: os.stat_result | None = None) -> None:
    """Note that a file that is there is read, so that no output is written over it."""
    keys = _keys(path, found or os.stat(path))
    if not keys & _run.written:
        _run.read |= keys


def read_file(path: Path, most: int, what: str = "file") -> bytes:
    """Return a plain file of at most so many bytes; see :func:`read_plain`.

    Raises:
        InputError: it can't be read, is no plain file, or is larger.
    """
    data = read_head(path, most + 1, what)
    if len(data) > most:
        raise InputError(f"the {what} is larger than {most >> 20} MiB", file=path)
    return data


def read_head(path: Path, most: int, what: str = "file") -> bytes:
    """Return the first bytes of a plain file, at most so many; see :func:`read_plain`.

    Raises:
        InputError: it can't be read, or is no plain file.
    """
    try:
        return read_plain(path, most)
    except (OSError, ValueError) as error:
        reason = (getattr(error, "strerror", None) or str(error)).lower()
        if isinstance(error, FileNotFoundError):
            reason = "there is no such file"
        raise InputError(f"can't read the {what}: {reason}", file=path) from None


def final_place(path: Path, *, edits: Path | None = None) -> Path:
    """Return where a file is going to stand: where a link of that name leads.

    Args:
        path: the file to write.
        edits: the file that the command is to change, the only one that it may read and write.

    Raises:
        InputError: there is a folder, a pipe, a device or a file that may not be written; the
            file was read, or written already.
    """
    try:
        found = os.stat(path)
    except FileNotFoundError:
        return Path(os.path.realpath(path)) if path.is_symlink() else path
    except ValueError:
        raise InputError("no file can have that name", file=path) from None
    except OSError as error:
        raise write_error(path, error) from None
    if stat.S_ISDIR(found.st_mode):
        raise write_error(path, OSError(errno.EISDIR, ""))
    if not stat.S_ISREG(found.st_mode):
        raise InputError(
            "it is a pipe or a device, not a plain file", file=path, hint="give another name"
        )
    keys = _keys(path, found)
    if edits is None or os.path.realpath(edits) not in keys:
        if keys & _run.read:
            raise InputError(
                "this file is read, and nothing is written over what is read",
                file=path,
                hint="give another name",
            )
        if _run.once and keys & _run.written:
            raise InputError(
                "two files would both be written to it", file=path, hint="give each its own name"
            )
    if not os.access(path, os.W_OK):
        raise write_error(path, OSError(errno.EACCES, ""))
    return Path(os.path.realpath(path)) if path.is_symlink() else path


def _hold_kind(path: Path, standing: Path, part: str) -> None:
    """Raise where another kind of file stands under a name than is to get it.

    Raises:
        InputError: so it is.
    """
    heads = []
    for file in (standing, Path(part)):
        with suppress(FileNotFoundError), file.open("rb") as stream:
            heads.append(stream.read(HEAD))
    if not (len(heads) == 2 and heads[0]):
        return
    there, new = map(kind_of, heads)
    if there != new:
        raise InputError(
            f"{there} stands there, and {new} is not written over it",
            file=path,
            hint="give another name, or move it away",
        )


@contextmanager
def written_whole(path: Path, *, edits: Path | None = None) -> Iterator[BinaryIO]:
    """Open a file for writing beside ``path`` and rename it there when all went well.

    A kill at any moment leaves at most a ``.part`` file, never half a file under the final
    name. Missing folders are made. A link stays, and what it leads to is replaced.

    Args:
        path: the file to write.
        edits: the file that the command is to change, the only one that it may read and write,
            whatever has become of it.

    Raises:
        InputError: the folder or file can't be written, or the disk is full; a file that was
            read stands there, or one of another kind.
    """
    path = Path(path)
    part: str | None = None
    try:
        place = final_place(path, edits=edits)
        place.parent.mkdir(parents=True, exist_ok=True)
        with _settling:
            handle, part = tempfile.mkstemp(dir=place.parent, prefix=".vecrepeat-", suffix=".part")
            _unfinished.add(part)
        with os.fdopen(handle, "wb") as out:
            yield out
            out.flush()
            os.fsync(out.fileno())
        # Others may have been at work meanwhile.
        place = final_place(path, edits=edits)
        if edits is None or os.path.realpath(edits) != os.path.realpath(path):
            _hold_kind(path, place, part)
        # mkstemp makes private files; a print file is an ordinary one.
        umask = os.umask(0)
        os.umask(umask)
        os.chmod(part, 0o666 & ~umask)
        with _settling:
            os.replace(part, place)
            _unfinished.discard(part)
            part = None
        keys = _keys(place, os.stat(place))
        _run.read -= keys
        _run.written |= keys
    except OSError as error:
        raise write_error(path, error) from None
    finally:
        if part is not None:
            with suppress(FileNotFoundError):
                os.unlink(part)
            _unfinished.discard(part)


def write_whole(path: Path, data: bytes | memoryview, *, edits: Path | None = None) -> None:
    """Write bytes through :func:`written_whole`."""
    with written_whole(path, edits=edits) as out:
        out.write(data)


def write_together(files: Mapping[Path, bytes], *, edits: Path | None = None) -> None:
    """Write several files whole, all of them or none.

    Args:
        files: what each is to hold.
        edits: the one of them that is changed, as of :func:`written_whole`.

    Raises:
        InputError: as :func:`written_whole`.
    """
    with ExitStack() as stack:
        opened = [
            (stack.enter_context(written_whole(path, edits=edits if path == edits else None)), path)
            for path in files
        ]
        for out, path in opened:
            try:
                out.write(files[path])
                out.flush()
                os.fsync(out.fileno())
            except OSError as error:
                raise write_error(path, error) from None


def read_text(path: Path, what: str) -> str:
    """Return a text file of at most :data:`MOST_TEXT` bytes, its line ends as they are.

    Raises:
        InputError: it can't be read, is larger, or is not UTF-8.
    """
    try:
        return read_file(path, MOST_TEXT, what).decode()
    except UnicodeDecodeError:
        raise InputError("it is not UTF-8 text", file=path, hint="save it as UTF-8") from None


def read_toml(path: Path, what: str) -> dict[str, Any]:
    """Return a TOML file's data; ``what`` it is, such as “table”, is for errors.

    Raises:
        InputError: it can't be read, or is not TOML.
    """
    return parse_toml(read_text(path, what), path)


def parse_toml(text: str, path: Path) -> dict[str, Any]:
    """Return the data of a TOML file's text.

    Raises:
        InputError: it is not TOML (v1.0.0); the message names the line.
    """
    try:
        return tomllib.loads(text.removeprefix("\ufeff"))
    # Numbers of thousands of digits and lists within lists without end are no TOML of ours.
    except (ValueError, RecursionError) as error:
        what, _, where = str(error).partition(" (at ")
        line = re.match(r"line \d+", where)
        last = f"line {len(text.splitlines())}"
        raise InputError(
            f"{line.group() if line else last}: not TOML: {what.lower()}",
            file=path,
            hint='a line is such as layout = "half-drop"',
        ) from None

"""What reading a file worked out, kept in the user's cache folder for the next time.

An entry is found by what the file holds, the options and the program's own state; it names the
other files that went into it, by what they held, and is a miss where any of them has changed.
"""

from __future__ import annotations

import hashlib
import io
import os
import pickle
import struct
import time
from collections.abc import Callable
from contextlib import suppress
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any, TypeVar, cast

import numpy as np
import shapely

from vecrepeat.core.errors import InputError
from vecrepeat.util import files

T = TypeVar("T")

VARIABLE = "VECREPEAT_CACHE"
"""``off`` switches it off; anything else that is not empty is the folder to use."""

MOST_BYTES = 512 << 20
"""All entries together; what has not been used for longest goes first."""

WORTHWHILE = 0.01
"""Seconds of processor time below which working it out again is as quick as looking it up."""

_MARK = b"vecrepeat kept\n"
_HEAD = struct.Struct(f"<{len(_MARK)}s32s")
"""The mark, and the digest of all that follows the head."""

_SIZE = struct.Struct("<Q")
"""The length of the list of files, which follows; then comes the result."""

_DEPENDED_ON = ("shapely", "numpy", "resvg_py", "uharfbuzz", "svgelements", "PIL")
"""Modules of libraries that results depend on."""

_LARGEST = 256 << 20
"""Bytes of a file beyond which none is looked up: readers refuse it."""

_kept = 0


def switch_off() -> None:
    """Neither look up nor keep anything in this process and those it starts."""
    os.environ[VARIABLE] = "off"


def folder() -> Path | None:
    """Return the folder of the entries, there or not; None where nothing is kept."""
    chosen = os.environ.get(VARIABLE, "")
    if chosen == "off":
        return None
    if chosen:
        return Path(chosen)
    import platformdirs

    return platformdirs.user_cache_path("vecrepeat", appauthor=False)


def remembered(
    kind: str, file: Path, options: object, work: Callable[[], T], *, lettered: bool = False
) -> T:
    """Return what ``work`` gives, from the cache where it has been worked out before.

    Args:
        kind: what is worked out.
        file: what is read first, and all else is named by.
        options: all else that the result depends on; its ``repr`` must say it whole.
        work: reads the file and works it out; the result must pickle.
        lettered: whether the fonts of this machine go into it where the file names text.

    Raises:
        Exception: what ``work`` raises; nothing is kept then.
    """
    where = folder()
    if where is None:
        return work()
    try:
        data = files.read_plain(file, _LARGEST + 1)
    except (OSError, ValueError):
        return work()  # It says what is wrong.
    if len(data) > _LARGEST:
        return work()
    asked = [kind, file.name, repr(options), _program(), hashlib.sha256(data).hexdigest()]
    if lettered and (b"text" in data or data.startswith(b"\x1f\x8b")):
        asked.append(_fonts())
    return _found_or_kept(where, asked, file, work)


def kept(kind: str, of: bytes, work: Callable[[], T]) -> T:
    """Return what ``work`` gives, likewise, where it depends on these bytes and on no file."""
    where = folder()
    if where is None:
        return work()
    asked = [kind, _program(), hashlib.sha256(of).hexdigest()]
    return _found_or_kept(where, asked, None, work)


def _found_or_kept(where: Path, asked: list[str], file: Path | None, work: Callable[[], T]) -> T:
    entry = where / f"{hashlib.sha256(repr(asked).encode()).hexdigest()}.kept"
    beside = file.parent if file else where
    found = _looked_up(entry, beside)
    if found is not None:
        return cast(T, found[0])
    start = time.process_time()
    with files.recorded() as read:
        result = work()
    if time.process_time() - start >= WORTHWHILE:
        others = [(path, held) for path, held in read.items() if path != file]
        _keep(entry, result, [(_named(path, beside), held) for path, held in others])
    return result


class _Pickler(pickle.Pickler):
    """Takes polygons an array at a time: one by one they took most of a looking up."""

    def reducer_override(self, obj: object) -> Any:
        if isinstance(obj, np.ndarray) and obj.dtype == object and shapely.is_geometry(obj).all():
            return shapely.from_wkb, (shapely.to_wkb(obj).tolist(),)
        return NotImplemented


def _looked_up(entry: Path, beside: Path) -> tuple[object] | None:
    """Return what an entry holds; None if there is none, it is damaged or a file has changed."""
    try:
        data = entry.read_bytes()
        mark, digest = _HEAD.unpack_from(data)
        rest = memoryview(data)[_HEAD.size :]
        if mark != _MARK or hashlib.sha256(rest).digest() != digest:
            return None
        listed = _SIZE.size + _SIZE.unpack_from(rest)[0]
        for name, held in pickle.loads(rest[_SIZE.size : listed]):
            if files.digest_of(beside / name) != held:
                return None
        result = pickle.loads(rest[listed:])
        os.utime(entry)
    except (OSError, ValueError, struct.error):
        return None
    return (result,)


def _keep(entry: Path, result: object, read: list[tuple[str, str]]) -> None:
    """Write an entry, beside its place first: other processes look for it at any time."""
    global _kept
    listed = pickle.dumps(read)
    stream = io.BytesIO()
    _Pickler(stream, pickle.HIGHEST_PROTOCOL).dump(result)
    rest = _SIZE.pack(len(listed)) + listed + stream.getvalue()
    digest = hashlib.sha256(rest).digest()
    # A full disk, or a folder that may not be written to, only makes the next reading slower.
    with suppress(OSError, InputError):
        entry.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        # What stands there can't be used.
        entry.unlink(missing_ok=True)
        files.write_whole(entry, _HEAD.pack(_MARK, digest) + rest)
        # Looking through them all at each of hundreds would take longer than what it saves.
        if _kept % 64 == 0:
            _trim(entry.parent)
        _kept += 1


def _trim(where: Path) -> None:
    """Remove the entries not used for longest until the rest fit, and parts left by a kill."""
    entries = []
    for path in where.iterdir():
        with suppress(OSError):  # Another process may have removed it.
            found = path.stat()
            if path.suffix == ".kept":
                entries.append((found.st_mtime, found.st_size, path))
            elif path.suffix == ".part" and time.time() - found.st_mtime > 3600:
                path.unlink()
    room = MOST_BYTES
    for _, size, path in sorted(entries, reverse=True):
        room -= size
        if room < 0:
            with suppress(OSError):
                path.unlink()


def _named(path: Path, beside: Path) -> str:
    """Return a file's name as seen from a folder, or its whole path where it lies elsewhere."""
    with suppress(ValueError):
        return str(path.resolve().relative_to(beside.resolve()))
    return str(path.resolve())


@lru_cache(maxsize=1)
def _program() -> str:
    """Return what this program and the libraries that results depend on are, as one digest."""
    paths = [
        os.path.join(folder, name)
        for folder, _, names in os.walk(Path(__file__).parents[1])
        for name in names
        if name.endswith(".py")
    ]
    # To ask for their versions takes three times as long; one that is installed has new files.
    found = (find_spec(name) for name in _DEPENDED_ON)
    paths += [spec.origin for spec in found if spec is not None and spec.origin is not None]
    stats = [(path, os.stat(path)) for path in sorted(paths)]
    stamps = [(path, stat.st_size, stat.st_mtime_ns) for path, stat in stats]
    return hashlib.sha256(repr(stamps).encode()).hexdigest()


@lru_cache(maxsize=1)
def _fonts() -> str:
    """Return what fonts there are, as one digest."""
    from vecrepeat.util.fonts import font_files

    found = [(str(path), path.stat()) for path in font_files()]
    stamps = [(name, stat.st_size, stat.st_mtime_ns) for name, stat in found]
    return hashlib.sha256(repr(stamps).encode()).hexdigest()

"""Files are written whole or not at all, and what goes wrong is told in one line."""

from __future__ import annotations

import ast
import errno
import os
import signal
import stat
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from vecrepeat.core.errors import InputError
from vecrepeat.util import files
from vecrepeat.util.files import one_run, read_file, write_together, written_whole


def write(path: Path, data: bytes = b"new") -> None:
    with written_whole(path) as out:
        out.write(data)


def fail_half_way(path: Path, error: BaseException) -> None:
    with written_whole(path) as out:
        out.write(b"half of it")
        out.flush()
        raise error


def names(folder: Path) -> list[str]:
    return sorted(os.listdir(folder))


def test_the_file_holds_what_was_written(tmp_path: Path) -> None:
    data = bytes(range(256)) * 5000
    write(tmp_path / "a.png", data)
    assert (tmp_path / "a.png").read_bytes() == data
    assert names(tmp_path) == ["a.png"]


def test_nothing_stands_under_the_name_before_all_is_written(tmp_path: Path) -> None:
    with written_whole(tmp_path / "a.png") as out:
        out.write(b"half")
        out.flush()
        assert not (tmp_path / "a.png").exists()


def test_an_existing_file_is_replaced(tmp_path: Path) -> None:
    (tmp_path / "a.png").write_bytes(b"a longer old file")
    write(tmp_path / "a.png", b"new")
    assert (tmp_path / "a.png").read_bytes() == b"new"
    assert names(tmp_path) == ["a.png"]


def test_missing_folders_are_made(tmp_path: Path) -> None:
    write(tmp_path / "a" / "b c" / "d.png")
    assert (tmp_path / "a" / "b c" / "d.png").read_bytes() == b"new"


def test_a_name_without_a_folder_is_written_here(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    write(Path("a.png"))
    assert names(tmp_path) == ["a.png"]


def test_the_file_is_as_readable_as_any_other(tmp_path: Path) -> None:
    mask = os.umask(0o027)
    try:
        write(tmp_path / "a.png")
    finally:
        os.umask(mask)
    assert stat.S_IMODE((tmp_path / "a.png").stat().st_mode) == 0o640


@pytest.mark.parametrize(
    "name",
    [
        # 255 bytes are the most a name may have on common file systems.
        "a" * 251 + ".png",
        "é" * 125 + ".png",
        "柄" * 83 + ".png",
        "🌸" * 62 + ".png",
        "with spaces and %{}.png",
    ],
    ids=["longest", "two bytes each", "three bytes each", "four bytes each", "odd characters"],
)
def test_any_name_the_disk_allows_can_be_written(tmp_path: Path, name: str) -> None:
    write(tmp_path / name)
    assert names(tmp_path) == [name]


@pytest.mark.parametrize(
    "error",
    [RuntimeError("x"), KeyboardInterrupt(), OSError(errno.ENOSPC, "x"), InputError("x")],
    ids=lambda e: type(e).__name__,
)
@pytest.mark.parametrize("old", [None, b"old"], ids=["no file before", "a file before"])
def test_a_failure_leaves_all_as_it_was(
    tmp_path: Path, error: BaseException, old: bytes | None
) -> None:
    path = tmp_path / "a.png"
    if old is not None:
        path.write_bytes(old)
    with pytest.raises((type(error), InputError)):
        fail_half_way(path, error)
    assert names(tmp_path) == ([] if old is None else ["a.png"])
    assert old is None or path.read_bytes() == old


@pytest.mark.parametrize(
    "error", [RuntimeError("mine"), KeyboardInterrupt(), InputError("mine")], ids=repr
)
def test_an_error_that_is_not_the_disks_passes_through(
    tmp_path: Path, error: BaseException
) -> None:
    with pytest.raises(type(error)) as caught:
        fail_half_way(tmp_path / "a.png", error)
    assert caught.value is error


REASONS = [
    # (errno, what the user is told)
    (errno.ENOSPC, "the disk is full"),
    (errno.EDQUOT, "quota"),
    (errno.EACCES, "not permitted"),
    (errno.EPERM, "not permitted"),
    (errno.EROFS, "read-only"),
    (errno.ENAMETOOLONG, "too long"),
    (errno.EFBIG, "larger than this disk allows"),
    (errno.EIO, "input/output error"),
]


@pytest.mark.parametrize(("number", "told"), REASONS, ids=[errno.errorcode[r[0]] for r in REASONS])
@pytest.mark.parametrize("when", ["while writing", "when opening", "when renaming"])
def test_what_the_disk_refuses_is_told_in_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, told: str, when: str
) -> None:
    error = OSError(number, os.strerror(number))

    def refuse(*_: object, **__: object) -> None:
        raise error

    if when == "when opening":
        monkeypatch.setattr(tempfile, "mkstemp", refuse)
    if when == "when renaming":
        monkeypatch.setattr(os, "replace", refuse)
    path = tmp_path / "a.png"
    with pytest.raises(InputError, match=told) as caught:
        fail_half_way(path, error) if when == "while writing" else write(path)
    monkeypatch.undo()
    assert "\n" not in str(caught.value)
    assert str(path) in str(caught.value)
    assert names(tmp_path) == []


@pytest.mark.parametrize(
    ("place", "told"),
    [
        # A file where a folder should be.
        ("file/a.png", "not a folder"),
        # The same, further up.
        ("file/b/a.png", "not a folder"),
        # A folder where the file should be.
        ("folder", "there is a folder of that name"),
        # A name longer than any disk allows.
        ("n" * 300 + ".png", "too long"),
        # A folder's name longer than any disk allows.
        ("n" * 300 + "/a.png", "too long"),
    ],
    ids=["file as folder", "file as a higher folder", "folder", "long name", "long folder"],
)
def test_a_place_that_can_not_be_written(tmp_path: Path, place: str, told: str) -> None:
    (tmp_path / "file").write_bytes(b"here first")
    (tmp_path / "folder").mkdir()
    with pytest.raises(InputError, match=told):
        write(tmp_path / place)
    assert names(tmp_path) == ["file", "folder"]
    assert (tmp_path / "file").read_bytes() == b"here first"
    assert names(tmp_path / "folder") == []


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 256 KiB."""
    if os.name != "posix" or os.geteuid() != 0:
        pytest.skip("only root may mount a disk")
    disk = tmp_path / "disk"
    disk.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=256k", "tmpfs", str(disk)]
    if subprocess.run(mount, capture_output=True, check=False).returncode:
        pytest.skip("a disk can't be mounted here")
    try:
        yield disk
    finally:
        subprocess.run(["umount", str(disk)], check=True)


def test_a_disk_that_fills_up(small_disk: Path) -> None:
    """The real thing, at every size of buffering: the old file stays, no part is left."""

    def fill(step: int) -> None:
        with written_whole(small_disk / "a.png") as out:
            for _ in range(0, 1 << 21, step):
                out.write(bytes(step))

    write(small_disk / "a.png", b"old")
    for step in (1 << 10, 1 << 20):
        with pytest.raises(InputError, match="the disk is full"):
            fill(step)
        assert names(small_disk) == ["a.png"]
        assert (small_disk / "a.png").read_bytes() == b"old"


KILLED = """
import sys, time
from pathlib import Path
from vecrepeat.util.files import one_run, read_file, write_together, written_whole
with written_whole(Path(sys.argv[1])) as out:
    out.write(bytes(1_000_000))
    out.flush()
    print("writing", flush=True)
    time.sleep(60)
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="there is no SIGKILL here")
@pytest.mark.parametrize("old", [None, b"old"], ids=["no file before", "a file before"])
def test_a_killed_process_leaves_nothing_under_the_name(tmp_path: Path, old: bytes | None) -> None:
    path = tmp_path / "a.png"
    if old is not None:
        path.write_bytes(old)
    with subprocess.Popen(
        [sys.executable, "-c", KILLED, str(path)], stdout=subprocess.PIPE
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == b"writing\n"
        process.kill()
    assert process.returncode == -signal.SIGKILL
    assert path.exists() == (old is not None)
    assert old is None or path.read_bytes() == old
    rest = [name for name in names(tmp_path) if name != "a.png"]
    assert all(name.startswith(".") and name.endswith(".part") for name in rest)


@pytest.mark.parametrize(
    ("error", "line"),
    [
        (InputError("it is wrong"), "it is wrong"),
        (InputError("it is wrong", file="a.svg"), "a.svg: it is wrong"),
        (InputError("it is wrong", element="leaf"), "element “leaf”: it is wrong"),
        (InputError("it is wrong", hint="mend it"), "it is wrong (mend it)"),
        (
            InputError("it is wrong", file="a.svg", element="leaf", hint="mend it"),
            "a.svg: element “leaf”: it is wrong (mend it)",
        ),
        # One line, whatever its parts hold.
        (InputError("it\nis\twrong", file="a\nb.svg"), "a b.svg: it is wrong"),
    ],
    ids=["bare", "file", "element", "hint", "all", "line breaks"],
)
def test_an_error_is_one_line(error: InputError, line: str) -> None:
    assert str(error) == line


PNG, TIFF = b"\x89PNG\r\n\x1a\n", b"II*\x00"
KINDS = [
    # (what stands there, what is written, whether it may be)
    (b"", b"anything", True),
    (PNG + b"1", PNG + b"2", True),
    (PNG, TIFF, False),
    (b"name = 'x'\nart = 'a.svg'\n", b"\xef\xbb\xbfloose = ['b']\r\n", True),
    (b"[tool]\nname = 'x'\n", b"art = 'a.svg'\n", False),
    (b"<?xml version='1.0'?>\n<!-- x --><svg/>", b"<svg xmlns='x'/>", True),
    (b"<svg/>", b"art = 'a.svg'\n", False),
    (b"<!DOCTYPE html><svg/>", b"<svg/>", False),
    (b"<svg/>", b"<!doctype html><svg/>", False),
    (b"a,b\n1,2\n", b"c,d\n3,4\n", True),
    (b'{"a": 1}', b"a,b\n", False),
    (b"\x00" * 100, PNG, False),
    (b"\x1f\x8b\x08", b"<svg/>", False),
    ("é".encode() * 40_000, "ö".encode(), True),
]


@pytest.mark.parametrize(("there", "new", "may"), KINDS)
def test_a_file_is_written_over_its_own_kind_alone(
    tmp_path: Path, there: bytes, new: bytes, may: bool
) -> None:
    path = tmp_path / "a"
    path.write_bytes(there)
    if may:
        write(path, new)
    else:
        with pytest.raises(InputError, match="stands there"):
            write(path, new)
    assert path.read_bytes() == (new if may else there)
    assert names(tmp_path) == ["a"]


def test_what_was_read_is_known_under_any_name(tmp_path: Path) -> None:
    art = tmp_path / "Art.svg"
    art.write_bytes(b"<svg/>")
    (tmp_path / "link.svg").symlink_to("Art.svg")
    os.link(art, tmp_path / "hard.svg")
    (tmp_path / "way").symlink_to(tmp_path)
    with one_run():
        assert read_file(tmp_path / "link.svg", 100) == b"<svg/>"
        for name in ("Art.svg", "link.svg", "hard.svg", "way/hard.svg"):
            with pytest.raises(InputError, match="nothing is written over what is read"):
                write(tmp_path / name, b"<svg></svg>")
        # An editor that saves puts another file in its place.
        (tmp_path / "new").write_bytes(b"<svg>saved</svg>")
        os.replace(tmp_path / "new", art)
        with pytest.raises(InputError, match="nothing is written over what is read"):
            write(art, b"<svg></svg>")
    assert art.read_bytes() == b"<svg>saved</svg>"


def test_a_link_stays_and_what_it_leads_to_is_replaced(tmp_path: Path) -> None:
    there = tmp_path / "there"
    there.mkdir()
    (tmp_path / "a.png").symlink_to(there / "b.png")
    for data in (b"one", b"two"):
        # The first time it leads to nothing yet.
        write(tmp_path / "a.png", data)
        assert (tmp_path / "a.png").is_symlink()
        assert (there / "b.png").read_bytes() == data
    assert names(tmp_path) == ["a.png", "there"]
    (tmp_path / "loop").symlink_to("loop")
    with pytest.raises(InputError, match="can't write"):
        write(tmp_path / "loop")
    assert (tmp_path / "loop").is_symlink()


def test_a_pipe_and_a_device_are_refused(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "null").symlink_to(os.devnull)
    for name in ("pipe", "null"):
        with pytest.raises(InputError, match="a pipe or a device"):
            write(tmp_path / name)
    assert stat.S_ISFIFO((tmp_path / "pipe").stat().st_mode)
    with pytest.raises(InputError, match="no file can have that name"):
        write(tmp_path / "a\0b")


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write everything"
)
def test_a_file_that_is_locked_stays(tmp_path: Path) -> None:
    (tmp_path / "a.png").write_bytes(b"old")
    (tmp_path / "a.png").chmod(0o444)
    with pytest.raises(InputError, match="not permitted"):
        write(tmp_path / "a.png")
    assert (tmp_path / "a.png").read_bytes() == b"old"


def test_a_command_edits_one_recipe_and_writes_each_file_once(tmp_path: Path) -> None:
    recipe = tmp_path / "r.toml"
    recipe.write_bytes(b"art = 'a'\n")
    with one_run():
        read_file(recipe, 100)
        for data in (b"art = 'b'\n", b"art = 'c'\n"):
            with written_whole(recipe, edits=recipe) as out:
                out.write(data)
        write(tmp_path / "a.png")
        with pytest.raises(InputError, match="two files would both be written"):
            write(tmp_path / "a.png")
    assert recipe.read_bytes() == b"art = 'c'\n"


def test_a_program_may_look_at_what_it_wrote_and_write_it_again(tmp_path: Path) -> None:
    """As in a notebook, whose cells are run again and again in one process."""
    for data in (b"one", b"two"):
        write(tmp_path / "a.png", data)
        assert read_file(tmp_path / "a.png", 100) == data


def test_several_files_are_written_all_or_none(tmp_path: Path) -> None:
    write_together({tmp_path / "a": b"1", tmp_path / "b": b"2"})
    assert [(tmp_path / n).read_bytes() for n in names(tmp_path)] == [b"1", b"2"]
    (tmp_path / "c").mkdir()
    with pytest.raises(InputError, match="there is a folder of that name"):
        write_together({tmp_path / "a": b"3", tmp_path / "c": b"4"})
    assert (tmp_path / "a").read_bytes() == b"1"


def test_nothing_but_files_writes_files() -> None:
    """A writer that goes its own way would leave half a file, or write over a source."""
    package = Path(files.__file__).parents[1]
    allowed = {
        "util/files.py": "this is it",
        "board/journal.py": "grows by a line a step",
        "board/hold.py": "is locked, and written through what holds the lock",
        "batch/work.py": "its journal grows by a line a file",
        "board/certificate.py": "a key in a folder of its own, gone once it is read",
        "goods/selvedge.py": "a folder of its own, gone before it ends",
        "sources/bitmap.py": "opens the null device",
        "draw/cairo_worker.py": "opens memory that the program made for it",
    }
    for path in package.rglob("*.py"):
        own = path.relative_to(package).as_posix()
        for call in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(call, ast.Call) or own in allowed:
                continue
            name = getattr(call.func, "attr", getattr(call.func, "id", ""))
            assert name not in ("write_bytes", "mkstemp", "NamedTemporaryFile"), own
            assert name != "write_text" or isinstance(call.func, ast.Name), own
            if name == "open":
                modes = [a.value for a in call.args if isinstance(a, ast.Constant)]
                assert all(mode in ("r", "rb") for mode in modes), own

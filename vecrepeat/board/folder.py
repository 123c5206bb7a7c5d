"""The folder that the board was started on: what is in it, and nothing outside it.

Every path that a page names goes through :meth:`Folder.within`. What is dropped on a page is
copied into a folder of its design's own; only such copies are ever written again.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path, PurePosixPath
from typing import Any

from vecrepeat.core.errors import InputError
from vecrepeat.core.names import plain_name, slug, unique
from vecrepeat.recipe.files import (
    RECIPE_SUFFIX,
    is_collection,
    is_recipe,
    read_collection,
    read_recipe,
)
from vecrepeat.util.files import read_file, write_error, write_whole

ART = "art"
"""The folder of a design's copies."""

COPIED = ".copied"
"""The file in it that lists them, a name a line."""

DRAWINGS = (".svg", ".svgz")
KINDS = (*DRAWINGS, ".png", ".webp", ".tif", ".tiff", ".jpg", ".jpeg")
"""Endings of what may be dropped; whether it can be read shows when it is."""

MOST_FOUND = 400
"""The most designs that are listed, and likewise drawings and files."""

_LIST = 1 << 20
"""The most bytes of a list of copies."""


class Folder:
    """The folder at work, with its designs in it and in the folders within."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self._real = root.resolve()

    def within(self, name: str) -> Path:
        """Return where a name in the folder leads, links followed.

        Raises:
            InputError: it leads out of the folder, or is no name.
        """
        parts = PurePosixPath(name).parts
        odd = "\0\\:" if os.name == "nt" else "\0"
        # A dot begins what leads up, and what is hidden: journals, and where other boards are.
        if not parts or name[0] == "/" or any(p[0] == "." for p in parts) or set(odd) & set(name):
            raise InputError(f"“{name[:60]}” is no name in this folder")
        path = self.root.joinpath(*parts)
        if not self._is_inside(path):
            raise InputError(f"“{name[:60]}” leads out of this folder")
        return path

    def _is_inside(self, path: Path) -> bool:
        try:
            return path.resolve().is_relative_to(self._real)
        except (OSError, RuntimeError, ValueError):
            # Its links lead round in a circle, or it can't be a name.
            return False

    def name_of(self, path: Path) -> str:
        """Return a path in the folder as pages name it."""
        return path.relative_to(self.root).as_posix()

    # ---------------------------------------------------------------- what is there

    def _visible(self) -> Iterator[Path]:
        """Yield the plain files in the folder and in the folders within that lead nowhere else."""
        folders = [self.root, *sorted(p for p in self.root.iterdir() if p.is_dir())]
        for folder in folders:
            if folder != self.root and (folder.name.startswith(".") or folder.is_symlink()):
                continue
            with suppress(OSError):
                for path in sorted(folder.iterdir()):
                    hidden = path.name.startswith(".")
                    if not hidden and self._is_inside(path) and path.is_file():
                        yield path

    def designs(self) -> list[dict[str, Any]]:
        """Return the designs there, the newest first: recipes by name, title and time."""
        found: list[dict[str, Any]] = []
        for path in self._visible():
            if not is_recipe(path) or len(found) >= MOST_FOUND:
                continue
            # Tables of prints and limits are TOML too.
            with suppress(InputError, OSError):
                recipe = read_recipe(path)
                found.append(
                    {
                        "design": self.name_of(path),
                        "title": recipe.keys.get("name", path.stem),
                        "when": path.stat().st_mtime,
                    }
                )
        return sorted(found, key=lambda one: -float(one["when"]))

    def collections(self) -> list[dict[str, Any]]:
        """Return the collections there, the newest first: name, title, prints, colours, time."""
        found: list[dict[str, Any]] = []
        for path in self._visible():
            if not is_recipe(path) or len(found) >= MOST_FOUND:
                continue
            with suppress(InputError, OSError):
                if is_collection(path):
                    own = read_collection(path)
                    found.append(
                        {
                            "design": self.name_of(path),
                            "title": own.name,
                            "prints": len(own.prints),
                            "colours": list(own.palette.values()),
                            "when": path.stat().st_mtime,
                        }
                    )
        return sorted(found, key=lambda one: -float(one["when"]))

    def drawings(self) -> list[str]:
        """Return the drawings that lie in the folder itself and have no recipe beside them."""
        found = [
            path.name
            for path in self._visible()
            if path.parent == self.root
            and path.suffix.lower() in DRAWINGS
            and not path.with_suffix(RECIPE_SUFFIX).exists()
        ]
        return found[:MOST_FOUND]

    def written(self, output: str) -> list[dict[str, Any]]:
        """Return the files in a folder of outputs, the newest first: name, bytes and time."""
        folder = self.within(output)
        found: list[dict[str, Any]] = []
        for place, inside, names in os.walk(folder):
            inside[:] = [name for name in inside if not name.startswith(".")]
            for name in names:
                path = Path(place, name)
                if name.startswith(".") or path.is_symlink() or not path.is_file():
                    continue
                facts = path.stat()
                found.append(
                    {
                        "file": self.name_of(path),
                        "name": path.relative_to(folder).as_posix(),
                        "bytes": facts.st_size,
                        "when": facts.st_mtime,
                    }
                )
        return sorted(found, key=lambda one: -float(one["when"]))[:MOST_FOUND]

    # ---------------------------------------------------------------- what comes in

    def begin(self, title: str) -> str:
        """Make a folder for a new design's art; return the design's folder."""
        taken = {path.name.lower() for path in self.root.iterdir()}
        name = unique(slug(title)[:60] or "design", taken)
        (self.root / name / ART).mkdir(parents=True)
        (self.root / name / ART / COPIED).touch()
        return name

    def own(self, design: str) -> str:
        """Return the folder for a design's copies: where it was begun, else one of its own name.

        "" is the folder at work, where a board was started within one that was begun.
        """
        path = PurePosixPath(design)
        parent = "" if path.parent.name == "" else path.parent.as_posix()
        # Where art leads elsewhere, its copies have a place of their own.
        with suppress(InputError):
            if self._is_begun(parent):
                return parent
        return path.with_suffix("").as_posix()

    def _is_begun(self, name: str) -> bool:
        listed = self._art(name) / COPIED
        return listed.is_file() and not listed.is_symlink()

    def _art(self, name: str) -> Path:
        return self.within(f"{name}/{ART}" if name else ART)

    def make_room(self, name: str) -> None:
        """Make the folder for a design's copies, where it has none yet.

        Raises:
            InputError: it can't be made.
        """
        if self._is_begun(name):
            return
        art = self._art(name)
        try:
            art.mkdir(parents=True, exist_ok=True)
            (art / COPIED).touch(exist_ok=False)
        except OSError as error:
            raise write_error(art, error) from None

    def give_up(self, name: str) -> None:
        """Take away a design's folder into which nothing came."""
        if self.copies(name) or not self._is_begun(name):
            return
        folder = self.within(name)
        (folder / ART / COPIED).unlink()
        with suppress(OSError):
            (folder / ART).rmdir()
            folder.rmdir()

    def copies(self, name: str) -> list[str]:
        """Return the names of the copies in a design's folder."""
        if not self._is_begun(name):
            return []
        text = read_file(self._art(name) / COPIED, _LIST, "list of copies").decode(errors="replace")
        return [line for line in text.splitlines() if line]

    def place_for(self, name: str, file: str, *, known: bool = False) -> Path:
        """Return where a dropped file is copied to.

        Args:
            name: the design's folder.
            file: the name that it was dropped under.
            known: whether it must be a copy already, to be brought up to date.

        Raises:
            InputError: it is of no kind that is read, or is no copy of ours.
        """
        plain = plain_name(PurePosixPath(file.replace("\\", "/")).name)[-120:]
        if Path(plain).suffix.lower() not in KINDS:
            raise InputError("this is no art", hint="SVG, PNG, WebP, TIFF or JPEG")
        copies = self.copies(name)
        if not known and not self._is_begun(name):
            raise InputError("that is no folder of a design that was begun here")
        if known and plain not in copies:
            raise InputError(
                "this design has no copy of that name",
                hint="drop a drawing under the name that it came in with",
            )
        path = self.within("/".join(part for part in (name, ART, plain) if part))
        if path.is_symlink() or (path.exists() and plain not in copies):
            raise InputError("something else stands there under that name")
        return path

    def take_in(self, name: str, path: Path, data: bytes) -> None:
        """Write a copy, and list it."""
        copies = self.copies(name)
        if path.name not in copies:
            listed = path.with_name(COPIED)
            write_whole(listed, "\n".join([*copies, path.name, ""]).encode(), edits=listed)
        write_whole(path, data, edits=path)

    def let_go(self, name: str, path: Path) -> None:
        """Take a copy away again."""
        path.unlink(missing_ok=True)
        listed = path.with_name(COPIED)
        rest = [one for one in self.copies(name) if one != path.name]
        write_whole(listed, "\n".join([*rest, ""]).encode(), edits=listed)

    def take_demo(self) -> str:
        """Begin a design with a copy of the demo drawing; return the design's folder."""
        from vecrepeat.board.demo import DEMO

        name = self.begin(DEMO.stem)
        copy = self.place_for(name, DEMO.name)
        self.take_in(name, copy, read_file(DEMO, 8 << 20))
        shutil.copymode(DEMO, copy)
        return name

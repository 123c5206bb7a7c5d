"""The workshop: a folder's designs as they are opened, the jobs, and the tabs that look on."""

from __future__ import annotations

import asyncio
import secrets
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool

from vecrepeat.board.collection_table import CollectionTable
from vecrepeat.board.deeds import (
    BEGINNINGS,
    KINDS,
    as_text,
    output_of,
    said,
    said_beginning,
    typed,
)
from vecrepeat.board.design import Design
from vecrepeat.board.desk import ConflictError
from vecrepeat.board.folder import Folder
from vecrepeat.board.jobs import Job, Jobs
from vecrepeat.board.shelf import Shelf
from vecrepeat.board.tabs import Tabs
from vecrepeat.core.errors import InputError
from vecrepeat.core.names import plain_name
from vecrepeat.recipe.files import is_collection, is_recipe

LOOK_EVERY = 0.5
"""Seconds between looks at the disk."""

TICKET = 60.0
"""Seconds in which a file must be taken."""


class Workshop:
    """What the routes are thin over.

    Args:
        folder: the one at work.
        allowed: folders besides the art's own that linked pictures may be taken from.
        address: returns the address of a design's page; "" is the first page.
    """

    def __init__(
        self, folder: Folder, allowed: tuple[Path, ...], address: Callable[[str], str]
    ) -> None:
        self.folder, self._allowed, self._address = folder, allowed, address
        self.tabs = Tabs()
        self.shelf = Shelf()
        self.jobs = Jobs(folder.root, self._tell_of)
        self._designs: dict[str, Design | CollectionTable] = {}
        self._opening = asyncio.Lock()
        self._dropping = asyncio.Lock()
        self._tickets: dict[str, tuple[float, Path]] = {}

    # ---------------------------------------------------------------- designs

    def open(self, name: str) -> Design | CollectionTable:
        """Return a design or a collection, opened where it is not yet.

        Raises:
            HeldError: another board has it.
            InputError: it can't be read.
        """
        if name not in self._designs:
            recipe = self.folder.within(name)
            if not is_recipe(recipe):
                raise InputError("that is no recipe", file=name)
            if not recipe.is_file():
                raise InputError("there is no such file", file=recipe)
            design: Design | CollectionTable
            if is_collection(recipe):
                design = CollectionTable(name, self.folder, self._allowed, self.tabs)
            else:
                design = Design(name, recipe, self._allowed, self.tabs)
            design.hold.tell(self._address(name))
            self._designs[name] = design
        return self._designs[name]

    async def opened(self, name: str) -> Design | CollectionTable:
        """Return a design or a collection as :meth:`open`, without holding others up."""
        async with self._opening:
            return await run_in_threadpool(self.open, name)

    async def design(self, name: str) -> Design:
        """Return a design likewise; raises InputError where it is a collection."""
        found = await self.opened(name)
        if not isinstance(found, Design):
            raise InputError("that is a collection", file=name)
        return found

    async def collection(self, name: str) -> CollectionTable:
        """Return a collection likewise; raises InputError where it is a design."""
        found = await self.opened(name)
        if not isinstance(found, CollectionTable):
            raise InputError("that is no collection", file=name)
        return found

    async def watch(self) -> None:
        """Watch the disk for ever."""
        while True:
            await asyncio.sleep(LOOK_EVERY)
            for design in list(self._designs.values()):
                design.look_at_disk()

    async def standing(self, name: str) -> dict[str, Any]:
        """Return how things stand with a design, or with none."""
        own = (await self.opened(name)).standing() if name else {}
        return {**own, "jobs": self.jobs.as_list()}

    def end(self) -> None:
        """End what goes on."""
        for design in self._designs.values():
            design.end()
        self.jobs.end()
        self.shelf.end()
        self.tabs.end()

    def close(self, patience: float = -1) -> None:
        """Close the desks; see :meth:`vecrepeat.board.desk.Desk.close`."""
        for design in self._designs.values():
            design.close(patience)

    def release(self) -> None:
        """Let the recipes go."""
        for design in self._designs.values():
            design.hold.release()

    # ---------------------------------------------------------------- the first page

    async def home(self) -> Any:
        """Return the folder's designs, and drawings that could become some."""
        collections, designs, drawings = await asyncio.gather(
            run_in_threadpool(self.folder.collections),
            run_in_threadpool(self.folder.designs),
            run_in_threadpool(self.folder.drawings),
        )
        return {
            "folder": self.folder.root.resolve().name or "this folder",
            "path": str(self.folder.root.resolve()),
            "collections": collections,
            "designs": designs,
            "drawings": drawings,
        }

    async def picture(self, name: str) -> bytes:
        """Return a design's small cloth."""
        return await self.shelf.picture(self.folder.within(name))

    async def take_up(self, drawing: str) -> str:
        """Return the recipe of a drawing in the folder, begun beside it."""
        from vecrepeat.board.run import recipe_for

        path = self.folder.within(drawing)
        recipe, _ = await run_in_threadpool(recipe_for, path, None, None, self._allowed)
        return self.folder.name_of(recipe)

    # ---------------------------------------------------------------- art that comes in

    async def drop(self, name: str, file: str, what: str, data: bytes) -> Any:
        """Copy a file into a new design's folder, if it can be read; say what it holds."""
        if what not in BEGINNINGS:
            raise InputError(f"art can't be “{what[:20]}”")
        path = self.folder.place_for(name, file)
        self.folder.take_in(name, path, data)
        try:
            if what == "tile":
                return {"motifs": 0, "notes": []}
            return await self.shelf.read(path, what == "motifs")
        except InputError:
            self.folder.let_go(name, path)
            raise

    async def drop_anew(self, name: str, file: str, data: bytes) -> Any:
        """Bring a drawing of a design up to date, or take a new motif in; take it up.

        Originals are never written: where the recipe names one, it names a copy from then on.

        Raises:
            InputError: it can't be read; all stays.
        """
        # A second drawing is taken up by the design as the first one left it.
        async with self._dropping:
            return await self._take_up(name, file, data)

    async def _take_up(self, name: str, file: str, data: bytes) -> Any:
        design, own = await self.design(name), self.folder.own(name)
        known = plain_name(file)[-120:] in self.folder.copies(own)
        original = None if known else design.art_named(file)
        saved = original is not None and await run_in_threadpool(_holds, original, data)
        if saved:
            return await design.reread({"drop": False})
        if not known:
            self.folder.make_room(own)
        try:
            path = self.folder.place_for(own, file, known=known)
            before = path.read_bytes() if known else None
            self.folder.take_in(own, path, data)
            try:
                if known:
                    return await design.reread({"drop": False})
                loose = original is None or original not in design.pages
                await self.shelf.read(path, loose)
                if original:
                    return {**await design.replace_art(original, path), "copied": True}
                return {**await design.add_motifs(path), "new": True}
            except (InputError, ConflictError):
                if before is None:
                    self.folder.let_go(own, path)
                else:
                    self.folder.take_in(own, path, before)
                raise
        finally:
            self.folder.give_up(own)

    def begin(self, name: str, what: str, settings: dict[str, Any]) -> Job:
        """Begin a design with the art that has come in, as a job."""
        commands = typed(self.folder, said_beginning(self.folder, name, what, settings))
        design = f"{name}/{name}.toml"
        text = as_text(self.folder, commands)
        return self.jobs.start("check" if what == "tile" else "begin", design, commands, text)

    # ---------------------------------------------------------------- jobs and files

    def say(self, kind: str, design: str, settings: dict[str, Any]) -> str:
        """Return a deed as command lines."""
        return as_text(self.folder, said(self.folder, kind, design, settings))

    async def start(self, kind: str, name: str, settings: dict[str, Any]) -> Job:
        """Start a deed as a job, on the design as it lies on the cloth."""
        commands = typed(self.folder, said(self.folder, kind, name, settings))
        if not KINDS[kind].out:
            raise InputError(f"{kind} is no job")
        if name:
            # What is written is what is seen.
            await (await self.opened(name)).saved()
        text, told = as_text(self.folder, commands), KINDS[kind].told
        return self.jobs.start(kind, name, commands, text, told=told)

    async def written(self, name: str) -> Any:
        """Return the files written of a design, or of all."""
        folder = output_of(name)
        return {
            "folder": folder,
            "files": await run_in_threadpool(self.folder.written, folder),
        }

    def ticket(self, name: str, file: str) -> str:
        """Return the address that a written file can be taken from, once and soon."""
        path = self.folder.within(file)
        output = self.folder.within(output_of(name))
        if not path.resolve().is_relative_to(output.resolve()) or not path.is_file():
            raise InputError("that is no file that was written here")
        now = time.monotonic()
        self._tickets = {key: one for key, one in self._tickets.items() if one[0] > now}
        key = secrets.token_urlsafe(24)
        self._tickets[key] = (now + TICKET, path)
        return f"/taken/{key}/{quote(path.name)}"

    def taken(self, key: str) -> Path | None:
        """Return the file that a ticket is for; the ticket is used up."""
        until, path = self._tickets.pop(key, (0.0, None))
        return path if until > time.monotonic() else None

    def recall_tickets(self) -> None:
        """Let no ticket be good any more."""
        self._tickets.clear()

    def _tell_of(self, job: Job) -> None:
        self.tabs.tell({"job": job.as_dict()})


def _holds(file: Path, data: bytes) -> bool:
    """Return whether a file holds just that."""
    return file.is_file() and file.stat().st_size == len(data) and file.read_bytes() == data

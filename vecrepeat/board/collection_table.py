"""A collection on the table: what the pages that show it ask of its desk."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.responses import Response

from vecrepeat.blenders.settings import KINDS, MARKS, ORDERS, WAYS
from vecrepeat.board.collection_desk import CollectionDesk
from vecrepeat.board.deeds import as_text, said, typed
from vecrepeat.board.desk import ConflictError
from vecrepeat.board.folder import Folder
from vecrepeat.board.helper import Helper
from vecrepeat.board.hold import Hold
from vecrepeat.board.jobs import PROGRAM
from vecrepeat.board.tabs import Tabs
from vecrepeat.core.errors import InputError
from vecrepeat.core.names import slug
from vecrepeat.recipe.files import is_recipe
from vecrepeat.util.files import read_text
from vecrepeat.util.worker import Worker, running

DRAWING, CHECKING = 60.0, 180.0
"""The most seconds that drawing a print may take, and checking all of them."""

_WORK = "vecrepeat.board.collection_work"


class CollectionTable:
    """A collection held and at work.

    Args:
        name: its file's path in the folder.
        folder: the one at work.
        allowed: folders besides the art's own that linked pictures may be taken from.
        tabs: whom to tell.

    Raises:
        HeldError: another board has it.
        InputError: it can't be read.
    """

    def __init__(self, name: str, folder: Folder, allowed: tuple[Path, ...], tabs: Tabs) -> None:
        self.name, self._folder, self._tabs = name, folder, tabs
        self._file = folder.within(name)
        self.hold = Hold(self._file)
        try:
            self.desk = CollectionDesk(self._file, allowed)
        except BaseException:
            self.hold.release()
            raise
        # What lies on the table goes before what is found out about it.
        self.drawing = Helper(self.desk, DRAWING, "a smaller scale takes less", _WORK)
        self.checking = Helper(self.desk, CHECKING, "vecrepeat cohesion takes its time", _WORK)
        self._worker: Worker | None = None
        self._turn = asyncio.Lock()

    def end(self) -> None:
        """End what its helpers are at."""
        for helper in (self.drawing, self.checking):
            helper.end(ConflictError("the board is ending"))
        if self._worker is not None:
            self._worker.kill()

    def close(self, patience: float = -1) -> None:
        """Every step is on the disk already."""

    def look_at_disk(self) -> None:
        """See what has changed on the disk, and tell it."""
        if not self._turn.locked() and self.desk.look():
            self.tell()

    def tell(self) -> None:
        """Tell every tab that shows it how things stand."""
        self._tabs.tell(self.standing(), self.name)

    def standing(self) -> dict[str, Any]:
        """Return how things stand."""
        return self.desk.standing()

    async def saved(self) -> None:
        """Wait until what is seen is what is on the disk: at once."""

    # ---------------------------------------------------------------- what pages ask

    async def collection(self, _: Any) -> Any:
        """Return what the collection says, and what blenders may be told."""
        own = self.desk.collection
        return {
            "name": own.name,
            "file": self._file.name,
            "folder": str(self._folder.root.resolve()),
            "standing": self.standing(),
            "palette": dict(own.palette),
            "printer": dict(own.printer),
            "ways": [{"name": way, "colours": own.palette_in(way)} for way in own.ways],
            "prints": [
                {
                    "print": slug(one.name),
                    "name": one.name,
                    "role": one.role,
                    "from": self._named(one.file),
                    "drawing": not is_recipe(one.file),
                }
                for one in own.prints
            ],
            "kinds": {
                name: {"about": kind.about, "keys": dict(kind.keys), "most": kind.most}
                for name, kind in KINDS.items()
            },
            "words": {"order": ORDERS, "way": WAYS, "marks": MARKS},
        }

    def _named(self, file: Path) -> str:
        """Return a print's file as pages name it; "" where it lies outside the folder."""
        try:
            return file.resolve().relative_to(self._folder.root.resolve()).as_posix()
        except ValueError:
            return ""

    async def recolour(self, asked: Any) -> Any:
        """Change a colour in the file, as one step."""
        way, name, colour = (str(asked[key]) for key in ("way", "name", "colour"))
        await run_in_threadpool(self.desk.recolour, _after(asked), way, name, colour)
        self.tell()
        return self.standing()

    async def turn(self, asked: Any) -> Any:
        """Undo a step, or make it again."""
        await run_in_threadpool(self.desk.turn, _after(asked), int(asked["turn"]))
        self.tell()
        return self.standing()

    async def dress(self, asked: Any) -> Any:
        """Return all prints in a colourway."""
        return await self._draw("dress", asked)

    async def picture(self, asked: Any) -> Any:
        """Return a print's block as a picture."""
        return Response(await self._draw("picture", asked), media_type="image/png")

    async def shares(self, asked: Any) -> Any:
        """Return how much of three colours is in a print's pixels, as a picture."""
        return Response(await self._draw("shares", asked), media_type="image/png")

    async def blend(self, asked: Any) -> Any:
        """Return a blender that is tried."""
        return await self._draw("blend", asked)

    async def _draw(self, what: str, asked: Any) -> Any:
        tab = f"{asked.get('by')} {what} {asked.get('print')} {asked.get('group')}"
        return await self.drawing.ask(tab, what, asked)

    async def find(self, asked: Any) -> Any:
        """Return what the cohesion check finds."""
        return await self.checking.ask(f"{asked.get('by')} find", "find", asked)

    async def keep(self, asked: Any) -> Any:
        """Write a blender's recipe and its print into the collection, by the command that says so.

        Raises:
            InputError: as the command.
            ConflictError: another tab was quicker.
        """
        words = said(self._folder, "blender", self.name, dict(asked["settings"]))
        (line,) = typed(self._folder, words)
        async with self._turn:
            after = _after(asked)
            if after != self.desk.count:
                raise ConflictError("another tab was quicker")
            answer = await asyncio.to_thread(self._run, line)
            if answer["error"]:
                raise InputError(answer["error"])
            text = await run_in_threadpool(read_text, self._file, "collection")
            self.desk.keep(after, text, f"blender {asked['settings'].get('name') or line[1]}")
        self.tell()
        return {**self.standing(), "said": as_text(self._folder, words), "notes": answer["notes"]}

    def _run(self, words: list[str]) -> Any:
        try:
            self._worker = running(self._worker, PROGRAM)
            return self._worker.exchange((str(self._folder.root.resolve()), words), lambda _: None)
        except (OSError, EOFError):
            raise InputError("it took more memory than there is, or failed within") from None


def _after(asked: Any) -> int:
    after = asked["after"]
    if type(after) is not int:
        raise ValueError("after is a number of steps")
    return after

"""A design at work: what the pages that show it ask of its desk."""

from __future__ import annotations

import threading
from contextlib import suppress
from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.responses import Response

from vecrepeat.board.cloth import describe_art, describe_cloth, describe_lie
from vecrepeat.board.desk import ConflictError, Desk
from vecrepeat.board.helper import Helper
from vecrepeat.board.hold import Hold
from vecrepeat.board.naming import named_instead, named_too, standing_for
from vecrepeat.board.tabs import Tabs
from vecrepeat.core.errors import InputError
from vecrepeat.recipe.files import beside
from vecrepeat.recipe.model import Recipe
from vecrepeat.sources.source import Source

LOOKING, ARRANGING, COLOURING = 20.0, 120.0, 180.0
"""The most seconds that looking may take, tossing or filling, and colours, checks and scenes."""


COLOUR = ("colours", "dress", "code", "judge", "suggest")
"""What colours can be asked."""


class Design:
    """A recipe held and at work.

    Args:
        name: the recipe's path in the folder.
        recipe: the recipe.
        allowed: folders besides the art's own that linked pictures may be taken from.
        tabs: whom to tell.

    Raises:
        HeldError: another board has the recipe.
        InputError: it can't be read.
    """

    def __init__(self, name: str, recipe: Path, allowed: tuple[Path, ...], tabs: Tabs) -> None:
        self.name, self._recipe, self._tabs = name, recipe, tabs
        self.hold = Hold(recipe)
        try:
            self.desk = Desk(recipe, allowed)
        except BaseException:
            self.hold.release()
            raise
        self._art = self.desk.art_changed
        self._turn = threading.Lock()
        self._described: tuple[Source, dict[str, Any]] | None = None
        self.looking = Helper(self.desk, LOOKING, "a smaller clearance, or fewer motifs, take less")
        self.arranging = Helper(self.desk, ARRANGING, "vecrepeat toss and fill take their time")
        self.colouring = Helper(self.desk, COLOURING, "fewer motifs take less")
        self.checking = Helper(self.desk, COLOURING, "vecrepeat check and proof take their time")

    def prepare(self) -> None:
        """Begin with what the first page to come will wait for longest."""

        def described() -> None:
            # What is wrong is told to the page that asks.
            with suppress(InputError):
                self._describe_art()

        threading.Thread(target=described, daemon=True).start()

    def _describe_art(self) -> dict[str, Any]:
        with self._turn:
            source = self.desk.source
            if self._described is None or self._described[0] is not source:
                self._described = source, describe_art(source)
            return self._described[1]

    def end(self) -> None:
        """End what its helpers are at."""
        for helper in (self.looking, self.arranging, self.colouring, self.checking):
            helper.end(ConflictError("the board is ending"))

    def close(self, patience: float) -> None:
        """Close the desk; see :meth:`vecrepeat.board.desk.Desk.close`."""
        self.desk.close(patience)

    async def saved(self) -> None:
        """Save what is not."""
        if self.desk.dirty:
            await self.save({})

    def look_at_disk(self) -> None:
        """See what has changed on the disk, and tell it."""
        changed = self.desk.look()
        before, self._art = self._art, self.desk.art_changed
        if changed or self._art != before:
            self.tell()

    def tell(self, **news: Any) -> None:
        """Tell every tab that shows it how things stand."""
        self._tabs.tell({**self.standing(), **news}, self.name)

    def standing(self) -> dict[str, Any]:
        """Return how things stand."""
        desk = self.desk
        return {
            "steps": len(desk.steps),
            "dirty": desk.dirty,
            "foreign": desk.foreign,
            "artChanged": desk.art_changed,
            "version": desk.version,
        }

    # ---------------------------------------------------------------- what pages ask

    async def cloth(self, _: Any) -> Any:
        """Return everything that a page draws with."""
        data = await run_in_threadpool(lambda: describe_cloth(self.desk, self._describe_art()))
        root = self._recipe.absolute().parents[self.name.count("/")]
        return {**data, "standing": self.standing(), "folder": str(root)}

    async def lie(self, asked: Any) -> Any:
        """Return how tiles lie on a layout."""
        tile, ground = str(asked.get("tile", "")), str(asked.get("ground", ""))
        return describe_lie(self.desk.source, str(asked["layout"]), tile, ground)

    async def step(self, asked: Any) -> Any:
        """Make a step and write it down."""
        # A layout that the page can't have, or a cut that leaves nothing, is no step to keep.
        after = asked["after"]
        if type(after) is not int:
            raise ValueError("after is a number of steps")
        count = self.desk.step(after, asked["step"])
        self.tell(step=asked["step"])
        return {"steps": count, **self.standing()}

    async def save(self, asked: Any) -> Any:
        """Write the recipe."""
        self.desk.save(over=bool(asked.get("over")))
        self.tell()
        return self.standing()

    async def reread(self, asked: Any) -> Any:
        """Go on with what is on the disk now."""
        drop = bool(asked["drop"])
        reading = await run_in_threadpool(self.desk.read)
        self.desk.take(reading, drop=drop)
        self.tell()
        return self.standing()

    async def add_motifs(self, path: Path) -> Any:
        """Take in the motifs of a file that has come to the design's art.

        Raises:
            InputError: the art can't be read with it.
        """
        if not await run_in_threadpool(self.desk.names, path):
            # Where drawings alone are named, this one has to be; what is seen is saved with it.
            await run_in_threadpool(self.desk.name_art, named_too(self._said, path))
        before = set(self.desk.source.pool.motifs)
        reading = await run_in_threadpool(self.desk.read)
        self.desk.take(reading, drop=False)
        new = [m for name, m in reading.source.pool.motifs.items() if name not in before]
        step = self.desk.welcome([motif.name for motif in new])
        if step:
            self.desk.step(len(self.desk.steps), step)
        self.tell()
        return self.standing()

    def art_named(self, name: str) -> Path | None:
        """Return the file of the design's art that goes by a name, or None."""
        return standing_for(self._said, name)

    @property
    def pages(self) -> list[Path]:
        """The drawings whose page is the tile."""
        return beside(self._said.file, self._said.keys.get("art"))

    async def replace_art(self, file: Path, copy: Path) -> Any:
        """Take a copy in the place of a file of the art, which stays as it is.

        Raises:
            InputError: the art can't be read with it.
        """
        left = self.desk.source.pool.left_out
        await run_in_threadpool(self.desk.name_art, named_instead(self._said, file, copy, left))
        self.tell()
        return self.standing()

    @property
    def _said(self) -> Recipe:
        assert self.desk.source.recipe is not None
        return self.desk.source.recipe

    async def colour(self, asked: Any) -> Any:
        """Return what the cloth's colours are asked; see :mod:`vecrepeat.board.colouring`."""
        what = str(asked["what"])
        if what not in COLOUR:
            raise InputError(f"colours can't be asked for “{what[:20]}”")
        tab = f"{asked.get('by')} {what} {asked.get('group')} {asked.get('place')}"
        steps = len(self.desk.steps)
        return {"steps": steps, **await self.colouring.ask(tab, what, asked)}

    async def find(self, asked: Any) -> Any:
        """Return what a check finds."""
        steps = len(self.desk.steps)
        return {"steps": steps, **await self.checking.ask(f"{asked.get('by')} find", "find", asked)}

    async def use(self, asked: Any) -> Any:
        """Return the cloth in use, as a picture."""
        drawn = await self.checking.ask(f"{asked.get('by')} use", "use", asked)
        return Response(drawn, media_type="image/png")

    async def look(self, asked: Any) -> Any:
        """Return marks to draw."""
        what = {"what": list(map(str, asked["what"])), "clearance": float(asked["clearance"])}
        steps = len(self.desk.steps)
        return {"steps": steps, **await self.looking.ask(str(asked.get("by")), "look", what)}

    async def foresee(self, asked: Any) -> Any:
        """Return how large a print file will be, and about how long it will take."""
        return await self.looking.ask(f"{asked.get('by')} files", "foresee", asked["settings"])

    async def arrange(self, asked: Any) -> Any:
        """Return all motifs tossed, set, striped, trailed or strewn small."""
        return await self._arrange("arrange", {"way": str(asked["way"])}, asked)

    async def fill(self, asked: Any) -> Any:
        """Return fillers for the voids."""
        return await self._arrange("fill", {"void": asked.get("void")}, asked)

    async def _arrange(self, what: str, own: dict[str, Any], asked: Any) -> Any:
        without = [str(key) for key in asked.get("without", [])]
        told = {**own, "settings": dict(asked.get("settings", {})), "without": without}
        return await self.arranging.ask(str(asked.get("by")), what, told)

"""The shelf: art that comes in is read, and designs are drawn as small cloths, in a process."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Any

from vecrepeat.core.errors import InputError
from vecrepeat.recipe.files import beside, read_recipe
from vecrepeat.util.worker import Worker, WorkerEnded, running

WORKER = "vecrepeat.board.shelf_worker"
MEMORY = 3 << 29
"""The most bytes that reading or drawing a file may take."""

SECONDS = 60.0
"""The most seconds of processor time."""


class Shelf:
    """Asks the process, one thing after another; pictures are kept until their files change."""

    def __init__(self) -> None:
        self._worker: Worker | None = None
        self._free = asyncio.Lock()
        self._pictures: dict[Path, tuple[object, bytes]] = {}

    async def read(self, file: Path, loose: bool) -> dict[str, Any]:
        """Return how many ``motifs`` a file holds and ``notes`` about them.

        Raises:
            InputError: it can't be read.
        """
        found: dict[str, Any] = await self._ask(("read", file, loose))
        return found

    async def picture(self, recipe: Path) -> bytes:
        """Return a design as a small cloth, a PNG.

        Raises:
            InputError: it can't be read or drawn.
        """
        stamp = _stamps(recipe)
        kept = self._pictures.get(recipe)
        if kept is None or kept[0] != stamp:
            kept = self._pictures[recipe] = (stamp, await self._ask(("draw", recipe, False)))
        return kept[1]

    async def _ask(self, asked: tuple[str, Path, bool]) -> Any:
        async with self._free:
            try:
                return await asyncio.to_thread(self._exchange, asked)
            except (OSError, EOFError, WorkerEnded):
                raise InputError(
                    "it takes more time or memory than there is for one file", file=asked[1]
                ) from None

    def _exchange(self, asked: tuple[str, Path, bool]) -> Any:
        self._worker = running(self._worker, WORKER)
        with self._worker.bounded(MEMORY, SECONDS):
            return self._worker.exchange(asked)

    def end(self) -> None:
        """End the process."""
        if self._worker is not None:
            self._worker.kill()


def _stamps(recipe: Path) -> object:
    """Return what tells that a design's files have changed."""
    keys = read_recipe(recipe).keys
    art = [p for key in ("art", "loose") for p in beside(recipe, keys.get(key))]
    files = [recipe]
    for path in art:
        files += sorted(path.iterdir()) if path.is_dir() else [path]
    return [(f, s.st_mtime_ns, s.st_size) for f in files if f.exists() for s in [f.stat()]]

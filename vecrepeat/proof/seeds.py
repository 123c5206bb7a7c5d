"""One toss under many seeds, on all cores; and the process that each of the others runs."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import replace
from threading import Lock
from typing import Any

from vecrepeat.arrange import Arrangement, TossSettings, toss
from vecrepeat.arrange.results import placements_of
from vecrepeat.arrange.torus import Torus
from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import Affine
from vecrepeat.repeat.model import Motif, Placement, Repeat
from vecrepeat.util.cores import cores
from vecrepeat.util.inbox import answer_objects
from vecrepeat.util.worker import ENDING, Worker

_WORTH = 6
"""Fewer seeds are tossed sooner than another process has started."""

Asked = tuple[Repeat, Sequence[tuple[Motif, str]], TossSettings]


def toss_seeds(
    page: Repeat,
    ranked: Sequence[tuple[Motif, str]],
    settings: TossSettings,
    seeds: Sequence[int],
    step: Callable[[int], None],
) -> dict[int, Arrangement]:
    """Return what a toss comes to under each of some seeds, without placements but for rows.

    Args:
        page: the art on its layout.
        ranked: motifs and their ranks.
        settings: of the toss.
        seeds: to toss under.
        step: called with 1 after each toss, from one thread at a time.

    Raises:
        InputError: settings that make no sense.
    """
    asked = (replace(page, placements=()), ranked, settings)
    rest, found, lock = deque(seeds), dict[int, Arrangement](), Lock()

    def done(seed: int, tossed: Arrangement) -> None:
        with lock:
            found[seed] = tossed
            step(1)

    def beside(worker: Worker) -> None:
        """Toss in another process; what that leaves undone when it dies is ours."""
        seed = None
        with suppress(OSError, EOFError, IndexError):
            worker.exchange(asked)
            while True:
                seed = rest.popleft()
                done(seed, worker.exchange(seed))
                seed = None
        if seed is not None:
            rest.append(seed)

    def here() -> None:
        with suppress(IndexError):
            while True:
                seed = rest.popleft()
                done(seed, _toss(asked, seed))

    count = min(cores() - 1, len(seeds) // _WORTH)
    workers: list[Worker] = []
    try:
        with suppress(OSError):
            for _ in range(count):
                workers.append(Worker.of_module(__name__))
        with ThreadPoolExecutor(max(1, len(workers))) as threads:
            others = [threads.submit(beside, worker) for worker in workers]
            try:
                here()
            except BaseException:
                rest.clear()
                raise
            for other in others:
                other.result()
    finally:
        for worker in workers:
            worker.close(ENDING)
    here()
    return found


def with_placements(
    tossed: Arrangement, page: Repeat, ranked: Sequence[tuple[Motif, str]], settings: TossSettings
) -> Arrangement:
    """Return an arrangement with the placements that its rows are, over what is pinned."""
    torus, motifs = Torus(page), {motif.name: motif for motif, _ in ranked}
    laid = (p for row in tossed.rows for p in placements_of(torus, motifs[row.motif], row.pose))
    pinned = (
        Placement(one.motif, affine @ one.transform)
        for one in settings.pinned
        for affine in (Affine(), *(turn.affine for turn in torus.turns[1:]))
    )
    return replace(tossed, placements=(*pinned, *laid))


def _toss(asked: Asked, seed: int) -> Arrangement:
    page, ranked, settings = asked
    return replace(toss(page, ranked, replace(settings, seed=seed)), placements=())


def _main() -> None:
    """Answer seeds by tosses, of what was sent last."""
    last: Asked | None = None

    def answered(message: Any) -> object:
        nonlocal last
        if isinstance(message, tuple):
            last = message
            return None
        assert last is not None
        try:
            return _toss(last, message)
        except InputError as error:
            return error

    answer_objects(answered)


if __name__ == "__main__":
    _main()

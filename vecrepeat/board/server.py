"""The board's server: routes over a desk, and a stream that tells every tab what happens."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response, StreamingResponse
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from vecrepeat.board.cloth import cloth, lie, repeat_of
from vecrepeat.board.desk import ConflictError, Desk
from vecrepeat.board.guard import Guard
from vecrepeat.errors import InputError

STATIC = Path(__file__).parent / "static"
LOOK_EVERY = 0.5
"""Seconds between looks at the disk."""
LARGEST = 32 << 20
"""The most bytes that a request may have: a step that tosses thousands of motifs."""

Answer = Callable[[Any], Awaitable[Any]]


def board_app(desk: Desk, token: str, port: int) -> Guard:
    """Return the board as an application.

    Args:
        desk: the recipe at work.
        token: of this run.
        port: that it will be reached at.
    """
    return Guard(_Board(desk).app(), token, port)


class _Board:
    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.tabs: set[asyncio.Queue[dict[str, Any]]] = set()
        # Arithmetic of one tab's at a time: it fills a core.
        self.busy = asyncio.Lock()

    def app(self) -> Starlette:
        def post(path: str, answer: Answer) -> Route:
            return Route(f"/api/{path}", _answered(answer), methods=["POST"])

        return Starlette(
            routes=[
                Route("/", lambda request: FileResponse(STATIC / "index.html")),
                Route("/api/cloth", self.cloth),
                Route("/api/events", self.events),
                post("lie", self.lie),
                post("step", self.step),
                post("save", self.save),
                post("reread", self.reread),
                post("look", self.look),
                post("dress", self.dress),
                post("toss", self.toss),
                post("fill", self.fill),
                Mount("/", StaticFiles(directory=STATIC)),
            ],
            lifespan=self.lifespan,
        )

    @asynccontextmanager
    async def lifespan(self, app: Starlette) -> AsyncIterator[None]:
        """Watch the disk while the server runs."""
        watch = asyncio.create_task(self.watch())
        try:
            yield
        finally:
            watch.cancel()

    async def watch(self) -> None:
        art = self.desk.art_changed
        while True:
            await asyncio.sleep(LOOK_EVERY)
            changed = self.desk.look()
            before, art = art, self.desk.art_changed
            if changed or art != before:
                self.tell()

    def tell(self, **news: Any) -> None:
        """Tell every tab how things stand."""
        for tab in self.tabs:
            tab.put_nowait({**self.standing(), **news})

    def standing(self) -> dict[str, Any]:
        desk = self.desk
        return {
            "steps": len(desk.steps),
            "dirty": desk.dirty,
            "foreign": desk.foreign,
            "artChanged": desk.art_changed,
            "version": desk.version,
        }

    async def cloth(self, request: Request) -> Response:
        data = await run_in_threadpool(cloth, self.desk)
        return JSONResponse({**data, **{"standing": self.standing()}})

    async def events(self, request: Request) -> Response:
        tab: asyncio.Queue[dict[str, Any]] = asyncio.Queue()
        tab.put_nowait(self.standing())
        self.tabs.add(tab)

        async def lines() -> AsyncIterator[str]:
            try:
                while True:
                    try:
                        news = await asyncio.wait_for(tab.get(), 5)
                    except TimeoutError:
                        # A sign of life, by which a page sees that the server is there.
                        news = {}
                    yield json.dumps(news) + "\n"
            finally:
                self.tabs.discard(tab)

        return StreamingResponse(lines(), media_type="application/x-ndjson")

    async def lie(self, asked: Any) -> Any:
        desk = self.desk
        recipe = desk.source.recipe
        cut = bool(recipe and recipe.keys.get("cut-to-region"))
        return lie(desk.source.page, str(asked["layout"]), cut=cut)

    async def step(self, asked: Any) -> Any:
        # A layout that the page can't have, or a cut that leaves nothing, is no step to keep.
        count = self.desk.step(int(asked["after"]), asked["step"])
        self.tell(step=asked["step"])
        return {"steps": count, **self.standing()}

    async def save(self, asked: Any) -> Any:
        self.desk.save(over=bool(asked.get("over")))
        self.tell()
        return self.standing()

    async def reread(self, asked: Any) -> Any:
        async with self.busy:
            await run_in_threadpool(self.desk.reread, drop=bool(asked["drop"]))
        self.tell()
        return self.standing()

    async def dress(self, asked: Any) -> Any:
        from vecrepeat.board.dressing import dressed

        return await run_in_threadpool(dressed, self.desk.source, str(asked["colourway"]))

    async def look(self, asked: Any) -> Any:
        from vecrepeat.board.looking import looked

        source, state = self.desk.source, self.desk.now

        def work() -> Any:
            repeat = repeat_of(source, state)
            return looked(repeat, list(asked["what"]), float(asked["clearance"]))

        steps = len(self.desk.steps)
        async with self.busy:
            return {"steps": steps, **await run_in_threadpool(work)}

    async def toss(self, asked: Any) -> Any:
        from vecrepeat.board.tossing import tossed

        async with self.busy:
            return await run_in_threadpool(tossed, self.desk.source, self.desk.now, asked)

    async def fill(self, asked: Any) -> Any:
        from vecrepeat.board.tossing import filled

        async with self.busy:
            return await run_in_threadpool(filled, self.desk.source, self.desk.now, asked)


def _answered(answer: Answer) -> Callable[[Request], Awaitable[Response]]:
    """Return an endpoint that takes JSON and gives JSON; errors are sentences."""

    async def endpoint(request: Request) -> Response:
        body = bytearray()
        async for chunk in request.stream():
            body += chunk
            if len(body) > LARGEST:
                return JSONResponse({"error": "that is too much at once"}, 413)
        try:
            asked = json.loads(body)
            return JSONResponse(await answer(asked))
        except InputError as error:
            return JSONResponse({"error": str(error)}, 400)
        except ConflictError as error:
            return JSONResponse({"error": str(error)}, 409)
        except (ValueError, KeyError, TypeError, AttributeError) as error:
            return JSONResponse({"error": f"that can't be read: {error}"}, 400)

    return endpoint

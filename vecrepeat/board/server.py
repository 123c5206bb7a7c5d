"""The board's server: routes over a desk, and a stream that tells every tab what happens."""

from __future__ import annotations

import asyncio
import json
import math
import os
import socket
import threading
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from functools import partial
from pathlib import Path
from types import FrameType
from typing import Any

import uvicorn
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response, StreamingResponse
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from vecrepeat.board.cloth import describe_cloth, describe_colourway, describe_layout
from vecrepeat.board.desk import ConflictError, Desk
from vecrepeat.board.helper import Helper
from vecrepeat.core.errors import InputError

STATIC = Path(__file__).parent / "static"
LATTICE = STATIC.parents[1] / "repeat" / "lattice.js"
"""The cloth's mathematics, which all pages share."""

LOOK_EVERY = 0.5
"""Seconds between looks at the disk."""
LARGEST = 32 << 20
"""The most bytes that a request may have: a step that tosses thousands of motifs."""

LOOKING, ARRANGING = 20.0, 120.0
"""The most seconds that looking may take, and tossing or filling."""
END_WITHIN = 1.0
"""Seconds after Ctrl+C in which requests end by themselves; then the process does."""

Answer = Callable[[Any], Awaitable[Any]]


class Server(uvicorn.Server):
    """Serves a board, and ends soon when it is told to, whatever is at work.

    Args:
        config: what to serve, and how.
        board: the same board.
        ended: called last, and perhaps from another thread.
    """

    def __init__(self, config: uvicorn.Config, board: Board, ended: Callable[[], None]) -> None:
        super().__init__(config)
        self.board, self.ended = board, ended

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """End: in good order, or else by force."""
        timer = threading.Timer(END_WITHIN, self._leave)
        timer.daemon = True
        timer.start()
        super().handle_exit(sig, frame)

    def _leave(self) -> None:
        # A save that is being written gets its moment. Steps are on the disk.
        self.board.desk.close(END_WITHIN / 2)
        self.ended()
        os._exit(0)

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """End in good order."""
        self.board.end()
        await super().shutdown(sockets)
        self.board.desk.close()
        self.ended()


class Board:
    """A desk's routes, and the tabs that look at it."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.tabs: set[asyncio.Queue[dict[str, Any] | None]] = set()
        self.looking = Helper(desk, LOOKING, "a smaller clearance, or fewer motifs, take less")
        self.arranging = Helper(desk, ARRANGING, "vecrepeat toss and fill take their time")

    def end(self) -> None:
        """End what goes on: looking, arranging, and telling tabs."""
        for helper in (self.looking, self.arranging):
            helper.end(ConflictError("the board is ending"))
        for tab in self.tabs:
            tab.put_nowait(None)

    def app(self) -> Starlette:
        """Return the application, unguarded."""

        def post(path: str, answer: Answer) -> Route:
            return Route(f"/api/{path}", _endpoint(answer), methods=["POST"])

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
                post("toss", partial(self.arrange, "toss")),
                post("fill", partial(self.arrange, "fill")),
                Route("/js/lattice.js", lambda request: FileResponse(LATTICE)),
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
        data = await run_in_threadpool(describe_cloth, self.desk)
        return JSONResponse({**data, **{"standing": self.standing()}})

    async def events(self, request: Request) -> Response:
        tab: asyncio.Queue[dict[str, Any] | None] = asyncio.Queue()
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
                    if news is None:
                        return
                    yield json.dumps(news) + "\n"
            finally:
                self.tabs.discard(tab)

        return StreamingResponse(lines(), media_type="application/x-ndjson")

    async def lie(self, asked: Any) -> Any:
        desk = self.desk
        recipe = desk.source.recipe
        cut = bool(recipe and recipe.keys.get("cut-to-region"))
        return describe_layout(desk.source.page, str(asked["layout"]), cut=cut)

    async def step(self, asked: Any) -> Any:
        # A layout that the page can't have, or a cut that leaves nothing, is no step to keep.
        after = asked["after"]
        if type(after) is not int:
            raise ValueError("after is a number of steps")
        count = self.desk.step(after, asked["step"])
        self.tell(step=asked["step"])
        return {"steps": count, **self.standing()}

    async def save(self, asked: Any) -> Any:
        self.desk.save(over=bool(asked.get("over")))
        self.tell()
        return self.standing()

    async def reread(self, asked: Any) -> Any:
        drop = bool(asked["drop"])
        reading = await run_in_threadpool(self.desk.read)
        self.desk.take(reading, drop=drop)
        self.tell()
        return self.standing()

    async def dress(self, asked: Any) -> Any:
        name = str(asked["colourway"])
        return await run_in_threadpool(describe_colourway, self.desk.source, name)

    async def look(self, asked: Any) -> Any:
        what = {"what": list(map(str, asked["what"])), "clearance": float(asked["clearance"])}
        steps = len(self.desk.steps)
        return {"steps": steps, **await self.looking.ask(str(asked.get("by")), "look", what)}

    async def arrange(self, what: str, asked: Any) -> Any:
        settings = {key: value for key, value in asked.items() if key != "by"}
        return await self.arranging.ask(str(asked.get("by")), what, settings)


def _endpoint(answer: Answer) -> Callable[[Request], Awaitable[Response]]:
    """Return an endpoint that takes JSON and gives JSON; errors are sentences."""

    async def endpoint(request: Request) -> Response:
        body = bytearray()
        async for chunk in request.stream():
            body += chunk
            if len(body) > LARGEST:
                return _error("that is too much at once", 413)
        try:
            work = asyncio.ensure_future(answer(_read(bytes(body))))
            while not (await asyncio.wait({work}, timeout=0.5))[0]:
                # Nobody waits for the answer any more.
                if await request.is_disconnected():
                    work.cancel()
            return JSONResponse(work.result())
        except asyncio.CancelledError:
            return _error("the one who asked has gone", 408)
        except InputError as error:
            return _error(str(error), 400)
        except ConflictError as error:
            return _error(str(error), 409)
        except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
            return _error(f"that can't be read: {error}", 400)

    return endpoint


def _error(text: str, status: int) -> Response:
    # It may quote half of a surrogate pair, which has no UTF-8.
    return JSONResponse({"error": text.encode(errors="replace").decode()}, status)


def _read(body: bytes) -> Any:
    """Return the JSON of a request.

    Raises:
        ValueError: it is none, or has a number that is none or no page means (RFC 8259 §6 leaves
            the range to us).
        RecursionError: it is nested too deeply.
    """
    return json.loads(body, parse_float=_number, parse_int=_whole, parse_constant=_number)


def _number(text: str) -> float:
    value = float(text)
    if not math.isfinite(value):
        raise ValueError("a number is out of range")
    return value


def _whole(text: str) -> int:
    # RFC 8259 §6: integers beyond are not the same everywhere.
    if len(text) > 17 or abs(value := int(text)) >= 1 << 53:
        raise ValueError("a number is out of range")
    return value

"""The board's server: thin routes over a workshop."""

from __future__ import annotations

import asyncio
import os
import socket
import threading
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator, Sequence
from contextlib import asynccontextmanager, contextmanager, suppress
from types import FrameType
from typing import Any

import uvicorn
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.routing import BaseRoute, Route

from vecrepeat.board.answers import Answer, answered_with, endpoint, read_bytes, refusal
from vecrepeat.board.collection_table import CollectionTable
from vecrepeat.board.design import Design
from vecrepeat.board.pages import page_files
from vecrepeat.board.workshop import Workshop

END_WITHIN = 1.0
"""Seconds after Ctrl+C in which requests end by themselves; then the process does."""

DEEDS: tuple[Callable[[Design, Any], Awaitable[Any]], ...] = (
    *(Design.lie, Design.step, Design.save, Design.reread, Design.look, Design.colour),
    *(Design.arrange, Design.fill, Design.foresee, Design.find, Design.use),
)
"""What a page asks of the design that it shows, by POST under the function's name."""

TOGETHER: tuple[Callable[[CollectionTable, Any], Awaitable[Any]], ...] = (
    *(CollectionTable.recolour, CollectionTable.turn, CollectionTable.dress),
    *(CollectionTable.picture, CollectionTable.shares, CollectionTable.find),
    *(CollectionTable.blend, CollectionTable.keep),
)
"""And of the collection, under ``collection`` and the function's name."""


class Server(uvicorn.Server):
    """Serves a workshop, and ends soon when it is told to, whatever is at work.

    Args:
        config: what to serve, and how.
        workshop: the same workshop.
        guest: a server of it for others, if any, which begins and ends with this one.
    """

    def __init__(
        self, config: uvicorn.Config, workshop: Workshop, guest: Guest | None = None
    ) -> None:
        super().__init__(config)
        self.workshop, self.guest = workshop, guest

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Begin, and have the guest begin."""
        await super().startup(sockets)
        if self.guest:
            self._guests = asyncio.create_task(self.guest.serve(self.guest.sockets))

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """End: in good order, or else by force."""
        timer = threading.Timer(END_WITHIN, self._leave)
        timer.daemon = True
        timer.start()
        super().handle_exit(sig, frame)

    def _leave(self) -> None:
        # A save that is being written gets its moment. Steps are on the disk.
        self.workshop.close(END_WITHIN / 2)
        self.workshop.release()
        os._exit(0)

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """End in good order."""
        self.workshop.end()
        if self.guest:
            self.guest.should_exit = True
            # A device that sleeps does not say goodbye.
            await asyncio.wait({self._guests}, timeout=END_WITHIN / 2)
        await super().shutdown(sockets)
        self.workshop.close()
        self.workshop.release()


class Guest(uvicorn.Server):
    """Serves others beside a :class:`Server`, which answers Ctrl+C for both.

    Args:
        config: what to serve, and how.
        sockets: that it listens on.
    """

    def __init__(self, config: uvicorn.Config, sockets: list[socket.socket]) -> None:
        super().__init__(config)
        self.sockets = sockets

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Leave signals to the other."""
        yield


def application(
    workshop: Workshop, more: Sequence[BaseRoute] = (), *, shares: bool = False
) -> Starlette:
    """Return a workshop's application, unguarded.

    Args:
        workshop: what it is of.
        more: routes besides.
        shares: whether the page has one to say how devices are paired.

    Every request says in its query which design it is about: ``?design=``, the recipe's name in
    the folder; "" is none.
    """

    @asynccontextmanager
    async def lifespan(app: Starlette) -> AsyncIterator[None]:
        tasks = [asyncio.create_task(work) for work in (workshop.watch(), workshop.jobs.run())]
        try:
            yield
        finally:
            for task in tasks:
                task.cancel()
                with suppress(asyncio.CancelledError):
                    await task

    return Starlette(
        routes=[
            *_of_designs(workshop),
            *_of_collections(workshop),
            *_of_home(workshop),
            *_of_jobs(workshop, shares),
            *more,
            Route("/{path:path}", page_files()),
        ],
        lifespan=lifespan,
    )


def _get(path: str, answer: Answer) -> Route:
    return Route(f"/api/{path}", endpoint(answer))


def _post(path: str, answer: Answer) -> Route:
    return Route(f"/api/{path}", endpoint(answer), methods=["POST"])


def _design(request: Request) -> str:
    return request.query_params.get("design", "")


def _of_designs(workshop: Workshop) -> list[BaseRoute]:
    def of(deed: Callable[[Design, Any], Awaitable[Any]]) -> Answer:
        async def answer(request: Request, asked: Any) -> Any:
            return await deed(await workshop.design(_design(request)), asked)

        return answer

    return [_get("cloth", of(Design.cloth)), *(_post(deed.__name__, of(deed)) for deed in DEEDS)]


def _of_collections(workshop: Workshop) -> list[BaseRoute]:
    def of(deed: Callable[[CollectionTable, Any], Awaitable[Any]]) -> Answer:
        async def answer(request: Request, asked: Any) -> Any:
            return await deed(await workshop.collection(_design(request)), asked)

        return answer

    return [
        _get("collection", of(CollectionTable.collection)),
        *(_post(f"collection/{deed.__name__}", of(deed)) for deed in TOGETHER),
    ]


def _of_home(workshop: Workshop) -> list[BaseRoute]:
    folder = workshop.folder

    async def home(request: Request, _: Any) -> Any:
        return await workshop.home()

    async def picture(request: Request, _: Any) -> Any:
        return Response(await workshop.picture(_design(request)), media_type="image/png")

    async def take_up(_: Request, asked: Any) -> Any:
        return {"design": await workshop.take_up(str(asked["drawing"]))}

    async def new(_: Request, asked: Any) -> Any:
        return {"folder": folder.begin(str(asked["title"]))}

    async def demo(_: Request, asked: Any) -> Any:
        return {"folder": folder.take_demo()}

    async def drop(request: Request) -> Response:
        query = request.query_params

        async def dropped(_: Request, data: Any) -> Any:
            if _design(request):
                return await workshop.drop_anew(_design(request), query["name"], data)
            return await workshop.drop(query["folder"], query["name"], query["what"], data)

        return await answered_with(request, read_bytes, dropped)

    async def begin(_: Request, asked: Any) -> Any:
        return workshop.begin(
            str(asked["folder"]), str(asked["what"]), dict(asked["settings"])
        ).as_dict()

    async def give_up(_: Request, asked: Any) -> Any:
        folder.give_up(str(asked["folder"]))
        return {}

    return [
        _get("home", home),
        _get("picture", picture),
        _post("takeup", take_up),
        _post("new", new),
        _post("demo", demo),
        Route("/api/drop", drop, methods=["POST"]),
        _post("begin", begin),
        _post("giveup", give_up),
    ]


def _of_jobs(workshop: Workshop, shares: bool) -> list[BaseRoute]:
    async def events(request: Request, _: Any) -> Any:
        design = _design(request)
        first = await workshop.standing(design)
        return workshop.tabs.listen(design, {**first, "shares": shares})

    async def say(request: Request, asked: Any) -> Any:
        kind, settings = str(asked["kind"]), dict(asked["settings"])
        return {"said": workshop.say(kind, _design(request), settings)}

    async def start(request: Request, asked: Any) -> Any:
        kind, settings = str(asked["kind"]), dict(asked["settings"])
        return (await workshop.start(kind, _design(request), settings)).as_dict()

    async def stop(_: Request, asked: Any) -> Any:
        return (await workshop.jobs.stop(int(asked["number"]))).as_dict()

    async def written(request: Request, _: Any) -> Any:
        return await workshop.written(_design(request))

    async def take(request: Request, asked: Any) -> Any:
        return {"address": workshop.ticket(_design(request), str(asked["file"]))}

    async def taken(request: Request) -> Response:
        path = workshop.taken(request.path_params["key"])
        if path is None:
            return refusal("that was taken already, or too long ago", 404)
        return FileResponse(path, filename=path.name)

    return [
        _get("events", events),
        _post("say", say),
        _post("start", start),
        _post("stop", stop),
        _get("written", written),
        _post("take", take),
        # What is in the way of it is a secret of its own: a browser's download has no headers.
        Route("/taken/{key}/{name}", taken),
    ]

"""Starting the board: the recipe it works on, a socket of this machine's own, a server."""

from __future__ import annotations

import secrets
import socket
import webbrowser
from collections.abc import Callable
from contextlib import ExitStack, suppress
from pathlib import Path

import uvicorn

from vecrepeat.board.desk import Desk
from vecrepeat.board.guard import Guard
from vecrepeat.board.hold import HeldError, Hold
from vecrepeat.board.server import Board, Server
from vecrepeat.core.errors import InputError
from vecrepeat.recipe.files import beside, is_recipe, read_recipe
from vecrepeat.repeat.layout import Layout
from vecrepeat.sources.first import start_recipe

LOOPBACK = "127.0.0.1"


def recipe_for(
    src: Path, output: Path | None, layout: Layout | None, allowed: tuple[Path, ...] = ()
) -> tuple[Path, str]:
    """Return the recipe to work on, and a sentence about it.

    A drawing's is made beside it under its name, or under another. One that is there already
    and names the drawing is gone on with.

    Raises:
        InputError: the recipe there is another drawing's, or art can't be read.
        HeldError: another board has begun it this moment.
    """
    if is_recipe(src):
        if output is not None or layout is not None:
            raise InputError(
                "a recipe is worked on where it is, on the layout it says",
                file=src,
                hint="-o and --layout are for drawings",
            )
        return src, ""
    recipe = output or src.with_suffix(".toml")
    if not recipe.exists():
        recipe.parent.mkdir(parents=True, exist_ok=True)
        with Hold(recipe):
            start_recipe([src], recipe, layout=layout or Layout(), allowed=allowed)
        return recipe, f"began the recipe {recipe}"
    names = read_recipe(recipe).keys.get("art")
    if src.resolve() not in [path.resolve() for path in beside(recipe, names)]:
        raise InputError(
            "there is a recipe of this name, and it is not this drawing's",
            file=recipe,
            hint="give another with -o",
        )
    return recipe, f"going on with the recipe {recipe}"


def serve(
    recipe: Path,
    *,
    port: int = 0,
    allowed: tuple[Path, ...] = (),
    look: bool = True,
    told: Callable[[str], None],
    noted: Callable[[list[str]], None],
) -> None:
    """Serve the board until it is stopped.

    Args:
        recipe: what to work on.
        port: to listen on; 0 for any that is free.
        allowed: folders besides the art's own that linked pictures may be taken from.
        look: open the page in the browser; that of another board, where one has the recipe.
        told: called with the page's address, once it answers.
        noted: called with sentences that the user must know.

    Raises:
        HeldError: another board has the recipe.
        InputError: the recipe can't be read, or the port is taken.
    """
    with ExitStack() as stack:
        try:
            hold = stack.enter_context(Hold(recipe))
        except HeldError as held:
            if look and held.address:
                webbrowser.open(held.address)
            raise
        desk = Desk(recipe, allowed)
        noted([note for note in (hold.note, *desk.told) if note])
        token = secrets.token_urlsafe(24)
        listening = stack.enter_context(socket.socket(socket.AF_INET, socket.SOCK_STREAM))
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listening.bind((LOOPBACK, port))
        except OSError:
            raise InputError(f"port {port} is taken", hint="give another, or none") from None
        port = listening.getsockname()[1]
        listening.listen(64)
        # What follows # stays in the browser: it is in no request, and no log.
        address = f"http://{LOOPBACK}:{port}/#{token}"
        hold.tell(address)
        told(address)
        if look:
            webbrowser.open(address)
        board = Board(desk)
        config = uvicorn.Config(
            Guard(board.app(), token, port),
            log_level="error",
            access_log=False,
            server_header=False,
            ws="none",
        )
        # Ctrl+C is how the board is ended, and no failure.
        with suppress(KeyboardInterrupt):
            Server(config, board, hold.release).run(sockets=[listening])

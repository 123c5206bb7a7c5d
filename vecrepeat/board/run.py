"""Starting the board: the recipe it works on, a socket of this machine's own, a server."""

from __future__ import annotations

import secrets
import socket
import webbrowser
from collections.abc import Callable, Sequence
from contextlib import ExitStack, suppress
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote

import uvicorn

from vecrepeat.board.design import Design
from vecrepeat.board.folder import Folder
from vecrepeat.board.guard import Guard
from vecrepeat.board.hold import HeldError, Hold, followed
from vecrepeat.board.server import Server, application
from vecrepeat.board.workshop import Workshop
from vecrepeat.core.errors import InputError
from vecrepeat.core.names import slug
from vecrepeat.recipe.collection import FILE as COLLECTION
from vecrepeat.recipe.files import (
    beside,
    is_collection,
    is_recipe,
    print_named,
    read_collection,
    read_recipe,
)
from vecrepeat.repeat.layout import Layout
from vecrepeat.sources.first import start_recipe

if TYPE_CHECKING:
    from vecrepeat.board.sharing import Share

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
    named = print_named(src)
    if named is not None:
        file, name = named
        prints = {slug(one.name): one for one in read_collection(file).prints}
        from_ = f"open {prints[name].file}" if name in prints else f"it has {', '.join(prints)}"
        raise InputError("the board works on recipes, not on prints", file=src, hint=from_)
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


def place_for(
    src: Path | None, output: Path | None, layout: Layout | None, allowed: tuple[Path, ...] = ()
) -> tuple[Path, Path | None, str]:
    """Return the folder to work in, the recipe in it to open on if any, and a sentence about it.

    Raises:
        HeldError, InputError: as :func:`recipe_for`; or there is no such folder.
    """
    if src is None or src.is_dir():
        if output is not None or layout is not None:
            raise InputError(
                "a folder is worked in as it is", hint="-o and --layout are for drawings"
            )
        root = src or Path()
        whole = root / COLLECTION
        # A folder that is a collection's opens on it.
        return root, whole if is_collection(whole) else None, ""
    recipe, note = recipe_for(src, output, layout, allowed)
    # A rename would put a file in the place of a link to one.
    recipe = followed(recipe)
    return recipe.parent, recipe, note


def serve(
    root: Path,
    recipe: Path | None,
    *,
    port: int = 0,
    allowed: tuple[Path, ...] = (),
    look: bool = True,
    share: Share | None = None,
    told: Callable[[str], None],
    coded: Callable[[str], None],
    noted: Callable[[list[str]], None],
) -> None:
    """Serve the board until it is stopped.

    Args:
        root: the folder to work in; nothing outside it can be reached from the page.
        recipe: the design in it to open on; the first page where there is none.
        port: to listen on; 0 for any that is free.
        allowed: folders besides the art's own that linked pictures may be taken from.
        look: open the page in the browser; that of another board, where one has the recipe.
        share: what devices of the network may do; None leaves the board to this machine.
        told: called with the page's address, once it answers, and with what is to be known of
            devices.
        coded: called with the address for devices as a code to scan, half blocks that are light.
        noted: called with sentences that the user must know.

    Raises:
        HeldError: another board has the recipe.
        InputError: the recipe can't be read, the port is taken, or there is no network to share in.
    """
    token = secrets.token_urlsafe(24)
    with ExitStack() as stack:
        listening = stack.enter_context(socket.socket(socket.AF_INET, socket.SOCK_STREAM))
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listening.bind((LOOPBACK, port))
        except OSError:
            raise InputError(f"port {port} is taken", hint="give another, or none") from None
        wanted, port = port, listening.getsockname()[1]

        def address(design: str) -> str:
            # What follows # stays in the browser: it is in no request, and no log.
            whole = design and is_collection(workshop.folder.within(design))
            kind = "collection" if whole else "design"
            page = f"{kind}.html?design={quote(design)}" if design else ""
            return f"http://{LOOPBACK}:{port}/{page}#{token}"

        sharing = None
        if share:
            # Loaded where it is asked for: it takes 0.1 s.
            from vecrepeat.board.sharing import Sharing

            sharing = Sharing(share, wanted, told)
            stack.callback(sharing.listening.close)
        workshop = Workshop(Folder(root), allowed, address)
        stack.callback(workshop.release)
        name = "" if recipe is None else workshop.folder.name_of(recipe)
        if name:
            try:
                opened = workshop.open(name)
            except HeldError as held:
                if look and held.address:
                    webbrowser.open(held.address)
                raise
            told_of: Sequence[str] = ()
            if isinstance(opened, Design):
                opened.prepare()
                told_of = opened.desk.told
            noted([note for note in (opened.hold.note, *told_of) if note])
        own, guest = sharing.for_the_machine(workshop) if sharing else [], None
        config = uvicorn.Config(
            Guard(
                application(workshop, own, shares=bool(sharing)),
                {f"http://{LOOPBACK}:{port}", f"http://localhost:{port}"},
                lambda given: secrets.compare_digest(given.encode(), token.encode()),
            ),
            log_level="error",
            access_log=False,
            server_header=False,
            ws="none",
        )
        # It loads what it serves by, before anybody waits for an answer.
        config.load()
        listening.listen(64)
        told(address(name))
        if sharing:
            guest = sharing.server(application(workshop, sharing.for_devices(workshop.tabs)))
            coded(sharing.code())
            sharing.say()
        if look:
            webbrowser.open(address(name))
            if sharing:
                webbrowser.open(f"http://{LOOPBACK}:{port}/sharing.html#{token}")
        # Ctrl+C is how the board is ended, and no failure.
        with suppress(KeyboardInterrupt):
            Server(config, workshop, guest).run(sockets=[listening])

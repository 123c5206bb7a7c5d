"""The board on devices of the same network, where that is asked for: an address of its own.

The machine keeps its own page on loopback. Devices get the same page at the machine's address in
the network, encrypted, once they are paired; what pairs them is at the machine alone.
"""

from __future__ import annotations

import io
import socket
from collections.abc import Callable
from dataclasses import dataclass
from ipaddress import IPv4Address
from typing import Any

import segno
import uvicorn
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route
from starlette.types import ASGIApp

from vecrepeat.board.answers import endpoint
from vecrepeat.board.certificate import load, make_certificate
from vecrepeat.board.guard import PAIR, Guard
from vecrepeat.board.pairing import Pairing
from vecrepeat.board.server import Guest
from vecrepeat.board.tabs import Tabs
from vecrepeat.board.workshop import Workshop
from vecrepeat.core.errors import InputError

CONNECTIONS = 64
"""The most at once from the network, so that strangers don't use up what the system allows."""

A_WORD = 1 << 10
"""The most bytes of a request that brings a word: anybody in the network may send it."""


@dataclass(frozen=True)
class Share:
    """What is asked for.

    Args:
        devices: how many may be paired at once.
        address: the machine's in the network; by default the one it would go out from.
    """

    devices: int = 1
    address: str | None = None


def own_address() -> str:
    """Return the address that this machine has in its own network.

    Raises:
        InputError: it is in none, or in the open internet.
    """
    hint = "say which address of this machine to use with --address"
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # Nothing is sent: the system only chooses. RFC 5737 keeps this address free.
            probe.connect(("198.51.100.1", 9))
        except OSError:
            raise InputError("this machine is in no network", hint=hint) from None
        found = IPv4Address(probe.getsockname()[0])
    if found.is_loopback or not found.is_private:
        raise InputError(f"{found} is no address of a network at home", hint=hint)
    return str(found)


def _usable(address: str) -> str:
    try:
        found = IPv4Address(address)
    except ValueError:
        found = IPv4Address(0)
    if found.is_unspecified or found.is_multicast:
        raise InputError(f"“{address[:60]}” is no address to share at", hint="such as 192.168.1.20")
    return str(found)


class Sharing:
    """The way in from the network, as long as the board runs.

    Args:
        asked: what is asked for.
        port: to listen on; 0 for any that is free.
        told: called with sentences for the person at the machine.

    Raises:
        InputError: there is no such address here, or the port is taken at it.
    """

    def __init__(self, asked: Share, port: int, told: Callable[[str], None]) -> None:
        at = own_address() if asked.address is None else _usable(asked.address)
        self.listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        self.listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            self.listening.bind((at, port))
        except OSError:
            self.listening.close()
            taken = f", or its port {port} is taken" if port else ""
            raise InputError(f"{at} is no address of this machine{taken}") from None
        self.host = f"{at}:{self.listening.getsockname()[1]}"
        self.address = f"https://{self.host}/"
        self.pairing = Pairing(asked.devices)
        self._certificate = make_certificate(at)
        self._code = segno.make(self.address, micro=False)
        self._told = told

    # ---------------------------------------------------------------- what is said of it

    def say(self) -> None:
        """Say how a device gets in."""
        self._told(
            f"on a device in the same network: {self.address}\n"
            f"pairing word: {self.pairing.word}\n"
            f"certificate (SHA-256): {self._certificate.fingerprint}"
        )

    def code(self) -> str:
        """Return the address as a code to scan, in half blocks: light ones are drawn."""
        lines = io.StringIO()
        self._code.terminal(lines, compact=True)
        return lines.getvalue()

    # ---------------------------------------------------------------- the machine's side

    def for_the_machine(self, workshop: Workshop) -> list[BaseRoute]:
        """Return what the machine's own page asks; no device reaches it."""

        def changed(sentence: str) -> dict[str, Any]:
            self._told(sentence)
            # All tabs hear that something has changed; only the machine's may ask what.
            workshop.tabs.tell({"sharing": True})
            return standing()

        def standing() -> dict[str, Any]:
            pairing = self.pairing
            return {
                "address": self.address,
                "fingerprint": self._certificate.fingerprint,
                "word": None if pairing.closed or pairing.full else pairing.word,
                "closed": pairing.closed,
                "most": pairing.most,
                "devices": [vars(device) for device in pairing.devices],
            }

        async def sharing(_: Request, asked: Any) -> Any:
            return standing()

        async def code(_: Request, asked: Any) -> Any:
            drawn = io.BytesIO()
            self._code.save(drawn, kind="svg", scale=8)
            return Response(drawn.getvalue(), media_type="image/svg+xml")

        async def let_go(_: Request, asked: Any) -> Any:
            number = int(asked["number"])
            self.pairing.let_go(number)
            workshop.recall_tickets()
            return changed(f"device {number} is let go; pairing word: {self.pairing.word}")

        async def reopen(_: Request, asked: Any) -> Any:
            self.pairing.reopen()
            return changed(f"pairing is open again; pairing word: {self.pairing.word}")

        return [
            Route("/api/sharing", endpoint(sharing)),
            Route("/api/sharing/code", endpoint(code)),
            Route("/api/sharing/letgo", endpoint(let_go), methods=["POST"]),
            Route("/api/sharing/reopen", endpoint(reopen), methods=["POST"]),
        ]

    # ---------------------------------------------------------------- the devices' side

    def for_devices(self, tabs: Tabs) -> list[BaseRoute]:
        """Return what a device that is not paired may ask."""

        async def pair(request: Request, asked: Any) -> Any:
            pairing, at = self.pairing, request.client.host if request.client else "?"
            was_closed = pairing.closed
            try:
                token = pairing.pair(str(asked["word"]), at)
            except InputError:
                if pairing.closed and not was_closed:
                    self._told("too many wrong words: pairing is closed (open it on the page)")
                    tabs.tell({"sharing": True})
                raise
            more = "" if pairing.full else f"; the next pairing word: {pairing.word}"
            self._told(f"device {pairing.devices[-1].number} is paired, at {at}{more}")
            tabs.tell({"sharing": True})
            return {"token": token}

        return [Route(PAIR, endpoint(pair, A_WORD), methods=["POST"])]

    def server(self, app: ASGIApp) -> Guest:
        """Return a server of an application for paired devices."""
        config = uvicorn.Config(
            Guard(app, {f"https://{self.host}"}, self.pairing.knows, pairs=True),
            log_level="error",
            access_log=False,
            server_header=False,
            ws="none",
            # The machine's own server sees to it.
            lifespan="off",
            limit_concurrency=CONNECTIONS,
        )
        load(self._certificate, config)
        self.listening.listen(CONNECTIONS)
        return Guest(config, [self.listening])

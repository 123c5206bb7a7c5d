"""Who may speak to the board: this machine's browser, devices that were paired, and no other.

The server listens on loopback, and on the network only where that is asked for. But any page that
a browser has open could try to reach it, by its address or by a name made to point there. So
every request must name this very host, must not come from another origin, and whatever touches
the recipe must carry a token of this run: the machine's, or at the network's address a paired
device's. It travels in a header: cookies would be sent to every other port of this machine.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

TOKEN = "x-board-token"

PAIR = "/api/pair"
"""Where a device gets its token, and so has none yet."""

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; "
    "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
"""Content Security Policy Level 3 (W3C): nothing but our own files runs, and art is pictures."""

HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cache-Control": "no-store",
}


class Guard:
    """Refuses what does not come from the board's own page, by a token of this run.

    Args:
        app: what is guarded.
        origins: scheme, host and port of the page, in all its spellings.
        knows: whether a token is good, at this moment.
        pairs: whether tokens are given out here, to devices.
    """

    def __init__(
        self,
        app: ASGIApp,
        origins: Iterable[str],
        knows: Callable[[str], bool],
        *,
        pairs: bool = False,
    ) -> None:
        self.app, self.knows, self.pairs = app, knows, pairs
        self.origins = {origin.partition("://")[2]: origin for origin in origins}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or answer 403; 401 where a device can get a token."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return
        headers, path = Headers(scope=scope), scope["path"]
        reason = self._foreign(headers)
        if reason:
            await PlainTextResponse(reason, 403, HEADERS)(scope, receive, send)
            return
        token = headers.get(TOKEN, "")
        private = path.startswith("/api/") and not (self.pairs and path == PAIR)
        if private and not self.knows(token):
            await self._unknown()(scope, receive, send)
            return

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message).update(HEADERS)
            elif message.get("more_body") and private and not self.knows(token):
                # A stream outlives the token that it was asked for with.
                message = {"type": "http.response.body", "body": b"", "more_body": False}
            await send(message)

        await self.app(scope, receive, guarded)

    def _unknown(self) -> PlainTextResponse:
        if not self.pairs:
            return PlainTextResponse(
                "open the address that vecrepeat board has printed", 403, HEADERS
            )
        # RFC 9110 §11.6.1: it goes with a scheme. Browsers know none of this name, and so ask
        # for no password.
        headers = HEADERS | {"WWW-Authenticate": "Board"}
        return PlainTextResponse("this device is not paired", 401, headers)

    def _foreign(self, headers: Headers) -> str:
        own = self.origins.get(headers.get("host", ""))
        if own is None:
            return "this board answers to its own address only"
        if headers.get("origin", own) != own:
            return "this board answers to its own page only"
        # Fetch Metadata (W3C): browsers say where a request comes from.
        if headers.get("sec-fetch-site", "none") not in ("same-origin", "none"):
            return "this board answers to its own page only"
        return ""

"""Who may speak to the board: this machine's browser, on the page it was given, and no other.

The server listens on loopback alone, but any page that a browser has open could try to reach
it, by its address or by a name made to point there. So every request must name this very host,
must not come from another origin, and whatever touches the recipe must carry the token of this
run. The token travels in a header: cookies would be sent to every other port of this machine.
"""

from __future__ import annotations

import secrets

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

TOKEN = "x-board-token"

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
    """Refuses what does not come from the board's own page, by the token of this run."""

    def __init__(self, app: ASGIApp, token: str, port: int) -> None:
        self.app, self.token = app, token
        self.hosts = {f"127.0.0.1:{port}", f"localhost:{port}"}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or answer 403."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return
        reason = self._refusal(scope["path"], Headers(scope=scope))
        if reason:
            await PlainTextResponse(reason, 403, HEADERS)(scope, receive, send)
            return

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message).update(HEADERS)
            await send(message)

        await self.app(scope, receive, with_headers)

    def _refusal(self, path: str, headers: Headers) -> str:
        host = headers.get("host", "")
        if host not in self.hosts:
            return "this board answers to its own address only"
        if headers.get("origin", f"http://{host}") != f"http://{host}":
            return "this board answers to its own page only"
        # Fetch Metadata (W3C): browsers say where a request comes from.
        if headers.get("sec-fetch-site", "none") not in ("same-origin", "none"):
            return "this board answers to its own page only"
        given = headers.get(TOKEN, "").encode()
        if path.startswith("/api/") and not secrets.compare_digest(given, self.token.encode()):
            return "open the address that vecrepeat board has printed"
        return ""

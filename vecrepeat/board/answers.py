"""Requests in and answers out: JSON both ways, and errors as sentences."""

from __future__ import annotations

import asyncio
import json
import math
from collections.abc import Awaitable, Callable
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from vecrepeat.board.desk import ConflictError
from vecrepeat.core.errors import InputError

LARGEST = 32 << 20
"""The most bytes that a request may have: a step that tosses thousands of motifs."""

LARGEST_FILE = 256 << 20
"""The most bytes of a file that is dropped: no larger drawing is read."""


Answer = Callable[[Request, Any], Awaitable[Any]]
"""Takes a request and its JSON, None where it has none; returns plain data or a response."""


def endpoint(answer: Answer, most: int = LARGEST) -> Callable[[Request], Awaitable[Response]]:
    """Return an endpoint that takes JSON of so many bytes and gives JSON; errors are sentences."""

    async def read(request: Request) -> Any:
        return None if request.method == "GET" else _read(await _body(request, most))

    async def answered(request: Request) -> Response:
        return await answered_with(request, read, answer)

    return answered


async def read_bytes(request: Request) -> bytes:
    """Return a file that a request brings."""
    return await _body(request, LARGEST_FILE)


async def _body(request: Request, most: int) -> bytes:
    body = bytearray()
    async for chunk in request.stream():
        body += chunk
        if len(body) > most:
            raise _TooMuchError
    return bytes(body)


class _TooMuchError(Exception):
    """More bytes than a request may have."""


async def answered_with(
    request: Request, read: Callable[[Request], Awaitable[Any]], answer: Answer
) -> Response:
    """Answer a request with what was read of it; what was asked for in vain ends."""
    try:
        work = asyncio.ensure_future(answer(request, await read(request)))
        while not (await asyncio.wait({work}, timeout=0.5))[0]:
            # Nobody waits for the answer any more.
            if await request.is_disconnected():
                work.cancel()
        found = work.result()
        return found if isinstance(found, Response) else JSONResponse(found)
    except _TooMuchError:
        return refusal("that is too much at once", 413)
    except asyncio.CancelledError:
        return refusal("the one who asked has gone", 408)
    except InputError as error:
        return refusal(str(error), 400)
    except ConflictError as error:
        return refusal(str(error), 409)
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        return refusal(f"that can't be read: {error}", 400)


def refusal(text: str, status: int) -> Response:
    """Return the answer that says why there is none."""
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

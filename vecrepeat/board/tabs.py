"""The tabs that look on: each is told what happens, as lines of JSON."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator
from typing import Any

from starlette.responses import StreamingResponse

BREATH = 5
"""Seconds after which a tab that hears nothing gets a sign of life."""


class Tabs:
    """Tabs by the design that they show, "" where they show none."""

    def __init__(self) -> None:
        self._tabs: dict[asyncio.Queue[dict[str, Any] | None], str] = {}

    def tell(self, news: dict[str, Any], design: str | None = None) -> None:
        """Tell the tabs of a design, or all."""
        for tab, shows in self._tabs.items():
            if design in (None, shows):
                tab.put_nowait(news)

    def end(self) -> None:
        """Let all tabs know that nothing will come any more."""
        for tab in self._tabs:
            tab.put_nowait(None)

    def listen(self, design: str, first: dict[str, Any]) -> StreamingResponse:
        """Return a stream of news of a design, which begins with how things stand."""
        tab: asyncio.Queue[dict[str, Any] | None] = asyncio.Queue()
        tab.put_nowait(first)
        self._tabs[tab] = design

        async def lines() -> AsyncIterator[str]:
            try:
                while True:
                    try:
                        news = await asyncio.wait_for(tab.get(), BREATH)
                    except TimeoutError:
                        # By it a page sees that the server is there.
                        news = {}
                    if news is None:
                        return
                    yield json.dumps(news) + "\n"
            finally:
                del self._tabs[tab]

        return StreamingResponse(lines(), media_type="application/x-ndjson")

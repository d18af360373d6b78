"""An application that answers before it is loaded: the first page at once, the rest later.

What the page is made of takes two seconds to import, so that happens in a thread while the server
runs. Until it is done the first page is sent as plain HTML; every other request waits for its
answer instead of being refused.
"""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, MutableMapping
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from fastapi import FastAPI

__all__ = ["Arriving"]

Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]


class Arriving:
    """An ASGI application that stands in for another one until that is loaded.

    Parameters
    ----------
    load
        Makes the application; called in a thread.
    first
        Makes the first page, as HTML.
    failed
        Is called where loading failed; the fault is then in ``fault``.
    """

    def __init__(
        self, load: Callable[[], FastAPI], first: Callable[[], str], failed: Callable[[], None]
    ) -> None:
        self._load, self._first, self._failed = load, first, failed
        self._whole: FastAPI | None = None
        self._there = asyncio.Event()
        self._over = asyncio.Event()
        self.fault: BaseException | None = None

    async def __call__(self, scope: MutableMapping[str, Any], receive: Receive, send: Send) -> None:
        """Answer one request or websocket, now or when it can be answered."""
        if scope["type"] == "lifespan":
            await self._live(receive, send)
            return
        if self._whole is None and scope["type"] == "http" and scope["path"] == "/":
            await self._send_first(send)
            return
        await self._there.wait()
        if self._whole is not None:
            await self._whole(scope, receive, send)

    async def _live(self, receive: Receive, send: Send) -> None:
        """From the server's start to its end, around the application's own."""
        await receive()
        arriving = asyncio.create_task(self._arrive())
        await send({"type": "lifespan.startup.complete"})
        await receive()
        self._over.set()
        await arriving
        await send({"type": "lifespan.shutdown.complete"})

    async def _arrive(self) -> None:
        try:
            whole = await asyncio.to_thread(self._load)
            async with whole.router.lifespan_context(whole):
                self._whole = whole
                self._there.set()
                await self._over.wait()
        except Exception as fault:
            self.fault = fault
            self._failed()
        finally:
            self._there.set()

    async def _send_first(self, send: Send) -> None:
        page = self._first().encode()
        headers = [
            (b"content-type", b"text/html; charset=utf-8"),
            (b"content-length", str(len(page)).encode()),
            (b"cache-control", b"no-store"),
        ]
        await send({"type": "http.response.start", "status": 200, "headers": headers})
        await send({"type": "http.response.body", "body": page})

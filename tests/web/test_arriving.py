"""The application that answers before it is loaded."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from typing import Any

import httpx
from fastapi import FastAPI

from pitchwright.web.arriving import Arriving


class Running:
    """It, its lifespan, and when its application comes."""

    def __init__(self, load: Callable[[], FastAPI]) -> None:
        self.come = threading.Event()
        self.failed: list[str] = []
        self.app = Arriving(
            lambda: load() if self.come.wait(60.0) else FastAPI(),
            lambda: "<h1>first</h1>",
            lambda: self.failed.append("failed"),
        )
        self._to: asyncio.Queue[dict[str, Any]] = asyncio.Queue()
        self._from: asyncio.Queue[Any] = asyncio.Queue()

    @asynccontextmanager
    async def client(self) -> AsyncIterator[httpx.AsyncClient]:
        living = asyncio.create_task(self.app({"type": "lifespan"}, self._to.get, self._from.put))
        await self._to.put({"type": "lifespan.startup"})
        assert (await self._from.get())["type"] == "lifespan.startup.complete"
        transport = httpx.ASGITransport(self.app)
        async with httpx.AsyncClient(transport=transport, base_url="http://here") as client:
            yield client
        self.come.set()
        await self._to.put({"type": "lifespan.shutdown"})
        assert (await self._from.get())["type"] == "lifespan.shutdown.complete"
        await living


def whole(lived: list[str]) -> FastAPI:
    """An application that says when its life begins and ends."""

    @asynccontextmanager
    async def life(_: FastAPI) -> AsyncIterator[None]:
        lived.append("begun")
        yield
        lived.append("over")

    app = FastAPI(lifespan=life)
    for path in ("/", "/other"):
        app.add_api_route(path, lambda: "whole")
    return app


async def test_the_first_page_comes_at_once_and_the_rest_once_it_is_loaded() -> None:
    lived: list[str] = []
    running = Running(lambda: whole(lived))
    async with running.client() as client:
        first = await client.get("/")
        assert first.text == "<h1>first</h1>"
        assert first.headers["cache-control"] == "no-store"
        assert lived == []
        waiting = asyncio.create_task(client.get("/other"))
        assert await client.get("/")
        assert not waiting.done()
        running.come.set()
        assert (await waiting).json() == "whole"
        assert lived == ["begun"]
        assert (await client.get("/")).json() == "whole"
    assert lived == ["begun", "over"]
    assert running.app.fault is None


async def test_what_goes_wrong_while_it_is_loaded_is_kept_and_said() -> None:
    def broken() -> FastAPI:
        raise ValueError("broken")

    running = Running(broken)
    async with running.client() as client:
        running.come.set()
        while not running.failed:
            await asyncio.sleep(0.01)
        assert (await client.get("/")).text == "<h1>first</h1>"
    assert isinstance(running.app.fault, ValueError)

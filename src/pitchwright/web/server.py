"""The server: the page's addresses, and what each open screen is sent.

A screen is laid out once and then shown each scene that has changed, and live readings some twenty
times a second; both come from what the conductor holds, so that a screen that comes back is where
all others are. Everything is served from here: nothing on the page comes from elsewhere.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import AsyncIterator, Awaitable, Callable
from pathlib import Path

from fastapi import FastAPI, Request
from fastapi.responses import JSONResponse, Response
from nicegui import Client, app, ui
from starlette.requests import ClientDisconnect

from pitchwright.errors import InputError
from pitchwright.web.addresses import ADDRESSES
from pitchwright.web.conductor import Conductor
from pitchwright.web.door import caller_of
from pitchwright.web.home import lay_out
from pitchwright.web.refusing import refused
from pitchwright.web.texts import say

__all__ = ["TICK_S", "build", "mounted"]

TICK_S = 0.025
"""How often it is looked whether there is something new for a screen, seconds."""
_LOOKS = Path(__file__).parent / "looks"
_BACK_S = 10.0
"""How long a screen that lost its connection is waited for before it counts as gone, seconds."""


def build(conductor: Conductor) -> None:
    """Put every screen at its address, and take in what is dropped."""
    app.add_static_files("/looks", _LOOKS)
    tabs: Counter[str] = Counter()

    def open_screen(client: Client, where: str) -> None:
        request = client.request
        caller = caller_of(request.scope)
        screen = caller.screen if caller else client.id
        looking_on = False

        def came() -> None:
            nonlocal looking_on
            if not looking_on:  # a connection that is lost and found again is the same screen
                looking_on = True
                tabs[screen] += 1
                conductor.join(screen, _words(request.headers.get("user-agent", "")))

        def gone() -> None:
            if not looking_on:
                return
            tabs[screen] -= 1
            if not tabs[screen]:
                del tabs[screen]
                conductor.part(screen)

        # Who only fetches the page (a preview of a link, a search) is no screen.
        client.on_connect(came)
        client.on_delete(gone)
        around = client.content.parent_slot
        if around is not None:
            # What surrounds a screen calls itself the main part too; there can be but one.
            around.parent.tag = "div"
        laid = lay_out(conductor, screen, where, local=caller is not None and caller.local)
        shown, number = -1, 0

        def tick() -> None:
            nonlocal shown, number
            scene = conductor.scene
            if scene.version != shown:
                shown = scene.version
                laid.show(scene)
            live = conductor.feed.since(number)
            if live["n"] != number:
                number = live["n"]
                message = laid.live(live)
                if message is not None:
                    client.run_javascript(f"pitchwright.live({json.dumps(message)})")

        tick()
        ui.timer(TICK_S, tick)

    for where, address in ADDRESSES.items():

        def page(client: Client, where: str = where) -> None:
            open_screen(client, where)

        ui.page(address, title="pitchwright", dark=None)(page)

    app.add_api_route("/drop", _drop(conductor), methods=["POST"])
    app.add_api_route("/dropped/{number}/{place}.svg", _sheet(conductor), methods=["GET"])


def mounted() -> FastAPI:
    """The whole as an application to be served."""
    # A bar that runs across the top at every request has no name and says nothing.
    app.config.quasar_config.setdefault("loadingBar", {})["skipHijack"] = True
    whole = FastAPI(openapi_url=None, docs_url=None, redoc_url=None)
    ui.run_with(
        whole,
        title="pitchwright",
        dark=None,
        language="en-US",
        reconnect_timeout=_BACK_S,
        tailwind=False,
        show_welcome_message=False,
        binding_refresh_interval=None,
    )
    return whole


def _drop(conductor: Conductor) -> Callable[..., Awaitable[Response]]:
    async def drop(request: Request, name: str = "") -> Response:
        async def chunks() -> AsyncIterator[bytes]:
            try:
                async for chunk in request.stream():
                    yield chunk
            except ClientDisconnect as gone:
                raise refused("broke off", name) from gone

        try:
            number = await conductor.drops.take(name, chunks())
        except InputError as fault:
            return JSONResponse({"sentence": fault.sentence}, status_code=422)
        return JSONResponse({"number": number})

    return drop


def _sheet(conductor: Conductor) -> Callable[..., Response]:
    def sheet(number: int, place: int) -> Response:
        from pitchwright.pictures.sheet import sheet_svg

        for dropped in conductor.scene.dropped:
            if dropped.number == number and 0 <= place < len(dropped.surveys):
                svg = sheet_svg(dropped.surveys[place], conditions=dropped.name)
                return Response(svg, media_type="image/svg+xml")
        return JSONResponse({"sentence": say("refused.no sheet")}, status_code=404)

    return sheet


def _words(user_agent: str) -> str:
    """What kind of screen it is, as far as it says."""
    if "iPad" in user_agent or "Tablet" in user_agent:
        return "tablet"
    return "phone" if "Mobile" in user_agent else "computer"

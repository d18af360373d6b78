"""The server: the page's addresses, what each screen is sent, and how it runs.

Each open page gets the scene when it has changed and live readings some twenty times a second;
both are drawn from what the conductor holds, so that a page that comes back is where all others
are. Everything is served from here: nothing on the page comes from elsewhere.
"""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path

from fastapi import FastAPI
from nicegui import Client, app, ui

from pitchwright.web.conductor import Conductor
from pitchwright.web.home import home

__all__ = ["TICK_S", "build", "mounted"]

TICK_S = 0.05
"""How often a screen is sent what is new, seconds."""
_LOOKS = Path(__file__).parent / "looks"
_BACK_S = 10.0
"""How long a screen that lost its connection is waited for before it counts as gone, seconds."""


def build(conductor: Conductor) -> None:
    """Put the page at ``/``."""
    app.add_static_files("/looks", _LOOKS)
    tabs: Counter[str] = Counter()

    @ui.page("/", title="pitchwright", dark=None)
    def page(client: Client) -> None:
        screen = client.request.cookies.get("pitchwright_screen") or client.id
        tabs[screen] += 1
        conductor.join(screen, _words(client.request.headers.get("user-agent", "")))

        def gone() -> None:
            tabs[screen] -= 1
            if not tabs[screen]:
                del tabs[screen]
                conductor.part(screen)

        client.on_delete(gone)
        update = home(conductor, screen)
        shown, number = -1, 0

        def tick() -> None:
            nonlocal shown, number
            scene = conductor.scene
            if scene.version != shown:
                shown = scene.version
                update(scene)
            live = conductor.feed.since(number)
            if live["n"] != number:
                number = live["n"]
                ui.run_javascript(f"pitchwright.live({json.dumps(live)})")

        tick()
        ui.timer(TICK_S, tick)


def mounted() -> FastAPI:
    """The whole as an application to be served."""
    whole = FastAPI(openapi_url=None, docs_url=None, redoc_url=None)
    ui.run_with(
        whole,
        title="pitchwright",
        dark=None,
        reconnect_timeout=_BACK_S,
        tailwind=False,
        show_welcome_message=False,
        binding_refresh_interval=None,
    )
    return whole


def _words(user_agent: str) -> str:
    """What kind of screen it is, as far as it says."""
    if "iPad" in user_agent or "Tablet" in user_agent:
        return "tablet"
    return "phone" if "Mobile" in user_agent else "computer"

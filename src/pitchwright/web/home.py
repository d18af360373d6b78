"""What the page shows: drawn anew from each scene."""

from __future__ import annotations

from collections.abc import Callable

from nicegui import ui

from pitchwright.web.conductor import Conductor
from pitchwright.web.scene import Scene

__all__ = ["home"]


def home(conductor: Conductor, screen: str) -> Callable[[Scene], None]:
    """Lay out the page for one screen; what is returned draws a scene on it."""
    ui.add_head_html(
        "<script>window.pitchwright = {live(feed) {"
        "const at = feed.points.at(-1);"
        "if (at) document.getElementById('reading').textContent = at[1].toFixed(2); }}</script>"
    )
    doing = ui.label().props('data-part="doing"')
    ui.html('<output id="reading" data-part="reading"></output>', sanitize=False)
    ui.button("Trim Heron", on_click=lambda: conductor.trim(screen, "Heron", 24.0, 84.0)).props(
        'data-part="start"'
    )
    ui.button("Advance", on_click=lambda: conductor.advance(screen)).props('data-part="advance"')

    def update(scene: Scene) -> None:
        doing.set_text(f"{scene.phase}: {scene.doing} {scene.fault}")

    return update

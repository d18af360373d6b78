"""Which screens there are, at which addresses, and how each is laid out."""

from __future__ import annotations

from typing import Any, Protocol

from nicegui import ui

from pitchwright.web.conductor import Conductor
from pitchwright.web.scene import Scene

__all__ = ["ADDRESSES", "Laid", "lay_out"]

ADDRESSES = {"start": "/"}
"""Every screen by its stable name, and where it is found."""


class Laid(Protocol):
    """A screen that is laid out."""

    def show(self, scene: Scene) -> None:
        """Show a scene."""

    def live(self, feed: dict[str, Any]) -> dict[str, Any] | None:
        """Make of live readings what this screen shows of them; None where it shows none."""


class _Plain:
    def __init__(self, conductor: Conductor, screen: str) -> None:
        ui.add_head_html(
            "<script>window.pitchwright = {live(feed) {const at = feed.points.at(-1);"
            "if (at) document.getElementById('reading').textContent = at[1].toFixed(2); }}</script>"
        )
        self._doing = ui.label().props('data-part="doing"')
        ui.html('<output id="reading" data-part="reading"></output>', sanitize=False)
        ui.button("Trim Heron", on_click=lambda: conductor.trim(screen, "Heron", 24.0, 84.0)).props(
            'data-part="start"'
        )
        ui.button("Advance", on_click=lambda: conductor.advance(screen)).props(
            'data-part="advance"'
        )

    def show(self, scene: Scene) -> None:
        self._doing.set_text(f"{scene.phase}: {scene.doing} {scene.fault}")

    def live(self, feed: dict[str, Any]) -> dict[str, Any] | None:
        return feed


def lay_out(conductor: Conductor, screen: str, where: str, *, local: bool) -> Laid:
    """Lay out one screen.

    Parameters
    ----------
    conductor
        Runs what is asked for.
    screen
        The stable name of the device.
    where
        Which screen, by its stable name.
    local
        Whether it is shown at the machine itself: only there sound and voltage can be allowed.
    """
    del where, local
    return _Plain(conductor, screen)

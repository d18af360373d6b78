"""Which screens there are, at which addresses, and how each is laid out."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Protocol

from nicegui import ui

from pitchwright.web.conductor import Conductor
from pitchwright.web.scene import Scene
from pitchwright.web.screens.certificate import CertificateScreen
from pitchwright.web.screens.frame import Frame
from pitchwright.web.screens.instrument import Instrument
from pitchwright.web.screens.logbook import LogbookScreen
from pitchwright.web.screens.practice import Practice
from pitchwright.web.screens.start import Start
from pitchwright.web.screens.survey import Survey
from pitchwright.web.screens.trim import Trim
from pitchwright.web.screens.warm_up import WarmUp
from pitchwright.web.theme import head_html

__all__ = ["Laid", "lay_out"]


class Laid(Protocol):
    """A screen that is laid out."""

    def show(self, scene: Scene) -> None:
        """Show a scene."""

    def live(self, feed: dict[str, Any]) -> dict[str, Any] | None:
        """Make of live readings what this screen shows of them; None where it shows none."""


_SCREENS: dict[str, Callable[[Frame], Laid]] = {
    "start": Start,
    "survey": Survey,
    "trim": Trim,
    "practice": Practice,
    "warm-up": WarmUp,
    "instrument": Instrument,
    "logbook": LogbookScreen,
    "certificate": CertificateScreen,
}


class _Framed:
    """A screen within its frame."""

    def __init__(self, frame: Frame, laid: Laid) -> None:
        self._frame, self._laid = frame, laid

    def show(self, scene: Scene) -> None:
        self._frame.show(scene)
        self._laid.show(scene)

    def live(self, feed: dict[str, Any]) -> dict[str, Any] | None:
        return self._laid.live(feed)


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
    ui.add_head_html(head_html())
    frame = Frame(conductor, screen, where, local=local)
    with frame.main:
        laid = _SCREENS[where](frame)
    return _Framed(frame, laid)

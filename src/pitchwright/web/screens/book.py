"""What the logbook's screens have in common: reading it beside the page, one instrument chosen."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar, cast

from nicegui import background_tasks, run

from pitchwright.errors import PitchwrightError
from pitchwright.web.screens.frame import Frame

__all__ = ["read_beside"]

Read = TypeVar("Read")


def read_beside(
    frame: Frame, read: Callable[[], Read], shown: Callable[[Read], None], name: str
) -> None:
    """Read something that takes a while in a thread, then show it if the screen is still there."""

    async def go() -> None:
        try:
            found = cast(Read, await run.io_bound(read))
        except PitchwrightError as refused:
            if not frame.main.is_deleted:
                frame.say_fault(refused.sentence)
            return
        if not frame.main.is_deleted:
            shown(found)

    background_tasks.create(go(), name=name)

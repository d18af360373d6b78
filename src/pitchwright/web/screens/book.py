"""What screens that read the logbook have in common: reading it in a thread, lines of a diary."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar, cast

from nicegui import background_tasks, run

from pitchwright.errors import PitchwrightError
from pitchwright.web import texts
from pitchwright.web.screens.frame import Frame
from pitchwright.web.screens.pieces import Tag, tag
from pitchwright.web.texts import say

if TYPE_CHECKING:
    from pitchwright.upkeep.diary import Line

__all__ = ["Told", "read_beside", "table", "told", "told_of"]

Read = TypeVar("Read")


@dataclass(frozen=True, slots=True)
class Told:
    """One line of a list: when, what, what came of it."""

    when: str
    what: str
    words: str


def told(at_utc: str, what: str, words: str) -> Told:
    """A line, its time by the clock of this place."""
    from pitchwright.logbook.history import time_of

    return Told(f"{time_of(at_utc).astimezone():%Y-%m-%d %H:%M}", what, words)


def told_of(lines: Sequence[Line]) -> tuple[Told, ...]:
    """The lines of a diary, the newest first; what was withdrawn says so."""
    return tuple(
        told(
            one.at_utc,
            f"{one.what} ({say('logbook.withdrawn')})" if one.withdrawn else one.what,
            one.words,
        )
        for one in reversed(lines)
    )


def table(lines: Sequence[Told]) -> None:
    """Lines as a table that becomes a list where it is narrow."""
    with tag("table", "pw-table"):
        with tag("thead"), tag("tr"):
            for heading in ("when", "what", "came"):
                Tag("th", say(f"logbook.{heading}")).props["scope"] = "col"
        with tag("tbody"):
            for one in lines:
                with tag("tr"):
                    Tag("td", one.when, "pw-soft")
                    Tag("td", texts.first_large(one.what))
                    Tag("td", one.words)


def read_beside(
    frame: Frame, read: Callable[[], Read], shown: Callable[[Read], None], name: str
) -> None:
    """Read something that takes a while in a thread, then show it if the screen is still there."""

    async def go() -> None:
        try:
            found = cast("Read | None", await run.io_bound(read))
        except PitchwrightError as refused:
            if not frame.main.is_deleted:
                frame.say_fault(refused.sentence)
            return
        # Nothing is found where the server ended meanwhile.
        if found is not None and not frame.main.is_deleted:
            shown(found)

    background_tasks.create(go(), name=name)

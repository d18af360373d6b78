"""The logbook: each instrument's years, what changed since last time, and who is due."""

from __future__ import annotations

import base64
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from nicegui import ui

from pitchwright.web.scene import Scene
from pitchwright.web.screens.book import Told, read_beside, table, told, told_of
from pitchwright.web.screens.frame import Frame
from pitchwright.web.screens.pieces import Tag, choice, tag
from pitchwright.web.texts import say
from pitchwright.web.years_drawing import draw_years

if TYPE_CHECKING:
    from pitchwright.logbook.store import Logbook

__all__ = ["LogbookScreen"]

_MOST_LINES = 40


@dataclass(frozen=True, slots=True)
class _Page:
    """What the logbook says about one instrument."""

    name: str
    due: str
    chart_svg: str
    years_svg: str
    changes: tuple[str, ...]
    compared_svg: str
    surveys: tuple[Told, ...]
    diary: tuple[Told, ...]


class LogbookScreen:
    """The screen that reads the logbook."""

    def __init__(self, frame: Frame) -> None:
        self._frame = frame
        self._names: tuple[str, ...] = ()
        self._asked = ""
        self._version = -1
        with tag("div", "pw-column"):
            Tag("h1", say("logbook.title"))
            Tag("p", say("logbook.lead"), "pw-lead")
            self._where = Tag("p", "", "pw-soft pw-small", "written-in")
            self._choice = tag("div", "pw-fields")
            self._page = tag("div", "pw-results", "logbook")

    def show(self, scene: Scene) -> None:
        """Read it again when a procedure has come to its end."""
        self._where.set_text(
            scene.warning
            or (say("logbook.in", where=scene.written_in) if scene.written_in else "")
            or (say("logbook.none") if scene.connected is not None else "")
        )
        ready = scene.connected is not None and not scene.phase.busy
        if not ready or self._version == scene.version or self._frame.conductor.logbook is None:
            return
        first = self._version < 0
        self._version = scene.version
        if first or scene.procedure:
            read_beside(self._frame, self._read_names, self._show_names, "logbook")

    def live(self, feed: dict[str, Any]) -> dict[str, Any] | None:
        """Nothing is turned here."""
        del feed
        return None

    def _read_names(self) -> tuple[str, ...]:
        from pitchwright.logbook.history import instruments

        logbook = self._frame.conductor.logbook
        return () if logbook is None else tuple(one.name for one in instruments(logbook))

    def _show_names(self, names: tuple[str, ...]) -> None:
        if not names:
            self._page.clear()
            with self._page:
                Tag("p", say("logbook.empty"), "pw-lead", "logbook-empty")
            return
        if names != self._names:
            self._names = names
            if self._asked not in names:
                self._asked = names[0]
            self._choice.clear()
            with self._choice:
                options = {name: name for name in names}
                choice(say("logbook.instrument"), options, self._asked, self._choose, "instrument")
        self._choose(self._asked)

    def _choose(self, name: str) -> None:
        self._asked = name
        read_beside(self._frame, lambda: self._read(name), self._draw, "logbook page")

    def _read(self, name: str) -> _Page:
        from pitchwright.logbook.history import (
            changes,
            due,
            find_instrument,
            history,
            since_last_time,
        )
        from pitchwright.upkeep.certifying import history_chart
        from pitchwright.upkeep.diary import diary, survey_words

        logbook = self._frame.conductor.logbook
        assert logbook is not None
        known = find_instrument(logbook, name)
        rows = history(logbook, known.uid)
        when = next(one for one in due(logbook) if one.uid == known.uid)
        day = "" if when.earliest is None else say("logbook.due", day=when.earliest.isoformat())
        changed = tuple(
            change.sentence for pair in since_last_time(rows) for change in changes(*pair)
        )

        moved, compared_svg = _compared(logbook, name) if len(rows) > 1 else ((), "")
        surveys = [told(row.at_utc, row.state.value, survey_words(row)) for row in rows]
        lines = told_of(diary(logbook, instrument=known.uid, most=_MOST_LINES))
        return _Page(
            known.name,
            " ".join(one for one in (day, when.reason) if one),
            history_chart(logbook, name) if len(rows) > 1 else "",
            draw_years(rows),
            (*moved, *changed),
            compared_svg,
            tuple(reversed(surveys))[:_MOST_LINES],
            lines,
        )

    def _draw(self, page: _Page) -> None:
        if page.name != self._asked:
            return
        self._page.clear()
        with self._page:
            Tag("h2", say("logbook.years", name=page.name))
            Tag("p", page.due, "pw-lead", "due")
            told = "; ".join(f"{one.when}: {one.words}" for one in page.surveys[:12])
            if page.years_svg:
                years = ui.html(page.years_svg, sanitize=False).classes("pw-strip pw-narrow")
                years.props["role"] = "img"
                years.props["aria-label"] = told
            if page.chart_svg:
                _picture(page.chart_svg, told, "history-chart", f"{page.name}-history.svg")
            elif len(page.surveys) == 1:
                Tag("p", say("years.one"), "pw-lead", "one-survey")
            if page.changes:
                Tag("h2", say("logbook.since"))
                with tag("div", "pw-plain"):
                    for sentence in page.changes:
                        Tag("p", sentence)
            if page.compared_svg:
                said = page.changes[0]
                _picture(page.compared_svg, said, "compared-chart", f"{page.name}-compared.svg")
            for heading, lines in (
                (say("logbook.surveys"), page.surveys),
                (say("logbook.diary"), page.diary),
            ):
                if lines:
                    Tag("h2", heading)
                    table(lines)


def _compared(logbook: Logbook, name: str) -> tuple[tuple[str, ...], str]:
    """What moved since the survey before, and both over each other; nothing where it cannot be."""
    from pitchwright.errors import InputError
    from pitchwright.upkeep.comparing import compare

    try:
        found = compare(logbook, name)
    except InputError:  # no note in common: the figures below still say what changed
        return (), ""
    return tuple(one for one in (found.sentence, found.unlike) if one), found.svg


def _picture(svg: str, words: str, part: str, file: str) -> None:
    """A chart where there is room for one, and a way to keep it."""
    at = f"data:image/svg+xml;base64,{base64.b64encode(svg.encode()).decode()}"
    picture = tag("img", "pw-chart pw-wide", part)
    picture.props["src"] = at
    picture.props["alt"] = words
    link = Tag("a", say("logbook.save"), "pw-small", f"{part}-save")
    link.props["href"] = at
    link.props["download"] = file

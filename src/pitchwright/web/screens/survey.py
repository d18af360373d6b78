"""The survey: which oscillators, over which notes; then the sheets, note by note."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from nicegui import background_tasks, run

from pitchwright.units import note_name
from pitchwright.web.scene import Scene
from pitchwright.web.screens.asked import Asked, Which
from pitchwright.web.screens.besides import Besides
from pitchwright.web.screens.dropped import DropPanel, show_result
from pitchwright.web.screens.frame import Frame, busy_with, stopped_in
from pitchwright.web.screens.news import News
from pitchwright.web.screens.pieces import Tag, key, tag
from pitchwright.web.screens.sheet import SheetPanel
from pitchwright.web.screens.turning import heard_yet
from pitchwright.web.sheet_data import SheetData, of_survey
from pitchwright.web.texts import say

if TYPE_CHECKING:
    from pitchwright.procedures.outcomes import SurveyClosed

__all__ = ["Survey"]


class Survey:
    """The screen that surveys."""

    def __init__(self, frame: Frame) -> None:
        self._frame = frame
        self._shown: tuple[SurveyClosed, ...] = ()
        with tag("div", "pw-column"):
            Tag("h1", say("survey.title"))
            self._lead = Tag("p", say("survey.lead"), "pw-lead")
            self._results = tag("div", "pw-results", "surveyed")
            with tag("div", part="survey-begin") as self._begin:
                self._another = Tag("h2", say("survey.next"))
                with tag("div", "pw-keys") as self._again:
                    key(say("go on again"), self._go_on_again, "pw-first", "go-on-again")
                self._which = Which(several=True)
                with tag("div", "pw-fields"):
                    self._asked = Asked(step=True)
                self._besides = Besides()
                with tag("div", "pw-keys"):
                    key(say("begin"), self._start, "pw-first", "start")
            with tag("div", part="survey-busy") as self._busy:
                self._hearing = Tag("h2", "", part="doing")
                self._progress = Tag("p", "", "pw-soft", "progress")
                self._news = News(frame)
                self._growing = SheetPanel(frame, detail=False)
                with tag("div", "pw-keys"):
                    key(say("stop"), self._stop, "pw-quiet", "stop-survey")
            with tag("div") as self._recordings:
                self._drop = DropPanel(frame)

    def show(self, scene: Scene) -> None:
        """Show the survey as it stands."""
        busy = busy_with(scene, "survey")
        self._begin.set_visibility(not scene.phase.busy)
        self._recordings.set_visibility(not scene.phase.busy)
        self._drop.show(scene)
        self._busy.set_visibility(busy)
        self._again.set_visibility(stopped_in(scene, "survey"))
        connected = scene.connected
        if connected is not None:
            self._which.show([one.name for one in connected.oscillators])
        if busy:
            self._news.show(scene)
            if scene.note is not None:
                self._hearing.set_text(say("survey.hearing", note=note_name(scene.note)))
            done = len(scene.readings) // max(len(scene.oscillators), 1)
            self._progress.set_text(say("survey.progress", done=done))
            self._growing.show(heard_yet(scene, 1.0))
        # A guided trim begins with a survey of its own, which stays with the trim.
        closed = scene.surveyed if scene.procedure == "survey" and not busy else ()
        self._lead.set_visibility(not closed)
        self._another.set_visibility(bool(closed))
        if closed != self._shown:
            self._shown = closed
            background_tasks.create(self._work_out(closed, scene.before), name="sheets")

    def live(self, feed: dict[str, Any]) -> dict[str, Any] | None:
        """Nothing is turned here."""
        del feed
        return None

    async def _work_out(
        self, closed: tuple[SurveyClosed, ...], before: tuple[SurveyClosed, ...]
    ) -> None:
        """Work the sheets out beside the page, which stays answering meanwhile."""
        found = {one.oscillator: one for one in before}
        worked = [await run.io_bound(sheet_of, one, found.get(one.oscillator)) for one in closed]
        if closed != self._shown or self._results.is_deleted:
            return
        self._results.clear()
        with self._results:
            for one in worked:
                if one is not None:
                    show_result(self._frame, *one)

    # ------------------------------------------------------------------ pressed

    def _start(self) -> None:
        frame, asked, besides = self._frame, self._asked, self._besides
        frame.do(
            lambda: frame.conductor.survey(
                frame.screen,
                self._which.chosen,
                asked.low,
                asked.high,
                step=asked.step,
                a4_hz=besides.a4_hz,
                conditions=besides.conditions,
            )
        )

    def _go_on_again(self) -> None:
        self._frame.do(lambda: self._frame.conductor.go_on(self._frame.screen))

    def _stop(self) -> None:
        self._frame.do(lambda: self._frame.conductor.stop(self._frame.screen))


def sheet_of(
    closed: SurveyClosed, found: SurveyClosed | None = None
) -> tuple[SheetData, tuple[str, ...]] | None:
    """The sheet of a closed survey and its sentences; None where no reading can be used."""
    from pitchwright.errors import InputError
    from pitchwright.procedures.surveyed import surveyed

    try:
        survey = surveyed(closed)
        before = surveyed(found) if found else None
    except InputError:
        return None
    left = (say("survey.left"),) if before is not None else ()
    return of_survey(survey, before), (*survey.sentences(), *survey.advice, *left)

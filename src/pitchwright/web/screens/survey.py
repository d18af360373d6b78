"""The survey: which oscillators, over which notes; then the sheets, note by note."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from nicegui import background_tasks, run

from pitchwright.units import note_name
from pitchwright.web.scene import Scene
from pitchwright.web.screens.asked import Asked, Which
from pitchwright.web.screens.frame import Frame, busy_with, stopped_in
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
            Tag("p", say("survey.lead"), "pw-lead")
            with tag("div", part="survey-begin") as self._begin:
                with tag("div", "pw-keys") as self._again:
                    key(say("go on again"), self._go_on_again, "pw-first", "go-on-again")
                self._which = Which(several=True)
                with tag("div", "pw-fields"):
                    self._asked = Asked(step=True)
                with tag("div", "pw-keys"):
                    key(say("begin"), self._start, "pw-first", "start")
            with tag("div", part="survey-busy") as self._busy:
                self._hearing = Tag("h2", "", part="doing")
                self._progress = Tag("p", "", "pw-soft", "progress")
                self._growing = SheetPanel(frame, detail=False)
                with tag("div", "pw-keys"):
                    key(say("stop"), self._stop, "pw-quiet", "stop-survey")
            self._results = tag("div", "pw-results", "surveyed")

    def show(self, scene: Scene) -> None:
        """Show the survey as it stands."""
        busy = busy_with(scene, "survey")
        self._begin.set_visibility(not scene.phase.busy)
        self._busy.set_visibility(busy)
        self._again.set_visibility(stopped_in(scene, "survey"))
        connected = scene.connected
        if connected is not None:
            self._which.show([one.name for one in connected.oscillators])
        if busy:
            if scene.note is not None:
                self._hearing.set_text(say("survey.hearing", note=note_name(scene.note)))
            done = len(scene.readings) // max(len(scene.oscillators), 1)
            self._progress.set_text(say("survey.progress", done=done))
            self._growing.show(heard_yet(scene, 1.0))
        # A guided trim begins with a survey of its own, which stays with the trim.
        closed = scene.surveyed if scene.procedure == "survey" and not busy else ()
        if closed != self._shown:
            self._shown = closed
            background_tasks.create(self._work_out(closed), name="sheets")

    def live(self, feed: dict[str, Any]) -> dict[str, Any] | None:
        """Nothing is turned here."""
        del feed
        return None

    async def _work_out(self, closed: tuple[SurveyClosed, ...]) -> None:
        """Work the sheets out beside the page, which stays answering meanwhile."""
        worked = [await run.io_bound(sheet_of, one) for one in closed]
        if closed != self._shown or self._results.is_deleted:
            return
        self._results.clear()
        with self._results:
            for found in worked:
                if found is not None:
                    self._result(*found)

    def _result(self, data: SheetData, sentences: tuple[str, ...]) -> None:
        with tag("section", "pw-result", f"result-{data.name}"):
            Tag("h2", say("survey.done", name=data.name))
            Tag("p", sentences[0], "pw-lead", "headline")
            SheetPanel(self._frame).show(data)
            with tag("div", "pw-plain"):
                for one in sentences[1:]:
                    Tag("p", one)

    # ------------------------------------------------------------------ pressed

    def _start(self) -> None:
        frame, asked = self._frame, self._asked
        frame.do(
            lambda: frame.conductor.survey(
                frame.screen, self._which.chosen, asked.low, asked.high, step=asked.step
            )
        )

    def _go_on_again(self) -> None:
        self._frame.do(lambda: self._frame.conductor.go_on(self._frame.screen))

    def _stop(self) -> None:
        self._frame.do(lambda: self._frame.conductor.stop(self._frame.screen))


def sheet_of(closed: SurveyClosed) -> tuple[SheetData, tuple[str, ...]] | None:
    """The sheet of a closed survey and its sentences; None where no reading can be used."""
    from pitchwright.errors import InputError
    from pitchwright.tracking.survey import survey_oscillator

    try:
        survey = survey_oscillator(closed.oscillator, closed.points)
    except InputError:
        return None
    sentences = (*survey.sentences(), *survey.advice)
    return of_survey(survey), tuple(dict.fromkeys(sentences))

"""Trimming one oscillator: what is wanted, the visits, the verdict."""

from __future__ import annotations

from typing import Any

from nicegui import ui

from pitchwright.units import note_name
from pitchwright.web import texts
from pitchwright.web.addresses import ADDRESSES
from pitchwright.web.scene import Phase, Scene
from pitchwright.web.screens.aimed import Aimed
from pitchwright.web.screens.asked import Asked, Which
from pitchwright.web.screens.besides import Besides
from pitchwright.web.screens.frame import Frame, busy_with, stopped_in
from pitchwright.web.screens.pieces import Tag, caution, key, tag
from pitchwright.web.screens.sheet import SheetPanel
from pitchwright.web.screens.turning import Turning, so_far
from pitchwright.web.texts import say

__all__ = ["TRIM", "Trim"]

TRIM = "guided trim"
"""The procedure's own name."""


class Trim:
    """The screen that trims; without its title where another screen has it within."""

    def __init__(self, frame: Frame, *, titled: bool = True) -> None:
        self._frame = frame
        self._turning = Turning(frame)
        self._lay_out_question()
        with tag("div", "pw-column", "trim-begin") as self._begin:
            if titled:
                Tag("h1", say("trim.title"))
                Tag("p", say("trim.lead"), "pw-lead")
            with tag("div", "pw-keys") as self._again:
                key(say("go on again"), self._go_on_again, "pw-first", "go-on-again")
            self._which = Which(several=False, changed=self._show_trimmers)
            with tag("div", "pw-fields"):
                self._asked = Asked(tolerance=True)
            self._aimed = Aimed()
            self._besides = Besides(trim=True)
            with tag("div", "pw-keys"):
                key(say("begin"), self._start, "pw-first", "start")
            if titled:  # a simulated trimmer hurts nobody
                caution(say("trim.tool"))
        with tag("div", "pw-column", "verdict") as self._ended:
            self._headline = Tag("h1", "", part="standing")
            self._verdict = Tag("p", "", "pw-lead", "verdict-words")
            self._why = ui.html("", sanitize=False).classes("pw-plain")
            self._sheet = SheetPanel(frame)
            self._happened = ui.html("", sanitize=False).classes("pw-plain")
            with tag("div", "pw-keys"):
                key(say("trim.survey left"), self._survey_left, "pw-first", "survey-left")
                key(say("trim.again"), self._trim_another, "", "again")
        self._seen_end = False

    def _lay_out_question(self) -> None:
        with tag("div", "pw-column", "question") as self._question:
            self._asking = Tag("h1", "", part="question-words")
            self._choices = tag("div", "pw-keys")
        self._asked_now: Any = None

    def show(self, scene: Scene) -> None:
        """Show the trim as it stands."""
        busy = busy_with(scene, TRIM)
        asking = busy and scene.phase is Phase.ASKING
        over = scene.procedure == TRIM and scene.phase is Phase.ENDED
        ended = over and scene.verdict is not None and not self._seen_end
        under_way = busy and not asking
        if busy:
            self._seen_end = False
        self._frame.full(under_way)
        self._turning.box.set_visibility(under_way)
        self._question.set_visibility(asking)
        self._ended.set_visibility(ended)
        self._begin.set_visibility(not busy and not ended)
        if under_way:
            self._turning.show(scene)
        elif asking:
            self._ask(scene)
        elif ended:
            self._show_end(scene)
        else:
            self._again.set_visibility(stopped_in(scene, TRIM))
            connected = scene.connected
            if connected is not None:
                self._which.show([one.name for one in connected.oscillators if one.trimmers])
            self._aimed.show(scene)
            self._show_trimmers()

    def _show_trimmers(self) -> None:
        """Offer to leave trimmers of the chosen oscillator alone."""
        connected = self._frame.conductor.scene.connected
        for one in connected.oscillators if connected is not None else ():
            if one.name in self._which.chosen:
                self._besides.show(one.trimmers)

    def live(self, feed: dict[str, Any]) -> dict[str, Any] | None:
        """Live readings while a trimmer is turned."""
        return self._turning.live(feed)

    def _ask(self, scene: Scene) -> None:
        question = scene.question
        if question is None or question is self._asked_now:
            return
        self._asked_now = question
        self._asking.set_text(question.sentence)
        self._frame.speak(question.sentence)
        self._frame.offer(self._choices, question)

    def _show_end(self, scene: Scene) -> None:
        verdict = scene.verdict
        if verdict is None:
            return
        name = ", ".join(scene.oscillators)
        headline = say(f"trim.stand {verdict.standing.value}", name=name)
        self._headline.set_text(headline)
        self._frame.speak(headline)
        self._verdict.set_text(
            say(
                "trim.verdict",
                greatest=f"{texts.plain(verdict.greatest_cents, 2)} ± "
                f"{texts.plain(verdict.expanded_greatest_cents, 2)}",
                note=note_name(verdict.at_note),
                tolerance=f"{verdict.tolerance_cents:g}",
                low=note_name(verdict.low),
                high=note_name(verdict.high),
                best=texts.plain(verdict.best_possible_cents, 2),
                target=_target_words(scene),
            )
        )
        self._why.set_content(
            paragraphs(verdict.why)
            + (
                f"<h2>{say('trim.would help')}</h2>{paragraphs(verdict.would_help)}"
                if verdict.would_help
                else ""
            )
        )
        self._sheet.show(so_far(scene))
        said = [one.sentence for one in scene.said]
        if said:
            self._happened.set_content(f"<h2>{say('trim.said')}</h2>{paragraphs(said)}")

    # ------------------------------------------------------------------ pressed

    def _start(self) -> None:
        frame, asked, besides = self._frame, self._asked, self._besides
        if not self._which.chosen:
            return
        frame.do(
            lambda: frame.conductor.trim(
                frame.screen,
                self._which.chosen[0],
                asked.low,
                asked.high,
                tolerance_cents=asked.tolerance_cents,
                target=self._aimed.target,
                a4_hz=besides.a4_hz,
                wider=besides.wider(asked.low, asked.high),
                leave=besides.leave,
                conditions=besides.conditions,
            )
        )

    def _go_on_again(self) -> None:
        self._frame.do(lambda: self._frame.conductor.go_on(self._frame.screen))

    def _survey_left(self) -> None:
        frame = self._frame
        if frame.do(lambda: frame.conductor.survey_left(frame.screen)):
            ui.navigate.to(ADDRESSES["survey"])

    def _trim_another(self) -> None:
        self._seen_end = True
        self.show(self._frame.conductor.scene)


def _target_words(scene: Scene) -> str:
    """What the errors count from."""
    if scene.settings.get("own_middle"):
        return say("target.own words")
    return str((scene.settings.get("target") or {}).get("words", ""))


def paragraphs(sentences: Any) -> str:
    """Sentences as paragraphs of HTML."""
    from html import escape

    return "".join(f"<p>{escape(one)}</p>" for one in sentences)

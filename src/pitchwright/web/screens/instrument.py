"""The whole instrument: all oscillators over the same notes, one under the other."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from nicegui import ui

from pitchwright.units import cents_between, note_name, note_to_hz
from pitchwright.web import texts
from pitchwright.web.scene import Scene
from pitchwright.web.screens.asked import Asked, Which
from pitchwright.web.screens.book import Told, read_beside, table, told_of
from pitchwright.web.screens.frame import Frame, busy_with
from pitchwright.web.screens.news import News
from pitchwright.web.screens.pieces import Tag, key, tag
from pitchwright.web.sheet_data import Dot, SheetData
from pitchwright.web.sheet_drawing import draw_strip
from pitchwright.web.texts import say

if TYPE_CHECKING:
    from pitchwright.procedures.outcomes import EnsembleSeen, PairHeard

__all__ = ["Instrument", "curves_of", "far_and_close"]

CHECK = "ensemble check"
_LEAST_HALF = 3.0
_AT_THE_DESK = ("route", "detune", "corrections")
"""What is worked out without a bench, by the names it is written down by."""
_MOST_LINES, _MOST_WORKED_OUT = 200, 6


class Instrument:
    """The screen of the whole instrument."""

    def __init__(self, frame: Frame) -> None:
        self._frame = frame
        self._shown = -1
        with tag("div", "pw-column"):
            self._headline = Tag("h1", say("instrument.title"), part="instrument-headline")
            self._lead = Tag("p", say("instrument.lead"), "pw-lead", "instrument-lead")
            self._results = tag("div", "pw-results", "instrument-results")
            with tag("div", part="instrument-begin") as self._begin:
                self._another = Tag("h2", say("instrument.next"))
                self._which = Which(several=True)
                self._sources = Which(several=True, legend=say("instrument.sources"))
                with tag("div", "pw-fields"):
                    self._asked = Asked(tolerance=True, step=True)
                with tag("div", "pw-keys"):
                    key(say("begin"), self._start, "pw-first", "start")
            with tag("div", "pw-keys", part="instrument-busy") as self._busy:
                key(say("stop"), self._stop, "pw-quiet", "stop-check")
            self._news = News(frame)
            with tag("div", "pw-column", "question") as self._question:
                self._asking = Tag("h2", "", part="question-words")
                self._choices = tag("div", "pw-keys")
            self._desk = tag("div", "pw-results", "worked-out")
        self._desk_read = False

    def show(self, scene: Scene) -> None:
        """Show the check as it stands."""
        busy = busy_with(scene, CHECK)
        self._begin.set_visibility(not scene.phase.busy)
        self._busy.set_visibility(busy)
        self._another.set_visibility(scene.ensemble is not None)
        connected = scene.connected
        if connected is not None and not self._desk_read:
            self._desk_read = True
            read_beside(self._frame, self._read_desk, self._show_desk, "worked out")
        if connected is not None:
            self._which.show([one.name for one in connected.oscillators])
            self._sources.show(connected.sources)
        question = scene.question if busy else None
        self._question.set_visibility(question is not None)
        if question is not None and self._asking.text != question.sentence:
            self._asking.set_text(question.sentence)
            self._frame.offer(self._choices, question)
        if scene.procedure != CHECK or scene.version == self._shown:
            return
        self._news.show(scene)
        self._shown = scene.version
        self._draw(scene)

    def live(self, feed: dict[str, Any]) -> dict[str, Any] | None:
        """Nothing is turned here."""
        del feed
        return None

    def _read_desk(self) -> tuple[Told, ...]:
        """The newest routes, planned detunes and corrections."""
        from pitchwright.upkeep.diary import diary

        logbook = self._frame.conductor.logbook
        if logbook is None:
            return ()
        lines = diary(logbook, most=_MOST_LINES, surveys=False)
        return told_of([one for one in lines if one.what in _AT_THE_DESK])[:_MOST_WORKED_OUT]

    def _show_desk(self, lines: tuple[Told, ...]) -> None:
        self._desk.clear()
        if lines:
            with self._desk:
                Tag("h2", say("instrument.worked out"))
                table(lines)

    def _draw(self, scene: Scene) -> None:
        seen = scene.ensemble
        tolerance = float(scene.settings.get("tolerance_cents") or 1.0)
        curves = curves_of(scene, tolerance)
        if seen is not None and seen.sentences:
            self._headline.set_text(seen.sentences[0])
            self._lead.set_text(_together(seen))
        else:
            self._headline.set_text(say("instrument.title"))
            note = note_name(scene.note) if scene.note is not None else ""
            self._lead.set_text(say("survey.hearing", note=note) if note else "")
        self._results.clear()
        with self._results:
            for sentence in () if seen is not None else far_and_close(scene):
                Tag("p", sentence, "pw-lead")
            self._draw_strips(curves, tolerance)
            if seen is not None:
                self._tell(seen)

    def _draw_strips(self, curves: list[SheetData], tolerance: float) -> None:
        notes = [dot.note for curve in curves for dot in curve.now]
        if not notes:
            return
        sure = [abs(dot.cents) for curve in curves for dot in curve.now if not dot.doubt]
        half = math.ceil(max([_LEAST_HALF, 1.5 * tolerance, *sure]))
        with tag("div", "pw-glance"):
            for curve in curves:
                _row(curve, draw_strip(curve, min(notes), max(notes), float(half)))
        Tag(
            "p",
            say("instrument.scale", half=half, tolerance=f"{tolerance:g}"),
            "pw-soft pw-small",
        )

    def _tell(self, seen: EnsembleSeen) -> None:
        with tag("div", "pw-plain"):
            for one in seen.sentences[1:]:
                Tag("p", one)
            if seen.whose_error:
                Tag("h2", say("instrument.whose"))
                for one in seen.whose_error:
                    Tag("p", one)

    # ------------------------------------------------------------------ pressed

    def _start(self) -> None:
        frame, asked = self._frame, self._asked
        frame.do(
            lambda: frame.conductor.check_ensemble(
                frame.screen,
                self._which.chosen,
                self._sources.chosen,
                asked.low,
                asked.high,
                step=asked.step,
                tolerance_cents=asked.tolerance_cents,
            )
        )

    def _stop(self) -> None:
        self._frame.do(lambda: self._frame.conductor.stop(self._frame.screen))


def curves_of(scene: Scene, tolerance_cents: float) -> list[SheetData]:
    """Every oscillator's newest reading at each note, against equal temperament."""
    from pitchwright.tracking.coverage import expanded_u

    curves = []
    for name in scene.oscillators:
        dots: dict[float, Dot] = {}
        for one in scene.readings:
            heard = one.heard
            if heard.oscillator == name and heard.f_hz is not None:
                off = cents_between(heard.f_hz, note_to_hz(one.note))
                doubt = heard.doubts[0] if heard.doubts else ""
                dots[one.note] = Dot(one.note, off, expanded_u(heard.u_cents), 1, doubt=doubt)
        if dots:
            notes = tuple(dots[note] for note in sorted(dots))
            curves.append(SheetData(name, notes, tolerance_cents=tolerance_cents))
    return curves


def far_and_close(scene: Scene) -> list[str]:
    """The pair that is farthest apart and the one that is closest, each in a sentence."""
    heard = [(one.note, pair) for one in scene.pairs for pair in one.pairs]
    if not heard:
        return []
    far = max(heard, key=lambda one: abs(one[1].cents))
    close = min(heard, key=lambda one: abs(one[1].cents))
    return [_pair("instrument.apart", *far), _pair("instrument.close", *close)]


def _pair(which: str, note: float, pair: PairHeard) -> str:
    return say(
        which,
        one=pair.first,
        two=pair.second,
        note=note_name(note),
        cents=texts.plain(pair.cents, 1 if abs(pair.cents) >= 0.95 else 2),
        beat=texts.beats(pair.beat_hz),
    )


def _together(seen: EnsembleSeen) -> str:
    tolerance = f"{seen.tolerance_cents:g}"
    if seen.together is None:
        return say("instrument.not together", tolerance=tolerance)
    low, high = (note_name(one) for one in seen.together)
    return say("instrument.together", tolerance=tolerance, low=low, high=high)


def _row(curve: SheetData, strip: str) -> None:
    """One oscillator: name, worst note and reach beside its small curve."""
    worst = curve.worst
    words = ""
    if worst is not None:
        cents = f"{texts.cents(worst.cents)} ± {texts.plain(worst.u_cents)}"
        words = say("instrument.worst", cents=cents, note=note_name(worst.note))
    with tag("section", "pw-row", f"strip-{curve.name}"):
        with tag("div"):
            Tag("h2", curve.name)
            Tag("p", words)
            Tag("p", _reach(curve), "pw-soft")
        ui.html(strip, sanitize=False).classes("pw-strip")


def _reach(curve: SheetData) -> str:
    if not curve.reaches:
        return ""
    one = curve.reaches[0]
    reach = say("instrument.no reach")
    if one.low is not None and one.high is not None:
        reach = " – ".join(dict.fromkeys((note_name(one.low), note_name(one.high))))
    return say("instrument.reach", tolerance=f"{one.tolerance_cents:g}", reach=reach)

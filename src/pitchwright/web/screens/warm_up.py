"""Watching a warm-up: where each oscillator stands, and when it will be ready."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from nicegui import ui

from pitchwright.units import cents_between, note_name, note_to_hz
from pitchwright.web import texts
from pitchwright.web.drift_drawing import draw_drift
from pitchwright.web.scene import Scene
from pitchwright.web.screens.asked import Which
from pitchwright.web.screens.frame import Frame, busy_with
from pitchwright.web.screens.news import News
from pitchwright.web.screens.pieces import Tag, choice, key, tag
from pitchwright.web.texts import say

if TYPE_CHECKING:
    from pitchwright.procedures.outcomes import ForecastMade

__all__ = ["WarmUp", "drifted", "ready_words"]

WATCH = "warm-up watch"
_NOTES = (36, 48, 60, 72)


class WarmUp:
    """The screen that watches a warm-up."""

    def __init__(self, frame: Frame) -> None:
        self._frame = frame
        self._note = 60.0
        self._shown: tuple[object, ...] = ()
        with tag("div", "pw-column"):
            Tag("h1", say("warm-up.title"))
            Tag("p", say("warm-up.lead"), "pw-lead")
            with tag("div", part="warm-up-begin") as self._begin:
                self._which = Which(several=True)
                with tag("div", "pw-fields"):
                    notes = {str(note): note_name(note) for note in _NOTES}
                    choice(say("warm-up.note"), notes, "60", self._set_note, "note")
                with tag("div", "pw-keys"):
                    key(say("begin"), self._start, "pw-first", "start")
            with tag("div", "pw-keys", part="warm-up-busy") as self._busy:
                key(say("warm-up.enough"), self._end, "pw-quiet", "end-watch")
            self._news = News(frame)
            self._watched = tag("div", "pw-results", "forecasts")

    def show(self, scene: Scene) -> None:
        """Show the watch as it stands."""
        self._begin.set_visibility(not scene.phase.busy)
        self._busy.set_visibility(busy_with(scene, WATCH))
        connected = scene.connected
        if connected is not None:
            self._which.show([one.name for one in connected.oscillators])
        if scene.procedure != WATCH:
            return
        self._news.show(scene)
        new = (scene.forecasts, len(scene.readings) // max(len(scene.oscillators), 1))
        if new != self._shown:
            self._shown = new
            self._draw(scene)

    def live(self, feed: dict[str, Any]) -> dict[str, Any] | None:
        """Nothing is turned here."""
        del feed
        return None

    def _draw(self, scene: Scene) -> None:
        made = {one.oscillator: one for one in scene.forecasts}
        self._watched.clear()
        with self._watched:
            for name in scene.oscillators:
                with tag("section", "pw-row", f"forecast-{name}"):
                    with tag("div"):
                        Tag("h2", name)
                        forecast = made.get(name)
                        Tag("p", ready_words(forecast), "pw-ready", "readiness")
                        if forecast is not None:
                            Tag("p", forecast.sentence, "pw-soft")
                    readings = drifted(scene, name)
                    for width, classes in ((350.0, "pw-narrow"), (640.0, "pw-wide")):
                        ui.html(draw_drift(readings, width), sanitize=False).classes(
                            f"pw-strip {classes}"
                        )
        if scene.forecasts:
            self._frame.speak(
                " ".join(f"{one.oscillator}: {ready_words(one)}." for one in scene.forecasts)
            )

    def _set_note(self, value: str) -> None:
        self._note = float(value)

    def _start(self) -> None:
        frame = self._frame
        frame.do(lambda: frame.conductor.warm_up(frame.screen, self._which.chosen, self._note))

    def _end(self) -> None:
        self._frame.do(lambda: self._frame.conductor.end_watch(self._frame.screen))


def drifted(scene: Scene, name: str) -> list[tuple[float, float]]:
    """The readings of one oscillator as (seconds, cents), those that count."""
    return [
        (one.heard.t_s, cents_between(one.heard.f_hz, note_to_hz(one.note)))
        for one in scene.readings
        if one.heard.oscillator == name and one.heard.f_hz is not None and not one.heard.doubts
    ]


def ready_words(forecast: ForecastMade | None) -> str:
    """Where an oscillator's warm-up stands, in a few words."""
    if forecast is None:
        return texts.first_large(say("warm-up.too early to say"))
    return texts.first_large(say(f"warm-up.{forecast.readiness.value}"))

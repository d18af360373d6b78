"""The moment of turning: one sentence, one figure, the plumb view, and what else is worth knowing.

The figures change some twenty times a second and are written by the device itself from one small
message; all else follows from the scene.
"""

from __future__ import annotations

import html
import json
from bisect import bisect_right
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from nicegui import ui

from pitchwright.units import cents_between, note_name, note_to_hz, ratio_of_cents
from pitchwright.web import texts
from pitchwright.web.plumb import Hint, Plumb, Shown
from pitchwright.web.scene import Phase, Scene
from pitchwright.web.screens.frame import Frame
from pitchwright.web.screens.news import News
from pitchwright.web.screens.pieces import Tag, key, name_part, tag
from pitchwright.web.screens.sheet import SheetPanel
from pitchwright.web.screens.wrist import Wrist
from pitchwright.web.sheet_data import Dot, SheetData, of_curves
from pitchwright.web.sheet_drawing import MIDDLE
from pitchwright.web.spoken import Spoken
from pitchwright.web.texts import say

if TYPE_CHECKING:
    from pitchwright.procedures.requests import WatchTurn

__all__ = [
    "Turning",
    "heard_yet",
    "instruction",
    "message_of",
    "missed",
    "part_of",
    "reason",
    "so_far",
]

_NUDGE_CENTS = 4.0
"""A turn that begins this near its aim, after another one, is a nudge."""
_PARTS = ("probe", "far", "exact")


class Turning:
    """What is shown while a visit lasts: turn, far note, turn again."""

    def __init__(self, frame: Frame) -> None:
        self._frame = frame
        self._request: WatchTurn | None = None
        self._plumb: Plumb | None = None
        self._misses: list[str] = []
        self._judged: WatchTurn | None = None
        self._spoken = Spoken()
        self._leads = True
        with tag("div", "pw-turn", "turn") as self.box:
            self.box.props["data-tap"] = True
            with tag("div"):
                self._where = Tag("p", "", "pw-where", "where")
                self._where.props["role"] = "heading"
                self._where.props["aria-level"] = "1"
                self._parts = self._three_parts()
            with tag("div"):
                self._sentence = ui.html("", sanitize=False, tag="p").classes("pw-said")
                name_part(self._sentence, "doing")
                self._why = Tag("p", "", "pw-why", "why")
                self._news = News(frame)
                self._caution = Tag("p", "", "pw-caution", "turn-caution")
            self._lay_out_figures()
            self._note = Tag("p", "", "pw-note", "note")
            with tag("div", "pw-meanwhile") as self._meanwhile:
                self.sheet = SheetPanel(frame, detail=False, wide=MIDDLE)
            self._wrist = Wrist(frame)
            self._go_on = key(
                "",
                lambda: frame.do(lambda: frame.conductor.advance(frame.screen)),
                "pw-go-on",
                "advance",
            )
            with self._go_on:
                Tag("span", say("trim.go on"))
                self._go_on_why = Tag("small", "")
        self.box.set_visibility(False)

    def _three_parts(self) -> dict[str, Tag]:
        with tag("ol", "pw-parts") as self._three:
            self._three.props["aria-label"] = say("trim.parts")
            return {one: Tag("li", say(f"trim.part {one}"), part=f"part-{one}") for one in _PARTS}

    def _lay_out_figures(self) -> None:
        with tag("div", "pw-go") as self._go:
            _live("span", "pw-figure", "figure", "reading")
            with tag("span", "pw-sense"):
                Tag("small", say("sheet.cents"))
                _live("span", "", "sense", "sense")
                _live("small", "", "hint", "hint")
        with tag("div", "pw-plumb", "plumb") as self._view:
            words = {"flat": say("trim.flat"), "sharp": say("trim.sharp"), "aim": say("trim.aim")}
            words["stop"] = say("trim.stop")
            self._view.props["data-words"] = json.dumps(words)
        with tag("div", "pw-facts") as self._facts:
            _live("span", "", "beats", "beats")
            _live("span", "", "unsure", "unsure")
            _live("span", "", "reads", "reads")
        self._sound = Tag("p", "", "pw-sound", "sound")
        self._sound.props["role"] = "status"
        with tag("div", "pw-by-ear", "by-ear") as self._by_ear:
            Tag("h2", say("practice.missed"))
            self._missed = ui.html("", sanitize=False)
            name_part(self._missed, "missed")

    # ------------------------------------------------------------------ the scene

    def show(self, scene: Scene) -> None:
        """Show a guided trim under way."""
        turning = scene.turning
        hidden = scene.hides_from(self._frame.screen)
        if turning is not None and turning is not self._request:
            self._begin(turning, hidden)
        self._news.show(scene)
        current = part_of(scene)
        for one, item in self._parts.items():
            item.props.set_optional("aria-current", "step" if one == current else None)
        note = note_name(scene.note) if scene.note is not None else ""
        turns = turning is not None
        self._go.set_visibility(turns and not hidden)
        self._view.set_visibility(turns and not hidden)
        self._facts.set_visibility(turns and not hidden)
        self._sound.set_text(say(f"trim.sound {scene.sound}") if scene.sound else "")
        self._sound.set_visibility(turns and bool(scene.sound))
        self._judge(scene)
        self._by_ear.set_visibility(hidden and bool(self._misses))
        self._meanwhile.set_visibility(not turns)
        self._note.set_visibility(not turns)
        self._three.set_visibility(scene.visits > 0)
        self._leads = scene.leader in ("", self._frame.screen)
        self._go_on.set_visibility(turns and self._leads)
        self._wrist.show(scene, self._leads)
        if turning is not None:
            self._instruct(turning, hidden)
            return
        self._caution.set_visibility(False)
        self._where.set_text(", ".join(scene.oscillators))
        first = scene.visits == 0
        self._sentence.set_content(
            html.escape(say("trim.hear first" if first else "trim.hands still"))
        )
        self._why.set_text(scene.doing)
        self._note.set_text(note)
        self.sheet.show(None if hidden else so_far(scene))

    def _instruct(self, turning: WatchTurn, hidden: bool) -> None:
        sentence, named = instruction(turning, by_ear=hidden), html.escape(turning.trimmer)
        self._sentence.set_content(html.escape(sentence).replace(named, f"<em>{named}</em>", 1))
        self._why.set_text(say("practice.hidden why") if hidden else reason(turning))
        self._go_on_why.set_text(say("practice.go on why" if hidden else "trim.go on why"))

    def _begin(self, turning: WatchTurn, hidden: bool) -> None:
        self._request = turning
        self.box.client.run_javascript("pitchwright.begin()")
        self._news.another_turn()
        self._plumb = Plumb(turning.aim_cents, turning.window_cents, turning.start_cents)
        self._spoken = Spoken()
        self._where.set_text(
            say(
                "trim.where",
                name=turning.oscillator,
                visit=turning.visit,
                note=note_name(turning.note),
            )
        )
        sentence = instruction(turning, by_ear=hidden)
        self._caution.set_text(turning.caution)
        self._caution.set_visibility(bool(turning.caution))
        self._frame.speak(" ".join(one for one in (sentence, turning.caution) if one))

    def _judge(self, scene: Scene) -> None:
        """Once a turn is over, see where it came to rest: what the ear missed."""
        request = self._request
        if scene.turning is not None or request is None or request is self._judged:
            return
        heard = scene.readings[-1].heard if scene.readings else None
        if heard is None or heard.f_hz is None or scene.readings[-1].note != request.note:
            return
        self._judged = request
        self._misses.insert(0, missed(request, heard.f_hz))
        self._missed.set_content("".join(f"<p>{html.escape(one)}</p>" for one in self._misses[:6]))
        if scene.hides_from(self._frame.screen):
            self._frame.speak(self._misses[0])

    # ------------------------------------------------------------------ live readings

    def live(self, feed: dict[str, Any]) -> dict[str, Any] | None:
        """Make a message for the device of what is new; None while nothing is turned."""
        if self._request is None or self._plumb is None:
            return None
        shown = self._plumb.take((t_s, cents) for t_s, cents in feed["points"])
        if not shown:
            return None
        hidden = self._frame.conductor.scene.hides_from(self._frame.screen)
        if not hidden:
            for one in shown:
                said = self._spoken.after(one)
                if said:
                    self._frame.speak(said)
        return message_of(self._request, shown, feed, hidden=hidden)


def message_of(
    request: WatchTurn, shown: list[Shown], feed: dict[str, Any], *, hidden: bool
) -> dict[str, Any]:
    """What a device is sent of live readings, as values for JSON.

    Where the numbers are hidden none is sent: only the tones that are to be heard.
    """
    last = shown[-1]
    aim_hz = request.tuned_hz * ratio_of_cents(request.aim_cents)
    f_hz = aim_hz * ratio_of_cents(last.mean_cents)
    tones = {"f_hz": round(f_hz, 4), "aim_hz": round(aim_hz, 4), "beat_hz": round(f_hz - aim_hz, 3)}
    if hidden:
        return {"turn": feed["turn"], **tones}
    inside = last.hint is Hint.INSIDE
    unsure = last.u_cents
    aim = request.aim_cents
    words = {
        "figure": texts.count(last.mean_cents, unsure),
        "sense": say("trim.inside") if inside else texts.sense(last.mean_cents),
        "hint": _hint(last.hint, request),
        "beats": texts.beats(f_hz - aim_hz),
        "unsure": say("trim.unsure not")
        if unsure is None
        else say("trim.unsure", u=texts.plain(max(unsure, 0.01), 1 if unsure >= 0.095 else 2)),
        "reads": say("trim.reads", now=texts.cents(last.mean_cents + aim), aim=texts.cents(aim)),
    }
    return {
        "turn": feed["turn"],
        "rest": feed["rest"],
        "points": [[one.t_s, round(one.off_cents, 3)] for one in shown],
        "u_cents": round(unsure or 0.0, 3),
        "window_cents": request.window_cents,
        "half_cents": last.half_cents,
        "low_cents": request.low_cents - aim,
        "high_cents": request.high_cents - aim,
        "inside": inside,
        "words": words,
        **tones,
    }


def missed(turning: WatchTurn, f_hz: float) -> str:
    """How far from its aim a turn came to rest, and how that beats."""
    aim_hz = turning.tuned_hz * ratio_of_cents(turning.aim_cents)
    off = cents_between(f_hz, aim_hz)
    if abs(off) <= turning.window_cents:
        return say("trim.missed none", off=texts.plain(off, 2))
    beat = texts.beats(f_hz - aim_hz)
    return say("trim.missed", off=texts.plain(off), sense=texts.sense(off), beat=beat)


def instruction(turning: WatchTurn, *, by_ear: bool = False) -> str:
    """One sentence: which trimmer, and which way where that is known."""
    way = ""
    if turning.clockwise is not None:
        way = say("trim.way right" if turning.clockwise else "trim.way left")
    kind = "trim.turn probe" if turning.probe else "trim.turn"
    if _nudge(turning):
        kind = "trim.nudge"
    if by_ear:
        kind = "trim.turn by ear"
    return say(kind, trimmer=turning.trimmer, way=way)


def reason(turning: WatchTurn) -> str:
    """Why it is to stop there, in short."""
    if turning.probe:
        return say("trim.why probe")
    if _nudge(turning):
        return say("trim.why nudge")
    if abs(turning.aim_cents) < 0.5:
        return say("trim.why zero")
    return say("trim.why aim", aim=texts.cents(turning.aim_cents))


def part_of(scene: Scene) -> str:
    """Which of the visit's three parts it is in; empty while there is no visit."""
    if scene.turning is not None:
        return "probe" if scene.turning.probe else "exact"
    listening = scene.phase in (Phase.PLAYING, Phase.LISTENING)
    return "far" if listening and scene.visits > 0 else ""


def so_far(scene: Scene) -> SheetData | None:
    """The sheet of what is known of a trim under way: its curve, or the readings until there is."""
    tolerance = float(scene.settings.get("tolerance_cents") or 1.0)
    if scene.now is not None:
        notes = [one.note for one in scene.readings if not one.heard.doubts]
        foreseen = scene.foreseen if scene.phase.busy else ()
        return of_curves(
            scene.now,
            scene.found,
            tolerance,
            foreseen,
            notes,
            model=scene.model,
            model_found=scene.model_found,
        )
    return heard_yet(scene, tolerance)


def heard_yet(scene: Scene, tolerance_cents: float) -> SheetData | None:
    """The sheet of the first oscillator's readings so far, against what they are to be."""
    from pitchwright.tracking.coverage import expanded_u

    target = scene.settings.get("target") or {}
    dots: dict[float, Dot] = {}
    for one in scene.readings:
        heard = one.heard
        if heard.f_hz is None or heard.oscillator != scene.oscillators[0]:
            continue
        off = cents_between(heard.f_hz, note_to_hz(one.note)) - _wanted_cents(target, one.note)
        doubt = heard.doubts[0] if heard.doubts else ""
        dots[one.note] = Dot(one.note, off, expanded_u(heard.u_cents), 1, doubt=doubt)
    if not dots:
        return None
    return SheetData(
        scene.oscillators[0],
        tuple(dots[note] for note in sorted(dots)),
        tolerance_cents=tolerance_cents,
    )


def _wanted_cents(target: Mapping[str, Any], note: float) -> float:
    """A target curve's cents at a note, from its plain values; flat where there is none."""
    notes, cents = target.get("notes") or (0.0,), target.get("cents") or (0.0,)
    after = bisect_right(notes, note)
    if target.get("everywhere") or len(notes) == 1 or after == 0:
        return float(cents[0])
    if after == len(notes):
        return float(cents[-1])
    share = (note - notes[after - 1]) / (notes[after] - notes[after - 1])
    return float(cents[after - 1] + share * (cents[after] - cents[after - 1]))


def _nudge(turning: WatchTurn) -> bool:
    near = abs(turning.aim_cents - turning.start_cents) <= _NUDGE_CENTS
    return near and turning.turn > 1 and not turning.probe


def _hint(hint: Hint, request: WatchTurn) -> str:
    if hint is Hint.BEGIN and request.clockwise is not None:
        return say("trim.hint begin way")
    return say(f"trim.hint {hint.value}")


def _live(kind: str, classes: str, name: str, part: str) -> None:
    """Words that the device writes itself."""
    element = ui.html("", sanitize=False, tag=kind).classes(classes)
    element.props["data-live"] = name
    name_part(element, part)

"""Sliders that turn the practice rig's trimmers: half a turn of the wrist, then take hold anew."""

from __future__ import annotations

from typing import Any

from nicegui import ui

from pitchwright.web.scene import Scene
from pitchwright.web.screens.frame import Frame
from pitchwright.web.screens.pieces import Tag, key, tag
from pitchwright.web.texts import say

__all__ = ["Wrist"]

_HALF_TURNS = 0.5
_STEP_TURNS = 0.005
_HAIR_TURNS = 0.01


class Wrist:
    """One slider a trimmer, the one that is asked for in front."""

    def __init__(self, frame: Frame) -> None:
        self._frame = frame
        self._asked = ""
        self._turns: dict[str, float] = {}
        self._shown: dict[str, Tag] = {}
        self.box = tag("div", "pw-wrist", "wrist")
        self.box.props["data-own-keys"] = True
        self.box.set_visibility(False)

    def show(self, scene: Scene, leads: bool) -> None:
        """Show the sliders where there are any, for whoever leads."""
        connected, turning = scene.connected, scene.turning
        there = connected is not None and connected.turnable and turning is not None and leads
        self.box.set_visibility(there)
        if not there or connected is None or turning is None:
            return
        wanted = f"{turning.oscillator}/{turning.trimmer}"
        if wanted == self._asked:
            return
        self._asked = wanted
        names = next(
            (one.trimmers for one in connected.oscillators if one.name == turning.oscillator), ()
        )
        self.box.clear()
        self._shown.clear()
        with self.box:
            self._slider(turning.trimmer, "slider")
            others = [name for name in names if name != turning.trimmer]
            if others:
                with tag("details", "pw-others", "other-trimmers"):
                    Tag("summary", say("slider.others"))
                    for name in others:
                        self._slider(name, "other-slider")

    def _slider(self, trimmer: str, part: str) -> None:
        with tag("div", "pw-slider"):
            with tag("div", "pw-slider-head"):
                Tag("span", trimmer)
                self._shown[trimmer] = Tag("span", self._so_far(trimmer), "pw-soft", "turns")
            with tag("div", "pw-slider-row"):
                less, more = (
                    say("slider.less", trimmer=trimmer),
                    say("slider.more", trimmer=trimmer),
                )
                key("−", lambda: self._turn(trimmer, -_HAIR_TURNS), "pw-quiet", "less", name=less)
                slider = ui.element("input")
                for name, value in {
                    "type": "range",
                    "min": -_HALF_TURNS,
                    "max": _HALF_TURNS,
                    "step": _STEP_TURNS,
                    "value": 0,
                    "data-wrist": True,
                    "data-part": part,
                    "data-trimmer": trimmer,
                    "aria-label": say("slider.name", trimmer=trimmer),
                }.items():
                    slider.props[name] = value
                slider.on(
                    "input",
                    lambda event: self._moved(trimmer, event.args),
                    js_handler="e => emit(window.pitchwright.turned(e))",
                )
                key("+", lambda: self._turn(trimmer, _HAIR_TURNS), "pw-quiet", "more", name=more)

    def _moved(self, trimmer: str, by: Any) -> None:
        turns = float(by)
        if turns and abs(turns) <= 2.0 * _HALF_TURNS:
            self._turn(trimmer, turns)

    def _turn(self, trimmer: str, turns: float) -> None:
        frame = self._frame
        if frame.do(lambda: frame.conductor.turn(frame.screen, trimmer, turns)):
            self._turns[trimmer] = self._turns.get(trimmer, 0.0) + turns
            self._shown[trimmer].set_text(self._so_far(trimmer))

    def _so_far(self, trimmer: str) -> str:
        turns = f"{self._turns.get(trimmer, 0.0):+.2f}".replace("-", "−")
        return say("slider.turns", turns=turns if float(self._turns.get(trimmer, 0.0)) else "0")

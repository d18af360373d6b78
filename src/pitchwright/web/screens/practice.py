"""Practising by ear: hear the beat, turn, and see afterwards what the ear missed."""

from __future__ import annotations

from typing import Any

from nicegui import ui

from pitchwright.web.scene import Hidden, Scene
from pitchwright.web.screens.frame import Frame, busy_with
from pitchwright.web.screens.pieces import Tag, caution, choice, tag
from pitchwright.web.screens.trim import TRIM, Trim
from pitchwright.web.texts import say

__all__ = ["Practice"]


class Practice:
    """The trim on the practice rig, with what a lesson needs about it."""

    def __init__(self, frame: Frame) -> None:
        self._frame = frame
        with tag("div", "pw-column") as self._intro:
            Tag("h1", say("practice.title"))
            Tag("p", say("practice.lead"), "pw-lead")
            caution(say("practice.quiet"))
            self._not_here = Tag("p", say("practice.not here"), "pw-lead", "not-here")
            self._choose_hidden()
        with tag("div", "pw-hear", "hearing") as self._hear:
            self._hear.props["data-own-keys"] = True
            button = Tag("button", say("practice.hear"), "pw-key pw-quiet", "hear")
            for name, value in {
                "type": "button",
                "aria-pressed": "false",
                "aria-label": say("practice.hear name"),
                "data-switch": "hear",
            }.items():
                button.props[name] = value
            with tag("label", "pw-loud"):
                Tag("span", say("practice.loud"))
                loud = ui.element("input")
                for prop, setting in {
                    "type": "range",
                    "min": 0,
                    "max": 1,
                    "step": 0.05,
                    "value": 0.3,
                    "data-part": "loudness",
                }.items():
                    loud.props[prop] = setting
        self._trim = Trim(frame, titled=False)

    def _choose_hidden(self) -> None:
        frame = self._frame
        options = {
            Hidden.NOBODY.value: say("practice.hide none"),
            Hidden.HERE.value: say("practice.hide here"),
            Hidden.OTHERS.value: say("practice.hide others"),
        }
        with tag("div", "pw-fields"):
            choice(
                say("practice.hide"),
                options,
                frame.conductor.scene.hidden.value,
                lambda value: frame.conductor.hide(frame.screen, Hidden(value)),
                "hide",
            )
        Tag("p", say("practice.hide why"), "pw-soft pw-small")

    def show(self, scene: Scene) -> None:
        """Show the lesson as it stands."""
        busy = busy_with(scene, TRIM)
        here = scene.connected is None or scene.connected.turnable
        self._not_here.set_visibility(not here)
        self._intro.set_visibility(not busy)
        self._hear.set_visibility(busy and scene.turning is not None)
        self._trim.show(scene)

    def live(self, feed: dict[str, Any]) -> dict[str, Any] | None:
        """Live readings while a trimmer is turned."""
        return self._trim.live(feed)

"""Recordings dropped onto the page, and results with their sheets."""

from __future__ import annotations

from typing import TYPE_CHECKING

from nicegui import ui

from pitchwright.web import texts
from pitchwright.web.scene import Scene
from pitchwright.web.screens.frame import Frame
from pitchwright.web.screens.pieces import Tag, tag
from pitchwright.web.screens.sheet import SheetPanel
from pitchwright.web.sheet_data import SheetData, of_survey
from pitchwright.web.texts import say

if TYPE_CHECKING:
    from pitchwright.web.drop import Dropped

__all__ = ["DropPanel", "show_result"]


class DropPanel:
    """Where a recording is dropped, and what was heard in those that were."""

    def __init__(self, frame: Frame) -> None:
        self._frame = frame
        self._shown: tuple[Dropped, ...] = ()
        Tag("h2", say("drop.title"))
        with tag("div", "pw-drop", "drop") as box:
            box.props["data-own-keys"] = True
            Tag("p", say("drop.lead"))
            with tag("label", "pw-keys"):
                file = tag("input", part="drop-file")
                for prop, setting in {
                    "type": "file",
                    "accept": ".wav,.flac,.aif,.aiff,audio/*",
                    "aria-label": say("drop.choose"),
                }.items():
                    file.props[prop] = setting
                Tag("span", say("drop.choose"), "pw-key")
            # The device writes here what the machine refused.
            fault = ui.html("", sanitize=False, tag="p")
            fault.props["data-part"] = "drop-fault"
            fault.props["role"] = "alert"
        self._progress = Tag("p", "", "pw-soft", "drop-progress")
        self._progress.props["role"] = "status"
        self._results = tag("div", "pw-results", "dropped")

    def show(self, scene: Scene) -> None:
        """Show the recordings dropped so far, newest first."""
        if scene.dropped == self._shown:
            return
        before, self._shown = self._shown, scene.dropped
        hearing = [one for one in scene.dropped if not one.done]
        self._progress.set_text(
            "; ".join(
                say("drop.heard", name=one.name, percent=texts.plain(100.0 * one.share, 0))
                for one in hearing
            )
        )
        done = [one for one in scene.dropped if one.done]
        if done == [one for one in before if one.done]:
            return
        self._results.clear()
        with self._results:
            for one in reversed(done):
                Tag("h2", one.name, part="dropped-name")
                with tag("div", "pw-plain"):
                    for sentence in one.sentences:
                        Tag("p", sentence)
                for survey in one.surveys:
                    sentences = (*survey.sentences(), *survey.advice)
                    show_result(self._frame, of_survey(survey), sentences)


def show_result(frame: Frame, data: SheetData, sentences: tuple[str, ...]) -> None:
    """One oscillator's survey: its headline, its sheet, and the rest in words."""
    with tag("section", "pw-result", f"result-{data.name}"):
        Tag("h2", say("survey.done", name=data.name))
        Tag("p", sentences[0], "pw-lead", "headline")
        SheetPanel(frame).show(data)
        with tag("div", "pw-plain"):
            for one in dict.fromkeys(sentences[1:]):
                Tag("p", one)

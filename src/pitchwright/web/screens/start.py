"""The start: what is connected, what can be done with it, and what to mind before."""

from __future__ import annotations

from typing import Any

from pitchwright.web.addresses import ADDRESSES
from pitchwright.web.scene import Connected, Scene
from pitchwright.web.screens.frame import Frame
from pitchwright.web.screens.pieces import Tag, caution, key, link, tag
from pitchwright.web.texts import say

__all__ = ["Start"]


class Start:
    """The first screen."""

    def __init__(self, frame: Frame) -> None:
        self._frame = frame
        self._connected: Connected | None = None
        with tag("div", "pw-column"):
            self._headline = Tag("h1", say("start.waiting"), part="connected")
            self._more = Tag("p", "", "pw-lead", "connected-more")
            with tag("div", "pw-keys", "next"):
                self._resume = link(
                    say("go on again"), ADDRESSES["trim"], "pw-key pw-first", "resume"
                )
                link(say("start.survey"), ADDRESSES["survey"], "pw-key pw-first", "begin-survey")
                link(say("start.trim"), ADDRESSES["trim"], "pw-key", "begin-trim")
                link(say("start.practice it"), ADDRESSES["practice"], "pw-key", "begin-practice")
            with tag("div", "pw-output", "output") as self._output:
                Tag("p", say("start.output local" if frame.local else "start.output"))
                if frame.local:
                    with tag("div", "pw-keys pw-tight"):
                        key(say("start.allow"), self._allow, "pw-quiet", "allow-output")
            self._warning = Tag("p", "", "pw-caution", "warning")
            self._list = tag("div", "pw-list", "oscillators")
            self._screens = tag("div", "pw-list", "screens")
            Tag("h2", say("start.safe title"))
            caution(
                say("start.safe power"),
                say("start.safe attenuate"),
                say("start.safe dc"),
                say("start.safe hearing"),
            )

    def show(self, scene: Scene) -> None:
        """Show what is connected."""
        connected = scene.connected
        self._resume.set_visibility(bool(scene.stopped))
        if scene.stopped:
            self._resume.set_text(say("start.resume", name=scene.stopped))
            self._resume.props["href"] = self._frame.place_of(scene) or ADDRESSES["trim"]
        if connected is not None and connected != self._connected:
            self._connected = connected
            self._headline.set_text(connected.sentence)
            self._more.set_text(say("start.practice") if connected.kind == "practice" else "")
            self._list_oscillators(connected)
        drives = connected is not None and connected.drives_outputs
        self._output.set_visibility(drives and not scene.output_allowed)
        self._warning.set_text(scene.warning)
        self._warning.set_visibility(bool(scene.warning))
        self._list_screens(scene)

    def live(self, feed: dict[str, Any]) -> dict[str, Any] | None:
        """Nothing is turned here."""
        del feed
        return None

    def _allow(self) -> None:
        frame = self._frame
        frame.do(lambda: frame.conductor.allow_output(at_the_machine=frame.local))

    def _list_oscillators(self, connected: Connected) -> None:
        self._list.clear()
        with self._list:
            Tag("h2", say("start.oscillators"))
            with tag("ul"):
                for one in connected.oscillators:
                    with tag("li"):
                        Tag("b", one.name)
                        names = ", ".join(one.trimmers)
                        words = say("start.trimmers", names=names) if names else None
                        Tag("span", words or say("start.no trimmers"), "pw-soft")

    def _list_screens(self, scene: Scene) -> None:
        self._screens.clear()
        if len(scene.screens) < 2:
            return
        with self._screens:
            Tag("h2", say("start.screens"))
            with tag("ul"):
                for one in scene.screens:
                    words = say(f"lead.{one.words}")
                    if one.name == self._frame.screen:
                        words = say("start.this", words=words)
                    if one.name == scene.leader:
                        words = say("start.leads", words=words)
                    Tag("li", words)

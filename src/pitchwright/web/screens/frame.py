"""What every screen has around it: name, bench, way about, who leads, what went wrong.

A screen is laid out once and then only changed, so that focus and a screen reader's place stay
where they are while things happen.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from nicegui import ui

from pitchwright.errors import PitchwrightError
from pitchwright.web.addresses import ADDRESSES
from pitchwright.web.conductor import Conductor
from pitchwright.web.scene import Phase, Scene
from pitchwright.web.screens.pieces import Tag, key, link, tag
from pitchwright.web.texts import say

if TYPE_CHECKING:
    from pitchwright.procedures.requests import Ask

__all__ = ["Frame", "busy_with", "stopped_in", "switch"]

_PLACES = {
    "survey": "survey",
    "guided trim": "trim",
    "warm-up watch": "warm-up",
    "ensemble check": "instrument",
}


class Frame:
    """The frame about one screen on one device.

    Parameters
    ----------
    conductor
        Runs what is asked for.
    screen
        The stable name of the device.
    where
        Which of the screens is shown.
    local
        Whether it is shown at the machine itself.
    """

    def __init__(self, conductor: Conductor, screen: str, where: str, *, local: bool) -> None:
        self.conductor, self.screen, self.where, self.local = conductor, screen, where, local
        with tag("div", "pw-page", "page") as self.page:
            skip = link(say("skip"), "#main", "pw-skip")
            skip.props["data-skip"] = True
            with tag("header", "pw-head"):
                link(say("name"), "/", "pw-name", "home")
                self._bench = Tag("span", say("bench.opening"), "pw-bench", "bench")
                with tag("details", "pw-menu", "menu"):
                    Tag("summary", say("menu"))
                    self._nav()
                self._tools()
            with tag("section", part="notices") as notices:
                notices.props["aria-label"] = say("notices")
                self._fault = _Notice("fault", "alert")
                self._lead = _Notice("lead", "status")
                with self._lead.box:
                    key(say("lead.take"), self._take_lead, "pw-quiet", "take-lead")
                self._busy = _Notice("busy", "status")
                with self._busy.box:
                    self._busy_link = link(say("busy.see"), "/", "pw-key pw-quiet", "show-busy")
            with tag("div", "pw-body"):
                with tag("div", "pw-rail"):
                    self._nav()
                self.main = tag("main", "pw-main", "main")
                self.main.props["id"] = "main"
                self.main.props["tabindex"] = "-1"
            # What is said aloud, and read out by a screen reader.
            self._said = Tag("div", "", "pw-hidden", "said")
            self._said.props["aria-live"] = "polite"

    def _nav(self) -> None:
        with tag("nav", "pw-nav") as nav:
            nav.props["aria-label"] = say("menu.screens")
            for name in ADDRESSES:
                one = link(say(f"screen.{name}"), ADDRESSES[name], part=f"to-{name}")
                if name == self.where:
                    one.props["aria-current"] = "page"

    def _tools(self) -> None:
        """What is at hand while a procedure fills the screen."""
        with tag("div", "pw-tools", "tools"):
            self._stop = key(say("stop"), self._stop_it, "pw-quiet", "stop")
            switch("speak")
            switch("tick")

    # ------------------------------------------------------------------ for the screens

    @property
    def leads(self) -> bool:
        """Whether this device leads, or may by acting."""
        return self.conductor.scene.leader in ("", self.screen)

    def do(self, act: Callable[[], Any]) -> bool:
        """Do what was asked for; what goes wrong is said on the page. Whether it went well."""
        try:
            act()
        except PitchwrightError as refused:
            self.say_fault(refused.sentence)
            return False
        self.say_fault("")
        return True

    def say_fault(self, sentence: str) -> None:
        """Say what went wrong; nothing where the sentence is empty."""
        self._fault.say(f"{say('fault')}: {sentence}" if sentence else "")

    def speak(self, sentence: str) -> None:
        """Have a sentence read out, where that is switched on."""
        self._said.set_text(sentence)

    def offer(self, keys: ui.element, question: Ask) -> None:
        """Put the choices of a question into an element, as keys."""
        keys.clear()
        with keys:
            for one in question.choices:
                first = "pw-first" if one.key == question.default else ""
                key(one.words, self._chooses(one.key), first, f"choice-{one.key}")

    def _chooses(self, chosen: str) -> Callable[[], bool]:
        return lambda: self.do(lambda: self.conductor.choose(self.screen, chosen))

    def full(self, on: bool) -> None:
        """Give the whole screen to what goes on, with its tools instead of the way about."""
        if on:
            self.page.classes(add="pw-full")
        else:
            self.page.classes(remove="pw-full")

    # ------------------------------------------------------------------ what is shown

    def show(self, scene: Scene) -> None:
        """Show what of a scene concerns every screen."""
        self._stop.set_visibility(scene.leader in ("", self.screen))
        connected = scene.connected
        self._bench.set_text(say(f"bench.{connected.kind}" if connected else "bench.opening"))
        if scene.fault:
            self.say_fault(scene.fault)
        self._show_lead(scene)
        self._show_busy(scene)

    def _show_lead(self, scene: Scene) -> None:
        if scene.leader in ("", self.screen) or len(scene.screens) < 2:
            self._lead.say("")
            return
        words = {one.name: one.words for one in scene.screens}.get(scene.leader, "computer")
        self._lead.say(say("lead.other", who=say(f"lead.{words}")))

    def place_of(self, scene: Scene) -> str:
        """The address of the screen that shows what runs or ran last; empty where none does."""
        place = _PLACES.get(scene.procedure)
        return ADDRESSES[place] if place else ""

    def _show_busy(self, scene: Scene) -> None:
        place = _PLACES.get(scene.procedure, "")
        elsewhere = scene.phase.busy and place and self.where not in (place, "practice")
        if not elsewhere:
            self._busy.say("")
            return
        what = say(f"procedure.{scene.procedure}")
        self._busy.say(say("busy", what=what, whom=", ".join(scene.oscillators)))
        self._busy_link.props["href"] = ADDRESSES[place]

    def _take_lead(self) -> None:
        self.conductor.lead(self.screen)

    def _stop_it(self) -> None:
        self.do(lambda: self.conductor.stop(self.screen))


def busy_with(scene: Scene, procedure: str) -> bool:
    """Whether a procedure of that name is under way."""
    return scene.phase.busy and scene.procedure == procedure


def stopped_in(scene: Scene, procedure: str) -> bool:
    """Whether a procedure of that name was stopped and can go on."""
    return scene.phase is Phase.STOPPED and scene.procedure == procedure


def switch(name: str) -> Tag:
    """A switch that lives on the device alone and is remembered there."""
    button = Tag("button", say(name), "pw-key pw-quiet pw-switch", name)
    for prop, value in {
        "type": "button",
        "aria-pressed": "false",
        "aria-label": say(f"{name}.name"),
        "data-switch": name,
        "data-keep": True,
    }.items():
        button.props[prop] = value
    return button


class _Notice:
    """A line under the head that is there only while it has something to say."""

    def __init__(self, part: str, role: str) -> None:
        with tag("div", "pw-notice", f"notice-{part}") as self.box:
            self._words = Tag("span", "", part=part)
            self._words.props["role"] = role
        self.box.set_visibility(False)

    def say(self, sentence: str) -> None:
        self._words.set_text(sentence)
        self.box.set_visibility(bool(sentence))

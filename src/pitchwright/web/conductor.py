"""The conductor: runs what is asked for in a thread, keeps the events, and shows all one scene.

Theory of operation. One procedure at a time runs through ``bench.runner`` in a thread of its own.
Each event is kept and taken into the scene; live readings go to the feed instead. Screens come and
go as they like: nothing depends on one being there, so a closed browser stops nothing. One screen
leads; the others see the same and may take the lead. Whoever asks for something names the screen
it comes from, and is refused in a sentence where another one leads.

Numerics are imported in the thread, so that a page can be served before they are there.
"""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Protocol

from pitchwright.errors import InputError, PitchwrightError
from pitchwright.web.feed import Feed
from pitchwright.web.people import People, Stopped
from pitchwright.web.scene import Connected, Phase, Scene, Screen, after

if TYPE_CHECKING:
    from pitchwright.bench.runner import Bench
    from pitchwright.procedures.events import Event, Procedure
    from pitchwright.trim.trimmer import Trimmer

__all__ = ["Conductor", "Rig"]


class Rig(Protocol):
    """What is connected, as the conductor wants it: it makes a bench for each procedure."""

    @property
    def connected(self) -> Connected:
        """What it is, for the scene."""

    def trimmers(self, name: str) -> tuple[Trimmer, ...]:
        """The trimmers of an oscillator; InputError where there is none of that name."""

    def bench(self, names: Sequence[str], people: People) -> Bench:
        """A bench for one procedure about these oscillators."""

    def keep(self, bench: Any) -> None:
        """Take back the bench once its procedure is over."""


class Conductor:
    """Runs procedures and shows every screen the same scene; safe to call from any thread.

    Parameters
    ----------
    connect
        Sets up what is connected; called in a thread, and what it raises is said on the page.
    output_allowed
        Whether the person at the machine has allowed sound and voltage on its outputs already.
    """

    def __init__(self, connect: Callable[[], Rig], *, output_allowed: bool = False) -> None:
        self.feed = Feed()
        self._connect = connect
        self._changed = threading.Condition(threading.RLock())
        self._scene = Scene(output_allowed=output_allowed)
        self._events: list[Event] = []
        self._rig: Rig | None = None
        self._people: People | None = None
        self._again: Callable[[], tuple[Procedure[Any], str, object, Sequence[str]]] | None = None
        self._thread: threading.Thread | None = None

    # ------------------------------------------------------------------ what is shown

    @property
    def scene(self) -> Scene:
        """What every screen shows now."""
        with self._changed:
            return self._scene

    def events(self, since: int = 0) -> list[Event]:
        """The events of the procedure that runs or ran last, from a number on; no live readings."""
        with self._changed:
            return [event for event in self._events if event.number > since]

    def wait_for(self, wanted: Callable[[Scene], bool], timeout_s: float) -> Scene:
        """Wait until the scene is as wanted; TimeoutError where it does not come to that."""
        with self._changed:
            if not self._changed.wait_for(lambda: wanted(self._scene), timeout_s):
                raise TimeoutError(f"still {self._scene.phase} after {timeout_s:g} s")
            return self._scene

    # ------------------------------------------------------------------ who looks on

    def join(self, screen: str, words: str) -> None:
        """A screen looks on from now; the first one leads."""
        with self._changed:
            others = tuple(one for one in self._scene.screens if one.name != screen)
            self._show(
                screens=(*others, Screen(screen, words)), leader=self._scene.leader or screen
            )

    def part(self, screen: str) -> None:
        """A screen is gone. What runs goes on; the lead is free for whoever acts next."""
        with self._changed:
            others = tuple(one for one in self._scene.screens if one.name != screen)
            leader = "" if self._scene.leader == screen else self._scene.leader
            self._show(screens=others, leader=leader)

    def lead(self, screen: str) -> None:
        """Take the lead over."""
        self._show(leader=screen)

    def allow_output(self) -> None:
        """The person at the machine allows sound and voltage on its outputs."""
        self._show(output_allowed=True)

    # ------------------------------------------------------------------ what is asked for

    def open(self) -> None:
        """Set up the bench, in a thread; the scene says when it is there."""
        threading.Thread(target=self._open, name="opening", daemon=True).start()

    def survey(
        self, by: str, oscillators: Sequence[str], low: float, high: float, step: float = 6.0
    ) -> None:
        """Survey oscillators over a range of notes."""

        def make() -> tuple[Procedure[Any], str, object, Sequence[str]]:
            from pitchwright.procedures.survey import SurveySettings, notes_of_range, survey

            settings = SurveySettings(tuple(oscillators), notes_of_range(low, high, step))
            return survey(settings), "survey", settings, oscillators

        self._start(by, make)

    def trim(
        self,
        by: str,
        oscillator: str,
        low: float,
        high: float,
        tolerance_cents: float = 1.0,
        *,
        own_middle: bool = False,
    ) -> None:
        """Trim one oscillator, guided."""

        def make() -> tuple[Procedure[Any], str, object, Sequence[str]]:
            from pitchwright.procedures.guided_trim import guided_trim
            from pitchwright.procedures.settings import TrimSettings

            settings = TrimSettings(
                oscillator,
                self._need_rig().trimmers(oscillator),
                low,
                high,
                tolerance_cents,
                own_middle=own_middle,
            )
            return guided_trim(settings), "guided trim", settings, (oscillator,)

        self._start(by, make)

    def go_on(self, by: str) -> None:
        """Go on from where the last procedure was stopped."""
        with self._changed:
            if self._scene.phase is not Phase.STOPPED or self._again is None:
                raise InputError("Nothing was stopped that could go on")
            self._start(by, self._again, earlier=list(self._events))

    def advance(self, by: str) -> None:
        """Leave the trimmer where it is: a tap, a key, a pedal. Without a turn it does nothing."""
        self._at_work(by).advance()

    def choose(self, by: str, key: str) -> None:
        """Answer the question that waits."""
        people = self._at_work(by)
        question = self.scene.question
        if question is None or key not in {choice.key for choice in question.choices}:
            raise InputError("That was not one of the choices")
        people.answer(key)

    def turn(self, by: str, trimmer: str, turns: float) -> None:
        """Turn a trimmer of the practice rig, clockwise positive."""
        if not abs(turns) <= 20.0:
            raise InputError("A trimmer is not turned that far at once")
        people, connected, turning = self._at_work(by), self.scene.connected, self.scene.turning
        if connected is None or turning is None:
            raise InputError("No turn is under way")
        named = {one.name: one.trimmers for one in connected.oscillators}
        if trimmer not in named.get(turning.oscillator, ()):
            raise InputError(f"{turning.oscillator} has no {trimmer}")
        if not people.turn(trimmer, turns):
            raise InputError("Trimmers are turned by hand here")

    def stop(self, by: str) -> None:
        """Stop what runs; it can go on later."""
        self._at_work(by).stop()

    def close(self) -> None:
        """Stop what runs and wait for its end."""
        with self._changed:
            people, thread = self._people, self._thread
        if people is not None:
            people.stop()
        if thread is not None:
            thread.join()

    # ------------------------------------------------------------------ inside

    def _open(self) -> None:
        try:
            rig = self._connect()
        except PitchwrightError as fault:
            self._show(phase=Phase.IDLE, fault=fault.sentence)
            return
        with self._changed:
            self._rig = rig
            self._show(phase=Phase.IDLE, connected=rig.connected)

    def _need_rig(self) -> Rig:
        if self._rig is None:
            raise InputError("Nothing is connected yet", do="Wait a moment")
        return self._rig

    def _led_by(self, screen: str) -> None:
        """Refuse where another screen leads; a free lead falls to whoever acts."""
        if not self._scene.leader:
            self._show(leader=screen)
        elif self._scene.leader != screen:
            raise InputError("Another screen leads", do="Take the lead over first")

    def _at_work(self, by: str) -> People:
        with self._changed:
            self._led_by(by)
            if self._people is None:
                raise InputError("Nothing is under way")
            return self._people

    def _start(
        self,
        by: str,
        make: Callable[[], tuple[Procedure[Any], str, object, Sequence[str]]],
        earlier: Sequence[Event] = (),
    ) -> None:
        with self._changed:
            self._led_by(by)
            rig = self._need_rig()
            if self._people is not None:
                raise InputError("Something is under way", do="Wait for its end, or stop it")
            procedure, name, settings, oscillators = make()
            people = People(self.feed.rest)
            bench = rig.bench(oscillators, people)
            if not earlier:
                self._events.clear()
            self._people, self._again = people, make

            def work() -> None:
                self._run(rig, bench, procedure, name, settings, earlier)

            self._thread = threading.Thread(target=work, name=name, daemon=True)
            self._thread.start()

    def _run(
        self,
        rig: Rig,
        bench: Bench,
        procedure: Procedure[Any],
        name: str,
        settings: object,
        earlier: Sequence[Event],
    ) -> None:
        from pitchwright.bench.runner import run

        fault = ""
        try:
            with contextlib.suppress(Stopped):
                run(procedure, bench, (self._take,), name=name, settings=settings, earlier=earlier)
        except PitchwrightError as refused:
            fault = refused.sentence
        except Exception as broken:
            fault = f"Internal fault, not yours: {type(broken).__name__}: {broken}."
        finally:
            rig.keep(bench)
            with self._changed:
                self._people = None
                ended = self._scene.phase in (Phase.ENDED, Phase.STOPPED)
                self._show(fault=fault, phase=self._scene.phase if ended else Phase.STOPPED)

    def _take(self, event: Event) -> None:
        """Take one event: live readings to the feed, all others to events and scene."""
        what: Any = event.what
        if event.kind == "turning":
            self.feed.add(what.point.t_s, what.point.cents)
            return
        with self._changed:
            self._events.append(event)
            if event.kind == "watch turn":
                if self._people is not None:
                    self._people.window_cents = what.window_cents
                self.feed.begin()
            self._scene = after(self._scene, event)
            self._changed.notify_all()

    def _show(self, **changes: Any) -> None:
        with self._changed:
            version = self._scene.version + 1
            self._scene = replace(self._scene, version=version, **changes)
            self._changed.notify_all()

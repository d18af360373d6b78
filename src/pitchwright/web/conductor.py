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
import os
import threading
import traceback
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Protocol

from pitchwright.errors import PitchwrightError
from pitchwright.units import A4_HZ
from pitchwright.web.drop import Drops
from pitchwright.web.feed import Feed
from pitchwright.web.foreseen import foresee
from pitchwright.web.modelled import modelled
from pitchwright.web.people import People
from pitchwright.web.refusing import refused
from pitchwright.web.scene import MOST_SAID, Connected, Hidden, Phase, Said, Scene, Screen, after
from pitchwright.web.targets import FLAT, Kind, Target, target_of
from pitchwright.web.texts import say

if TYPE_CHECKING:
    from pitchwright.bench.runner import Bench
    from pitchwright.logbook.store import Logbook
    from pitchwright.procedures.circumstances import Conditions
    from pitchwright.procedures.events import Event
    from pitchwright.procedures.outcomes import SurveyClosed
    from pitchwright.procedures.worked_out import DetunePlanned
    from pitchwright.sitting import Begun, Job, Sitting
    from pitchwright.trim.trimmer import Trimmer
    from pitchwright.upkeep import Recorder

__all__ = ["Conductor", "Rig"]


class Rig(Protocol):
    """What is connected, as the conductor wants it: it makes a bench for each procedure."""

    @property
    def connected(self) -> Connected:
        """What it is, for the scene."""

    def trimmers(self, name: str) -> tuple[Trimmer, ...]:
        """The trimmers of an oscillator; InputError where there is none of that name."""

    @property
    def invented(self) -> bool:
        """Whether its instrument is not a real one: then another logbook is written into."""

    @property
    def note_at_0_v(self) -> float:
        """The note that 0 V plays."""

    @property
    def clock_ppm(self) -> float:
        """Standard uncertainty of the clock behind the pitches, ppm; 0 where it cancels."""

    def what(self, name: str) -> str:
        """What an oscillator is said to be; empty where nobody said."""

    def conditions(self, names: Iterable[str]) -> Conditions:
        """What oscillators are heard under, as far as it is known without asking."""

    def bench(self, job: Job, people: People, start_s: float) -> Bench:
        """A bench for one procedure; called in the thread that the procedure runs in."""

    def keep(self, bench: Bench) -> None:
        """Take back the bench once its procedure is over."""

    def take_up(self, events: Iterable[Event]) -> None:
        """Stand as after these events of an earlier process."""


class Conductor:
    """Runs procedures and shows every screen the same scene; safe to call from any thread.

    Parameters
    ----------
    connect
        Sets up what is connected; called in a thread, and what it raises is said on the page.
    logbook
        Where everything is written down, as `pitchwright.upkeep.Recorder` takes it.
    output_allowed
        Whether the person at the machine has allowed sound and voltage on its outputs already.
    """

    def __init__(
        self, connect: Callable[[], Rig], *, logbook: str = "", output_allowed: bool = False
    ) -> None:
        self.feed = Feed()
        self.drops = Drops(lambda dropped: self._show(dropped=dropped))
        self._connect, self._logbook = connect, logbook
        self._changed = threading.Condition(threading.RLock())
        self._scene = Scene(output_allowed=output_allowed)
        self._events: list[Event] = []
        self._rig: Rig | None = None
        self._people: People | None = None
        self._recorder: Recorder | None = None
        self._sitting: Sitting | None = None
        self._begun: Begun | None = None
        self._end: Event | None = None
        self._thread: threading.Thread | None = None

    # ------------------------------------------------------------------ what is shown

    @property
    def scene(self) -> Scene:
        """What every screen shows now; never waits."""
        return self._scene

    @property
    def logbook(self) -> Logbook | None:
        """Where everything is written down; None where nothing is, or not yet."""
        return self._recorder.logbook if self._recorder is not None else None

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

    def allow_output(self, *, at_the_machine: bool) -> None:
        """Allow sound and voltage on this machine's outputs; nobody else can than who is at it."""
        if not at_the_machine:
            raise refused("not at the machine")
        self._show(output_allowed=True)

    def hide(self, by: str, hidden: Hidden) -> None:
        """Hide the numbers from some screens; turns then end only when the person says so."""
        with self._changed:
            if self._people is not None:
                self._people.by_ear = hidden is not Hidden.NOBODY
            self._show(hidden=hidden, hidden_by=by)

    # ------------------------------------------------------------------ what is asked for

    def open(self) -> None:
        """Set up the bench, in a thread; the scene says when it is there."""
        threading.Thread(target=self._open, name="opening", daemon=True).start()

    def survey(
        self,
        by: str,
        oscillators: Sequence[str],
        low: float,
        high: float,
        *,
        step: float = 6.0,
        tolerance_cents: float = 1.0,
        own_middle: bool = False,
        a4_hz: float = A4_HZ,
        conditions: Conditions | None = None,
    ) -> None:
        """Survey oscillators over a range of notes."""

        def prepare(rig: Rig) -> Job:
            from pitchwright.procedures.circumstances import AS_USUAL, Circumstances
            from pitchwright.procedures.survey import SurveySettings, notes_of_range
            from pitchwright.sitting.jobs import survey_job
            from pitchwright.tracking import TargetCurve

            usual = rig.conditions(oscillators)
            wide = (one for one in AS_USUAL.tolerances if one > tolerance_cents)
            under = Circumstances(
                target=TargetCurve.flat(a4_hz),
                own_middle=own_middle,
                tolerances=(tolerance_cents, *wide),
                clock_ppm=rig.clock_ppm,
                conditions=conditions.or_else(usual) if conditions else usual,
            )
            notes = notes_of_range(low, high, step)
            return survey_job(
                SurveySettings(tuple(oscillators), notes, rig.note_at_0_v, circumstances=under)
            )

        self._begin(by, prepare)

    def survey_left(self, by: str) -> None:
        """Survey what the last guided trim left, at all notes that it was to reach."""
        with self._changed:
            trimmed = self._begun
            if trimmed is None or trimmed.job.name != "guided trim":
                raise refused("nothing trimmed")
            self._start(by, lambda _, sitting: sitting.left(trimmed))

    def trim(
        self,
        by: str,
        oscillator: str,
        low: float,
        high: float,
        *,
        tolerance_cents: float = 1.0,
        target: Target = FLAT,
        a4_hz: float = A4_HZ,
        wider: tuple[float, float] | None = None,
        leave: Sequence[str] = (),
        conditions: Conditions | None = None,
    ) -> None:
        """Trim one oscillator, guided; what was learned of its trimmers before is used."""

        def prepare(rig: Rig) -> Job:
            from pitchwright.procedures.settings import TrimSettings
            from pitchwright.sitting.jobs import trim_job
            from pitchwright.upkeep import trimmers_as_known

            trimmers = rig.trimmers(oscillator)
            if self.logbook is not None:
                trimmers = trimmers_as_known(self.logbook, oscillator, trimmers)
            first, last = wider or (low, high)
            wanted = target_of(
                target, oscillator, first, last, self._curve_of(target.leader), a4_hz
            )
            usual = rig.conditions((oscillator,))
            settings = TrimSettings(
                oscillator,
                trimmers,
                low,
                high,
                tolerance_cents,
                target=wanted.curve,
                own_middle=target.kind is Kind.OWN,
                wider=wider,
                note_at_0_v=rig.note_at_0_v,
                clock_ppm=rig.clock_ppm,
                conditions=conditions.or_else(usual) if conditions else usual,
            ).leaving(leave)
            if wanted.planned is not None:
                self._write_down(wanted.planned, (target.leader, oscillator))
            return trim_job(settings)

        self._begin(by, prepare)

    def _curve_of(self, name: str) -> SurveyClosed | None:
        return next((one for one in self._scene.curves if one.oscillator == name), None)

    def _write_down(self, planned: DetunePlanned, oscillators: Sequence[str]) -> None:
        """Write down a plan that a trim goes by, as the terminal does."""
        from pitchwright.bench.runner import announce

        if self._recorder is not None:
            record = self._recorder.follow(oscillators)
            announce(planned, (record,), name="detune", settings={"a4_hz": 440.0})

    def warm_up(self, by: str, oscillators: Sequence[str], note: float = 60.0) -> None:
        """Watch oscillators warm up."""

        def prepare(_: Rig) -> Job:
            from pitchwright.procedures.warmup_watch import WatchSettings
            from pitchwright.sitting.jobs import warmup_job

            return warmup_job(WatchSettings(tuple(oscillators), (note,)))

        self._begin(by, prepare)

    def check_ensemble(
        self,
        by: str,
        oscillators: Sequence[str],
        sources: Sequence[str],
        low: float,
        high: float,
        *,
        step: float = 6.0,
        tolerance_cents: float = 1.0,
    ) -> None:
        """Hear oscillators together, through one source after another."""

        def prepare(rig: Rig) -> Job:
            from pitchwright.procedures.ensemble_check import EnsembleSettings
            from pitchwright.procedures.survey import notes_of_range
            from pitchwright.sitting.jobs import ensemble_job

            return ensemble_job(
                EnsembleSettings(
                    tuple(oscillators),
                    notes_of_range(low, high, step),
                    tuple(sources),
                    tolerance_cents=tolerance_cents,
                    note_at_0_v=rig.note_at_0_v,
                    clock_ppm=rig.clock_ppm,
                    conditions=rig.conditions(oscillators),
                )
            )

        self._begin(by, prepare)

    def go_on(self, by: str) -> None:
        """Go on from where the last procedure was stopped, before or after a restart."""
        with self._changed:
            stopped = self._begun
            if self._scene.phase is not Phase.STOPPED or stopped is None:
                raise refused("nothing stopped")
            so_far = replace(stopped, earlier=tuple(self._events))
            self._start(by, lambda *_: so_far)

    def advance(self, by: str) -> None:
        """Leave the trimmer where it is: a tap, a key, a pedal. Without a turn it does nothing."""
        self._at_work(by).advance()

    def end_watch(self, by: str) -> None:
        """End a warm-up watch in good order: what was measured until now counts."""
        self._at_work(by).had_enough()

    def choose(self, by: str, key: str) -> None:
        """Answer the question that waits."""
        people = self._at_work(by)
        question = self.scene.question
        if question is None or key not in {choice.key for choice in question.choices}:
            raise refused("no choice")
        people.answer(key)

    def turn(self, by: str, trimmer: str, turns: float) -> None:
        """Turn a trimmer of the practice rig, clockwise positive."""
        if not abs(turns) <= 20.0:
            raise refused("too far")
        people, connected, turning = self._at_work(by), self.scene.connected, self.scene.turning
        if connected is None or turning is None:
            raise refused("no turn")
        named = {one.name: one.trimmers for one in connected.oscillators}
        if trimmer not in named.get(turning.oscillator, ()):
            raise refused("no trimmer", oscillator=turning.oscillator, trimmer=trimmer)
        if not people.turn(trimmer, turns):
            raise refused("by hand")

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
        if self._recorder is not None:
            self._recorder.close()
        self.drops.close()

    # ------------------------------------------------------------------ inside

    def _open(self) -> None:
        try:
            from pitchwright.sitting import Sitting
            from pitchwright.upkeep import Recorder

            rig = self._connect()
            recorder = Recorder(
                self._logbook, practice=rig.invented, warn=lambda said: self._show(warning=said)
            )
            sitting = Sitting(recorder)
            stopped = self._stopped_before(rig, recorder, sitting)
        except PitchwrightError as fault:
            self._show(phase=Phase.IDLE, fault=fault.sentence)
            return
        except Exception as broken:
            self._show(phase=Phase.IDLE, fault=_not_yours(broken))
            return
        with self._changed:
            self._rig, self._recorder = rig, recorder
            self._sitting, self._begun = sitting, stopped
            phase = Phase.IDLE
            if stopped is not None:
                for event in self._events:
                    self._scene = _seen(self._scene, event)
                phase = Phase.STOPPED
            self._show(
                phase=phase,
                connected=rig.connected,
                written_in=recorder.where,
                stopped=stopped.job.oscillators[0] if stopped else "",
            )

    def _stopped_before(self, rig: Rig, recorder: Recorder, sitting: Sitting) -> Begun | None:
        """The guided trim that a former process was stopped in, its events taken in."""
        from pitchwright.sitting.jobs import trim_job
        from pitchwright.upkeep import stopped_trims

        if recorder.logbook is None:
            return None
        named = {one.name for one in rig.connected.oscillators}
        for stopped in stopped_trims(recorder.logbook):
            if stopped.oscillator in named:
                self._events = list(stopped.events)
                rig.take_up(stopped.events)
                job = trim_job(stopped.settings)
                return sitting.begin(job, run=stopped.run, earlier=stopped.events)
        return None

    def _led_by(self, screen: str) -> None:
        """Refuse where another screen leads; a free lead falls to whoever acts."""
        if not self._scene.leader:
            self._show(leader=screen)
        elif self._scene.leader != screen:
            raise refused("another leads")

    def _at_work(self, by: str) -> People:
        with self._changed:
            self._led_by(by)
            if self._people is None:
                raise refused("nothing under way")
            return self._people

    def _begin(self, by: str, prepare: Callable[[Rig], Job]) -> None:
        """Begin a job afresh."""

        def begin(rig: Rig, sitting: Sitting) -> Begun:
            job = prepare(rig)
            trimmers = {name: rig.trimmers(name) for name in job.oscillators}
            self._give_up(job)
            what = {name: rig.what(name) for name in job.oscillators}
            return sitting.begin(job, what=what, trimmers=trimmers)

        self._start(by, begin)

    def _start(self, by: str, begin: Callable[[Rig, Sitting], Begun]) -> None:
        with self._changed:
            self._led_by(by)
            if self._rig is None or self._sitting is None:
                raise refused("not connected")
            if self._people is not None:
                raise refused("busy")
            if self._rig.connected.drives_outputs and not self._scene.output_allowed:
                raise refused("output")
            begun = begin(self._rig, self._sitting)
            people = People(self.feed.rest, self._say, lambda kind: self._show(sound=kind))
            people.by_ear = self._scene.hidden is not Hidden.NOBODY
            if not begun.earlier:
                self._events.clear()
            self._people, self._begun, self._end = people, begun, None
            self._show(phase=Phase.LISTENING, stopped="", fault="")
            self._thread = threading.Thread(
                target=self._work,
                args=(self._rig, people, begun),
                name=begun.job.name,
                daemon=True,
            )
            self._thread.start()

    def _give_up(self, job: Job) -> None:
        """Offer a stopped guided trim no longer once its oscillator is begun anew."""
        stopped, recorder = self._begun, self._recorder
        if (
            self._scene.phase is Phase.STOPPED
            and stopped is not None
            and stopped.job.name == job.name == "guided trim"
            and stopped.job.oscillators == job.oscillators
            and recorder is not None
            and recorder.logbook is not None
        ):
            from pitchwright.upkeep import give_up

            give_up(recorder.logbook, stopped.run, "begun anew on the page")

    def _work(self, rig: Rig, people: People, begun: Begun) -> None:
        from pitchwright.bench.stop import StopAsked

        fault = ""
        job = begun.job
        bench: Bench | None = None
        try:
            with contextlib.suppress(StopAsked):
                bench = rig.bench(job, people, begun.start_s)
                begun.carry_out(bench, (self._take,), people.stopping)
        except PitchwrightError as known:
            fault = known.sentence
        except Exception as broken:
            fault = _not_yours(broken)
        finally:
            if bench is not None:
                rig.keep(bench)
            with self._changed:
                self._people = None
                if self._end is not None:
                    self._scene = after(self._scene, self._end)
                ended = self._scene.phase is Phase.ENDED
                self._show(
                    fault=fault,
                    sound="",
                    phase=Phase.ENDED if ended else Phase.STOPPED,
                    stopped="" if ended else ", ".join(job.oscillators),
                )

    def _take(self, event: Event) -> None:
        """Take one event: live readings to the feed, all others to events and scene."""
        what: Any = event.what
        if event.kind == "turning":
            self.feed.add(what.point.t_s, what.point.cents)
            return
        with self._changed:
            self._events.append(event)
            if event.kind in ("closed", "interrupted"):
                # It is shown once the bench is given back: only then can something else begin.
                self._end = event
                return
            if event.kind == "watch turn":
                if self._people is not None:
                    self._people.window_cents = what.window_cents
                self.feed.begin()
            self._scene = _seen(self._scene, event)
            self._changed.notify_all()

    def _say(self, sentence: str) -> None:
        """Say something of the bench that is no event."""
        with self._changed:
            said = (*self._scene.said, Said(len(self._events), "bench", sentence))
            self._show(said=said[-MOST_SAID:])

    def _show(self, **changes: Any) -> None:
        with self._changed:
            version = self._scene.version + 1
            self._scene = replace(self._scene, version=version, **changes)
            self._changed.notify_all()


def _seen(scene: Scene, event: Event) -> Scene:
    """Take one event into the picture, with what is worked out of a curve."""
    scene = after(scene, event)
    if event.kind != "curve known":
        return scene
    what: Any = event.what
    line = modelled(what, scene.settings)
    return replace(
        scene,
        foreseen=foresee(what, scene.settings),
        model=line,
        model_found=scene.model_found or line,
    )


def _not_yours(broken: Exception) -> str:
    if os.environ.get("PITCHWRIGHT_TRACEBACK"):
        traceback.print_exception(broken)
    return say("fault.internal", kind=type(broken).__name__, words=broken)

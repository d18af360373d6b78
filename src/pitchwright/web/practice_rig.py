"""The practice rig as the page's bench: its oscillators stay as they were left.

Its clock runs on from one procedure to the next, and its trimmers keep where they were turned to.
What takes long in earnest (walking to the rack, a warm-up) is not waited for: the clock jumps.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from pitchwright.bench.practice import RIG_CONDITIONS, trimmers_of
from pitchwright.bench.practice_rig import RigBench
from pitchwright.practice.scenario import theatre_rig
from pitchwright.procedures.circumstances import Conditions
from pitchwright.procedures.events import Event
from pitchwright.procedures.requests import HAND_AWAY, Ask, TurnWatched, WatchTurn
from pitchwright.trim.trimmer import Trimmer
from pitchwright.units import NOTE_AT_0_V
from pitchwright.web.people import People
from pitchwright.web.scene import Connected, Listed
from pitchwright.web.sliders import Sliders
from pitchwright.web.texts import say

if TYPE_CHECKING:
    from pitchwright.bench.runner import Bench
    from pitchwright.sitting.jobs import Job

__all__ = ["PracticeRig"]

_LONGEST_WAIT_S: Final = 1.5
_COLD_S: Final = 60.0
"""For how long a rig has been on whose warm-up is watched: a warm one has nothing to show."""


class PracticeRig:
    """The invented rig of the demo scenario.

    Parameters
    ----------
    hand
        Whether a simulated hand turns, for show; else the sliders on the page.
    seed
        Of reading noise and hand.
    speed
        How many times faster than a clock it runs.
    pace
        Is called with each span of simulated time and who may stop it, instead of waiting.
    """

    def __init__(
        self,
        *,
        hand: bool = False,
        seed: int = 1,
        speed: float = 1.0,
        pace: Callable[[People, float], None] | None = None,
    ) -> None:
        self._rig = theatre_rig()
        self._hand, self._seed, self._speed = hand, seed, speed
        self._pace = pace or self._wait
        self._t_s = 0.0

    @property
    def connected(self) -> Connected:
        """What it is, for the scene."""
        return Connected(
            kind="practice",
            sentence=say("connected.practice"),
            oscillators=tuple(
                Listed(
                    voice.oscillator.name,
                    tuple(trimmer.name for trimmer in trimmers_of(voice.oscillator)),
                )
                for voice in self._rig.voices
            ),
            sources=tuple(source.name for source in self._rig.sources),
            turnable=not self._hand,
            drives_outputs=False,
        )

    def trimmers(self, name: str) -> tuple[Trimmer, ...]:
        """The trimmers of an oscillator; InputError where there is none of that name."""
        (voice,) = self._rig.only(name).voices
        return trimmers_of(voice.oscillator)

    @property
    def invented(self) -> bool:
        """All of it is."""
        return True

    @property
    def note_at_0_v(self) -> float:
        """The note that 0 V plays."""
        return float(NOTE_AT_0_V)

    @property
    def clock_ppm(self) -> float:
        """Its clock is right."""
        return 0.0

    def what(self, name: str) -> str:
        """Nobody says more of it than that it is an oscillator."""
        del name
        return ""

    def conditions(self, names: Iterable[str]) -> Conditions:
        """The same for all of them."""
        del names
        return RIG_CONDITIONS

    def bench(self, job: Job, people: People, start_s: float) -> Bench:
        """A bench for one procedure; its clock goes on by itself."""
        del start_s
        sliders = None
        if not self._hand:
            sliders = Sliders(
                # By ear, a turn that ended by itself would give the aim away.
                lambda: 0.0 if people.by_ear else people.window_cents,
                people.resting,
            )
            people.hears(move=sliders.move, leave=sliders.leave)
        self._seed += 1

        cold = job.name == "warm-up watch"
        return RigBench(
            theatre_rig(_COLD_S) if cold else self._rig,
            seed=self._seed,
            turner=sliders,
            t_s=0.0 if cold else self._t_s,
            choose_key=lambda question: self._chosen(people, question),
            pace=lambda seconds: self._pace(people, seconds),
            enough=lambda: people.enough,
        )

    def _chosen(self, people: People, question: Ask) -> str:
        # A simulated hand goes by itself; nobody need say that it has.
        if self._hand and question.question == HAND_AWAY:
            return question.default
        return people.choose(question)

    def _wait(self, people: People, seconds: float) -> None:
        people.wait(min(seconds, _LONGEST_WAIT_S) / self._speed)

    def keep(self, bench: Bench) -> None:
        """Keep the oscillators as a procedure left them, and what time it is."""
        if isinstance(bench, RigBench) and bench.now_s() >= self._t_s:
            self._rig = bench.rig
            self._t_s = bench.now_s()

    def take_up(self, events: Iterable[Event]) -> None:
        """Put the trimmers where the turns of an earlier run left them, as far as is known."""
        oscillator, trimmer = "", ""
        for event in events:
            self._t_s = max(self._t_s, event.t_s)
            if isinstance(event.what, WatchTurn):
                oscillator, trimmer = event.what.oscillator, event.what.trimmer
            elif isinstance(event.what, TurnWatched) and event.what.turned is not None:
                self._turn(oscillator, trimmer, event.what.turned)

    def _turn(self, oscillator: str, trimmer: str, turns: float) -> None:
        voices = []
        for voice in self._rig.voices:
            turned = voice.oscillator
            if turned.name == oscillator:
                for screw, named in zip(turned.trimmers, trimmers_of(turned), strict=True):
                    if named.name == trimmer:
                        turned = turned.turned(screw.kind, turns)
            voices.append(replace(voice, oscillator=turned))
        self._rig = replace(self._rig, voices=tuple(voices))

"""The practice bench for everything at once: all oscillators of the rig, its sources, its room.

For what looks at more than one oscillator, or at one for long: a survey, a warm-up watch, an
ensemble check. Oscillators wander and warm up, and the room swings, as the rig says.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from pitchwright.bench.practice import PracticeBench, Turner
from pitchwright.practice.hands import Hand
from pitchwright.practice.noise import FrequencyNoise
from pitchwright.practice.rig import Rig, Voice
from pitchwright.practice.room import Room
from pitchwright.practice.source import CvSource
from pitchwright.procedures.requests import (
    Ask,
    Chosen,
    Heard,
    NotePlayed,
    PlayNote,
    ReadingsTaken,
    TakeReadings,
    TrackPoint,
    TurnWatched,
    Wait,
    Waited,
    WatchTurn,
)

__all__ = ["RigBench"]

_READING_CENTS = 0.03
_NOTE_S, _READING_S = 1.0, 0.5


class RigBench:
    """Answers a procedure from a whole practice rig.

    Parameters
    ----------
    rig
        As it stands at the start; turning a trimmer changes it.
    source
        Name of the source that plays first; a question about the source changes it.
    room
        Where it stands.
    seed
        Of all chance.
    turner
        Who turns; a simulated hand where None.
    t_s
        The clock at the start, in seconds; where an interrupted run left off.
    choose_key
        How a question is answered; its default unless given.
    pace
        Is called with each span of simulated time: ``time.sleep`` to practise in real time.
    enough
        Whether the person has had enough of a watch, asked after each wait.
    """

    def __init__(
        self,
        rig: Rig,
        source: str = "Loft",
        *,
        room: Room | None = None,
        seed: int = 1,
        turner: Turner | None = None,
        t_s: float = 0.0,
        choose_key: Callable[[Ask], str] | None = None,
        pace: Callable[[float], None] | None = None,
        enough: Callable[[], bool] = lambda: False,
    ) -> None:
        self.rig = rig
        self.source: CvSource = rig.source(source)
        self.room = room or Room(rig.temperature_c)
        self.t_s = t_s
        self.choose_key = choose_key
        self.pace = pace
        self._enough = enough
        self._rng = np.random.default_rng(seed)
        self._restless = {
            voice.oscillator.name: FrequencyNoise(voice.oscillator.noise, chance)
            for voice, chance in zip(rig.voices, self._rng.spawn(len(rig.voices)), strict=True)
        }
        self._turner = turner or Hand(self._rng)
        self._turned_on: dict[str, PracticeBench] = {}

    def now_s(self) -> float:
        """Return the clock in seconds."""
        return self.t_s

    def play(self, request: PlayNote) -> NotePlayed:
        """Have a moment pass until the note sounds."""
        del request  # each reading says which note it wants
        self._pass(_NOTE_S)
        return NotePlayed(self.t_s)

    def listen(self, request: TakeReadings) -> ReadingsTaken:
        """Read the note that sounds, of every oscillator asked for at once."""
        self._pass(_READING_S)
        return ReadingsTaken(tuple(self._heard(name, request.note) for name in request.oscillators))

    def watch(self, request: WatchTurn, live: Callable[[TrackPoint], None]) -> TurnWatched:
        """Have one trimmer of one oscillator turned."""
        voice = self._voice(request.oscillator)
        bench = self._turned_on.setdefault(
            voice.oscillator.name,
            PracticeBench(voice.oscillator, self.source, self._turner, self._rng, pace=self.pace),
        )
        bench.oscillator, bench.source, bench.t_s = voice.oscillator, self.source, self.t_s
        bench.temperature_c = self.room.temperature_c(self.t_s)
        watched = bench.watch(request, live)
        turned = replace(voice, oscillator=bench.oscillator)
        self.rig = replace(
            self.rig, voices=tuple(turned if one is voice else one for one in self.rig.voices)
        )
        self.t_s = bench.t_s
        return watched

    def choose(self, request: Ask) -> Chosen:
        """Answer a question; one about the source is answered by connecting it."""
        key = self.choose_key(request) if self.choose_key else request.default
        if request.question == "source" and any(one.name == key for one in self.rig.sources):
            self.source = self.rig.source(key)
        return Chosen(key)

    def pass_time(self, request: Wait) -> Waited:
        """Let time pass, and read the thermometer."""
        self._pass(max(0.0, request.until_s - self.t_s))
        noise_k = self.room.thermometer_k * float(self._rng.standard_normal())
        temperature_c = self.room.temperature_c(self.t_s) + noise_k
        return Waited(self.t_s, enough=self._enough(), temperature_c=temperature_c)

    def _pass(self, seconds: float) -> None:
        self.t_s += seconds
        if self.pace is not None:
            self.pace(seconds)

    def _voice(self, name: str) -> Voice:
        (voice,) = self.rig.only(name).voices
        return voice

    def _heard(self, name: str, note: float) -> Heard:
        oscillator = self._voice(name).oscillator
        cv_v = np.array([self.source.cv_v(note)])
        f_hz = float(oscillator.f_hz(cv_v, self.t_s, self.room.temperature_c(self.t_s))[0])
        cents = self._restless[oscillator.name].cents_at(self.t_s)
        cents += _READING_CENTS * float(self._rng.standard_normal())
        f_hz *= 2.0 ** (cents / 1200.0)
        good = math.isfinite(f_hz) and f_hz > 0.0
        return Heard(name, self.t_s, f_hz if good else None, _READING_CENTS if good else 0.0)

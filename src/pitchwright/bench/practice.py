"""The practice bench: a practice rig's oscillator, its source, and somebody who turns.

Readings are the true frequency with reading noise, made without sound so that a whole guided trim
takes a second; what is heard of a real oscillator is the business of ``pitch``.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Protocol

import numpy as np

from pitchwright.practice.hands import Turned, Workpiece
from pitchwright.practice.oscillator import Oscillator
from pitchwright.practice.source import CvSource
from pitchwright.procedures.circumstances import Conditions
from pitchwright.procedures.requests import (
    Ask,
    Chosen,
    Ended,
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
from pitchwright.trim.trimmer import Trimmer
from pitchwright.units import cents_between

__all__ = ["RIG_CONDITIONS", "PracticeBench", "Turner", "trimmers_of"]

RIG_CONDITIONS = Conditions(source="Loft", reference="the practice rig's own truth")
"""What the practice rig is heard under where nobody says otherwise."""

_READING_CENTS, _LIVE_CENTS = 0.02, 0.1
_NOTE_S, _READING_S, _VISIT_S = 1.0, 0.5, 25.0


def trimmers_of(oscillator: Oscillator) -> tuple[Trimmer, ...]:
    """The trimmers of a practice oscillator as a person would list them."""
    return tuple(Trimmer(screw.kind.entry.called, screw.kind) for screw in oscillator.trimmers)


class Turner(Protocol):
    """Who turns: a simulated hand, or a person at a keyboard."""

    def take_up(self, trimmer: str, within_reach: tuple[str, ...], asked_cents: float) -> str:
        """Put the screwdriver in; return the trimmer it is really in."""

    def turn(
        self,
        work: Workpiece,
        *,
        asked: str,
        start_cents: float,
        aim_cents: float,
        low_cents: float,
        high_cents: float,
        most_turns: float | None,
        clockwise: bool | None,
    ) -> Turned:
        """Turn until the reading stands about at the aim."""


@dataclass(slots=True)
class PracticeBench:
    """Answers a procedure from a simulated oscillator.

    Attributes
    ----------
    oscillator
        As it stands now; turning replaces it.
    source
        What plays it.
    turner
        Who turns.
    rng
        Reading noise.
    temperature_c
        Of the room.
    t_s
        The clock, in seconds; begins where an interrupted run left off.
    choose_key
        How a question is answered; its default unless given.
    pace
        Is called with each span of simulated time: ``time.sleep`` to practise in real time.
    reading_cents
        Standard uncertainty of a careful reading.
    """

    oscillator: Oscillator
    source: CvSource
    turner: Turner
    rng: np.random.Generator
    temperature_c: float = 25.0
    t_s: float = 0.0
    choose_key: Callable[[Ask], str] | None = None
    pace: Callable[[float], None] | None = None
    reading_cents: float = _READING_CENTS
    _note: float = 60.0
    _tuned_hz: float = 440.0
    _in_hand: str = ""
    _visit: int = 0
    _live: Callable[[TrackPoint], None] | None = field(default=None, repr=False)

    # --- the bench
    def now_s(self) -> float:
        """Return the clock in seconds."""
        return self.t_s

    def play(self, request: PlayNote) -> NotePlayed:
        """Set the note."""
        self._note = request.note
        self.wait(_NOTE_S)
        return NotePlayed(self.t_s)

    def listen(self, request: TakeReadings) -> ReadingsTaken:
        """Read the note asked for."""
        self._note = request.note
        self.wait(_READING_S)
        return ReadingsTaken(tuple(self._heard(name) for name in request.oscillators))

    def watch(self, request: WatchTurn, live: Callable[[TrackPoint], None]) -> TurnWatched:
        """Have the turner turn."""
        self._note, self._tuned_hz, self._live = request.note, request.tuned_hz, live
        if request.visit != self._visit:
            self._visit = request.visit
            self.wait(_VISIT_S)
            asked = request.aim_cents - request.start_cents
            self._in_hand = self.turner.take_up(request.trimmer, self.within_reach(), asked)
        turned = self.turner.turn(
            self,
            asked=request.trimmer,
            start_cents=request.start_cents,
            aim_cents=request.aim_cents,
            low_cents=request.low_cents,
            high_cents=request.high_cents,
            most_turns=request.most_turns,
            clockwise=request.clockwise,
        )
        self._live = None
        self.wait(_READING_S)
        after = self._heard(request.oscillator)
        at = cents_between(after.f_hz or request.tuned_hz, request.tuned_hz)
        ended = {"limit": Ended.LIMIT, "still": Ended.STILL}.get(turned.stopped, Ended.OUTSIDE)
        if ended is not Ended.LIMIT and abs(at - request.aim_cents) <= request.window_cents:
            ended = Ended.INSIDE
        track = tuple(TrackPoint(t_s, cents) for t_s, cents in turned.track)
        return TurnWatched(ended, after, track, turned.turns)

    def choose(self, request: Ask) -> Chosen:
        """Answer a question."""
        return Chosen(self.choose_key(request) if self.choose_key else request.default)

    def pass_time(self, request: Wait) -> Waited:
        """Let time pass."""
        self.wait(max(0.0, request.until_s - self.t_s))
        return Waited(self.t_s, temperature_c=self.temperature_c)

    # --- what a hand can do
    def within_reach(self) -> tuple[str, ...]:
        """Names of the trimmers that a screwdriver can be in."""
        return tuple(trimmer.name for trimmer in trimmers_of(self.oscillator))

    def turn(self, trimmer: str, turns: float) -> None:
        """Turn a trimmer, clockwise positive."""
        for screw, named in zip(
            self.oscillator.trimmers, trimmers_of(self.oscillator), strict=True
        ):
            if named.name == trimmer:
                self.oscillator = self.oscillator.turned(screw.kind, turns)

    def bump(self, cents: float) -> None:
        """Knock the base knob."""
        error = self.oscillator.base_error_cents + cents
        self.oscillator = replace(self.oscillator, base_error_cents=error)

    def live_cents(self) -> float:
        """Return the live reading, in cents from the note's tuned frequency."""
        noise = _LIVE_CENTS * float(self.rng.standard_normal())
        cents = cents_between(self._true_hz(), self._tuned_hz) + noise
        if self._live is not None:
            self._live(TrackPoint(self.t_s, cents))
        return cents

    def wait(self, seconds: float) -> None:
        """Let time pass."""
        self.t_s += seconds
        if self.pace is not None:
            self.pace(seconds)

    # --- the truth
    def _true_hz(self) -> float:
        cv_v = np.array([self.source.cv_v(self._note)])
        return float(self.oscillator.f_hz(cv_v, self.t_s, self.temperature_c)[0])

    def _heard(self, name: str) -> Heard:
        noise = self.reading_cents * float(self.rng.standard_normal())
        f_hz = self._true_hz() * 2.0 ** (noise / 1200.0)
        good = math.isfinite(f_hz) and f_hz > 0.0
        return Heard(name, self.t_s, f_hz if good else None, self.reading_cents if good else 0.0)

"""Benches that keep one turn under way for as long as is wanted, and say when it began to move."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from pitchwright.bench.practice_rig import RigBench
from pitchwright.pitch.live import LiveTracker
from pitchwright.procedures.requests import TrackPoint, TurnWatched, WatchTurn
from pitchwright.sitting.jobs import Job
from pitchwright.units import cents_between
from pitchwright.web.people import People
from pitchwright.web.practice_rig import PracticeRig

if TYPE_CHECKING:
    from pitchwright.bench.runner import Bench

__all__ = ["HeardRig", "SteadyRig"]

_RATE_HZ = 48_000
_BLOCK_S = 0.01
_STEP_CENTS = 6.0
_STEP_EVERY_S = 2.3


class SteadyRig(PracticeRig):
    """The practice rig; once a trimmer is to be turned, readings come at a steady rate for ever.

    Parameters
    ----------
    rate_hz
        Readings a second.
    of_a_clock
        How many seconds of the bench's clock pass in one.
    """

    def __init__(self, rate_hz: float = 20.0, of_a_clock: float = 1.0) -> None:
        super().__init__(hand=True, speed=1000.0)
        self._rate_hz, self._of_a_clock = rate_hz, of_a_clock

    def bench(self, job: Job, people: People, start_s: float) -> Bench:
        """A bench whose first turn never ends."""
        bench = super().bench(job, people, start_s)
        assert isinstance(bench, RigBench)

        def watch(request: WatchTurn, live: Callable[[TrackPoint], None]) -> TurnWatched:
            self.go_on(request, live, people)
            raise AssertionError("this turn is only ever stopped")

        bench.watch = watch  # type: ignore[method-assign]
        return bench

    def go_on(self, request: WatchTurn, live: Callable[[TrackPoint], None], people: People) -> None:
        """Send readings until it is stopped; they swing about the aim, as those of a hand do."""
        begun_s, sent = time.monotonic(), 0
        while True:
            due = int((time.monotonic() - begun_s) * self._rate_hz)
            while sent < due:
                sent += 1
                t_s = sent / self._rate_hz * self._of_a_clock
                live(TrackPoint(t_s, request.aim_cents + 8.0 * math.sin(1.7 * t_s)))
            people.wait(max(0.001, 0.5 / self._rate_hz))


class HeardRig(SteadyRig):
    """The same, but the readings are heard in sound that is made as a clock would bring it.

    The pitch steps to and fro. The clock of the readings is that of the wall, so that a browser on
    the same machine can tell when it showed what; ``steps_s`` says when the sound changed: when the
    block that holds the change was handed over, as a device's buffer would be.
    """

    def __init__(self) -> None:
        super().__init__()
        self.steps_s: list[tuple[float, float]] = []

    def go_on(self, request: WatchTurn, live: Callable[[TrackPoint], None], people: People) -> None:
        """Make sound, hear it, and send what was heard."""
        tracker = LiveTracker(_RATE_HZ)
        phase, side = 0.0, 1.0
        begun_s, made_s, next_step_s = time.time(), 0.0, _STEP_EVERY_S
        count = round(_BLOCK_S * _RATE_HZ)
        while True:
            if made_s >= next_step_s:
                side, next_step_s = -side, next_step_s + _STEP_EVERY_S
                self.steps_s.append((begun_s + made_s + _BLOCK_S, side * _STEP_CENTS))
            cents = request.aim_cents + side * _STEP_CENTS
            f_hz = request.tuned_hz * 2.0 ** (cents / 1200.0)
            turn = phase + 2.0 * np.pi * f_hz / _RATE_HZ * np.arange(1, count + 1)
            phase = float(turn[-1] % (2.0 * np.pi))
            sound = 0.3 * np.sin(turn) + 0.1 * np.sin(2.0 * turn) + 0.05 * np.sin(3.0 * turn)
            made_s += _BLOCK_S
            people.wait(max(0.0, begun_s + made_s - time.time()))
            for reading in tracker.push(sound):
                if reading.f_hz is not None:
                    at = cents_between(reading.f_hz, request.tuned_hz)
                    live(TrackPoint(begun_s + made_s, at))

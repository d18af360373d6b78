"""Random oscillators at the level of readings: no sound, exact truth, everything seeded.

A rig has a base, a scale and (where asked for) a high-end trimmer, each a screw with travel, play,
an effect that changes by a tenth over the travel, and an unknown sense. Its error curve is base +
scale about the pivot + droop + a source error for each note + drift (a line and a random walk).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from pitchwright.tracking.minimax import minimax
from pitchwright.units import note_to_hz

__all__ = ["ALL_NOTES", "PLAYED", "Rig", "Screw", "best_possible", "random_rig"]

Array = NDArray[np.float64]

ALL_NOTES = np.arange(24.0, 85.0)
"""C1 to C6, every semitone: 61 notes."""
PLAYED = np.arange(24.0, 85.0, 6.0)
"""The notes that the guided trim plays by default: 11 of them."""

SOURCE_CENTS = 0.3
WALK_CENTS = 0.3
LINE_CENTS_PER_MIN = 0.3
READING_CENTS = 0.03
LIVE_CENTS = 0.1


@dataclass(slots=True)
class Screw:
    """One trimmer as a screw; amounts in cents, cents per octave or cents per kHz.

    ``turns`` counts from mid travel; ``lag`` is how far the wiper is behind the screw.
    """

    per_turn: float
    travel: float
    turns: float = 0.0
    wiper: float = 0.0
    play: float = 0.0
    step: float = 0.0

    def turn(self, turns: float) -> None:
        """Turn the screw, clockwise positive."""
        half = self.travel / 2.0
        self.turns += turns
        self.wiper = min(max(self.wiper, self.turns - self.play), self.turns + self.play)
        self.wiper = min(max(self.wiper, -half), half)
        self.turns = min(max(self.turns, self.wiper - self.play), self.wiper + self.play)

    def at_end(self) -> bool:
        """Whether the wiper rests at an end."""
        return abs(self.wiper) >= self.travel / 2.0 - 1e-9

    @property
    def amount(self) -> float:
        """What it adds now."""
        at = self.wiper
        if self.step > 0.0:
            at = round(at / self.step) * self.step
        return self.per_turn * at * (1.0 + 0.1 * at / self.travel)


@dataclass(slots=True)
class Rig:
    """One oscillator and its trimmers; time is moved by :meth:`wait`."""

    base_cents: float
    scale: float
    pivot_v: float
    droop: float
    source: Array
    line: float
    screws: dict[str, Screw]
    rng: np.random.Generator
    t_s: float = 0.0
    walk: float = 0.0
    note: float = 60.0
    has_high: bool = False
    bumps: float = 0.0
    hz: Array = field(default_factory=lambda: note_to_hz(ALL_NOTES))

    # --- what a hand can do
    def turn(self, trimmer: str, turns: float) -> None:
        """Turn one trimmer."""
        self.screws[trimmer].turn(turns)

    def bump(self, cents: float) -> None:
        """Knock the base knob."""
        self.bumps += cents

    def live_cents(self) -> float:
        """Return a live reading of the note that sounds."""
        return self.true_cents(self.note) + LIVE_CENTS * float(self.rng.standard_normal())

    def wait(self, seconds: float) -> None:
        """Let time pass, and things drift."""
        if seconds <= 0.0:
            return
        self.t_s += seconds
        self.walk += WALK_CENTS * math.sqrt(seconds / 60.0) * float(self.rng.standard_normal())

    def now_s(self) -> float:
        """Return the time in seconds."""
        return self.t_s

    # --- the truth
    def _common(self) -> float:
        return (
            self.base_cents
            + self.screws["base"].amount
            + self.bumps
            + self.walk
            + self.line * self.t_s / 60.0
        )

    def true_cents(self, note: float) -> float:
        """Return the true error of a note now."""
        v = (note - 24.0) / 12.0
        scale = self.scale + self.screws["scale"].amount
        cents = self._common() + scale * (v - self.pivot_v)
        droop = self.droop - (self.screws["high"].amount if self.has_high else 0.0)
        f = 440.0 * 2.0 ** ((note - 69.0) / 12.0 + cents / 1200.0)
        t = droop / 1000.0 * math.log(2.0) / 1200.0
        return cents + 1200.0 * math.log2(1.0 - f * t) + float(self.source[round(note) - 24])

    def nearest_level(self, trimmer: str, aim_cents: float) -> float:
        """Return how near to an aim any step of a trimmer brings the note that sounds, in cents."""
        screw = self.screws[trimmer]
        stood, half = screw.wiper, screw.travel / 2.0
        levels = np.arange(-np.round(half / screw.step), np.round(half / screw.step) + 1.0)
        off = []
        for level in levels:
            screw.wiper = float(level) * screw.step
            off.append(abs(self.true_cents(self.note) - aim_cents))
        screw.wiper = stood
        return float(min(off))

    def curve(self, notes: Array) -> Array:
        """Return the true errors of some notes now."""
        return np.array([self.true_cents(float(note)) for note in notes])


def best_possible(rig: Rig, notes: Array, high: bool) -> float:
    """Smallest greatest error that ideal base, scale and (``high``) high-end trimmers leave."""
    columns = [np.ones(len(notes)), (notes - 24.0) / 12.0]
    if high:
        columns.append(note_to_hz(notes) / 1000.0)
    # At the optimum the frequencies are within cents of nominal: take the droop there.
    f = note_to_hz(notes)
    t = rig.droop / 1000.0 * math.log(2.0) / 1200.0
    curve = 1200.0 * np.log2(1.0 - f * t) + rig.source[np.round(notes).astype(int) - 24]
    return minimax(np.column_stack(columns), curve).max_error


def random_rig(
    rng: np.random.Generator,
    *,
    droop: tuple[float, float] = (0.0, 6.0),
    has_high: bool = False,
    best_at_most: float | None = None,
) -> tuple[Rig, int]:
    """Draw rigs until one is eligible; return it and how many were drawn."""
    drawn = 0
    while True:
        drawn += 1
        sign = rng.choice((-1.0, 1.0))
        rig = Rig(
            base_cents=float(rng.uniform(-40.0, 40.0)),
            scale=float(sign * rng.uniform(3.0, 30.0)),
            pivot_v=0.0 if rng.random() < 0.5 else float(rng.uniform(-1.0, 8.0)),
            droop=float(rng.uniform(*droop)),
            source=rng.normal(0.0, SOURCE_CENTS, len(ALL_NOTES)),
            line=float(LINE_CENTS_PER_MIN * rng.choice((-1.0, 1.0))),
            screws={
                "base": _screw(rng, 15.0, 60.0, 400.0),
                "scale": _screw(rng, 4.0, 20.0, 110.0),
                "high": _screw(rng, 1.0, 4.0, 40.0),
            },
            rng=rng,
            has_high=has_high,
        )
        if best_at_most is None or best_possible(rig, PLAYED, has_high) <= best_at_most:
            return rig, drawn


def _screw(rng: np.random.Generator, least: float, most: float, span: float) -> Screw:
    per_turn = float(np.exp(rng.uniform(np.log(least), np.log(most))))
    return Screw(
        per_turn=per_turn * float(rng.choice((-1.0, 1.0))),
        travel=span / per_turn,
        play=float(rng.uniform(0.0, 0.03)),
    )

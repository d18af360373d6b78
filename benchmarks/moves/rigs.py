"""Random oscillators at the level of readings: no sound, exact truth, everything seeded.

A rig has a base, a scale and (where asked for) a high-end trimmer, each a screw of the practice
room (``practice.trimmers``) with unknown sense, and a hand that leaves something behind
(``practice.touch``). Its error curve is base + scale about the pivot + droop + a source error for
each note + what drifts: base by itself, scale about a voltage of its own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from benchmarks.moves.worlds import World
from numpy.typing import NDArray

from pitchwright.practice.touch import Touch
from pitchwright.practice.trimmers import Trimmer as Screw
from pitchwright.tracking.minimax import minimax
from pitchwright.trim.kinds import TrimmerKind
from pitchwright.units import note_to_hz

__all__ = ["ALL_NOTES", "KINDS", "PLAYED", "READING_CENTS", "Rig", "best_possible", "random_rig"]

Array = NDArray[np.float64]

ALL_NOTES = np.arange(24.0, 85.0)
"""C1 to C6, every semitone: 61 notes."""
PLAYED = np.arange(24.0, 85.0, 6.0)
"""The notes that the guided trim plays by default: 11 of them."""
KINDS = {
    "base": TrimmerKind.BASE_FINE,
    "scale": TrimmerKind.SCALE,
    "high": TrimmerKind.HIGH_END,
}

READING_CENTS = 0.03
LIVE_CENTS = 0.1


@dataclass(slots=True)
class Rig:
    """One oscillator, its trimmers and the hand; time is moved by :meth:`wait`."""

    world: World
    base_cents: float
    scale: float
    pivot_v: float
    droop: float
    source: Array
    base_per_min: float
    settling_min: float
    scale_per_min: float
    still_v: float
    screws: dict[str, Screw]
    touch: Touch
    rng: np.random.Generator
    t_s: float = 0.0
    walk: float = 0.0
    note: float = 60.0
    scatter: float = 0.0
    has_high: bool = False
    bumps: float = 0.0
    knocks: int = 0
    jumps_cents: float = 0.0
    jumped: float = 0.0
    rest_jumps: int = 0
    in_hand: str = ""
    hz: Array = field(default_factory=lambda: note_to_hz(ALL_NOTES))

    # --- what a hand can do
    def turn(self, trimmer: str, turns: float) -> None:
        """Turn one trimmer; one with a bad contact may jump as it is turned."""
        self.screws[trimmer] = self.screws[trimmer].turned(turns)
        if self.jumps_cents and trimmer == "base" and self.rng.random() < 0.08:
            self.jumped = self.jumps_cents * float(self.rng.choice((-1.0, 0.0, 1.0)))

    def put_in(self, trimmer: str) -> None:
        """The screwdriver goes into a trimmer."""
        self.let_go()
        self.in_hand, self.touch = trimmer, self.touch.there(True)

    def let_go(self) -> None:
        """The screwdriver comes out of the trimmer that it is in; the hand stays near."""
        if self.in_hand:
            self.screws[self.in_hand] = self.screws[self.in_hand].let_go()
        self.in_hand = ""

    def hand_away(self) -> None:
        """Screwdriver and hand go."""
        self.let_go()
        self.touch = self.touch.there(False)

    def bump(self, cents: float) -> None:
        """Knock the base knob."""
        self.bumps += cents

    def play(self, note: float) -> None:
        """A note is played: it does not come back quite where it was."""
        self.note = note
        draw = self.rng.standard_t(3) / math.sqrt(3.0) if self.world.heavy else self.rng.normal()
        self.scatter = self.world.scatter_cents * float(draw)

    def heard_cents(self, noise_cents: float) -> float:
        """Return a reading of the note that sounds."""
        noise = noise_cents * float(self.rng.standard_normal())
        return self.true_cents(self.note) + self.scatter + noise

    def live_cents(self) -> float:
        """Return a live reading of the note that sounds."""
        return self.heard_cents(LIVE_CENTS)

    def wait(self, seconds: float) -> None:
        """Let time pass, and things drift."""
        if seconds <= 0.0:
            return
        self.t_s += seconds
        self.touch = self.touch.after(seconds)
        minutes, world = seconds / 60.0, self.world
        self.walk += world.walk_cents * math.sqrt(minutes) * float(self.rng.standard_normal())
        if world.in_steps and self.rng.random() < 2.0 * minutes:
            self.walk += 0.5 * self.base_per_min * float(self.rng.exponential(1.0))
        if self.rng.random() < world.knocks_per_hour * minutes / 60.0:
            self.knocks += 1
            self.bumps += float(self.rng.uniform(2.0, 6.0) * self.rng.choice((-1.0, 1.0)))
        rests = self.jumps_cents and self.in_hand == "base" and seconds >= 0.4
        if rests and self.rng.random() < 1.0 - math.exp(-0.3 * seconds):
            before = self.jumped
            self.jumped = self.jumps_cents * float(self.rng.choice((-1.0, 0.0, 1.0)))
            self.rest_jumps += before != self.jumped

    def now_s(self) -> float:
        """Return the time in seconds."""
        return self.t_s

    # --- the truth
    def _common(self) -> float:
        minutes = self.t_s / 60.0
        if self.world.in_steps:
            drift = 0.0
        elif self.world.settles:
            gone = 1.0 - math.exp(-minutes / self.settling_min)
            drift = self.base_per_min * self.settling_min * gone
        else:
            drift = self.base_per_min * minutes
        screw = self.screws["base"].effect
        return self.base_cents + screw + self.bumps + self.walk + drift + self.jumped

    def true_cents(self, note: float) -> float:
        """Return the true error of a note now."""
        v = (note - 24.0) / 12.0
        scale = self.scale + self.screws["scale"].effect
        cents = self._common() + scale * (v - self.pivot_v) + self.touch.cents
        cents += self.scale_per_min * self.t_s / 60.0 * (v - self.still_v)
        droop = self.droop - (self.screws["high"].effect if self.has_high else 0.0)
        f = 440.0 * 2.0 ** ((note - 69.0) / 12.0 + cents / 1200.0)
        t = droop / 1000.0 * math.log(2.0) / 1200.0
        return cents + 1200.0 * math.log2(1.0 - f * t) + float(self.source[round(note) - 24])

    def nearest_level(self, trimmer: str, aim_cents: float) -> float:
        """Return how near to an aim any step of a trimmer brings the note that sounds, in cents."""
        from dataclasses import replace

        stood = self.screws[trimmer]
        last = int(stood.travel_turns / stood.step_turns)
        off = []
        for level in range(last + 1):
            self.screws[trimmer] = replace(stood, wiper_turns=level * stood.step_turns)
            off.append(abs(self.true_cents(self.note) - aim_cents))
        self.screws[trimmer] = stood
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
    world: World,
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
        pivot_v = 0.0 if rng.random() < 0.4 else float(rng.uniform(-1.0, 5.0))
        arm = max(abs(5.0 - pivot_v), abs(pivot_v))
        either = rng.choice((-1.0, 1.0), 4)
        rig = Rig(
            world,
            base_cents=float(rng.uniform(-40.0, 40.0)),
            scale=float(sign * rng.uniform(3.0, 30.0)),
            pivot_v=pivot_v,
            droop=float(rng.uniform(*droop)),
            source=rng.normal(0.0, world.bump_cents, len(ALL_NOTES)),
            base_per_min=world.base_per_min * float(either[0]),
            settling_min=float(rng.uniform(2.0, 10.0)),
            scale_per_min=world.scale_per_min * float(either[1]),
            still_v=float(rng.uniform(-1.0, 5.0)),
            screws={
                "base": _screw(world, rng, "base", 15.0, 60.0, 400.0, 1.0),
                "scale": _screw(world, rng, "scale", 4.0, 20.0, 110.0, arm),
                "high": _screw(world, rng, "high", 1.0, 4.0, 40.0, 1.05),
            },
            touch=Touch(
                heat_cents=world.heat_cents * float(either[2] * rng.uniform(0.5, 1.5)),
                heat_s=world.heat_s * float(rng.uniform(0.7, 1.4)),
                capacitance_cents=world.capacitance_cents * float(either[3] * rng.uniform(0, 1.5)),
            ),
            rng=rng,
            has_high=has_high,
        )
        if best_at_most is None or best_possible(rig, PLAYED, has_high) <= best_at_most:
            return rig, drawn


def _screw(
    world: World,
    rng: np.random.Generator,
    name: str,
    least: float,
    most: float,
    span: float,
    arm: float,
) -> Screw:
    per_turn = float(np.exp(rng.uniform(np.log(least), np.log(most))))
    far = per_turn * arm
    return Screw.at(
        KINDS[name],
        per_turn,
        travel_turns=span / per_turn,
        change=world.taper * float(rng.choice((-1.0, 1.0))),
        reversed_sense=bool(rng.random() < 0.5),
        backlash_turns=world.play_deg / 360.0 * float(rng.uniform(0.5, 1.5)),
        stick_turns=world.stick_cents / far * float(rng.uniform(0.3, 1.0)),
        spring_turns=world.spring_cents / far * float(rng.uniform(0.5, 1.5)),
    )

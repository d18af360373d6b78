"""One guided trim on one simulated rig, with the books kept."""

from __future__ import annotations

import time
from dataclasses import dataclass, field

import numpy as np
from benchmarks.moves.rigs import ALL_NOTES, PLAYED, Rig, best_possible, random_rig
from benchmarks.moves.simulated_bench import SimulatedBench

from pitchwright.practice.hands import Habits, Hand
from pitchwright.procedures import TrimSettings, guided_trim
from pitchwright.trim import Known, Trimmer, TrimmerKind

__all__ = ["SCENARIOS", "Outcome", "Scenario", "one_rig"]

KINDS = {
    "base": TrimmerKind.BASE_FINE,
    "scale": TrimmerKind.SCALE,
    "high": TrimmerKind.HIGH_END,
}


@dataclass(frozen=True, slots=True)
class Scenario:
    """One row of the table: which rigs, which hands, what is known."""

    name: str
    number: int
    eligible: bool = True
    high: bool = False
    known: bool = False
    note_s: float = 1.5
    fault: str = ""


SCENARIOS = (
    Scenario("two unknown trimmers, tool plays", 1),
    Scenario("two unknown trimmers, person plays", 2, note_s=4.0),
    Scenario("trimmers known from last time", 3, known=True),
    Scenario("high-end trimmer needed as well", 4, high=True),
    Scenario("not filtered", 5, eligible=False),
    Scenario("fault: wrong way", 6, fault="wrong way"),
    Scenario("fault: wrong trimmer", 7, fault="wrong trimmer"),
    Scenario("fault: bumped base knob", 8, fault="bumped base knob"),
    Scenario("fault: too coarse", 9, fault="too coarse"),
    Scenario("fault: at its end", 10, fault="at its end"),
)


@dataclass(slots=True)
class Outcome:
    """What became of one rig."""

    scenario: str
    index: int
    pivot_v: float
    scale: float
    droop: float
    drawn: int
    standing: str = ""
    true_cents: float = 0.0
    true_61_cents: float = 0.0
    best_cents: float = 0.0
    best_found_cents: float = 0.0
    visits: int = 0
    stops: int = 0
    notes: int = 0
    minutes: float = 0.0
    slips: list[str] = field(default_factory=list)
    small_slips: list[str] = field(default_factory=list)
    told: list[str] = field(default_factory=list)
    decide_s: list[float] = field(default_factory=list)

    @property
    def right(self) -> bool:
        """Whether the verdict is true."""
        if self.standing == "in tune":
            return self.true_cents <= 1.0
        return self.best_cents > 1.0 if self.standing == "cannot" else self.best_cents <= 1.0


def one_rig(scenario: Scenario, seed: int, index: int) -> Outcome:
    """Draw a rig, trim it, compare with the truth at the moment of the verdict."""
    rng = np.random.default_rng([seed, scenario.number, index])
    rig, drawn = random_rig(
        rng,
        droop=(4.0, 12.0) if scenario.high else (0.0, 6.0),
        has_high=scenario.high,
        best_at_most=0.7 if scenario.eligible else None,
    )
    _spoil(rig, scenario, rng, index)
    names = ("base", "scale", "high") if scenario.high else ("base", "scale")
    known = (
        _known(rig, rng) if scenario.known or (index % 2 and scenario.fault == "wrong way") else {}
    )
    trimmers = tuple(Trimmer(name, KINDS[name], known=known.get(name)) for name in names)
    outcome = Outcome(scenario.name, index, rig.pivot_v, rig.scale, rig.droop, drawn)
    outcome.best_cents = best_possible(rig, PLAYED, scenario.high)
    hand = Hand(rng, _habits(scenario))
    bench = SimulatedBench(rig, hand, scenario.note_s, names)
    procedure = guided_trim(TrimSettings("x", trimmers))
    begun = time.process_time()
    request = next(procedure)
    while True:
        outcome.decide_s.append(time.process_time() - begun)
        answer = bench.answer(request)
        begun = time.process_time()
        try:
            request = procedure.send(answer)
        except StopIteration as stop:
            result = stop.value
            break
    outcome.standing = str(result.verdict.standing)
    outcome.best_found_cents = result.verdict.best_possible_cents
    outcome.true_cents = float(np.abs(rig.curve(PLAYED)).max())
    outcome.true_61_cents = float(np.abs(rig.curve(ALL_NOTES)).max())
    outcome.visits, outcome.stops, outcome.notes = result.visits, bench.stops, bench.notes
    outcome.minutes = rig.t_s / 60.0
    outcome.slips = [slip.what for slip in hand.slips if slip.asked_cents >= 1.5]
    outcome.small_slips = [slip.what for slip in hand.slips if slip.asked_cents < 1.5]
    outcome.told = [str(finding) for finding in bench.told]
    return outcome


def _habits(scenario: Scenario) -> Habits:
    if scenario.fault == "wrong way":
        return Habits(wrong_way=0.5, most_slips=1)
    if scenario.fault == "wrong trimmer":
        return Habits(wrong_trimmer=0.7, most_slips=1)
    if scenario.fault == "bumped base knob":
        return Habits(bump=0.5, most_slips=1)
    return Habits()


def _spoil(rig: Rig, scenario: Scenario, rng: np.random.Generator, index: int) -> None:
    """Give the screw of a fault its steps or its short travel."""
    if scenario.fault not in ("too coarse", "at its end"):
        return
    name = ("base", "scale")[index % 2]
    screw = rig.screws[name]
    if scenario.fault == "too coarse":
        arm = 1.0 if name == "base" else max(abs(5.0 - rig.pivot_v), abs(rig.pivot_v))
        screw.step, screw.play = float(rng.uniform(2.0, 4.0)) / abs(screw.per_turn) / arm, 0.0
    else:
        need = abs(rig.scale) if name == "scale" else 30.0
        screw.travel = 2.0 * need * float(rng.uniform(0.3, 0.8)) / abs(screw.per_turn)


def _known(rig: Rig, rng: np.random.Generator) -> dict[str, Known]:
    """What last time left: effect within a tenth, pivot within a tenth of a volt."""
    effect = {n: s.per_turn * (1.0 + 0.1 * rng.standard_normal()) for n, s in rig.screws.items()}
    hz = 440.0 * 2.0 ** ((24.0 - 69.0) / 12.0 + rig.pivot_v + 0.1 * rng.standard_normal())
    zero = rig.pivot_v == 0.0
    return {
        "base": Known(effect_per_turn=effect["base"]),
        "scale": Known(hz, 0.1, at_zero_volts=zero, effect_per_turn=effect["scale"]),
    }

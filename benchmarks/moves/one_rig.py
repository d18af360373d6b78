"""One guided trim on one simulated rig, with the books kept."""

from __future__ import annotations

import time
from dataclasses import dataclass, field, replace

import numpy as np
from benchmarks.moves.rigs import ALL_NOTES, KINDS, PLAYED, Rig, best_possible, random_rig
from benchmarks.moves.simulated_bench import SimulatedBench
from benchmarks.moves.worlds import CALM, HANDS, HARD, ORDINARY, OTHER, World

from pitchwright.practice.hands import Habits, Hand
from pitchwright.procedures import TrimSettings, guided_trim
from pitchwright.trim import Known, Trimmer

__all__ = ["SCENARIOS", "Outcome", "Scenario", "one_rig"]

_AFTER_S = 120.0


@dataclass(frozen=True, slots=True)
class Scenario:
    """One row of the table: which rigs, which hands, what is known."""

    name: str
    number: int
    world: World
    eligible: bool = True
    high: bool = False
    known: bool = False
    person: bool = False
    fault: str = ""


def _rows(world: World, first: int) -> tuple[Scenario, ...]:
    return (
        Scenario("two unknown trimmers, tool plays", first, world),
        Scenario("person plays, errs and counts no turns", first + 1, world, person=True),
        Scenario("trimmers known from last time", first + 2, world, known=True),
        Scenario("high end as well", first + 3, world, high=True),
    )


FAULTS = (
    "wrong way",
    "wrong trimmer",
    "wrong trimmer in mid-visit",
    "bumped base knob",
    "too coarse",
    "at its end",
    "bad contact",
)
SCENARIOS = (
    *_rows(CALM, 10),
    *_rows(ORDINARY, 20),
    *_rows(HARD, 30),
    Scenario("two unknown trimmers, tool plays", 40, OTHER),
    Scenario("two unknown trimmers, tool plays", 41, HANDS),
    Scenario("not filtered", 50, ORDINARY, eligible=False),
    *(Scenario(f"fault: {fault}", 60 + k, ORDINARY, fault=fault) for k, fault in enumerate(FAULTS)),
)


@dataclass(slots=True)
class Outcome:
    """What became of one rig.

    ``true_cents`` is the greatest error at the notes played two minutes after the hand has gone,
    ``by_hand_cents`` the same with what drifted since the verdict left out, ``at_once_cents`` at
    the moment of the verdict.
    """

    scenario: str
    world: str
    index: int
    tolerance_cents: float
    pivot_v: float
    scale: float
    droop: float
    drawn: int
    standing: str = ""
    true_cents: float = 0.0
    by_hand_cents: float = 0.0
    at_once_cents: float = 0.0
    true_61_cents: float = 0.0
    best_cents: float = 0.0
    best_found_cents: float = 0.0
    visits: int = 0
    stops: int = 0
    notes: int = 0
    minutes: float = 0.0
    waited_s: float = 0.0
    knocks: int = 0
    slips: list[str] = field(default_factory=list)
    small_slips: list[str] = field(default_factory=list)
    told: list[str] = field(default_factory=list)
    why: list[str] = field(default_factory=list)
    decide_s: list[float] = field(default_factory=list)

    @property
    def false(self) -> bool:
        """Whether “in tune” was said and is not so two minutes after the hand has gone."""
        return self.standing == "in tune" and self.true_cents > self.tolerance_cents

    @property
    def false_by_hand(self) -> bool:
        """The same, with what drifted since left out."""
        return self.standing == "in tune" and self.by_hand_cents > self.tolerance_cents

    @property
    def failed(self) -> bool:
        """Whether it was not said to be in tune although the trimmers could."""
        return self.standing != "in tune"

    @property
    def unfounded(self) -> bool:
        """Whether “cannot” was said of what the trimmers can."""
        return self.standing == "cannot" and self.best_cents <= self.tolerance_cents


def one_rig(scenario: Scenario, seed: int, index: int) -> Outcome:
    """Draw a rig, trim it, compare with the truth two minutes after the hand has gone."""
    rng = np.random.default_rng([seed, scenario.number, index])
    world = scenario.world
    rig, drawn = random_rig(
        world,
        rng,
        droop=(4.0, 12.0) if scenario.high else (0.0, 6.0),
        has_high=scenario.high,
        best_at_most=0.7 * world.tolerance_cents if scenario.eligible else None,
    )
    _spoil(rig, scenario, rng, index)
    names = ("base", "scale", "high") if scenario.high else ("base", "scale")
    known = _known(rig, rng) if scenario.known or scenario.fault == "wrong way" else {}
    trimmers = tuple(Trimmer(name, KINDS[name], known=known.get(name)) for name in names)
    outcome = Outcome(
        scenario.name,
        world.name,
        index,
        world.tolerance_cents,
        rig.pivot_v,
        rig.scale,
        rig.droop,
        drawn,
    )
    outcome.best_cents = best_possible(rig, PLAYED, scenario.high)
    hand = Hand(rng, _habits(scenario))
    bench = SimulatedBench(
        rig,
        hand,
        4.0 if scenario.person else 1.5,
        names,
        wrong_note=world.wrong_note if scenario.person else 0.0,
        says_turns=not scenario.person,
    )
    settings = TrimSettings("x", trimmers, tolerance_cents=world.tolerance_cents)
    procedure = guided_trim(settings)
    begun = time.process_time()
    result = None
    try:
        request = next(procedure)
        while True:
            outcome.decide_s.append(time.process_time() - begun)
            answer = bench.answer(request)
            begun = time.process_time()
            request = procedure.send(answer)
    except StopIteration as stop:
        result = stop.value
    outcome.standing = str(result.verdict.standing)
    outcome.best_found_cents = result.verdict.best_possible_cents
    outcome.why = list(result.verdict.why)
    outcome.visits, outcome.stops, outcome.notes = result.visits, bench.stops, bench.notes
    outcome.minutes, outcome.waited_s = rig.t_s / 60.0, bench.waited_s
    outcome.knocks = rig.knocks
    _afterwards(rig, outcome)
    outcome.slips = [slip.what for slip in hand.slips if slip.asked_cents >= 1.5]
    outcome.small_slips = [slip.what for slip in hand.slips if slip.asked_cents < 1.5]
    if scenario.fault == "bad contact" and rig.rest_jumps > 1:
        outcome.slips.append("bad contact")
    outcome.told = [str(finding) for finding in bench.told]
    return outcome


def _afterwards(rig: Rig, outcome: Outcome) -> None:
    """Let two minutes pass without a hand, and see what is left of the verdict."""
    outcome.at_once_cents = float(np.abs(rig.curve(PLAYED)).max())
    rig.hand_away()
    stood, stood_s, calm = rig.touch, rig.t_s, rig.curve(PLAYED) - rig.touch.cents
    outcome.by_hand_cents = float(np.abs(calm + stood.after(_AFTER_S).cents).max())
    while rig.t_s < stood_s + _AFTER_S - 1e-6:
        rig.wait(5.0)
    outcome.true_cents = float(np.abs(rig.curve(PLAYED)).max())
    outcome.true_61_cents = float(np.abs(rig.curve(ALL_NOTES)).max())


def _habits(scenario: Scenario) -> Habits:
    habits = scenario.world.habits
    if scenario.fault == "wrong way":
        return replace(habits, wrong_way=0.5, wrong_trimmer=0.0, stops_early=0.0, most_slips=1)
    if scenario.fault == "wrong trimmer":
        return replace(habits, wrong_trimmer=0.7, stops_early=0.0, most_slips=1)
    if scenario.fault == "wrong trimmer in mid-visit":
        return replace(habits, slips_over=0.6, wrong_trimmer=0.0, stops_early=0.0, most_slips=1)
    if scenario.fault == "bumped base knob":
        return replace(habits, bump=0.5, wrong_trimmer=0.0, stops_early=0.0, most_slips=1)
    return habits


def _spoil(rig: Rig, scenario: Scenario, rng: np.random.Generator, index: int) -> None:
    """Give the screw of a fault its steps, its short travel or its bad contact."""
    name = ("base", "scale")[index % 2]
    screw = rig.screws[name]
    if scenario.fault == "too coarse":
        arm = 1.0 if name == "base" else max(abs(5.0 - rig.pivot_v), abs(rig.pivot_v))
        step = float(rng.uniform(2.0, 4.0)) / screw.per_turn / arm
        rig.screws[name] = replace(screw, step_turns=step, backlash_turns=0.0, stick_turns=0.0)
    elif scenario.fault == "at its end":
        need = abs(rig.scale) if name == "scale" else 30.0
        travel = 2.0 * need * float(rng.uniform(0.3, 0.8)) / screw.per_turn
        middle = travel / 2.0
        rig.screws[name] = replace(
            screw, travel_turns=travel, screw_turns=middle, wiper_turns=middle
        )
    elif scenario.fault == "bad contact":
        rig.jumps_cents = float(rng.uniform(2.0, 4.0))


def _known(rig: Rig, rng: np.random.Generator) -> dict[str, Known]:
    """What last time left: effect, pivot, and how hand and trimmers let go, each roughly right."""
    hz = 440.0 * 2.0 ** ((24.0 - 69.0) / 12.0 + rig.pivot_v + 0.1 * rng.standard_normal())
    hand = -(0.6 * rig.touch.heat_cents + rig.touch.capacitance_cents) + 0.1 * rng.standard_normal()

    def known(name: str) -> Known:
        screw = rig.screws[name]
        back = screw.spring_turns * screw.per_turn
        return Known(
            effect_per_turn=screw.effect_per_turn * (1.0 + 0.1 * rng.standard_normal()),
            springs_back=back * (1.0 + 0.3 * rng.standard_normal()),
            u_springs_back=0.4 * back + 0.03,
            hand_cents=hand,
            u_hand_cents=0.2,
        )

    scale = replace(known("scale"), pivot_hz=hz, u_pivot_v=0.1, at_zero_volts=rig.pivot_v == 0.0)
    return {"base": known("base"), "scale": scale}

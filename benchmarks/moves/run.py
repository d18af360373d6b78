"""How many visits guided trimming takes, and whether it is still in tune when the hand has gone.

Run as ``python -m benchmarks.moves.run``: our procedure in every world (``worlds``), its faults,
and the trade's ways by ear, on seeded rigs, one process; writes RESULTS.md beside this file.
``--rigs 30 --seed 1`` for a quick look.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from benchmarks.moves.by_ear import VARIANTS, by_ear
from benchmarks.moves.one_rig import SCENARIOS, Outcome, Scenario, one_rig
from benchmarks.moves.rigs import random_rig
from benchmarks.moves.worlds import CALM, HARD, ORDINARY, World

VERDICT_SEED = 22360679
SEEN_SEEDS = "all below 1000, and 31622776"
FALSE_SHARE = {"calm": 0.005, "ordinary": 0.01, "hard": 0.03}
FAILED_SHARE = {"calm": 0.0, "ordinary": 0.01, "hard": 0.05}
VISITS = {"calm": (2, 2), "ordinary": (2, 3), "hard": (2, 5)}
KNOWN_VISITS, HIGH_VISITS = (2, 3), {"calm": (3, 4), "ordinary": (3, 5), "hard": (3, 5)}
MINUTES = {"calm": 2.5, "ordinary": 3.0, "hard": 4.0}
ACCUSED = ("wrong way", "wrong trimmer", "bumped base knob", "at its end", "bad contact")


@dataclass(frozen=True, slots=True)
class Ear:
    """Moves by ear to ±2 and to ±1 cent on one rig, for each variant; None where 40 did not do."""

    at_zero: bool
    moves: list[tuple[int | None, int | None]]


def ear_moves(world: World, seed: int, index: int) -> Ear:
    """Trim rig ``index`` by ear in every way."""
    found: list[tuple[int | None, int | None]] = []
    at_zero = False
    for way in VARIANTS:
        both = []
        for within in (2.0, 1.0):
            rng = np.random.default_rng([seed, 1, index])
            rig, _ = random_rig(world, rng, best_at_most=0.7)
            at_zero = rig.pivot_v == 0.0
            both.append(by_ear(rig, way, rng, within))
        found.append((both[0], both[1]))
    return Ear(at_zero, found)


def percentiles(values: list[float]) -> tuple[float, float, float]:
    """Median, 95th percentile, worst."""
    p = np.percentile(values, [50, 95, 100])
    return float(p[0]), float(p[1]), float(p[2])


def met(good: bool) -> str:
    """The word for the table."""
    return "met" if good else "**missed**"


def main() -> None:
    """Run, print and write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rigs", type=int, default=200)
    parser.add_argument("--fault-rigs", type=int, default=100)
    parser.add_argument("--seed", type=int, default=VERDICT_SEED)
    parser.add_argument("--out", type=Path, default=Path(__file__).with_name("RESULTS.md"))
    asked = parser.parse_args()
    begun = time.perf_counter()
    results: dict[int, list[Outcome]] = {}
    for scenario in SCENARIOS:
        count = asked.fault_rigs if scenario.fault else asked.rigs
        results[scenario.number] = [one_rig(scenario, asked.seed, k) for k in range(count)]
        spent = time.perf_counter() - begun
        print(f"{scenario.world.name}, {scenario.name}: {count} rigs, {spent:.0f} s", flush=True)
    ears = [ear_moves(CALM, asked.seed, k) for k in range(asked.rigs)]
    text = report(results, ears, asked.seed)
    asked.out.write_text(text, encoding="utf-8")
    print(text)


def report(results: dict[int, list[Outcome]], ears: list[Ear], seed: int) -> str:
    """The whole of RESULTS.md."""
    rows = [s for s in SCENARIOS if not s.fault and s.eligible]
    lines = [
        "# Guided trimming: visits, verdicts, faults, and what is left when the hand has gone",
        "",
        f"Made by `python -m benchmarks.moves.run` with seed {seed}, one process (seeds looked at "
        f"while building: {SEEN_SEEDS}). C1 to C6 in 11 notes; the tolerance goes with the world: "
        f"±{CALM.tolerance_cents:g} cent calm, ±{ORDINARY.tolerance_cents:g} ordinary, "
        f"±{HARD.tolerance_cents:g} hard, since what walks a cent in a minute by itself cannot be "
        "promised to a cent. A rig is eligible where ideal hands would leave at most 0.7 of the "
        "tolerance. Worlds, rigs, hands: `worlds.py`, `rigs.py`, `pitchwright.practice.hands`. A "
        "visit is one trimmer, screwdriver in to screwdriver out; minutes count every wait.",
        "",
        "*False, hand* is “in tune” said where, two minutes after screwdriver and hand have gone, "
        "some played note is beyond the tolerance, base's and scale's own drift since the verdict "
        "left out; *false, all* counts that drift and knocks too. *Failed* is not said to be in "
        "tune although the trimmers could; *unfounded* is “cannot” said of what they can. "
        "*Accused* is the share of rigs on which somebody was told of a fault that did not happen "
        "there (any of " + ", ".join(ACCUSED) + "; a knob that jumped by itself counts as bumped).",
        "",
        "| world | procedure | rigs | visits median / 95 % / worst | false, hand | false, all "
        "| failed | unfounded | minutes median / 95 % | waited s | accused | bars |",
        "| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |",
    ]
    lines += [_row(s, results[s.number]) for s in rows]
    lines += ["", "## The three worst of each row", ""]
    for s in rows:
        lines += _worst(s, results[s.number])
    lines += ["", *_verdicts(results[50]), "", *_faults(results), "", *_ears(ears)]
    lines += ["", *_timing(results)]
    return "\n".join(lines) + "\n"


def accused(o: Outcome) -> set[str]:
    """What somebody was told of that did not happen on this rig."""
    happened = {*o.slips, *o.small_slips}
    if o.knocks:
        happened.add("bumped base knob")
    return {what for what in o.told if what in ACCUSED and what not in happened}


def _share(count: int, of: list[Outcome]) -> str:
    return f"{count} ({count / len(of):.1%})" if count else "0"


def _row(scenario: Scenario, some: list[Outcome]) -> str:
    visits = percentiles([float(o.visits) for o in some])
    minutes = percentiles([o.minutes for o in some])
    false = sum(o.false_by_hand for o in some)
    failed, unfounded = sum(o.failed for o in some), sum(o.unfounded for o in some)
    told = sum(bool(accused(o)) for o in some)
    world = scenario.world.name if scenario.world.name in FALSE_SHARE else "ordinary"
    n = len(some)
    least = VISITS[world]
    if scenario.known:
        least = KNOWN_VISITS if world != "calm" else VISITS[world]
    if scenario.high:
        least = HIGH_VISITS[world]
    may_fail = 0.05 if scenario.person else max(FAILED_SHARE[world], 0.03 * scenario.high)
    bars = {
        "false": false <= FALSE_SHARE[world] * n,
        "failed": failed <= may_fail * n,
        "unfounded": unfounded <= 0.005 * n,
        "visits": scenario.person or (visits[0] <= least[0] and visits[1] <= least[1]),
        "minutes": scenario.person or minutes[0] <= (5.0 if scenario.high else MINUTES[world]),
        "accused": told <= 0.01 * n,
    }
    missed = [name for name, good in bars.items() if not good]
    return (
        f"| {scenario.world.name} | {scenario.name} | {n} "
        f"| {visits[0]:.0f} / {visits[1]:.0f} / {visits[2]:.0f} | {_share(false, some)} "
        f"| {_share(sum(o.false for o in some), some)} | {_share(failed, some)} "
        f"| {_share(unfounded, some)} | {minutes[0]:.2f} / {minutes[1]:.2f} "
        f"| {np.mean([o.waited_s for o in some]):.0f} | {_share(told, some)} "
        f"| {'met' if not missed else '**missed: ' + ', '.join(missed) + '**'} |"
    )


def _worst(scenario: Scenario, some: list[Outcome]) -> list[str]:
    def badness(o: Outcome) -> tuple[bool, bool, bool, int, float]:
        return (o.unfounded, o.failed, o.false_by_hand, o.visits, o.by_hand_cents)

    lines = [f"**{scenario.world.name}, {scenario.name}**", ""]
    for o in sorted(some, key=badness, reverse=True)[:3]:
        slips = ", ".join(sorted(set(o.slips))) or "nothing"
        lines.append(
            f"- rig {o.index}: “{o.standing}” after {o.visits} visits and {o.minutes:.1f} minutes; "
            f"±{o.by_hand_cents:.2f} cents two minutes later ({o.best_cents:.2f} possible); went "
            f"wrong: {slips}; {o.knocks} knocks."
        )
    return [*lines, ""]


def _verdicts(some: list[Outcome]) -> list[str]:
    lines = [
        "## Verdicts on ordinary rigs not filtered",
        "",
        "| verdict | rigs | right by the truth |",
        "| --- | --- | --- |",
    ]
    right = 0
    for standing in ("in tune", "reachable but not certifiable", "cannot"):
        of = [o for o in some if o.standing == standing]
        good = [
            not o.false_by_hand
            if standing == "in tune"
            else (o.best_cents > o.tolerance_cents) == (standing == "cannot")
            for o in of
        ]
        right += sum(good)
        lines.append(f"| {standing} | {len(of)} | {sum(good)} |")
    return [*lines, "", f"Right in {right / len(some):.1%}."]


def _faults(results: dict[int, list[Outcome]]) -> list[str]:
    lines = [
        "## Planted faults, where the asked change is over 1.5 cents",
        "",
        "A fault counts as recognised where it is said on that rig, as often as it happened. The "
        "wrong way is a fault only where the way was told: of a trimmer whose sense nobody knows "
        "half of all first turns go the other way. Too coarse means that no step that the screw "
        "has lies within 0.1 cent of the window about the aim. At its end means that the screw is "
        "at an end, short of the aim and more than 0.3 cent outside the window. A bad contact "
        "jumps by 2 to 4 cents, every few seconds at rest with the screwdriver in and in every "
        "twelfth tenth of a second turned; it counts where it jumped at rest at least twice.",
        "",
        "| fault | happened | recognised | failed although the trimmers could | bar |",
        "| --- | --- | --- | --- | --- |",
    ]
    for scenario in SCENARIOS:
        if not scenario.fault:
            continue
        own = results[scenario.number]
        fault = scenario.fault.removesuffix(" in mid-visit")
        happened = sum(o.slips.count(fault) for o in own)
        seen = sum(min(o.slips.count(fault), o.told.count(fault)) for o in own)
        could = scenario.fault not in ("too coarse", "at its end")
        failed = f"{sum(o.failed for o in own)} of {len(own)}" if could else "–"
        lines.append(
            f"| {scenario.fault} | {happened} | {seen} ({seen / max(happened, 1):.1%}) | {failed} "
            f"| ≥ 95 %: {met(seen >= 0.95 * happened)} |"
        )
    return lines


def _ears(ears: list[Ear]) -> list[str]:
    return [
        "## By ear, in the calm world",
        "",
        "| way | moves to ±2 cents, median | of it, pivot at 0 V / elsewhere | not there after 40 "
        "| to ±1 cent, median | not there after 40 |",
        "| --- | --- | --- | --- | --- | --- |",
        *(_by_ear(way.name, k, ears) for k, way in enumerate(VARIANTS)),
        "",
        "The ear is taken to hear 0.2 cent at every note. Whoever sets base at the lowest note, "
        "C1, sets it at 0 V, where many pivots lie and the scale trimmer moves nothing: two moves "
        "then do it, by no skill but the patch's luck. The trade begins at middle C (common "
        "practice), and 0.2 cent at C1 (32.7 Hz) is one beat in four and a half minutes, which "
        "nobody waits for. The last row has the same way with an ear that hears beats in hertz "
        "equally well everywhere (0.2 cent at middle C, 1.6 at C1).",
    ]


def _by_ear(name: str, k: int, ears: list[Ear]) -> str:
    def median(moves: list[int | None]) -> str:
        middle = float(np.median([m if m is not None else 41 for m in moves])) if moves else 41.0
        return f"{middle:.0f}" if middle <= 40 else "over 40"

    two, one = ([ear.moves[k][j] for ear in ears] for j in (0, 1))
    zero = [ear.moves[k][0] for ear in ears if ear.at_zero]
    other = [ear.moves[k][0] for ear in ears if not ear.at_zero]
    lost = [f"{sum(m is None for m in moves) / len(moves):.0%}" for moves in (two, one)]
    return (
        f"| {name} | {median(two)} | {median(zero)} / {median(other)} | {lost[0]} "
        f"| {median(one)} | {lost[1]} |"
    )


def _timing(results: dict[int, list[Outcome]]) -> list[str]:
    times = np.array([s for outcomes in results.values() for o in outcomes for s in o.decide_s])
    busy = times[times > 1e-3] * 1e3
    median, high = np.percentile(busy, [50, 99.9])
    worst = float(times.max()) * 1e3
    return [
        "## Deciding the next action",
        "",
        f"CPU time of one decision (answers that call for thought, {len(busy)} of {len(times)}): "
        f"median {median:.1f} ms, 99.9 % {high:.1f} ms, worst {worst:.1f} ms, on a machine "
        f"that others used too (bar: median < 10 ms {met(median < 10)}, worst < 50 ms "
        f"{met(worst < 50)} on an idle core).",
    ]


if __name__ == "__main__":
    main()

"""Whose error, steps, advice, assignment and corrections, against known truth.

Run ``python -m benchmarks.instrument``; it writes ``RESULTS.md`` beside this file. ``--benches N``
and ``--seed S`` make a smaller or another set, and fewer than 300 benches write nothing; the seed
that is written down was not used while building.
"""

from __future__ import annotations

import argparse
import math
import platform
import time
from collections import defaultdict
from dataclasses import replace
from pathlib import Path

import numpy as np
from benchmarks.instrument.benches import Bench, TrueStep, draw

from pitchwright.certificate.corrections import corrections
from pitchwright.ensemble import (
    Output,
    Player,
    Step,
    Whose,
    advise,
    assign,
    order,
    overview,
    whose_error,
)
from pitchwright.tracking import CurveEntry, Point, TargetCurve
from pitchwright.units import cv_of_note, note_to_hz, ratio_of_cents

RESULTS = Path(__file__).parent / "RESULTS.md"
K95 = 1.959964


def main() -> None:
    """Measure, print and write the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--benches", type=int, default=300)
    parser.add_argument("--seed", type=int, default=20261205)
    given = parser.parse_args()
    lines = [
        "# The whole instrument: measured",
        "",
        f"{given.benches} random benches, seed {given.seed}, not used while building; Python "
        f"{platform.python_version()}, {platform.machine()}, CPU time. Made by `python -m "
        "benchmarks.instrument`. What the benches are made of stands in `benches.py`.",
        "",
        *whose(given.benches, given.seed),
        "",
        *speed(given.seed),
        "",
    ]
    if given.benches >= 300:
        RESULTS.write_text("\n".join(lines), encoding="utf-8")
    print("\n".join(lines))


def whose(benches: int, seed: int) -> list[str]:
    """Coverage, steps and advice over random benches."""
    away: dict[str, list[float]] = defaultdict(list)
    put_in = found = wrong_benches = 0
    ratios: list[float] = []
    unsettled = 0
    for number in range(benches):
        rng = np.random.default_rng([seed, number])
        bench = draw(rng)
        told = whose_error(bench.evidence)
        _score(bench, told, away, "")
        put_in += len(bench.steps)
        found += sum(any(_same(step, s) for s in told.steps) for step in bench.steps)
        wrong_benches += any(not any(_touches(s, step) for step in bench.steps) for s in told.steps)
        extra = next(e for e in advise(bench.evidence, told) if e.what == "voltages")
        voltages = bench.read_voltage(rng, extra.source, extra.notes)
        after = whose_error(replace(bench.evidence, voltages=voltages))
        own = after.figure("own", "scale", extra.source)
        if own.u is None:
            unsettled += 1
            continue
        ratios.append(own.u / extra.u_cents_per_oct)
        _score(bench, after, away, " after the advised voltages", only="own")
    rows = [
        "## Whose error is it",
        "",
        "| figure | intervals | stated 95 % cover | bar |",
        "| --- | --- | --- | --- |",
    ]
    for what, z in sorted(away.items()):
        covered = float(np.mean(np.abs(z) <= K95))
        bar = "93 to 97 %" if len(z) >= 1000 else "92 to 98 %"
        rows.append(f"| {what} | {len(z)} | {100.0 * covered:.1f} % | {bar} |")
    rows += [
        "",
        "| what | measured | bar |",
        "| --- | --- | --- |",
        f"| steps of 2 cents or more pointed out | {found} of {put_in} "
        f"({100.0 * found / max(put_in, 1):.1f} %) | ≥ 95 % |",
        f"| benches with a step pointed out where there is none | {wrong_benches} of {benches} "
        f"({100.0 * wrong_benches / benches:.2f} %) | ≤ 1 % |",
        f"| advised voltages leave the figure open | {unsettled} of {benches} | 0 |",
        f"| half-width after against predicted | {min(ratios):.3f} to {max(ratios):.3f} "
        "| 0.8 to 1.2 |",
    ]
    return rows


def _score(
    bench: Bench, told: Whose, away: dict[str, list[float]], when: str, only: str = ""
) -> None:
    for figure in told.figures:
        if figure.amount is None or not figure.u or (only and figure.what != only):
            continue
        term = 0 if figure.kind == "scale" else 1
        each = [float(bench.terms(name)[term]) for name in figure.names]
        true = {"own": each[0], "together": sum(each), "apart": each[0] - each[-1]}[figure.what]
        away[f"{figure.what}, {figure.kind}{when}"].append((figure.amount - true) / figure.u)


def _same(true: TrueStep, said: Step) -> bool:
    """Whether what was said concerns mostly the notes that are off."""
    notes, named = set(true.notes), set(said.notes)
    return said.source == true.source and 2 * len(notes & named) >= len(notes | named)


def _touches(said: Step, true: TrueStep) -> bool:
    return said.source == true.source and bool(set(said.notes) & set(true.notes))


def speed(seed: int) -> list[str]:
    """Assignment and order for 40 oscillators and 16 outputs; corrections for 128 notes."""
    rng = np.random.default_rng(seed)
    notes = np.arange(24.0, 97.0, 2.0)
    players = []
    for number in range(40):
        scale, droop = rng.normal(0.0, 8.0), rng.uniform(0.0, 5.0)
        entries = tuple(
            CurveEntry(
                float(n),
                cv_of_note(float(n)),
                note_to_hz(float(n)) * ratio_of_cents(cents),
                cents,
                0.05,
            )
            for n in notes
            for cents in [
                float(
                    scale * cv_of_note(float(n))
                    - droop * note_to_hz(float(n)) / 1000.0
                    + rng.normal(0.0, 0.3)
                )
            ]
        )
        players.append(Player(f"oscillator {number}", entries, -2.0, 2.0))
    outputs = [Output(f"output {n}", -15.0, 15.0) for n in range(16)]
    began = time.process_time()
    feeds = assign(players, outputs, 1.0)
    turns = order(feeds, outputs, players[0].name)
    assigned_s = time.process_time() - began
    began = time.process_time()
    overview({player.name: player.entries for player in players}, 1.0)
    glance_s = time.process_time() - began
    points = [
        Point(
            float(n),
            cv_of_note(n),
            note_to_hz(float(n)) * ratio_of_cents(5.0 * math.sin(n) + 0.05 * n),
            0.02,
        )
        for n in range(128)
    ]
    target = TargetCurve.flat()
    corrections(points, target)
    costs = []
    for _ in range(20):
        began = time.process_time()
        corrections(points, target)
        costs.append(time.process_time() - began)
    return [
        "## Cost",
        "",
        "| what | measured | bar |",
        "| --- | --- | --- |",
        f"| 40 oscillators × 16 outputs × {len(notes)} notes: assignment and order ({len(turns)} "
        f"steps) | {assigned_s:.3f} s | < 1 s |",
        f"| at a glance, 40 oscillators (780 pairs, each as leader) | {glance_s:.3f} s | |",
        f"| corrections for 128 notes, median of 20 | {1000.0 * float(np.median(costs)):.1f} ms "
        "| < 50 ms |",
    ]


if __name__ == "__main__":
    main()

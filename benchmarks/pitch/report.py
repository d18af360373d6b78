"""The results as one Markdown page."""

from __future__ import annotations

import importlib.metadata
import platform
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from benchmarks.pitch.bars import BARS, Result, Verdict
from benchmarks.pitch.cases import DURATIONS_S

__all__ = ["Beside", "page"]


@dataclass(frozen=True, slots=True)
class Beside:
    """One estimator and the product's reading on the same cases.

    Attributes
    ----------
    name
        Of the estimator.
    cases
        How many.
    gross, gross_ours
        Share of cases with no pitch or one off by more than 50 cents.
    median_cents, median_ours, p95_cents, p95_ours
        Of the error, gross ones included.
    cpu_s, cpu_ours
        CPU per second of audio.
    """

    name: str
    cases: int
    gross: float
    gross_ours: float
    median_cents: float
    median_ours: float
    p95_cents: float
    p95_ours: float
    cpu_s: float
    cpu_ours: float


def page(
    seed: int, results: Sequence[Result], verdicts: Sequence[Verdict], beside: Sequence[Beside]
) -> str:
    """The whole page."""
    missed = [v for v in verdicts if not v.met]
    lines = [
        "# How well a reading reads",
        "",
        f"Written by `python -m benchmarks.pitch --seed {seed}`: {len(results)} tones, summed",
        "from their harmonics so that their frequency is exact; Python",
        f"{platform.python_version()}, {_versions('numpy', 'scipy')}.",
        "The seed was not used while the reading was built. Every case carries what a converter",
        "adds: white noise at −100 dBFS and 24-bit steps. Under jitter the error is against the",
        "phase gained over the span divided by its duration.",
        "",
        f"**{len(verdicts) - len(missed)} of {len(verdicts)} bars met.**",
        "",
    ]
    if missed:
        lines += ["Missed:", ""]
        lines += [f"- {v.what}: {v.measured}, where the bar is {v.bar}" for v in missed]
        lines.append("")
    lines += _table_of_bars(results)
    lines += ["", "## Every bar", "", "| what | bar | measured | |", "| --- | --- | --- | --- |"]
    lines += [f"| {v.what} | {v.bar} | {v.measured} | {_word(v.met)} |" for v in verdicts]
    lines += ["", *_honesty(results), "", *_flags(results)]
    if beside:
        lines += ["", *_beside(beside)]
    return "\n".join(lines) + "\n"


def _table_of_bars(results: Sequence[Result]) -> list[str]:
    heads = " | ".join(f"{d:g} s" for d in DURATIONS_S)
    lines = [
        "## 95th percentile of the error, in cents (bar in brackets)",
        "",
        f"| condition | cases | {heads} |",
        "| --- | --- |" + " --- |" * len(DURATIONS_S),
    ]
    for group in dict.fromkeys(r.group for r in results):
        own = [r for r in results if r.group == group]
        cells = []
        for i, duration_s in enumerate(DURATIONS_S):
            errors = [
                abs(r.error_cents) if np.isfinite(r.error_cents) else np.inf
                for r in own
                if r.duration_s == duration_s
            ]
            cell = f"{np.percentile(errors, 95):.2g}"
            if group in BARS:
                cell += f" ({BARS[group][i]:g})"
            cells.append(cell)
        lines.append(f"| {group} | {len(own)} | {' | '.join(cells)} |")
    return lines


def _honesty(results: Sequence[Result]) -> list[str]:
    heads = " | ".join(f"{d:g} s" for d in DURATIONS_S)
    lines = [
        "## Errors within twice the stated uncertainty, in per cent",
        "",
        f"| condition | all | {heads} | median u, cents |",
        "| --- | --- |" + " --- |" * (len(DURATIONS_S) + 1),
    ]
    for group in dict.fromkeys(r.group for r in results):
        own = [r for r in results if r.group == group]
        cells = [
            f"{100 * np.mean([r.covered for r in own if r.duration_s == d]):.0f}"
            for d in DURATIONS_S
        ]
        share = 100 * np.mean([r.covered for r in own])
        u_cents = np.median([r.u_cents for r in own])
        lines.append(f"| {group} | {share:.1f} | {' | '.join(cells)} | {u_cents:.2g} |")
    jitter = [r for r in results if r.impairment == "jitter"]
    settled = np.mean([abs(r.settled_error_cents) <= 2 * r.u_cents for r in jitter])
    lines += [
        "",
        f"Under jitter, twice the uncertainty covers the frequency the oscillator was set to in "
        f"{100 * settled:.1f} % of the cases.",
    ]
    return lines


def _flags(results: Sequence[Result]) -> list[str]:
    lines = ["## Doubts raised", "", "| condition | doubt | readings |", "| --- | --- | --- |"]
    for group in dict.fromkeys(r.group for r in results):
        own = [r for r in results if r.group == group]
        for kind in sorted({kind for r in own for kind in r.flagged}):
            count = sum(kind in r.flagged for r in own)
            lines.append(f"| {group} | {kind} | {count} of {len(own)} |")
    return lines


def _beside(beside: Sequence[Beside]) -> list[str]:
    lines = [
        "## Beside general-purpose estimators, on the same cases",
        "",
        f"{_versions('librosa', 'praat-parselmouth')}. Each estimator has two lines: its own, and",
        "the reading's on the same cases (the slow ones run on fewer). Sub-octave mixes left out.",
        "",
        "| | cases | gross | median, cents | p95, cents | CPU per second of audio |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    for b in beside:
        lines.append(
            f"| {b.name} | {b.cases} | {100 * b.gross:.1f} % | {b.median_cents:.2g} | "
            f"{b.p95_cents:.3g} | {b.cpu_s:.3f} s |"
        )
        lines.append(
            f"| reading | {b.cases} | {100 * b.gross_ours:.1f} % | {b.median_ours:.2g} | "
            f"{b.p95_ours:.3g} | {b.cpu_ours:.3f} s |"
        )
    return lines


def _versions(*names: str) -> str:
    return ", ".join(f"{name} {importlib.metadata.version(name)}" for name in names)


def _word(met: bool) -> str:
    return "met" if met else "**missed**"

"""The bars the reading is held against, and how results are held against them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from benchmarks.pitch.cases import DURATIONS_S
from numpy.typing import NDArray

__all__ = ["BARS", "Result", "Verdict", "verdicts"]

Array = NDArray[np.float64]

# 95th percentile of the error in cents, for each of DURATIONS_S.
BARS: dict[str, tuple[float, ...]] = {
    "not sine: clean, DC, AC coupled, clipped, hum": (0.005, 0.005, 0.003, 0.002, 0.001),
    "not sine, 30 dB": (0.02, 0.015, 0.01, 0.005, 0.002),
    "sine with band noise at -60 dB": (0.1, 0.1, 0.03, 0.015, 0.01),
    "jitter 0.01 %": (0.04, 0.04, 0.03, 0.03, 0.015),
    "drift 0.5 cent/s": (0.02, 0.02, 0.02, 0.01, 0.01),
    "crosstalk -50 dB, not sine": (0.02, 0.01, 0.01, 0.005, 0.005),
    "filter of three lines, band noise at -60 dB": (0.1, 0.1, 0.03, 0.015, 0.01),
    "sine on a ramp of direct voltage": (0.02, 0.02, 0.01, 0.005, 0.002),
}
GROSS_CENTS = 50.0
OVERALL_CENTS = 0.01
BOUND_RATIO = 1.15
CPU_S, CPU_LOW_S, LOW_HZ = 0.04, 0.1, 40.0
HONEST = (0.93, 0.98)
HONEST_LEAST = 0.92
LENIENT = (
    "sine with band noise at -60 dB",
    "filter of three lines, band noise at -60 dB",
    "jitter 0.01 %",
)
SUB_OCTAVE = "sub-octave mix -12, -6, -3 dB"


@dataclass(frozen=True, slots=True)
class Result:
    """One case, read.

    Attributes
    ----------
    group, impairment, duration_s, f_hz
        Of the case.
    error_cents, settled_error_cents
        Against the exact frequency, and against the one the oscillator was set to; NaN where
        nothing was read.
    u_cents, cpu_s
        As stated, and as spent.
    bound_cents
        Cramér-Rao bound, or NaN.
    flagged
        The flags' names.
    octave_settled
        For a sub-octave mix: read as either octave, with the flag naming the other.
    """

    group: str
    impairment: str
    duration_s: float
    f_hz: float
    error_cents: float
    settled_error_cents: float
    u_cents: float
    cpu_s: float
    bound_cents: float
    flagged: tuple[str, ...]
    octave_settled: bool

    @property
    def gross(self) -> bool:
        """No pitch, or one off by more than a quarter tone."""
        return not abs(self.error_cents) <= GROSS_CENTS

    @property
    def covered(self) -> bool:
        """Whether twice the stated uncertainty covers the error."""
        return abs(self.error_cents) <= 2 * self.u_cents


@dataclass(frozen=True, slots=True)
class Verdict:
    """One bar: what was asked, what was measured, and whether that meets it."""

    what: str
    bar: str
    measured: str
    met: bool


def verdicts(results: Sequence[Result]) -> list[Verdict]:
    """Every bar, held against the results."""
    found: list[Verdict] = []
    tones = [r for r in results if r.group != SUB_OCTAVE]
    gross = sum(r.gross for r in tones)
    found.append(Verdict("gross errors, sub-octave mixes aside", "0", str(gross), gross == 0))
    mixes = [r for r in results if r.group == SUB_OCTAVE]
    settled = sum(r.octave_settled for r in mixes)
    found.append(
        Verdict(
            "sub-octave mixes flagged, the other candidate named",
            f"{len(mixes)} of {len(mixes)}",
            f"{settled} of {len(mixes)}",
            settled == len(mixes),
        )
    )
    for group, bars in BARS.items():
        for duration_s, bar in zip(DURATIONS_S, bars, strict=True):
            errors = _errors([r for r in tones if (r.group, r.duration_s) == (group, duration_s)])
            p95 = float(np.percentile(errors, 95)) if len(errors) else np.inf
            found.append(
                Verdict(f"p95, {group}, {duration_s:g} s", f"{bar:g}", _cents(p95), p95 <= bar)
            )
    p95 = float(np.percentile(_errors(tones), 95))
    found.append(Verdict("p95 over all", f"{OVERALL_CENTS:g}", _cents(p95), p95 <= OVERALL_CENTS))
    noisy = [r for r in tones if r.impairment == "30 dB"]
    ratio = float(np.sqrt(np.mean([(r.error_cents / r.bound_cents) ** 2 for r in noisy])))
    found.append(
        Verdict(
            "RMS against the Cramér-Rao bound, 30 dB",
            f"{BOUND_RATIO:g}",
            f"{ratio:.3f}",
            ratio <= BOUND_RATIO,
        )
    )
    for group in dict.fromkeys(r.group for r in tones):
        share = float(np.mean([r.covered for r in tones if r.group == group]))
        low, high = (HONEST_LEAST, 1.0) if group in LENIENT else HONEST
        found.append(
            Verdict(
                f"errors within 2u, {group}",
                f"{100 * low:.0f} to {100 * high:.0f} %",
                f"{100 * share:.1f} %",
                low <= share <= high,
            )
        )
    deep = [r for r in results if r.f_hz < LOW_HZ]
    for what, some, bar in (
        ("CPU per second of audio", list(results), CPU_S),
        (f"CPU per second of audio, below {LOW_HZ:g} Hz", deep, CPU_LOW_S),
    ):
        cpu_s = sum(r.cpu_s for r in some) / sum(r.duration_s for r in some)
        found.append(Verdict(what, f"{bar:g} s", f"{cpu_s:.4f} s", cpu_s <= bar))
    return found


def _errors(results: Sequence[Result]) -> Array:
    errors = np.abs([r.error_cents for r in results])
    return np.asarray(np.where(np.isfinite(errors), errors, np.inf))


def _cents(p95: float) -> str:
    return f"{p95:.2g}" if p95 < 0.0995 else f"{p95:.3g}"

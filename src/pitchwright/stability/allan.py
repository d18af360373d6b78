"""How steady a pitch is over how long: Allan deviation, the kind of noise, the best averaging.

The Allan deviation at an averaging time is the typical difference between one average and the
next, over √2. Where it is smallest, averaging longer makes a reading worse, not better.
Gaps are kept out of them, because a missing reading would turn every
result into NaN (and a gap papered over would pass for steadiness).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pitchwright.errors import InputError
from pitchwright.stability.wording import in_words

__all__ = ["NoiseKind", "Steadiness", "allan_deviation"]

Array = NDArray[np.float64]

_LEAST_READINGS: Final = 8
_BRIDGED: Final = 2
"""A run of up to this many missing readings is bridged by a straight line."""
_LEAST_PAIRS_APART: Final = 4.0
"""An averaging time counts for the best one where it fits this often into the record, twice."""
_IDENTIFIABLE: Final = 32
"""Averages that telling the kind of noise takes: Riley and Greenhall advise 30 and more."""
_SHORT: Final = 0.25
_MOST_DIFFERENCES: Final = 2
"""Riley and Greenhall: correlation below which no more differences are taken, and how many are."""
_NO_WORSE: Final = 1.2
"""Less than one step gains under the mildest noise that averaging helps (√2 and more)."""


class NoiseKind(StrEnum):
    """Kinds of unsteadiness, by how they depend on the averaging time."""

    SCATTER = "scatter that partly cancels from one reading to the next"
    WHITE = "a fresh scatter in each reading"
    FLICKER = "wander alike at all times"
    WALK = "a random walk"
    UNKNOWN = "unsteady in a way that cannot be told"


_MEANS: Final = {
    NoiseKind.SCATTER: "twice the averaging time nearly halves the scatter",
    NoiseKind.WHITE: "four times the averaging time halves the scatter",
    NoiseKind.FLICKER: "averaging longer gains nothing",
    NoiseKind.WALK: "the longer the average, the more it has moved meanwhile",
    NoiseKind.UNKNOWN: "the record is too short, or does not move at all",
}


@dataclass(frozen=True, slots=True)
class Steadiness:
    """Allan deviation of a pitch.

    Attributes
    ----------
    tau_s
        Averaging times: 1, 2, 5, 10, 20, 50 … reading intervals.
    adev_cents
        Overlapping Allan deviation at each.
    pairs
        How many pairs of averages each rests on (they overlap, so fewer are independent).
    short, long
        Kind of noise between single readings, and at the longest time at which it can be told.
    long_tau_s
        That time; NaN where there is none beyond the reading interval.
    best_tau_s, best_cents
        The shortest averaging time that is within a fifth of the smallest deviation, and its
        deviation.
    longer_may_help
        Whether the deviation still falls at the end of what the record can show.
    gaps
        How many gaps were kept out of the sums.
    bridged
        How many single missing readings were filled in by a line.
    """

    tau_s: tuple[float, ...]
    adev_cents: tuple[float, ...]
    pairs: tuple[int, ...]
    short: NoiseKind
    long: NoiseKind
    long_tau_s: float
    best_tau_s: float
    best_cents: float
    longer_may_help: bool
    gaps: int
    bridged: int

    @property
    def sentence(self) -> str:
        """The best averaging time, for a person."""
        best = in_words(self.best_tau_s, fine=True)
        text = (
            f"Average a reading over about {best}: two in a row then typically differ by "
            f"{math.sqrt(2.0) * self.best_cents:.2g} cents."
        )
        if self.longer_may_help:
            text += " A longer record may show that averaging longer still is better."
        return text

    @property
    def why(self) -> str:
        """What kind of noise it is, for a person."""
        text = f"From reading to reading it is {self.short.value}: {_MEANS[self.short]}."
        if math.isfinite(self.long_tau_s) and self.long is not self.short:
            over = in_words(self.long_tau_s, fine=True)
            text += f" Over {over} it is {self.long.value}: {_MEANS[self.long]}."
        if self.gaps:
            text += f" {self.gaps} gap{'s' if self.gaps > 1 else ''} left out."
        return text


def allan_deviation(t_s: Array, cents: Array) -> Steadiness:
    """Overlapping Allan deviation of readings at about even times.

    Parameters
    ----------
    t_s
        Rising times, shape (n,). Readings are put on an even grid of their median interval.
    cents
        Pitch, shape (n,); NaN where there was no reading.

    Raises
    ------
    InputError
        Where fewer than eight readings follow each other without a gap, or none is later than
        another.

    Notes
    -----
    W. J. Riley, *Handbook of Frequency Stability Analysis*, NIST Special Publication 1065 (2008):
    overlapping Allan deviation; noise identification by the lag 1 autocorrelation. The variance
    over a record with gaps is the mean of those of its parts, weighted by their pairs.
    """
    grid, interval_s = _even(t_s, cents)
    bridged = _bridge(grid)
    parts = [part for part in _runs(grid) if part.size >= 3]
    longest = max((part.size for part in parts), default=0)
    if longest < _LEAST_READINGS:
        raise InputError(
            f"Only {longest} readings follow each other without a gap",
            do=f"Listen until there are at least {_LEAST_READINGS}",
        )
    factors = [n * 10**k for k in range(len(str(longest))) for n in (1, 2, 5)]
    factors = [factor for factor in factors if 3 * factor <= longest]
    variance, pairs = _pooled(parts, factors)
    tau_s = np.array(factors) * interval_s
    adev = np.sqrt(variance)
    record_s = sum(part.size for part in parts if part.size >= longest // 2) * interval_s
    trusted = np.flatnonzero(tau_s * 2.0 * _LEAST_PAIRS_APART <= record_s)
    trusted = trusted if trusted.size else np.array([0])
    smallest = float(np.min(adev[trusted]))
    best = int(trusted[np.argmax(adev[trusted] <= _NO_WORSE * smallest)])
    main = max(parts, key=len)
    telling = [factor for factor in factors if main.size // factor >= _IDENTIFIABLE]
    kinds = [_kind(main, factor) for factor in (telling[:1] + telling[-1:])]
    return Steadiness(
        tuple(map(float, tau_s)),
        tuple(map(float, adev)),
        tuple(map(int, pairs)),
        kinds[0] if kinds else NoiseKind.UNKNOWN,
        kinds[-1] if kinds else NoiseKind.UNKNOWN,
        telling[-1] * interval_s if len(telling) > 1 else math.nan,
        float(tau_s[best]),
        float(adev[best]),
        bool(best == trusted[-1] and trusted.size > 1),
        len(parts) - 1,
        bridged,
    )


def _even(t_s: Array, cents: Array) -> tuple[Array, float]:
    """Means over even cells of the median interval; NaN where a cell holds no reading."""
    steps_s = np.diff(t_s)
    interval_s = float(np.median(steps_s)) if steps_s.size else 0.0
    if not interval_s > 0.0 or np.any(steps_s < 0.0):
        raise InputError(
            "The times do not rise", do="Give at least two readings in the order of time"
        )
    cell = np.rint((t_s - t_s[0]) / interval_s).astype(np.intp)
    # A long silence would only make a long run of empty cells: close it up to a short one.
    skip = np.diff(cell, prepend=cell[0])
    cell = np.cumsum(np.minimum(skip, _BRIDGED + 2))
    seen = np.isfinite(cents)
    count = np.bincount(cell[seen], minlength=cell[-1] + 1)
    total = np.bincount(cell[seen], cents[seen], minlength=cell[-1] + 1)
    grid = np.full(count.size, np.nan)
    np.divide(total, count, out=grid, where=count > 0)
    return grid, interval_s


def _bridge(grid: Array) -> int:
    """Fill short runs of NaN between readings by a line, in place; return how many were filled."""
    filled = 0
    missing = np.flatnonzero(np.isnan(grid))
    for run in np.split(missing, np.flatnonzero(np.diff(missing) > 1) + 1):
        if 0 < run.size <= _BRIDGED and run[0] > 0 and run[-1] < grid.size - 1:
            before, after = grid[run[0] - 1], grid[run[-1] + 1]
            grid[run] = before + (after - before) * np.arange(1, run.size + 1) / (run.size + 1)
            filled += run.size
    return filled


def _runs(grid: Array) -> list[Array]:
    seen = np.flatnonzero(np.isfinite(grid))
    return [grid[run] for run in np.split(seen, np.flatnonzero(np.diff(seen) > 1) + 1)]


def _pooled(parts: list[Array], factors: list[int]) -> tuple[Array, Array]:
    """Allan variance over all parts and the pairs behind it, per averaging factor."""
    total, pairs = np.zeros(len(factors)), np.zeros(len(factors))
    for part in parts:
        phase = np.concatenate([[0.0], np.cumsum(part - part.mean())])
        for place, factor in enumerate(factors):
            if 3 * factor <= part.size:
                # NIST SP 1065, equation 11: overlapping second differences of the phase.
                apart = phase[2 * factor :] - 2.0 * phase[factor:-factor] + phase[: -2 * factor]
                total[place] += float(apart @ apart) / (2.0 * factor**2)
                pairs[place] += apart.size
    return total / pairs, pairs


def _kind(part: Array, factor: int) -> NoiseKind:
    """Kind of noise at an averaging factor, its steady drift taken away.

    By the lag-1 autocorrelation, differences taken until it is short: W. J. Riley and
    C. A. Greenhall, Power law noise identification using the lag 1 autocorrelation (2004).
    """
    if not np.ptp(part) > 0.0:
        return NoiseKind.UNKNOWN
    means = part[: part.size - part.size % factor].reshape(-1, factor).mean(axis=1)
    t = np.arange(means.size, dtype=float)
    means = means - np.polyval(np.polyfit(t, means, 1), t)
    for differences in range(_MOST_DIFFERENCES + 1):
        off = means - means.mean()
        lag = float(off[:-1] @ off[1:]) / float(off @ off)
        rho = lag / (1.0 + lag)
        if rho < _SHORT or differences == _MOST_DIFFERENCES:
            break
        means = np.diff(means)
    exponent = -round(2.0 * rho) - 2 * differences
    if exponent >= 1:
        return NoiseKind.SCATTER
    return {0: NoiseKind.WHITE, -1: NoiseKind.FLICKER}.get(exponent, NoiseKind.WALK)

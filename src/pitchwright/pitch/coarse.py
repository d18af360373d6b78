"""Stage one: which period, safe against octaves.

Of all candidates (a strong spectral peak divided by 1 to 24, and the lags at which the sound
repeats), take the highest one whose comb of harmonics holds most of what the best comb holds, then
the highest of it and its simple fractions that holds nearly all. The teeth are about a bin wide, so
that a candidate off by a tone misses.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from pitchwright.pitch.spectrum import Spectrum, middle_of, spectrum_of

__all__ = ["Candidate", "Coarse", "coarse_pitch", "comb_share"]

Array = NDArray[np.float64]

SPAN_S = 0.5
"""Long enough for six periods of 16 Hz; short enough that drift does not smear high harmonics."""

_PEAKS = 12
_DIVISORS = 24
_TOOTH_BINS = 2.0
_MOST = 0.86
_NEARLY_ALL = 0.975
_EVERYTHING = 0.98
_LOWER = (3 / 4, 2 / 3, 1 / 2, 1 / 3, 1 / 4)
# Fewer bins than this between harmonics and a Hann spectrum no longer separates them.
_MIN_PERIODS = 2.5


@dataclass(frozen=True, slots=True)
class Candidate:
    """One possible fundamental, and the share of the sound's power that its harmonics hold."""

    f_hz: float
    share: float


@dataclass(frozen=True, slots=True)
class Coarse:
    """What the search found.

    Attributes
    ----------
    best
        The candidate chosen, or None where there is none at all.
    spectrum
        The spectrum they were judged on.
    """

    best: Candidate | None
    spectrum: Spectrum


def coarse_pitch(samples: Array, rate_hz: float, low_hz: float, high_hz: float) -> Coarse:
    """Search the middle of a span for its fundamental, within about a tenth of a bin."""
    part = middle_of(samples, round(SPAN_S * rate_hz))
    spectrum = spectrum_of(part, rate_hz)
    lowest_hz = max(low_hz, _MIN_PERIODS * spectrum.bin_hz)
    if spectrum.total <= 0.0:
        return Coarse(None, spectrum)
    found = [p.f_hz for p in spectrum.peaks(_PEAKS)]
    strong = np.array(found)
    guesses = (strong[:, None] / np.arange(1, _DIVISORS + 1)).ravel()
    lags_hz = _repeats(spectrum, len(part), rate_hz, lowest_hz, high_hz)
    # A lag is known to a fraction of a sample only; the nearest strong line pins it down.
    for f_hz in lags_hz:
        order = np.rint(strong / f_hz)
        off = np.where(order > 0, np.abs(strong / f_hz - order), 1.0)
        on_comb = np.flatnonzero(off < 0.15)
        guesses = np.append(guesses, strong[on_comb] / order[on_comb])
    guesses = guesses[(guesses >= lowest_hz) & (guesses <= high_hz)]
    if len(guesses) == 0:
        return Coarse(None, spectrum)
    guesses = _distinct(np.sort(guesses)[::-1])
    candidates = _judged(spectrum, guesses)
    enough = _MOST * max(c.share for c in candidates)
    top = next(c for c in candidates if c.share >= enough)
    # Neighbours within a tooth of each other are the same candidate: the fullest comb wins.
    near = [c for c in candidates if abs(c.f_hz - top.f_hz) < _TOOTH_BINS * spectrum.bin_hz]
    top = max(near, key=lambda c: c.share)
    return Coarse(_lowered(spectrum, top, lowest_hz), spectrum)


def _lowered(spectrum: Spectrum, top: Candidate, lowest_hz: float) -> Candidate:
    """The candidate itself, or one at a simple fraction of it that holds more.

    A true period leaves next to nothing out. Only simple fractions are considered: of many times
    the period, the comb is so dense that it catches anything, alias products above all.
    """
    lowered = [
        Candidate(top.f_hz * part, comb_share(spectrum, top.f_hz * part))
        for part in _LOWER
        if top.f_hz * part >= lowest_hz
    ]
    family = [top, *lowered]
    enough = _NEARLY_ALL * max(c.share for c in family)
    return next(c for c in family if c.share >= enough)


def _distinct(descending: Array) -> Array:
    """Drop guesses within 1e-5 of the one before."""
    keep = np.ones(len(descending), dtype=bool)
    keep[1:] = descending[:-1] / descending[1:] > 1 + 1e-5
    return descending[keep]


def _judged(spectrum: Spectrum, guesses_hz: Array) -> tuple[Candidate, ...]:
    """Each guess with the share of the power that its harmonics hold, noise taken off.

    Guesses come highest first, and judging ends a little below the first that holds everything:
    nothing lower could be preferred to it.
    """
    below = spectrum.cumulative()
    judged: list[Candidate] = []
    enough_hz = 0.0
    for f_hz in guesses_hz:
        if f_hz < enough_hz:
            break
        share = _share(spectrum, below, f_hz)
        judged.append(Candidate(float(f_hz), share))
        if share > _EVERYTHING and enough_hz == 0.0:
            enough_hz = f_hz - 2 * _TOOTH_BINS * spectrum.bin_hz
    return tuple(judged)


def comb_share(spectrum: Spectrum, f_hz: float) -> float:
    """Share of the power, noise taken off, that the harmonics of ``f_hz`` hold."""
    return _share(spectrum, spectrum.cumulative(), f_hz)


def _share(spectrum: Spectrum, below: Array, f_hz: float) -> float:
    spacing = f_hz / spectrum.bin_hz
    half = min(_TOOTH_BINS, 0.32 * spacing)
    last = len(spectrum.power) - 1
    # A bin reaches half a bin to either side of its centre.
    centres = np.arange(spacing + 0.5, last + 0.5 - half, spacing)
    power = float(np.add.reduce(_below(below, centres + half) - _below(below, centres - half)))
    total = float(below[-1]) - spectrum.floor * (last + 1)
    return (power - spectrum.floor * 2 * half * len(centres)) / total


def _below(below: Array, edges: Array) -> Array:
    """Power below each of these positions."""
    whole = edges.astype(np.intp)
    low = below[whole]
    part: Array = low + (edges - whole) * (below[whole + 1] - low)
    return part


def _repeats(
    spectrum: Spectrum, n: int, rate_hz: float, low_hz: float, high_hz: float
) -> list[float]:
    """Frequencies whose period is a lag at which the sound repeats well (autocorrelation)."""
    similar = fft.irfft(spectrum.power, n)[: n // 2]
    longest = min(int(rate_hz / low_hz) + 2, len(similar))
    lags = np.arange(longest) / n
    # How far two Hann windows so far apart still overlap.
    overlap = (1 - lags) * (2 / 3 + np.cos(2 * np.pi * lags) / 3) + np.sin(2 * np.pi * lags) / (
        2 * np.pi
    )
    similar = similar[:longest] / overlap / max(similar[0], 1e-300)
    shortest = max(int(rate_hz / high_hz), 2)
    inner = similar[1:-1]
    at = np.flatnonzero((inner > similar[:-2]) & (inner >= similar[2:]) & (inner > 0.5)) + 1
    at = at[at >= shortest]
    if len(at) == 0:
        return []
    best = at[np.argsort(similar[at])[::-1][:4]]
    first = at[similar[at] > 0.9 * similar[at].max()][:2]
    return [float(rate_hz / lag) for lag in np.unique(np.concatenate((best, first)))]

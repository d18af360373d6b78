"""Stage three: least squares for all harmonics and DC together.

At the right frequency and with the right harmonics, what is left of the samples is noise. A small
frequency offset leaves, on harmonic k, a remainder that grows with time in proportion to k; its
size is read from the remainder weighted by time, harmonic by harmonic, and the harmonics are
averaged with weights k² A_k² / noise_k. For white noise that is the maximum-likelihood estimate
and meets the Cramér-Rao bound (Kay, Fundamentals of Statistical Signal Processing: Estimation
Theory, 1993, ch. 3, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pitchwright.pitch.average import Average, average
from pitchwright.pitch.climb import Climb
from pitchwright.pitch.fold import Fold
from pitchwright.pitch.noise import noise_about_harmonics

__all__ = ["Fit", "finish"]

Array = NDArray[np.float64]

_PASSES = 4
# Largest phase error at the ends of the span, in radians of the highest harmonic used, for which
# a remainder is still proportional to the offset; and the one at which passes end.
_LINEAR_RAD = 0.7
_DONE_RAD = 0.01
# A noise peak passes for a harmonic with probability exp(-12) per trial: 6e-6, over a thousand
# trials less than one in a hundred.
_AUDIBLE = 12.0
# Harmonics that carry less than this share of the largest k·A_k are as likely another tone's.
_WORTH = 0.015
# A glide too small to bend the highest harmonic by this much is left to the linear remainder.
_BENT_RAD = 0.3


@dataclass(frozen=True, slots=True)
class Fit:
    """The tone that fits best.

    Attributes
    ----------
    f_hz
        Frequency at the middle of the span.
    amplitudes
        Shape (harmonics + 1,): complex amplitude of DC and each harmonic.
    noise
        Shape (harmonics + 1,): noise variance per sample about each harmonic, as if white.
    used
        Shape (used,): the numbers of the harmonics that count.
    offsets
        The average over harmonics, in rad/s of the fundamental, of what was left at the end.
    fold
        The phase law, for looking at the remainder again.
    remainder
        Shape (n,): the samples less the tone.
    t_s
        Shape (n,): time of each sample from the middle of the span.
    """

    f_hz: float
    amplitudes: NDArray[np.complex128]
    noise: Array
    used: NDArray[np.intp]
    offsets: Average
    fold: Fold
    remainder: Array
    t_s: Array


def finish(samples: Array, rate_hz: float, start: Climb) -> Fit:
    """Refine the frequency that the climb reached, by least squares."""
    n = len(samples)
    t_s: Array = np.asarray((np.arange(n) - (n - 1) / 2) / rate_hz)
    half_s = n / rate_hz / 2
    f_hz = start.f_hz
    top = max(int((rate_hz / 2 - 1 / half_s) / f_hz), 1)
    bend = 2 * np.pi * abs(start.glide_hz_per_s) / 2 * half_s**2
    glide = start.glide_hz_per_s if bend * top > _BENT_RAD else 0.0
    error_rad_s = 2 * np.pi * 3 * start.u_hz
    for _ in range(_PASSES):
        reach = int(_LINEAR_RAD / max(error_rad_s * half_s, 1e-12))
        harmonics = max(1, min(top, max(reach, start.highest)))
        fit = _one_pass(samples, rate_hz, t_s, f_hz, glide, harmonics)
        step = fit.offsets.mean
        f_hz += step / (2 * np.pi)
        error_rad_s = 3 * fit.offsets.u
        if harmonics == top and abs(step) * half_s * fit.used.max() < _DONE_RAD:
            break
    return Fit(f_hz, fit.amplitudes, fit.noise, fit.used, fit.offsets, fit.fold, fit.remainder, t_s)


def _one_pass(
    samples: Array, rate_hz: float, t_s: Array, f_hz: float, glide: float, harmonics: int
) -> Fit:
    cycles = f_hz * t_s
    if glide:
        cycles = cycles + 0.5 * glide * t_s**2
    fold = Fold(cycles, harmonics)
    amplitudes, remainder = _harmonics(samples, fold, cycles, f_hz / rate_hz)
    noise = noise_about_harmonics(remainder, rate_hz, f_hz, harmonics)
    used = _worth_using(amplitudes, noise, len(samples))
    a, sigma2 = amplitudes[used], noise[used]
    spread = float(t_s @ t_s)
    slope = fold.analyse(remainder * t_s)[used]
    offset = 2 * np.imag(np.conj(a) * slope) / (used * np.abs(a) ** 2 * spread)
    variance = 2 * sigma2 / (used**2 * np.abs(a) ** 2 * spread)
    return Fit(
        f_hz,
        amplitudes,
        noise,
        used,
        average(offset, variance, used),
        fold,
        remainder,
        t_s,
    )


def _harmonics(
    samples: Array, fold: Fold, cycles: Array, step: float
) -> tuple[NDArray[np.complex128], Array]:
    """Complex amplitudes, and the samples less the tone.

    The first and the last part of a period count half where the span is not a whole number of
    periods, so that every phase counts alike and the harmonics are orthogonal but for the grain
    of the samples; what the grain leaves is taken out by a second turn.
    """
    from_start = cycles - (cycles[0] - step / 2)
    whole = np.floor(from_start[-1] + step / 2)
    extra = from_start[-1] + step / 2 - whole
    weight = np.ones_like(samples)
    weight[(from_start < extra) | (from_start > whole)] = 0.5
    scale = 2.0 / weight.sum()
    amplitudes = np.zeros(fold.harmonics + 1, dtype=np.complex128)
    remainder = samples
    for _ in range(2):
        part = fold.analyse(remainder * weight) * scale
        part[0] = part[0].real / 2
        amplitudes = amplitudes + part
        remainder = samples - fold.synthesise(amplitudes)
    return amplitudes, remainder


def _worth_using(a: NDArray[np.complex128], noise: Array, n: int) -> NDArray[np.intp]:
    """Numbers of the harmonics that stand clear of the noise and tell something."""
    k = np.arange(len(a))
    size = np.abs(a)
    telling = k * size
    audible = size**2 * n > 4 * _AUDIBLE * noise
    audible[0] = False
    if not audible.any():
        audible[1 + int(np.argmax(telling[1:]))] = True
    worth = telling >= _WORTH * float(telling[audible].max())
    return np.flatnonzero(audible & worth)

"""Stage three: least squares for all harmonics and DC together.

At the right frequency and with the right harmonics, what is left of the samples is noise. A small
frequency offset leaves, on harmonic k, a remainder that grows with time in proportion to k; its
size is read from the remainder weighted by time, harmonic by harmonic, and the harmonics are
averaged with weights k² A_k² / noise_k. For white noise that is the maximum-likelihood estimate
and meets the Cramér-Rao bound (Kay, Fundamentals of Statistical Signal Processing: Estimation
Theory, 1993, ch. 3, from memory). A steady glide is fitted beside it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pitchwright.pitch.average import Average, average, stretched
from pitchwright.pitch.climb import Climb
from pitchwright.pitch.fold import Fold
from pitchwright.pitch.noise import noise_about_harmonics, noise_at_a_line
from pitchwright.pitch.phase import PhaseTrack, phase_track

__all__ = ["Fit", "finish"]

Array = NDArray[np.float64]
Harmonics = NDArray[np.complex128]

_PASSES = 6
_PASSES_WITH_NOISE = 3
# Largest phase error at the ends of the span, in radians of the highest harmonic used, for which
# a remainder is still proportional to the offset.
_LINEAR_RAD = 0.7
# Passes end when a step is this small beside its own uncertainty, or in radians as above.
_DONE_OF_U = 0.05
_DONE_RAD = 1e-7
# A noise peak is p times its mean with probability exp(-p); over all the harmonics tried, one in
# exp(9), about 8000, spans may hold one that passes for a harmonic.
_AUDIBLE = 9.0
# Harmonics that carry less than this share of the largest k·A_k are as likely another tone's.
_WORTH = 0.015
# With fewer periods than this the harmonics' answers to an offset are worked out in full.
_FEW_PERIODS = 25.0
# A filter that sings shows hardly more lines; the noise about each is looked at by itself.
_FEW_HARMONICS = 6
# What lies under a tone slowly is taken off with a polynomial of this degree, from this many
# periods on, where it holds this share of what is left over.
_DRIFT_DEGREE = 3
_DRIFT_BLOCKS = 32
_PERIODS_FOR_DRIFT = 6.0
_DRIFTS = 0.1
_BLOCKS_FOR_GLIDE = 6
_GLIDE_SIGNIFICANCE = 4.0


@dataclass(frozen=True, slots=True)
class Law:
    """Phase against time: frequency at the middle of the span, and a glide.

    Attributes
    ----------
    f_hz
        Frequency at t = 0.
    glide_per_s
        Rate of change of its logarithm: a steady glide in cents per second.
    """

    f_hz: float
    glide_per_s: float

    def cycles(self, t_s: Array) -> Array:
        """Phase in cycles at each time, zero at t = 0."""
        if self.glide_per_s == 0.0:
            return self.f_hz * t_s
        cycles: Array = np.expm1(self.glide_per_s * t_s) * (self.f_hz / self.glide_per_s)
        return cycles

    def mean_hz(self, duration_s: float) -> float:
        """Cycles per second over a span about t = 0."""
        x = self.glide_per_s * duration_s / 2
        return self.f_hz * (1.0 + x * x / 6)


@dataclass(frozen=True, slots=True)
class Fit:
    """The tone that fits best.

    Attributes
    ----------
    law
        Its frequency and glide.
    amplitudes
        Shape (harmonics + 1,): complex amplitude of DC and each harmonic.
    noise
        Shape (harmonics + 1,): noise variance per sample about each harmonic, as if white.
    used
        Shape (used,): the numbers of the harmonics that count.
    offset
        The average over harmonics, in rad/s of the fundamental, of what was left at the end.
    stretch
        What the harmonics say of the fundamental less their average, in rad/s of it, where they
        disagree in the way that stretched partials do; else 0.
    track
        Phase of the tone beside the law, along the span.
    remainder
        Shape (n,): the samples less the tone.
    """

    law: Law
    amplitudes: Harmonics
    noise: Array
    used: NDArray[np.intp]
    offset: Average
    stretch: float
    track: PhaseTrack
    remainder: Array


def finish(samples: Array, rate_hz: float, start: Climb) -> Fit:
    """Refine the frequency that the climb reached, by least squares."""
    n = len(samples)
    t_s: Array = np.asarray((np.arange(n) - (n - 1) / 2) / rate_hz)
    half_s = n / rate_hz / 2
    law = Law(start.f_hz, start.glide_hz_per_s / start.f_hz)
    top = max(int((rate_hz / 2 - 1 / half_s) / law.f_hz), 1)
    error_rad_s = 2 * np.pi * 3 * start.u_hz
    known: Harmonics | None = None
    noise = np.empty(0)
    before = np.inf
    turn = 0
    while True:
        reach = int(_LINEAR_RAD / max(error_rad_s * half_s, 1e-12))
        harmonics = max(1, min(top, max(reach, start.highest)))
        one = _Pass(samples, rate_hz, t_s, law, harmonics, known)
        if 0 < turn <= _PASSES_WITH_NOISE:
            noise = noise_about_harmonics(one.remainder, rate_hz, law.f_hz, harmonics)
        elif len(noise) != harmonics + 1:
            noise = np.full(harmonics + 1, max(float(np.mean(one.remainder**2)), 1e-30))
        used = _worth_using(one.amplitudes, noise, n)
        if turn > 0 and len(used) <= _FEW_HARMONICS:
            for k in used:
                noise[k] = noise_at_a_line(one.remainder, rate_hz, k * law.f_hz, law.f_hz)
        offset, stretch = one.offset(noise, used)
        law = Law(law.f_hz + offset.mean / (2 * np.pi), law.glide_per_s)
        if turn > 0:
            track = one.track(noise, used)
            bent = one.bend(track)
            # Each step leaves an error that shrinks about as the steps do.
            left = abs(offset.mean) * min(abs(offset.mean) / before, 1.0)
            small = left < _DONE_OF_U * offset.u or left * used[-1] * half_s < _DONE_RAD
            settled = small and harmonics == top and bent == 0.0
            if settled or turn == _PASSES - 1:
                return Fit(law, one.amplitudes, noise, used, offset, stretch, track, one.remainder)
            law = Law(law.f_hz, law.glide_per_s + bent)
        samples = samples - _drift(one.remainder, law.f_hz * 2 * half_s)
        before = max(abs(offset.mean), 1e-300)
        error_rad_s = 3 * offset.u
        known = one.amplitudes
        turn += 1


class _Pass:
    """The samples against one phase law."""

    def __init__(
        self,
        samples: Array,
        rate_hz: float,
        t_s: Array,
        law: Law,
        harmonics: int,
        known: Harmonics | None,
    ) -> None:
        self._rate_hz, self._t_s, self._law = rate_hz, t_s, law
        cycles = law.cycles(t_s)
        self._fold = Fold(cycles, harmonics)
        self._weight, self._scale = _even_weight(cycles)
        self._spread = float(t_s @ t_s)
        if known is None:
            self.amplitudes = self._project(samples)
            self.remainder = samples - self._fold.synthesise(self.amplitudes, 1e-3)
            return
        self.amplitudes = np.zeros(harmonics + 1, dtype=np.complex128)
        shared = min(len(known), harmonics + 1)
        self.amplitudes[:shared] = known[:shared]
        self.remainder = samples - self._fold.synthesise(self.amplitudes)
        # The grain of the samples keeps the harmonics from being quite orthogonal: once more.
        part = self._project(self.remainder)
        self.amplitudes = self.amplitudes + part
        self.remainder -= self._fold.synthesise(part, 1e-3)

    def _project(self, y: Array) -> Harmonics:
        weighted = y if self._weight is None else y * self._weight
        part = self._fold.analyse(weighted) * self._scale
        part[0] = part[0].real / 2
        return part

    def offset(self, noise: Array, used: NDArray[np.intp]) -> tuple[Average, float]:
        """What is left of the frequency, and the partials' stretch; rad/s of the fundamental."""
        a = self.amplitudes[used]
        told = used**2 * np.abs(a) ** 2 * self._spread / 2
        answer = self._answer(used)
        slope = self._fold.analyse(self.remainder * self._t_s, 0.02)[used]
        left = used * np.imag(np.conj(a) * slope) / told / answer
        variances = noise[used] / told / answer
        offset = average(left, variances, used)
        return offset, stretched(left, variances, used, offset.mean)

    def _answer(self, used: NDArray[np.intp]) -> Array:
        """How much of an offset each harmonic shows: one, but for spans of few periods.

        There, part of what an offset does looks like other harmonics and is fitted away.
        """
        periods = self._law.f_hz * len(self._t_s) / self._rate_hz
        if periods > _FEW_PERIODS:
            return np.ones(len(used))
        k = np.arange(len(self.amplitudes))
        grown = self._t_s * self._fold.synthesise(1j * k * self.amplitudes, 1e-3)
        grown -= self._fold.synthesise(self._project(grown), 1e-3)
        slope = self._fold.analyse(grown * self._t_s, 0.02)[used]
        a = self.amplitudes[used]
        told = used * np.abs(a) ** 2 * self._spread / 2
        answer: Array = np.clip(np.imag(np.conj(a) * slope) / told, 0.2, 5.0)
        return answer

    def track(self, noise: Array, used: NDArray[np.intp]) -> PhaseTrack:
        """Phase beside the law, block by block."""
        k = np.arange(len(self.amplitudes))
        slope = 1j * k * self.amplitudes
        pattern = np.zeros_like(slope)
        pattern[used] = slope[used] / noise[used]
        periods = self._law.f_hz * len(self._t_s) / self._rate_hz
        return phase_track(
            self.remainder,
            self._fold.synthesise(pattern, 1.0),
            self._fold.synthesise(slope, 1.0),
            self._t_s,
            periods,
            lone=len(used) <= _FEW_HARMONICS,
        )

    def bend(self, track: PhaseTrack) -> float:
        """What is left of the glide, where it is significant; else zero."""
        if len(track.phase_rad) < _BLOCKS_FOR_GLIDE:
            return 0.0
        bend, u = track.bend()
        if abs(bend) < _GLIDE_SIGNIFICANCE * u:
            return 0.0
        return 2 * bend / (2 * np.pi * self._law.f_hz)


def _drift(remainder: Array, periods: float) -> Array | float:
    """What moves slowly under the tone, as a direct voltage that settles does; 0 where nothing."""
    if periods < _PERIODS_FOR_DRIFT:
        return 0.0
    n = len(remainder)
    edges = np.linspace(0, n, _DRIFT_BLOCKS + 1).astype(np.intp)
    means = np.add.reduceat(remainder, edges[:-1]) / np.diff(edges)
    centre = (edges[1:] + edges[:-1] - n) / n
    law = np.polynomial.legendre.legfit(centre, means, _DRIFT_DEGREE)
    slow = np.polynomial.legendre.legval(centre, law)
    if float(np.mean(slow**2)) < _DRIFTS * float(remainder @ remainder) / n:
        return 0.0
    return np.asarray(np.polynomial.legendre.legval(np.linspace(-1.0, 1.0, n), law), np.float64)


def _even_weight(cycles: Array) -> tuple[Array | None, float]:
    """Weights that count every phase of the period alike, and two over their sum.

    Where the span is not a whole number of periods, the first and the last part of a period
    count half, which keeps the harmonics orthogonal.
    """
    n = len(cycles)
    step = float(cycles[-1] - cycles[0]) / (n - 1)
    periods = float(cycles[-1] - cycles[0]) + step
    whole = np.floor(periods)
    extra = periods - whole
    weight = np.ones(n)
    weight[: int(np.searchsorted(cycles, cycles[0] - step / 2 + extra))] = 0.5
    weight[int(np.searchsorted(cycles, cycles[0] - step / 2 + whole)) :] = 0.5
    return weight, 2.0 / float(weight.sum())


def _worth_using(a: Harmonics, noise: Array, n: int) -> NDArray[np.intp]:
    """Numbers of the harmonics that stand clear of the noise and tell something."""
    k = np.arange(len(a))
    size = np.abs(a)
    telling = k * size
    audible = size**2 * n > 4 * (_AUDIBLE + np.log(len(a))) * noise
    audible[0] = False
    if not audible.any():
        audible[1 + int(np.argmax(telling[1:]))] = True
    worth = telling >= _WORTH * float(telling[audible].max())
    return np.flatnonzero(audible & worth)

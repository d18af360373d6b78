"""Band-limited waveforms read off a phase track, so that the pitch is the track's own.

One period is summed from its harmonics once, by an inverse Fourier transform, and then looked up
at the phase of each sample by cubic interpolation. Whatever the track does (drift, jitter,
glides) the harmonics follow exactly, and no harmonic above half the sample rate exists to fold
back. A table holds as many harmonics as fit, in steps of an eighth of an octave; it is fine
enough (sixteen points for the period of its highest harmonic) that what interpolation adds lies
below -110 dB of the tone.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import special

from pitchwright.errors import InputError

__all__ = ["WaveTables", "Waveform", "WaveformKind"]

Array = NDArray[np.float64]
Spectrum = NDArray[np.complex128]

_TOP_SHARE: Final = 0.46
"""Harmonics end at this share of the sample rate: a recorder's own filter takes the rest."""
_POINTS_PER_HARMONIC: Final = 16
_LEAST_POINTS: Final = 4096
_STEPS_PER_OCTAVE: Final = 8
_TABLES_KEPT: Final = 4
"""A table for the lowest notes takes megabytes, and a steady note needs only one."""


class WaveformKind(StrEnum):
    """The shapes a practice oscillator can have."""

    SAW = "saw"
    SQUARE = "square"
    PULSE = "pulse"
    TRIANGLE = "triangle"
    SINE = "sine"
    FOLDED = "folded"
    SUB_OCTAVE = "sub-octave"


@dataclass(frozen=True, slots=True)
class Waveform:
    """A shape with its setting.

    Attributes
    ----------
    kind
        Which shape.
    width
        High part of a pulse's period, between 0 and 1.
    fold
        How far a folded sine is driven, in radians at its peak: sin(fold · sin(phase)).
    sub_db
        Level in decibels of the square one octave below, relative to the saw it is mixed with.
    """

    kind: WaveformKind
    width: float = 0.5
    fold: float = 4.0
    sub_db: float = -6.0

    def __post_init__(self) -> None:
        if not 0.0 < self.width < 1.0:
            raise InputError(
                f"A pulse cannot be {self.width:g} of its period wide", do="Use 0 to 1"
            )
        if not 0.0 < self.fold <= 30.0:
            raise InputError(f"A fold of {self.fold:g} is not possible", do="Use up to 30 radians")

    @property
    def periods(self) -> int:
        """Periods of the pitch after which the shape repeats: 2 with a sub-octave, else 1."""
        return 2 if self.kind is WaveformKind.SUB_OCTAVE else 1

    def harmonics(self, count: int) -> Spectrum:
        """Complex amplitudes of the harmonics 1 to ``count`` of the repeating shape.

        The shape is the real part of the sum of amplitude · exp(i 2π k phase); an ideal saw,
        square or triangle reaches from -1 to 1; a pulse has no DC and reaches to one of them.
        """
        k = np.arange(1, count + 1, dtype=np.float64)
        return _SPECTRA[self.kind](self, k)


def _saw(_: Waveform, k: Array) -> Spectrum:
    return np.asarray(2j * (-1.0) ** k / (np.pi * k))


def _square(_: Waveform, k: Array) -> Spectrum:
    return np.asarray(-4j / (np.pi * k) * (k % 2))


def _pulse(wave: Waveform, k: Array) -> Spectrum:
    # High from phase 0 to the width, and as high as the farther of its two levels is 1 off zero.
    height = 1.0 / max(wave.width, 1.0 - wave.width)
    return np.asarray(-1j * height * (1.0 - np.exp(-2j * np.pi * k * wave.width)) / (np.pi * k))


def _triangle(_: Waveform, k: Array) -> Spectrum:
    return np.asarray(8.0 / (np.pi * k) ** 2 * (k % 2) + 0j)


def _sine(_: Waveform, k: Array) -> Spectrum:
    return np.asarray(-1j * (k == 1.0))


def _folded(wave: Waveform, k: Array) -> Spectrum:
    # sin(z sin θ) = 2 Σ J_k(z) sin(k θ) over odd k (Jacobi and Anger).
    return np.asarray(-2j * special.jv(k, wave.fold) * (k % 2))


def _sub_octave(wave: Waveform, k: Array) -> Spectrum:
    sub = 10.0 ** (wave.sub_db / 20.0)
    mixed = _square(wave, k) * sub
    mixed[1::2] += _saw(wave, k[: k.size // 2])
    return np.asarray(mixed / (1.0 + sub))


_SPECTRA: Final[dict[WaveformKind, Callable[[Waveform, Array], Spectrum]]] = {
    WaveformKind.SAW: _saw,
    WaveformKind.SQUARE: _square,
    WaveformKind.PULSE: _pulse,
    WaveformKind.TRIANGLE: _triangle,
    WaveformKind.SINE: _sine,
    WaveformKind.FOLDED: _folded,
    WaveformKind.SUB_OCTAVE: _sub_octave,
}


class WaveTables:
    """Turns phase tracks into samples of one waveform, keeping the last few tables it made.

    Parameters
    ----------
    waveform
        The shape.
    rate_hz
        Sample rate of the tracks.
    """

    def __init__(self, waveform: Waveform, rate_hz: float) -> None:
        self._waveform = waveform
        self._rate_hz = rate_hz
        self._tables: dict[int, Array] = {}

    def harmonics_for(self, f_hz: Array) -> NDArray[np.int64]:
        """How many harmonics a table for each pitch in hertz holds.

        At least one, and none from half the sample rate on: a recorder hears nothing there.
        """
        fit = _TOP_SHARE * self._rate_hz * self._waveform.periods / f_hz
        steps = np.floor(_STEPS_PER_OCTAVE * np.log2(np.maximum(fit, 1.0)))
        stepped = np.floor(np.exp2(steps / _STEPS_PER_OCTAVE) + 1e-9)
        # Steps of an eighth of an octave would waste harmonics where there are only a few.
        count = np.where(fit < 2 * _STEPS_PER_OCTAVE, np.floor(fit), stepped)
        heard = f_hz < 0.5 * self._rate_hz
        return np.asarray(np.where(heard, np.maximum(count, 1.0), 0.0), dtype=np.int64)

    def samples(self, phase_cycles: Array, harmonics: int) -> Array:
        """Samples at phases in periods of the pitch, summed from ``harmonics`` harmonics.

        Parameters
        ----------
        phase_cycles
            Phase at each sample, not negative.
        harmonics
            How many, of the repeating shape: see :meth:`harmonics_for`.

        Returns
        -------
        numpy.ndarray
            Shaped like ``phase_cycles``.
        """
        if harmonics == 0:
            return np.zeros_like(phase_cycles)
        table = self._table(harmonics)
        points = table.shape[0]
        position = phase_cycles * (points / self._waveform.periods)
        index = position.astype(np.int64)
        part = position - index
        index &= points - 1  # a power of two, so this is the remainder
        c = table.take(index, axis=0)
        return np.asarray(((c[:, 3] * part + c[:, 2]) * part + c[:, 1]) * part + c[:, 0])

    def _table(self, harmonics: int) -> Array:
        table = self._tables.pop(harmonics, None)
        if table is None:
            table = _cubics(self._waveform.harmonics(harmonics))
            if len(self._tables) == _TABLES_KEPT:
                del self._tables[next(iter(self._tables))]
        self._tables[harmonics] = table  # last in the dictionary: last used
        return table


def _cubics(amplitudes: Spectrum) -> Array:
    """Cubic polynomials, shape (points, 4), through four neighbouring points of one period."""
    points = max(_LEAST_POINTS, 2 ** math.ceil(math.log2(_POINTS_PER_HARMONIC * amplitudes.size)))
    spectrum = np.zeros(points // 2 + 1, dtype=np.complex128)
    spectrum[1 : amplitudes.size + 1] = amplitudes * (points / 2.0)
    y0 = np.fft.irfft(spectrum, points)
    before, y1, y2 = np.roll(y0, 1), np.roll(y0, -1), np.roll(y0, -2)
    return np.stack(
        (
            y0,
            y1 - before / 3.0 - y0 / 2.0 - y2 / 6.0,
            (before + y1) / 2.0 - y0,
            (y2 - before) / 6.0 + (y0 - y1) / 2.0,
        ),
        axis=1,
    )

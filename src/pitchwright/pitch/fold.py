"""Folding: a span of sound laid period over period, and back.

With the phase law known, all harmonics of a tone come out of one pass: each sample is dropped on
the nearest point of a fine grid round the period, together with its small distance from that
point, and a Fourier transform of the grid gives every harmonic at once. The cost does not depend
on how many harmonics there are. The way back, from harmonics to samples, looks up the same grid.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import fft

__all__ = ["Fold"]

Array = NDArray[np.float64]
Spectrum = NDArray[np.complex128]

# Points of the grid per harmonic. Half a step is then π/32 radian of the highest harmonic, and
# a Taylor series of order three is good to (π/32)⁴/24 = 4e-6 of it.
_FINENESS = 32
_SMALLEST = 256


class Fold:
    """Samples on a grid round the period.

    Parameters
    ----------
    cycles
        Shape (n,): phase of each sample in cycles of the fundamental.
    harmonics
        How many harmonics to resolve.
    """

    def __init__(self, cycles: Array, harmonics: int) -> None:
        self.harmonics = harmonics
        self.size = max(_SMALLEST, 1 << (_FINENESS * harmonics - 1).bit_length())
        at = cycles * self.size
        nearest = np.rint(at)
        self._off = (at - nearest) * (2 * np.pi / self.size)
        self._at = nearest.astype(np.int64) & (self.size - 1)
        self._k = np.arange(harmonics + 1)

    def analyse(self, y: Array) -> Spectrum:
        """Sum of y·exp(-i k phase) for k = 0 ... harmonics; shape (harmonics + 1,)."""
        total: Spectrum = np.zeros(self.harmonics + 1, dtype=np.complex128)
        factor: Spectrum = np.ones(self.harmonics + 1, dtype=np.complex128)
        for order in range(3):
            dropped = np.bincount(self._at, y, self.size)
            total += factor * fft.rfft(dropped)[: self.harmonics + 1]
            factor = factor * (-1j * self._k / (order + 1))
            if order < 2:
                y = y * self._off
        return total

    def synthesise(self, a: Spectrum) -> Array:
        """Real part of the sum of a_k·exp(i k phase) over k; shape (n,)."""
        # Horner's rule, highest derivative first.
        derivatives: list[Spectrum] = [a]
        for order in (1, 2, 3):
            derivatives.append(derivatives[-1] * (1j / order) * self._k)
        y = self._look_up(derivatives[3])
        for order in (2, 1, 0):
            y *= self._off
            y += self._look_up(derivatives[order])
        return y

    def coarse(self, a: Spectrum) -> Array:
        """Like `synthesise`, to the nearest grid point only (a few per cent at the top)."""
        return self._look_up(a)

    def _look_up(self, a: Spectrum) -> Array:
        looked_up: Array = self._table(a)[self._at]
        return looked_up

    def _table(self, a: Spectrum) -> Array:
        padded = np.zeros(self.size // 2 + 1, dtype=np.complex128)
        padded[: len(a)] = a
        padded[1:] *= 0.5
        table: Array = fft.irfft(padded, self.size)
        return table * self.size

"""Folding: a span of sound laid period over period, and back.

With the phase law known, all harmonics of a tone come out of one pass: each sample is dropped on
the nearest point of a fine grid round the period, together with its small distance from that
point, and a Fourier transform of the grid gives every harmonic at once. The cost hardly depends
on how many harmonics there are. The way back, from harmonics to samples, looks up the same grid.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import fft

__all__ = ["Fold"]

Array = NDArray[np.float64]
Harmonics = NDArray[np.complex128]

# Points of the grid per harmonic, at least. Half a step is then π/16 radian of the highest
# harmonic or less, and a Taylor series of five terms is good to (π/16)⁵/120 = 2.5e-6 of it.
_FINENESS = 16
_SMALLEST = 1024


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
        at -= nearest
        at *= 2 * np.pi / self.size
        self._off = at
        self._at = nearest.astype(np.intp)
        self._at &= self.size - 1
        self._k = np.arange(harmonics + 1)

    def terms_for(self, precision: float) -> int:
        """How many terms of the Taylor series keep the highest harmonic to this precision."""
        half_step = np.pi * self.harmonics / self.size
        terms, error = 1, half_step
        while error > precision:
            terms += 1
            error *= half_step / terms
        return terms

    def analyse(self, y: Array, precision: float = 1e-3) -> Harmonics:
        """Sum of y·exp(-i k phase) for k = 0 ... harmonics; shape (harmonics + 1,)."""
        total: Harmonics = np.zeros(self.harmonics + 1, dtype=np.complex128)
        factor: Harmonics = np.ones(self.harmonics + 1, dtype=np.complex128)
        for term in range(self.terms_for(precision)):
            if term:
                y = y * self._off
                factor = factor * (-1j / term) * self._k
            dropped = np.bincount(self._at, y, self.size)
            total += factor * fft.rfft(dropped)[: self.harmonics + 1]
        return total

    def synthesise(self, a: Harmonics, precision: float = 3e-6) -> Array:
        """Real part of the sum of a_k·exp(i k phase) over k; shape (n,)."""
        derivatives: list[Harmonics] = [a]
        for term in range(1, self.terms_for(precision)):
            derivatives.append(derivatives[-1] * (1j / term) * self._k)
        # Horner's rule, highest derivative first.
        y = self._look_up(derivatives.pop())
        while derivatives:
            y *= self._off
            y += self._look_up(derivatives.pop())
        return y

    def _look_up(self, a: Harmonics) -> Array:
        padded = np.zeros(self.size // 2 + 1, dtype=np.complex128)
        padded[: len(a)] = a
        padded[1:] *= 0.5
        table: Array = fft.irfft(padded, self.size)
        table *= self.size
        looked_up: Array = table.take(self._at)
        return looked_up

"""Bites: a stream cut into stretches of whole periods, and the harmonics of each.

Each bite begins and ends where the phase law of a reference frequency passes a whole number, so
that its harmonics do not disturb each other and DC disturbs none of them. The samples about such an
edge are shared between the bites to either side, the share changing in a straight line: a sharp
edge would depend on where between two samples it falls. All harmonics of all bites come out of one
pass: each sample is dropped on the nearest point of a grid round the period (see
:mod:`pitchwright.pitch.fold` for the idea).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import fft

__all__ = ["MARGIN", "Law", "fold_bites"]

Array = NDArray[np.float64]
Harmonics = NDArray[np.complex128]

MARGIN: Final = 10
"""How many samples beyond its edges a bite reaches at the most."""

_BITE_S: Final = 0.0125  # or one period where that is longer
_EDGE: Final = 8
_MOST_HARMONICS: Final = 64
_GRID: Final = 1024
_TERMS: Final = 3
_FEW_HARMONICS: Final = 20


@dataclass(frozen=True, slots=True)
class Law:
    """The phase law of a reference frequency, and the bites it cuts.

    Attributes
    ----------
    f_hz, rate_hz
        Reference frequency and sample rate.
    begin
        Sample number (not whole) at which the first bite begins.
    """

    f_hz: float
    rate_hz: float
    begin: float

    @property
    def periods(self) -> int:
        """Periods in a bite."""
        return max(1, round(_BITE_S * self.f_hz))

    @property
    def bite(self) -> float:
        """Samples in a bite, not whole."""
        return self.periods * self.rate_hz / self.f_hz

    @property
    def bite_s(self) -> float:
        """Length of a bite in seconds."""
        return self.periods / self.f_hz

    @property
    def harmonics(self) -> int:
        """How many harmonics are looked at."""
        return max(1, min(_MOST_HARMONICS, int(0.46 * self.rate_hz / self.f_hz)))

    def whole_bites(self, end: int) -> int:
        """How many bites are complete once ``end`` samples have come."""
        return int((end - MARGIN - self.begin) // self.bite)


def fold_bites(
    samples: Array, start: int, law: Law, first: int, count: int, harmonics: int
) -> tuple[Harmonics, Array]:
    """The harmonics of bites ``first`` to ``first + count - 1``.

    Parameters
    ----------
    samples
        Shape (n,): sound that holds these bites.
    start
        Number of its first sample.
    law
        Which frequency.
    first, count
        Which bites.
    harmonics
        How many harmonics.

    Returns
    -------
    amplitudes
        Shape (count, harmonics): complex amplitude of harmonics 1 and up.
    power
        Shape (count,): mean square, DC removed.
    """
    edges: Array = np.asarray(law.begin + law.bite * np.arange(first, first + count + 1))
    x, bite, weight, number = _shared_out(samples, start, edges)
    at = (number - law.begin) * (law.f_hz / law.rate_hz * _GRID)
    nearest = np.rint(at)
    off = (at - nearest) * (2 * np.pi / _GRID)
    place = bite * _GRID + (nearest.astype(np.intp) & (_GRID - 1))
    weighted = x * weight
    order = np.arange(harmonics + 1)
    amplitudes: Harmonics = np.zeros((count, harmonics + 1), dtype=np.complex128)
    factor: Harmonics = np.full(harmonics + 1, 2.0 / law.bite, dtype=np.complex128)
    for term in range(_TERMS if harmonics > _FEW_HARMONICS else _TERMS - 1):
        if term:
            weighted = weighted * off
            factor = factor * (-1j / term) * order
        dropped = np.bincount(place, weighted, count * _GRID).reshape(count, _GRID)
        amplitudes += factor * fft.rfft(dropped, axis=1)[:, : harmonics + 1]
    squares = np.bincount(bite, x * x * weight, count)
    power = squares / law.bite - (amplitudes[:, 0].real / 2) ** 2
    return amplitudes[:, 1:], np.maximum(power, 0.0)


def _shared_out(
    samples: Array, start: int, edges: Array
) -> tuple[Array, NDArray[np.intp], Array, NDArray[np.intp]]:
    """Samples with the bite each belongs to, with which weight, and its number.

    Those about an edge are there twice, once for either bite.
    """
    count = len(edges) - 1
    centre = np.floor(edges + 0.5).astype(np.intp)
    beside = np.arange(-_EDGE, _EDGE + 1)
    low, high = int(centre[0]) - _EDGE, int(centre[-1]) + _EDGE
    near = centre[:, None] + beside
    right = np.clip((near - edges[:, None]) / (2 * _EDGE) + 0.5, 0.0, 1.0)
    after = beside >= 0
    lengths = np.concatenate(([_EDGE], np.diff(centre), [_EDGE + 1]))
    bite = np.repeat(np.arange(-1, count + 1), lengths)
    weight = np.ones(high + 1 - low)
    weight[near - low] = np.where(after, right, 1.0 - right)
    other = np.arange(count + 1)[:, None] - after
    bite = np.concatenate((bite, other.ravel()))
    weight = np.concatenate((weight, np.where(after, 1.0 - right, right).ravel()))
    number = np.concatenate((np.arange(low, high + 1), near.ravel()))
    inside = (bite >= 0) & (bite < count)
    bite, weight, number = bite[inside], weight[inside], number[inside]
    return samples[number - start], bite, weight, number

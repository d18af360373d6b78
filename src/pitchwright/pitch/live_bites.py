"""Bites: a stream cut into stretches of whole periods, and the harmonics of each.

Each bite begins and ends where the phase law of a reference frequency passes a whole number, so
that its harmonics do not disturb each other and DC disturbs none of them; a sample on such an edge
is shared between the bites to either side. All harmonics of all bites come out of one pass: each
sample is dropped on the nearest point of a grid round the period (see :mod:`pitchwright.pitch.fold`
for the idea).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import fft

__all__ = ["BITE_S", "MOST_HARMONICS", "Law", "fold_bites"]

Array = NDArray[np.float64]
Harmonics = NDArray[np.complex128]

BITE_S: Final = 0.0125
"""Length of a bite, or one period where that is longer."""

MOST_HARMONICS: Final = 64
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
        return max(1, round(BITE_S * self.f_hz))

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
        return max(1, min(MOST_HARMONICS, int(0.46 * self.rate_hz / self.f_hz)))

    def whole_bites(self, end: int) -> int:
        """How many bites are complete once ``end`` samples have come."""
        return int((end - 0.6 - self.begin) // self.bite)


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
    edges = law.begin + law.bite * np.arange(first, first + count + 1)
    # A sample reaches half a sample to either side of its moment.
    on_edge = np.floor(edges + 0.5).astype(np.intp)
    low, high = int(on_edge[0]), int(on_edge[-1])
    x = samples[low - start : high + 1 - start]
    number = np.arange(low, high + 1)
    in_bite = np.repeat(np.arange(count), np.diff(on_edge))
    before = edges + 0.5 - on_edge
    # The sample on an edge counts in the bite it ends with ``before``, in the next with the rest.
    weight = np.ones(high + 1 - low)
    weight[on_edge[:-1] - low] = 1.0 - before[:-1]
    ending = on_edge[1:] - low
    at = (number - law.begin) * (law.f_hz / law.rate_hz * _GRID)
    nearest = np.rint(at)
    off = (at - nearest) * (2 * np.pi / _GRID)
    slot = nearest.astype(np.intp) & (_GRID - 1)
    place = np.concatenate((in_bite * _GRID + slot[:-1], np.arange(count) * _GRID + slot[ending]))
    weighted = np.concatenate((x[:-1] * weight[:-1], x[ending] * before[1:]))
    off = np.concatenate((off[:-1], off[ending]))
    order = np.arange(harmonics + 1)
    amplitudes: Harmonics = np.zeros((count, harmonics + 1), dtype=np.complex128)
    factor: Harmonics = np.full(harmonics + 1, 2.0 / law.bite, dtype=np.complex128)
    for term in range(_TERMS if harmonics > _FEW_HARMONICS else _TERMS - 1):
        if term:
            weighted = weighted * off
            factor = factor * (-1j / term) * order
        dropped = np.bincount(place, weighted, count * _GRID).reshape(count, _GRID)
        amplitudes += factor * fft.rfft(dropped, axis=1)[:, : harmonics + 1]
    squares = np.add.reduceat(x[:-1] ** 2 * weight[:-1], on_edge[:-1] - low)
    squares += x[ending] ** 2 * before[1:]
    power = squares / law.bite - (amplitudes[:, 0].real / 2) ** 2
    return amplitudes[:, 1:], np.maximum(power, 0.0)

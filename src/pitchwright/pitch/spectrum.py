"""The Hann-windowed power spectrum that the coarse search and the doubts look at."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

__all__ = ["Peak", "Spectrum", "middle_of", "spectrum_of"]

Array = NDArray[np.float64]

# Below this many bins the window's own main lobe about DC hides everything.
_DC_BINS = 3


@dataclass(frozen=True, slots=True)
class Peak:
    """One local maximum of a spectrum: where (interpolated) and how strong (power)."""

    f_hz: float
    power: float


@dataclass(frozen=True, slots=True)
class Spectrum:
    """One-sided power spectrum of a Hann-windowed span.

    Attributes
    ----------
    power
        Shape (n // 2 + 1,); the bins about DC are zero.
    bin_hz
        Width of a bin: the inverse of the span's duration.
    floor
        Power per bin of the noise between the lines (zero where nothing is left).
    """

    power: Array
    bin_hz: float
    floor: float

    @property
    def total(self) -> float:
        """Power of everything, the noise floor taken off."""
        return max(float(self.power.sum()) - self.floor * len(self.power), 0.0)

    @property
    def noise_variance(self) -> float:
        """Variance per sample of white noise as strong as the floor."""
        return self.floor / (0.375 * 2 * (len(self.power) - 1))

    def cumulative(self) -> Array:
        """Shape (len(power) + 1,): power below each bin's lower edge."""
        return np.concatenate(([0.0], np.cumsum(self.power)))

    def peaks(self, count: int) -> list[Peak]:
        """The strongest local maxima, strongest first.

        The position between bins follows from the ratio of the larger neighbour to the maximum,
        which for a Hann window is exact for a lone line.
        """
        p = self.power
        at = np.flatnonzero((p[1:-1] > p[:-2]) & (p[1:-1] >= p[2:])) + 1
        if len(at) > count:
            at = at[np.argpartition(p[at], -count)[-count:]]
        at = at[np.argsort(p[at])[::-1]]
        found = []
        for m in at:
            side = 1 if p[m + 1] >= p[m - 1] else -1
            ratio = np.sqrt(p[m + side] / p[m])
            found.append(
                Peak(float((m + side * (2 * ratio - 1) / (ratio + 1)) * self.bin_hz), float(p[m]))
            )
        return found


def middle_of(samples: Array, count: int) -> Array:
    """The middle ``count`` samples at most, cut to a length that transforms fast."""
    n = fft.prev_fast_len(min(count, len(samples)), real=True)
    start = (len(samples) - n) // 2
    return samples[start : start + n]


def spectrum_of(samples: Array, rate_hz: float) -> Spectrum:
    """Hann-windowed power spectrum of ``samples``, mean removed."""
    n = len(samples)
    window = 0.5 - 0.5 * np.cos(2 * np.pi * (np.arange(n) + 0.5) / n)
    power = np.abs(fft.rfft((samples - samples.mean()) * window)) ** 2
    power[:_DC_BINS] = 0.0
    # Noise power is exponentially distributed; a low quantile is the part lines do not reach.
    floor = float(np.quantile(power[_DC_BINS:], 0.2)) / -np.log(0.8)
    return Spectrum(power, rate_hz / n, floor)

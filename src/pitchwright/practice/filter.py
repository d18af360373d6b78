"""A filter that oscillates by itself: what makes its tone differ from an oscillator's sine.

Its pitch is that of an :class:`~pitchwright.practice.oscillator.Oscillator` (converter and
trimmers are the same); around the pitch lies the noise its own resonance lets through, and
towards low notes the loop barely keeps going, so that the tone gets weak.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["BandNoise", "FilterTone"]

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class FilterTone:
    """What a self-oscillating filter does to its sine.

    Attributes
    ----------
    noise_db
        Power of the band noise relative to the sine at full level, in decibels.
    resonance
        Pitch divided by the bandwidth of the noise.
    low_corner_hz
        Where the amplitude has dropped by 3 dB towards the low end; 0 for no loss.
    """

    noise_db: float = -60.0
    resonance: float = 20.0
    low_corner_hz: float = 0.0

    def amplitude(self, f_hz: Array) -> Array:
        """Amplitude of the sine, 1 at the top, for frequencies in hertz, same shape as given."""
        return np.asarray(1.0 / np.sqrt(1.0 + (self.low_corner_hz / f_hz) ** 2))


class BandNoise:
    """The noise around the pitch, in phase and in quadrature with it, block after block.

    Parameters
    ----------
    tone
        The filter it belongs to.
    rate_hz
        Sample rate.
    rng
        Where chance comes from.
    """

    def __init__(self, tone: FilterTone, rate_hz: float, rng: np.random.Generator) -> None:
        self._tone = tone
        self._rate_hz = rate_hz
        self._rng = rng
        self._last = np.zeros(2)

    def block(self, f_hz: float, count: int) -> tuple[Array, Array]:
        """Return in-phase and quadrature noise for ``count`` samples at a pitch in hertz.

        Each has shape (count,), relative to the amplitude of the sine at full level.
        """
        # Loading scipy.signal takes about a second, which most commands need not wait for.
        from scipy.signal import lfilter

        half_bandwidth_hz = f_hz / (2.0 * self._tone.resonance)
        keep = math.exp(-2.0 * math.pi * half_bandwidth_hz / self._rate_hz)
        # The power of sine and noise are both halved by the carrier, so each part gets the share.
        sd = 10.0 ** (self._tone.noise_db / 20.0) / math.sqrt(2.0)
        parts = []
        for part in range(2):
            fresh = self._rng.standard_normal(count)
            path, _ = lfilter(
                [math.sqrt(1.0 - keep**2)], [1.0, -keep], fresh, zi=[keep * self._last[part]]
            )
            self._last[part] = path[-1]
            parts.append(np.asarray(path * sd, dtype=np.float64))
        return parts[0], parts[1]

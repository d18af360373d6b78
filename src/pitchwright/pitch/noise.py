"""How much noise there is about each harmonic, read from what the tone leaves over."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import fft

__all__ = ["noise_about_harmonics"]

Array = NDArray[np.float64]

# The fit has taken out what lies this close to a harmonic, in bins of the Hann window.
_TAKEN_BINS = 1
_LOOK_BINS = 8
_NEIGHBOURS = 15
# A harmonic's own surroundings count instead of its neighbours' when this much above them.
_EXCESS = 4.0


def noise_about_harmonics(remainder: Array, rate_hz: float, f_hz: float, harmonics: int) -> Array:
    """Noise variance per sample about DC and each harmonic, as if white with that density.

    Shape (harmonics + 1,). A few bins to either side of each harmonic are averaged, then
    harmonics compared with their neighbours: the median of a stretch of them is steadier than
    one alone, and is taken unless the one stands clearly above (hum, another tone).
    """
    n = len(remainder)
    window = 0.5 - 0.5 * np.cos(2 * np.pi * (np.arange(n) + 0.5) / n)
    density = np.abs(fft.rfft(remainder * window)) ** 2 / float(window @ window)
    below = np.concatenate(([0.0], np.cumsum(density)))
    spacing = f_hz * n / rate_hz
    centre = np.rint(np.arange(harmonics + 1) * spacing).astype(np.intp)
    reach = int(min(_LOOK_BINS, max(spacing / 2, _TAKEN_BINS + 1)))
    last = len(density)
    wide = below[np.minimum(centre + reach + 1, last)] - below[np.maximum(centre - reach, 0)]
    inner_low = np.maximum(centre - _TAKEN_BINS, 0)
    inner_high = np.minimum(centre + _TAKEN_BINS + 1, last)
    bins = (
        np.minimum(centre + reach + 1, last)
        - np.maximum(centre - reach, 0)
        - (inner_high - inner_low)
    )
    local = (wide - (below[inner_high] - below[inner_low])) / np.maximum(bins, 1)
    tiny = 1e-30 + 1e-32 * float(remainder @ remainder)
    local = np.asarray(np.maximum(local, tiny), dtype=np.float64)
    if harmonics < 4:
        return local
    size = min(_NEIGHBOURS, harmonics)
    whole = harmonics // size * size
    usual = np.repeat(np.median(local[1 : whole + 1].reshape(-1, size), axis=1), size)
    usual = np.concatenate((usual, np.full(harmonics - whole, np.median(local[-size:]))))
    result: Array = local.copy()
    result[1:] = np.where(local[1:] > _EXCESS * usual, local[1:], usual)
    return result

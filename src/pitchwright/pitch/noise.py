"""How much noise there is about each harmonic, read from what the tone leaves over."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import fft

__all__ = ["noise_about_harmonics", "noise_at_a_line"]

Array = NDArray[np.float64]

# The fit has taken out what lies this close to a harmonic, in bins.
_TAKEN_BINS = 1
_LOOK_BINS = 8
_NEIGHBOURS = 15
# A harmonic's own surroundings count instead of its neighbours' when this much above them.
_EXCESS = 2.5
# About a lone line: how far to look, what is hidden, and the distance that matters to its phase.
_FLANK_BINS = 60
_HIDDEN_BINS = 1.6
_SEEN_BINS = 0.5
_PEAKED = 3.0


def noise_about_harmonics(remainder: Array, rate_hz: float, f_hz: float, harmonics: int) -> Array:
    """Noise variance per sample about DC and each harmonic, as if white with that density.

    Shape (harmonics + 1,). A few bins to either side of each harmonic are averaged, then
    harmonics compared with their neighbours: the median of a stretch of them is steadier than
    one alone, and is taken unless the one stands clearly above (hum, another tone).
    """
    n = len(remainder)
    # Weighted by time from the middle, as the offsets are that this noise disturbs: what leaks into
    # them from lines further away leaks in here too.
    density = _density(remainder, np.arange(n, dtype=np.float64) - (n - 1) / 2)
    below = np.concatenate(([0.0], np.cumsum(density)))
    spacing = f_hz * n / rate_hz
    reach = int(min(_LOOK_BINS, max(spacing / 2, _TAKEN_BINS + 1)))
    last = len(density)
    # What is no tone can carry the fit upwards until its highest harmonics lie beyond the band.
    centre = np.minimum(np.rint(np.arange(harmonics + 1) * spacing).astype(np.intp), last - 1)
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


def noise_at_a_line(remainder: Array, rate_hz: float, line_hz: float, f_hz: float) -> float:
    """Noise variance per sample at one harmonic of a tone that has hardly any others.

    A filter that sings has its noise in a band about the tone, strongest where the tone hides it.
    The density to either side is taken to fall as 1 / (1 + (distance / width)²), as beside a
    resonance, down to a floor; the density at the tone is averaged over widths and floors, each
    counting as its likelihood; where it is not clearly peaked it is taken to be flat.
    """
    n = len(remainder)
    # A Hann window leaks little, so that the flanks keep their shape.
    density = _density(remainder, 0.5 - 0.5 * np.cos(2 * np.pi * (np.arange(n) + 0.5) / n))
    per_bin = rate_hz / n
    at, spacing = line_hz / per_bin, f_hz / per_bin
    first = max(int(at) - _FLANK_BINS, 2)
    bins = np.arange(first, min(int(at) + _FLANK_BINS + 1, len(density)))
    from_harmonic = np.abs(bins - np.rint(bins / spacing) * spacing)
    bins = bins[(from_harmonic > _HIDDEN_BINS) & (np.abs(bins - at) > _HIDDEN_BINS)]
    if len(bins) < 2:
        return float(density.mean())
    power = np.maximum(density[bins], 1e-30)
    width = np.geomspace(0.3, 4.0 * _FLANK_BINS, 24)[:, None, None]
    floor = np.concatenate(([0.0], np.geomspace(1e-4, 1.0, 9)))[None, :, None]
    shape = (1.0 / (1.0 + (np.abs(bins - at) / width) ** 2) + floor) / (1.0 + floor)
    height = np.mean(power / shape, axis=2)
    # Neighbouring bins share what they see: about two make one.
    likelihood = -0.5 * (len(bins) * np.log(height) + np.sum(np.log(shape), axis=2))
    flat = -0.5 * len(bins) * np.log(float(np.mean(power)))
    if likelihood.max() - flat < _PEAKED:
        return float(np.mean(power))
    weight = np.exp(likelihood - likelihood.max())
    seen = 1.0 / (1.0 + (_SEEN_BINS / width[:, :, 0]) ** 2)
    at_line = height * (seen + floor[:, :, 0]) / (1.0 + floor[:, :, 0])
    return float(np.sum(weight * at_line) / np.sum(weight))


def _density(remainder: Array, window: Array) -> Array:
    """Periodogram, scaled so that white noise shows its variance per sample."""
    density: Array = np.abs(fft.rfft(remainder * window)) ** 2 / float(window @ window)
    return density

"""A thermometer's readings made fit to explain a pitch: smoothed, and late as the oscillator is.

A cheap thermometer scatters by 0.03 K. At 3 cents per kelvin that is 0.1 cent in each reading of
the pitch that never happened, so its readings are smoothed before they explain anything.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

__all__ = ["follow_late", "smooth_temperature"]

Array = NDArray[np.float64]

SMOOTHED_OVER_S: Final = 75.0
_MOST_CELLS: Final = 200_000


def smooth_temperature(t_s: Array, temperature_c: Array, width_s: float = SMOOTHED_OVER_S) -> Array:
    """Temperature at the same times, smoothed by a straight line fitted around each.

    A line, not a mean: at the newest reading, which counts most, a mean would lag behind.

    Parameters
    ----------
    t_s
        Rising times, shape (n,).
    temperature_c
        Degrees Celsius, shape (n,); NaN where there is none.
    width_s
        Standard deviation of the bell-shaped weight.

    Returns
    -------
    Array
        Shape (n,); without gaps. All NaN where no temperature was given.
    """
    seen = np.isfinite(temperature_c)
    if not seen.any():
        return np.full(t_s.shape, np.nan)
    grid_s, cell = _grid(t_s, width_s)
    interval_s = float(grid_s[1] - grid_s[0])
    weight = np.bincount(cell[seen], minlength=grid_s.size).astype(np.float64)
    offset_c = float(np.mean(temperature_c[seen]))
    total = np.bincount(cell[seen], temperature_c[seen] - offset_c, minlength=grid_s.size)
    reach = int(np.ceil(4.0 * width_s / interval_s))
    lag = np.arange(-reach, reach + 1) * interval_s
    bell = np.exp(-0.5 * (lag / width_s) ** 2)
    # np.convolve flips its second argument: lag there is "here minus there".
    s0, s1, s2 = (np.convolve(weight, bell * lag**k)[reach:-reach] for k in range(3))
    b0, b1 = (np.convolve(total, bell * lag**k)[reach:-reach] for k in range(2))
    # A touch of ridge on the slope keeps it tame where readings are few.
    ridge = s2 + 0.05 * width_s**2 * np.maximum(s0, 1e-12)
    determinant = s0 * ridge - s1 * s1
    known = s0 > 1e-3
    level = np.full(grid_s.shape, np.nan)
    level[known] = (ridge * b0 - s1 * b1)[known] / determinant[known]
    return np.asarray(np.interp(t_s, grid_s[known], level[known]) + offset_c)


def follow_late(t_s: Array, temperature_c: Array, lag_s: float) -> Array:
    """What something feels that follows the temperature with a time constant, shape (n,).

    Before the first reading the temperature is taken to have been that of the first.
    """
    if lag_s <= 0.0:
        return temperature_c
    from scipy.signal import lfilter

    grid_s, _ = _grid(t_s, lag_s)
    on_grid = np.interp(grid_s, t_s, temperature_c)
    keep = float(np.exp(-(grid_s[1] - grid_s[0]) / lag_s))
    felt, _ = lfilter([1.0 - keep], [1.0, -keep], on_grid, zi=[keep * on_grid[0]])
    return np.asarray(np.interp(t_s, grid_s, felt))


def _grid(t_s: Array, scale_s: float) -> tuple[Array, NDArray[np.intp]]:
    """Give even cells of a sixth of the scale over the times, and the cell of each time."""
    span_s = max(float(t_s[-1] - t_s[0]), scale_s)
    interval_s = max(scale_s / 6.0, span_s / _MOST_CELLS)
    grid_s = t_s[0] + interval_s * np.arange(int(span_s / interval_s) + 2)
    return grid_s, np.rint((t_s - t_s[0]) / interval_s).astype(np.intp)

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

SMOOTHED_OVER_S: Final = 100.0
_MOST_CELLS: Final = 200_000
_LEAST_WEIGHT: Final = 1e-3
_RIDGE: Final = 0.02


def smooth_temperature(t_s: Array, temperature_c: Array, width_s: float = SMOOTHED_OVER_S) -> Array:
    """Temperature at the same times, smoothed by a parabola fitted around each.

    A parabola, not a mean: at the newest reading, which counts most, a mean would lag behind, and
    at the turns of a slow swing it would cut the peaks.

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
    weight = np.bincount(cell[seen], minlength=grid_s.size).astype(np.float64)
    offset_c = float(np.mean(temperature_c[seen]))
    total = np.bincount(cell[seen], temperature_c[seen] - offset_c, minlength=grid_s.size)
    step = float(grid_s[1] - grid_s[0]) / width_s
    reach = int(np.ceil(4.0 / step))
    # np.convolve flips its second argument: away is "here minus there", in widths.
    away = np.arange(-reach, reach + 1) * step
    bell = np.exp(-0.5 * away**2)
    moment = [np.convolve(weight, bell * away**k)[reach:-reach] for k in range(5)]
    right = np.stack([np.convolve(total, bell * away**k)[reach:-reach] for k in range(3)], axis=1)
    normal = np.stack([np.stack(moment[k : k + 3], axis=1) for k in range(3)], axis=1)
    known = moment[0] > _LEAST_WEIGHT
    # A touch of ridge on slope and bend keeps them tame where readings are few.
    normal[:, 1, 1] += _RIDGE * moment[0]
    normal[:, 2, 2] += _RIDGE * moment[0]
    level = np.linalg.solve(normal[known], right[known][:, :, None])[:, 0, 0]
    return np.asarray(np.interp(t_s, grid_s[known], level) + offset_c)


def follow_late(t_s: Array, temperature_c: Array, lag_s: float) -> Array:
    """What something feels that follows the temperature with a time constant, shape (n,).

    Before the first reading the temperature is taken to have been that of the first.
    """
    if lag_s <= 0.0:
        return temperature_c
    from scipy.signal import lfilter

    grid_s, _ = _grid(t_s, lag_s / 4.0)
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

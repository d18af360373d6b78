"""What a thermometer's readings say about a room, and how an oscillator follows the room late.

A cheap thermometer scatters by 0.03 K. At 3 cents per kelvin that is 0.1 cent in each reading of
the pitch that never happened; worse, noise in what explains makes its effect look smaller than it
is. A room moves smoothly. So its path is worked out first, the most likely one and how uncertain it
is, and that path explains the pitch: what it does not know is then no error in the coefficient.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cholesky, solve_triangular

from pitchwright.stability.bins import gather
from pitchwright.stability.wander import reading_noise_cents, smooth_correlation

__all__ = ["Room", "follow_late", "room_of"]

Array = NDArray[np.float64]

_SCALES_S: Final = (600.0, 1500.0, 3600.0)
_SWINGS_K: Final = (0.05, 0.2, 0.8, 3.0)
"""How fast and how far a room moves; what fits its readings best is taken."""
_ANY_K: Final = 30.0
"""How far it may be from the readings' mean altogether."""
_LEAST_NOISE_K: Final = 0.002
_PATH_STEP_S: Final = 30.0
_STEPS_A_LAG: Final = 24.0
_MOST_STEPS: Final = 20_000
_MOST_PLACES: Final = 1500


@dataclass(frozen=True, slots=True, eq=False)
class Room:
    """What a thermometer's readings say about the room's temperature, uncertainty included.

    Attributes
    ----------
    t_s, temperature_c
        The most likely path on a fine grid, shape (n,).
    covariance_k2
        Of the temperature in the middle of each of `gather`'s bins, shape (m, m).
    """

    t_s: Array
    temperature_c: Array
    covariance_k2: Array

    def felt_c(self, at_s: Array, lag_s: float) -> Array:
        """What something feels that follows the room with a time constant, at times, (m,)."""
        return np.interp(at_s, self.t_s, follow_late(self.t_s, self.temperature_c, lag_s))


def room_of(t_s: Array, temperature_c: Array) -> Room:
    """Tell the room's own movement from the thermometer's noise.

    Parameters
    ----------
    t_s
        Rising times, shape (n,).
    temperature_c
        Degrees Celsius, shape (n,), NaN where there is none; one reading at least.
    """
    bins = gather(t_s)
    seen = np.isfinite(temperature_c)
    offset_c = float(np.mean(temperature_c[seen]))
    count = np.add.reduceat(seen.astype(np.float64), bins.first)
    total = np.add.reduceat(np.where(seen, temperature_c - offset_c, 0.0), bins.first)
    have = count > 0
    at_s, mean_c = bins.middle_s[have], total[have] / count[have]
    noise_k2 = max(reading_noise_cents(temperature_c[seen]), _LEAST_NOISE_K) ** 2 / count[have]
    # What is rounded to a tenth of a degree is off alike for a long time: no mean takes that out.
    noise_k2 += _step_k(temperature_c[seen]) ** 2 / 12.0
    best, likely = None, -np.inf
    away_s = np.abs(at_s[:, None] - at_s)
    for scale_s in _SCALES_S:
        shape = smooth_correlation(away_s, scale_s)
        for swing_k in _SWINGS_K:
            covariance = _ANY_K**2 + swing_k**2 * shape + np.diag(noise_k2)
            factor = cholesky(covariance, lower=True, check_finite=False)
            white = solve_triangular(factor, mean_c, lower=True, check_finite=False)
            log_likelihood = -0.5 * float(white @ white) - float(np.sum(np.log(np.diag(factor))))
            if log_likelihood > likely:
                best, likely = (scale_s, swing_k, factor, white), log_likelihood
    assert best is not None
    scale_s, swing_k, factor, white = best
    step_s = max(_PATH_STEP_S, float(t_s[-1] - t_s[0]) / _MOST_PLACES)
    path_s = np.append(np.arange(t_s[0], t_s[-1], step_s), t_s[-1])

    def prior(at: Array, other: Array) -> Array:
        return _ANY_K**2 + swing_k**2 * smooth_correlation(np.abs(at[:, None] - other), scale_s)

    to_path = solve_triangular(factor, prior(at_s, path_s), lower=True, check_finite=False)
    to_bins = solve_triangular(factor, prior(at_s, bins.middle_s), lower=True, check_finite=False)
    return Room(
        path_s,
        to_path.T @ white + offset_c,
        prior(bins.middle_s, bins.middle_s) - to_bins.T @ to_bins,
    )


def _step_k(temperature_c: Array) -> float:
    """The smallest step between readings: what the thermometer rounds to."""
    steps = np.diff(np.unique(temperature_c))
    return float(np.min(steps)) if steps.size else 0.0


def follow_late(t_s: Array, temperature_c: Array, lag_s: float) -> Array:
    """What something feels that follows the temperature with a time constant, shape (n,).

    Before the first reading the temperature is taken to have been that of the first.
    """
    if lag_s <= 0.0:
        return temperature_c
    from scipy.signal import lfilter

    step_s = max(lag_s / _STEPS_A_LAG, float(t_s[-1] - t_s[0]) / _MOST_STEPS, 1e-3)
    grid_s = np.arange(t_s[0], t_s[-1] + step_s, step_s)
    on_grid = np.interp(grid_s, t_s, temperature_c)
    keep = math.exp(-step_s / lag_s)
    felt, _ = lfilter([1.0 - keep], [1.0, -keep], on_grid, zi=[keep * on_grid[0]])
    return np.asarray(np.interp(t_s, grid_s, felt))

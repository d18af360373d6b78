"""What an oscillator may do besides warming up: one noise model for each level of it.

How much it wanders at all times alike (flicker) is tried at ten levels. Besides, a room that nobody
measures may carry it along slowly; where the room's temperature is known, that leaves little, but a
random walk of its own can be told from the warm-up, and what the thermometer does not know of the
room counts in proportion to what a kelvin does.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dpotrf, dtrtrs

from pitchwright.errors import InternalError
from pitchwright.stability.bins import Bins
from pitchwright.stability.thermometer import Room
from pitchwright.stability.wander import flicker_covariance, slow_covariance, walk_covariance

__all__ = ["Level", "Noises"]

Array = NDArray[np.float64]

_FLICKER_CENTS: Final = 0.008 * 1.7 ** np.arange(10)
_BESIDES: Final = ((0.0, 0.0), (0.4, 0.0), (1.0, 0.0), (2.2, 0.0), (6.0, 0.0))
"""Slow wander in cents, random walk in cents per root minute; in a room that nobody measures."""
_BESIDES_KNOWING: Final = ((0.0, 0.0), (0.3, 0.0), (0.0, 0.05), (0.0, 0.15))
"""The same where the room's temperature is known."""


@dataclass(frozen=True, slots=True)
class Level:
    """How strong one kind of wander is, and the standard uncertainty of that."""

    cents: float
    u_cents: float


class Noises:
    """The noise models of one history.

    Parameters
    ----------
    bins
        The readings' bins.
    noise_cents
        What is new in each reading.
    room
        The room, where its temperature is known.

    Attributes
    ----------
    constant
        Of each model, what its log likelihood has whatever is explained, shape (models,).
    """

    constant: Array

    def __init__(self, bins: Bins, noise_cents: float, room: Room | None) -> None:
        self._flicker = flicker_covariance(bins.start_s, bins.end_s)
        self._slow = slow_covariance(bins.middle_s)
        self._walk = walk_covariance(bins.middle_s - bins.middle_s[0])
        self._reading = np.diag(noise_cents**2 / bins.count)
        self._room = room
        besides = _BESIDES if room is None else _BESIDES_KNOWING
        self._models = np.array([(level, *other) for level in _FLICKER_CENTS for other in besides])
        self.narrow(np.ones(len(self._models), dtype=bool), 0.0)

    def narrow(self, kept: NDArray[np.bool_], square_cents2_per_k2: float) -> None:
        """Keep some of the models, and count what the thermometer does not know of the room.

        Parameters
        ----------
        kept
            Which models are kept, shape (models,).
        square_cents2_per_k2
            Square of what a kelvin does, as far as that is known.
        """
        self._models = self._models[kept]
        rest = self._reading
        if self._room is not None:
            rest = rest + square_cents2_per_k2 * self._room.covariance_k2
        self._factors = [
            _factor(rest + level**2 * self._flicker + slow**2 * self._slow + walk**2 * self._walk)
            for level, slow, walk in self._models
        ]
        self.constant = np.array([-np.sum(np.log(np.diag(one))) for one in self._factors])

    def whitened(self, columns: Array) -> Array:
        """Columns over the bins as each model weighs them, shape (models, bins, columns)."""
        # LAPACK itself: what scipy checks around it would take longer than the work.
        return np.array([dtrtrs(one, columns, lower=1)[0] for one in self._factors])

    def levels(self, weight: Array) -> tuple[Level, Level, Level]:
        """Flicker, slow wander and random walk, from the weight of each model, shape (models,)."""
        share = weight / np.sum(weight)
        slow, walk = (_mean_square(share, self._models[:, kind]) for kind in (1, 2))
        return _peak(share, self._models[:, 0]), slow, walk


def _factor(covariance: Array) -> Array:
    """Lower Cholesky factor."""
    factor, fault = dpotrf(covariance, lower=1)
    if fault:
        raise InternalError("A noise model has no positive covariance")
    return np.asarray(factor)


def _peak(share: Array, flicker_cents: Array) -> Level:
    log_level = np.log(_FLICKER_CENTS)
    place = np.searchsorted(_FLICKER_CENTS, 0.999 * flicker_cents)
    held = np.bincount(place, share, log_level.size)
    step = float(log_level[1] - log_level[0])
    top = int(np.argmax(held))
    middle = float(held @ log_level)
    spread = math.sqrt(float(held @ (log_level - middle) ** 2))
    if 0 < top < held.size - 1:
        # The levels are coarse; between them the log weight is nearly a parabola.
        below, here, above = np.log(held[top - 1 : top + 2] + 1e-300)
        bend = max(2.0 * here - below - above, 1e-6)
        peak = log_level[top] + step * 0.5 * (above - below) / bend
        narrow = step / math.sqrt(bend)
        if narrow < step:
            middle, spread = float(peak), narrow
    level = math.exp(middle)
    return Level(level, level * spread)


def _mean_square(share: Array, cents: Array) -> Level:
    square, mean = float(share @ cents**2), float(share @ cents)
    return Level(math.sqrt(square), math.sqrt(max(square - mean**2, 0.0)))

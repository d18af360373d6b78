"""Which time constants are tried: cells of a logarithmic scale, made smaller where it matters.

A grid that is coarse enough to be quick is too coarse for a great warm-up heard well: of 130 cents,
a time constant that is 8 % off misses by several, and the fit would take up a wrong one rather than
none. So cells are split where the weight gathers, until it is spread over several of them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

__all__ = ["Cells", "coarse_cells", "split_cells"]

Array = NDArray[np.float64]
Whole = NDArray[np.intp]

_SHORTEST_S: Final = 120.0
_LONGEST_S: Final = 3600.0
_COARSE: Final = 16
_PARTS: Final = 3
_GATHERED: Final = 0.15
"""A cell that holds more of the weight is too large to say where in it the time constant is."""
_FORGOTTEN: Final = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """Cells of the logarithmic scale.

    Attributes
    ----------
    time_constants_s
        The middle of each, rising, shape (k,).
    share
        Which part of the whole scale each covers, shape (k,).
    models
        Indices of the two time constants of each model; those of one come first, named twice.
    log_prior
        Of each model: one time constant and two are as likely beforehand.
    """

    time_constants_s: Array
    share: Array
    models: tuple[Whole, Whole]
    log_prior: Array

    @classmethod
    def of(cls, time_constants_s: Array, share: Array) -> Cells:
        """Cells with all models of one and of two of their time constants."""
        one = np.arange(share.size)
        first, second = np.triu_indices(share.size, 1)
        prior = np.concatenate([share, 2.0 * share[first] * share[second]])
        models = np.concatenate([one, first]), np.concatenate([one, second])
        return cls(time_constants_s, share, models, np.log(prior))


def coarse_cells() -> Cells:
    """Evenly laid over all time constants that a warm-up may have."""
    return Cells.of(np.geomspace(_SHORTEST_S, _LONGEST_S, _COARSE), np.full(_COARSE, 1.0 / _COARSE))


def split_cells(cells: Cells, weight: Array) -> Cells | None:
    """Smaller cells where the weight gathers; None where it is spread over several already.

    Parameters
    ----------
    cells
        As they were weighed.
    weight
        Of each model, shape (models,).
    """
    first, second = cells.models
    share = weight / np.sum(weight)
    held = np.bincount(first, share) + np.bincount(second, np.where(first == second, 0.0, share))
    gathered = held > _GATHERED
    if not gathered.any():
        return None
    beside = np.convolve(gathered, [1, 1, 1], "same") > 0
    width = math.log(_LONGEST_S / _SHORTEST_S) * _COARSE / (_COARSE - 1) * cells.share
    places = (np.arange(_PARTS) - 0.5 * (_PARTS - 1)) / _PARTS
    log_s = np.log(cells.time_constants_s)
    kept = ~beside & (held > _FORGOTTEN)
    inside = (log_s[beside, None] + width[beside, None] * places).ravel()
    middle = np.concatenate([log_s[kept], inside])
    share = np.concatenate([cells.share[kept], np.repeat(cells.share[beside] / _PARTS, _PARTS)])
    order = np.argsort(middle)
    return Cells.of(np.exp(middle[order]), share[order])

"""The standard uncertainty of a reading's frequency."""

from __future__ import annotations

import math

import numpy as np

from pitchwright.pitch.finish import Fit
from pitchwright.units import CENTS_PER_OCTAVE

__all__ = ["standard_uncertainty_cents"]

# Variance of the slope of a straight line fitted to a random walk of strength q over T: 6/5 q/T.
_WALK_TO_SLOPE = 1.2


def standard_uncertainty_cents(fit: Fit, duration_s: float) -> float:
    """Uncertainty of the fitted frequency from added noise, disagreement, and phase wander."""
    wander = fit.track.wander()
    walk = math.sqrt(_WALK_TO_SLOPE * wander.rad2_per_s / duration_s) * wander.inflation
    u_rad_s = math.hypot(fit.offset.u, walk)
    return CENTS_PER_OCTAVE / math.log(2) * u_rad_s / (2 * np.pi * fit.law.f_hz)

"""The standard uncertainty of a reading's frequency."""

from __future__ import annotations

import math

import numpy as np

from pitchwright.pitch.finish import Fit
from pitchwright.pitch.wander import phase_track, wander_rad2_per_s
from pitchwright.units import CENTS_PER_OCTAVE

__all__ = ["standard_uncertainty_cents"]

# Variance of the slope of a straight line fitted to a random walk of strength q over T: 6/5 q/T.
_WALK_TO_SLOPE = 1.2
# Single-precision phases in other people's files, clocks that are read in whole samples: below
# this no claim is made.
_LEAST_CENTS = 1e-6


def standard_uncertainty_cents(fit: Fit, rate_hz: float) -> float:
    """Uncertainty of the fitted frequency from added noise, disagreement, and phase wander."""
    duration_s = len(fit.remainder) / rate_hz
    t_s, phase, variance = phase_track(fit, rate_hz)
    walk = wander_rad2_per_s(t_s, phase, variance)
    u_rad_s = math.hypot(fit.offsets.u, math.sqrt(_WALK_TO_SLOPE * walk / duration_s))
    relative = u_rad_s / (2 * np.pi * fit.f_hz)
    return max(CENTS_PER_OCTAVE / math.log(2) * relative, _LEAST_CENTS)

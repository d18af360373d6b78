"""The frequency of a reading and its standard uncertainty."""

from __future__ import annotations

import math

import numpy as np

from pitchwright.pitch.finish import Fit
from pitchwright.pitch.phase import FIRST_MODE
from pitchwright.units import CENTS_PER_OCTAVE

__all__ = ["frequency_and_uncertainty"]

# Variance of the slope of a straight line fitted to a random walk of strength q over T: 6/5 q/T;
# of the walk's gain from end to end: q/T.
_LINE_ALONG_A_WALK = 1.2
# How much more than the harmonics' own noise the phase track must show before it counts: five
# complex numbers are that much above their expectation once in a hundred times.
_CLEARLY_MORE = 2.3
_MOST = 0.7
_MOST_ALONE = 0.9


def frequency_and_uncertainty(fit: Fit, duration_s: float) -> tuple[float, float]:
    """Mean frequency over the span in hertz, and its standard uncertainty in cents.

    The uncertainty holds added noise, disagreement between harmonics, and the wander of the
    phase: it says how well the span tells the frequency the oscillator is set to.
    """
    wander = fit.track.wander()
    f_hz = fit.law.mean_hz(duration_s)
    walk = 0.0
    if wander.rad2_per_s > 0.0:
        walk = math.sqrt(wander.rad2_per_s / duration_s) * wander.inflation
        most = _MOST_ALONE if fit.track.lone else _MOST
        if wander.modes >= most * (len(fit.track.t_s) - FIRST_MODE):
            # It shows in most modes, so it is a walk and not hum, another tone or noise in a
            # band. The track was taken before the last step and holds that step too.
            f_hz += (fit.track.slope_with(wander) - fit.offset.mean) / (2 * np.pi)
        else:
            walk *= math.sqrt(_LINE_ALONG_A_WALK)
    shared = fit.track.slope_variance()
    added = fit.offset.u
    if shared > _CLEARLY_MORE * added**2:
        added = math.sqrt(shared)
    u_rad_s = max(math.hypot(fit.offset.u, walk), added)
    return f_hz, CENTS_PER_OCTAVE / math.log(2) * u_rad_s / (2 * np.pi * f_hz)

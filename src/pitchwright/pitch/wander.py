"""Phase wander inside the span: how much of the uncertainty is the oscillator's own.

Cycle jitter makes the phase of an oscillator a random walk. Seen through the cosine modes of the
span, a random walk has power falling as the square of the mode's number, and noise added to the
sound has the same power in every mode. The slope of the phase, which is the frequency, is moved
by the same walk; from the walk's strength follows by how much.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pitchwright.pitch.finish import Fit

__all__ = ["phase_track", "wander_rad2_per_s"]

Array = NDArray[np.float64]

_BLOCKS = 48
_MODES = 10
# Modes 1 and 2 (a slope, a bend) belong to the frequency and its drift.
_FIRST_MODE = 3


def phase_track(fit: Fit, rate_hz: float) -> tuple[Array, Array, Array]:
    """Phase of the tone beside the fit, in blocks of at least one period.

    Returns
    -------
    t_s, phase_rad, variance_rad2
        Each of shape (blocks,): block centres, phase of the fundamental, and its variance from
        the noise about the harmonics.
    """
    n = len(fit.remainder)
    blocks = int(max(min(_BLOCKS, n / rate_hz * fit.f_hz), 1))
    k = np.arange(len(fit.amplitudes))
    slope = 1j * k * fit.amplitudes
    weighted = np.zeros_like(slope)
    weighted[fit.used] = slope[fit.used] / fit.noise[fit.used]
    pattern = fit.fold.coarse(weighted)
    answer = pattern * fit.fold.coarse(slope)
    edges = np.linspace(0, n, blocks + 1).astype(np.intp)[:-1]
    told = np.add.reduceat(answer, edges)
    phase = np.add.reduceat(pattern * fit.remainder, edges) / told
    t_s = np.add.reduceat(fit.t_s, edges) / np.diff(np.append(edges, n))
    return t_s, phase, 1.0 / told


def wander_rad2_per_s(t_s: Array, phase: Array, variance: Array) -> float:
    """Strength of the random walk in the phase, beyond what added noise explains; never negative.

    Zero where the span has too few blocks to tell.
    """
    blocks = len(t_s)
    last = min(_FIRST_MODE + _MODES, blocks)
    if last <= _FIRST_MODE:
        return 0.0
    step_s = float(t_s[1] - t_s[0])
    x = (t_s - t_s.mean()) / (step_s * blocks / 2)
    basis = np.polynomial.legendre.legvander(x, 2)
    law, *_ = np.linalg.lstsq(basis, phase, rcond=None)
    left = phase - basis @ law
    m = np.arange(_FIRST_MODE, last)
    i = np.arange(blocks)
    modes = np.sqrt(2.0 / blocks) * np.cos(np.pi * m[:, None] * (i + 0.5) / blocks)
    power = (modes @ left) ** 2
    # Variance of mode m of a random walk with this step, per unit strength.
    walk = step_s / (4 * np.sin(np.pi * m / (2 * blocks)) ** 2)
    added = float(np.median(variance))
    strength = float(np.mean((power - added) / walk))
    return max(strength, 0.0)

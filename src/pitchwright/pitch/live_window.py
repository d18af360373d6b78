"""Over how much of a phase track to average: as long as the pitch held still, no longer.

A longer window is better until the pitch moves within it. The longest one is taken along which
the phase is straight: its bend, and what the newest bites do beside a line through the older ones,
must be explained by noise: by what is added to the sound (:mod:`pitchwright.pitch.live_noise`), and
by a random walk as :mod:`pitchwright.pitch.phase` sees it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pitchwright.pitch.live_noise import BITES_FOR_WALK, Noise, inflated
from pitchwright.pitch.phase import FIRST_MODE, PhaseTrack
from pitchwright.units import CENTS_PER_OCTAVE

__all__ = ["Estimate", "choose_window", "estimate"]

Array = NDArray[np.float64]

_CENTS: Final = CENTS_PER_OCTAVE / math.log(2)
_SHRINK: Final = 0.75
_MOVES: Final = 4.0
# Movement within the window that is left alone: warming up, an oscillator drifts by 0.1 cent/s.
_NEGLIGIBLE_CENTS: Final = 0.06
_NEWEST_CENTS: Final = 0.03
# What a template learned from few bites may be off by, as seen on tones without noise.
_TEMPLATE_CENTS: Final = 2e-4
_MOST_BLOCKS: Final = 32
_CLEARLY_MORE: Final = 2.3
_WALK_SHARE: Final = 0.7
_ENOUGH_TO_BEND: Final = 3
_ENOUGH_FOR_A_BEND: Final = 5
_LOOK_AGAIN: Final = 3


@dataclass(frozen=True, slots=True)
class Estimate:
    """The frequency over a window.

    Attributes
    ----------
    off_hz
        Beside the reference.
    u_cents
        Standard uncertainty.
    moved_cents
        By how much it moved from the window's begin to its end; 0 where noise explains it.
    u_moved_cents
        How well that is known.
    noise
        What was learned about noise.
    """

    off_hz: float
    u_cents: float
    moved_cents: float
    u_moved_cents: float
    noise: Noise


def choose_window(phase_rad: Array, bite_s: float, f_hz: float, noise: Noise, fewest: int) -> int:
    """How many of the last bites to average over.

    Parameters
    ----------
    phase_rad
        Shape (bites,): phase beside the reference, evenly spaced.
    bite_s
        Their distance, seconds.
    f_hz
        Frequency.
    noise
        What is known about noise.
    fewest
        No fewer than this.
    """
    bites = len(phase_rad)
    while bites > fewest:
        if _straight(phase_rad[-bites:], bite_s, f_hz, noise, fewest):
            return bites
        bites = max(fewest, int(bites * _SHRINK))
    return min(bites, len(phase_rad))


def _straight(phase: Array, bite_s: float, f_hz: float, noise: Noise, fewest: int) -> bool:
    moved, u_moved = _movement(phase, bite_s, f_hz, noise)
    if abs(moved) > max(_NEGLIGIBLE_CENTS, _MOVES * u_moved):
        return False
    new = max(2, fewest // 2)
    old = len(phase) - new
    if old < _ENOUGH_FOR_A_BEND:
        return True
    # The newest bites against a parabola through the older ones, which allows for drift.
    x = np.arange(old) - (old - 1) / 2
    spread = float(x @ x)
    bend = x * x - spread / old
    size = float(bend @ bend)
    slope, curve = float(x @ phase[:old]) / spread, float(bend @ phase[:old]) / size
    ahead = np.arange(old, len(phase)) - (old - 1) / 2
    bent = ahead * ahead - spread / old
    off = float(np.mean(phase[old:] - (phase[:old].mean() + slope * ahead + curve * bent)))
    far = float(ahead.mean())
    shares = 1 / new + 1 / old + far**2 / spread + float(bent.mean()) ** 2 / size
    walk = noise.walk_rad2_per_s * bite_s * (new + 0.5 * old)
    per_s = 2.0 / ((new + 1) * bite_s)
    off_cents = _CENTS * abs(off) * per_s / (2 * np.pi * f_hz)
    u_cents = _CENTS * math.sqrt(noise.most(old) * shares + walk) * per_s / (2 * np.pi * f_hz)
    return off_cents <= max(_NEWEST_CENTS, _MOVES * u_cents)


def _movement(phase: Array, bite_s: float, f_hz: float, noise: Noise) -> tuple[float, float]:
    """Change of pitch along the window by its bend, and its uncertainty; both in cents."""
    bites = len(phase)
    span_s = bites * bite_s
    if bites < _ENOUGH_TO_BEND:
        return 0.0, math.inf
    bend, size = _bend(bites)
    half_s = (bites - 1) * bite_s / 2
    curve = float(bend @ phase) / size
    to_cents = _CENTS / (2 * np.pi * f_hz)
    moved = 4 * curve / half_s * to_cents
    added = 16 * noise.over(bites).rad2 / size / half_s**2
    walk = 6 * noise.walk_rad2_per_s / span_s
    return moved, math.sqrt(added + walk) * to_cents


@cache
def _bend(bites: int) -> tuple[Array, float]:
    """x², x from -1 to 1, less its mean; and its square, summed."""
    x = np.linspace(-1.0, 1.0, bites)
    bend: Array = x * x - np.mean(x * x)
    return bend, float(bend @ bend)


def estimate(
    phase_rad: Array,
    bite_s: float,
    f_hz: float,
    noise: Noise,
    *,
    lone: bool,
) -> Estimate:
    """Mean frequency over a window, and how sure it is.

    Parameters
    ----------
    phase_rad
        Shape (bites,): phase beside the reference.
    bite_s, f_hz
        Distance of the bites in seconds, frequency.
    noise
        What is known about noise.
    lone
        Whether hardly more than one harmonic tells.
    """
    bites = len(phase_rad)
    x = np.arange(bites) - (bites - 1) / 2
    spread = float(x @ x)
    slope = float(x @ phase_rad) / spread
    span_s = bites * bite_s
    slope_per_s = slope / bite_s
    scale = noise.over(bites)
    added = inflated(scale.freedom) * scale.rad2 / (spread * bite_s**2)
    if bites < BITES_FOR_WALK:
        walks, freedom = noise.walk(bites, f_hz)
        walk = inflated(freedom) * 1.2 * walks / span_s
    elif noise.age < _LOOK_AGAIN and noise.walk_seen and noise.walk_rad2_per_s == 0.0:
        walk = 0.0
    else:
        track = _blocks(phase_rad, bite_s, scale.rad2, lone)
        walking, lines = track.wander(), track.slope_variance() / added
        noise = replace(
            noise, walk_rad2_per_s=walking.rad2_per_s, walk_seen=True, lines=lines, age=0
        )
        walk = walking.rad2_per_s / span_s * walking.inflation**2
        if walking.rad2_per_s > 0.0:
            if walking.modes >= _WALK_SHARE * (len(track.t_s) - FIRST_MODE):
                slope_per_s = track.slope_with(walking)
            else:
                walk *= 1.2
    if noise.lines > _CLEARLY_MORE:
        added *= noise.lines
    to_cents = _CENTS / (2 * np.pi * f_hz)
    moved, u_moved = _movement(phase_rad, bite_s, f_hz, noise)
    if abs(moved) < _MOVES * u_moved:
        moved = 0.0
    noisy = math.sqrt(added + walk) * to_cents
    u_cents = math.hypot(noisy, moved / math.sqrt(12), _TEMPLATE_CENTS)
    return Estimate(slope_per_s / (2 * np.pi), u_cents, moved, u_moved, noise)


def _blocks(phase: Array, bite_s: float, bite_rad2: float, lone: bool) -> PhaseTrack:
    together = -(-len(phase) // _MOST_BLOCKS)
    blocks = len(phase) // together
    cut = phase[len(phase) - blocks * together :].reshape(blocks, together)
    mean: Array = cut.mean(axis=1)
    t_s: Array = np.asarray((np.arange(blocks) - (blocks - 1) / 2) * (together * bite_s))
    return PhaseTrack(t_s, mean, np.full(blocks, bite_rad2 / together), lone)

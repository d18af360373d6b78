"""What is known about the noise in a tone that is being followed.

Noise is what the phase does from bite to bite that no movement of a hand does (third differences).
Noise in a band about the tone, hum beside a harmonic and another tone nearby go on in the same
direction for several bites, which third differences hardly see, and a hand does, too. But what is
added to a line disturbs its level as much as its phase, and a hand leaves the level alone: how far
the level bends within so many bites tells how far noise bends the phase.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import special

__all__ = ["BITES_FOR_WALK", "Noise", "inflated", "learned"]

Array = NDArray[np.float64]

BITES_FOR_WALK: Final = 24
"""In so many bites a walk can be told from scatter."""

# For how many bites what was learned about noise before counts.
_REMEMBERED: Final = 24.0
_RECENT: Final = 12
_MEDIAN_SQUARE: Final = 0.455  # of a standard normal variable
_ANOTHER, _FEW, _ENOUGH = 3.0, 2.0, 8
_OWN_NOISE: Final = 1.5
_HIDDEN: Final = 0.3
# Each period off by a random 0.01 per cent (common practice for a good analog oscillator), until
# so many degrees of freedom tell otherwise.
_USUAL_JITTER: Final = 1e-4
_FREEDOM_ENOUGH: Final = 2.0
_LEVELS_KEPT: Final = 160
_OUTLIERS: Final = 6.0  # median deviations: four standard deviations
_SCALES: Final = (4, 8, 16, 32)
_SCALE_FREEDOM: Final = 2.0


def _bends(scale: int) -> tuple[Array, Array]:
    """Second and third order over so many points, straight to lower orders; each of length one."""
    basis, _ = np.linalg.qr(np.polynomial.legendre.legvander(np.linspace(-1, 1, scale), 3))
    return basis[:, 2].copy(), basis[:, 3].copy()


_BENDS: Final = {scale: _bends(scale) for scale in _SCALES}


@dataclass(frozen=True, slots=True)
class Scale:
    """Variance of one bite's phase, were noise white, as windows of so many bites show it."""

    bites: int
    rad2: float
    freedom: float


@dataclass(frozen=True, slots=True)
class Noise:
    """What disturbs the phase.

    Attributes
    ----------
    bite_rad2
        Variance of one bite's phase.
    freedom
        Degrees of freedom it is known with.
    walk_rad2_per_s, walk_seen
        Strength of the random walk, and whether it was seen along a long window.
    lines
        By how much lines beside the slope (hum, another tone) add to its variance, as a factor.
    age
        Readings since walk and lines were looked for.
    recent
        The last third differences of the phase, squared.
    levels_rad
        What noise did to the level lately, bite by bite.
    scales
        What that tells.
    """

    bite_rad2: float
    freedom: float
    walk_rad2_per_s: float = 0.0
    walk_seen: bool = False
    lines: float = 1.0
    age: int = 0
    recent: tuple[float, ...] = ()
    levels_rad: Array = field(default_factory=lambda: np.zeros(0))
    scales: tuple[Scale, ...] = ()

    def over(self, bites: int) -> Scale:
        """What disturbs a window of so many bites."""
        white = Scale(1, self.bite_rad2, self.freedom)
        return next((one for one in reversed(self.scales) if one.bites <= bites), white)

    def walk(self, bites: int, f_hz: float) -> tuple[float, float]:
        """The random walk in so few bites, rad²/s, and the degrees of freedom it is known with.

        Until there is much to tell it from, it is sought between that and what is common.
        """
        if self.walk_seen:
            return self.walk_rad2_per_s, bites / 3
        usual = (2 * np.pi * _USUAL_JITTER) ** 2 * f_hz
        freedom = len(self.recent) / 2
        told = min(freedom / _FREEDOM_ENOUGH, 1.0)
        between = usual ** (1 - told) * self.walk_rad2_per_s**told
        return max(self.walk_rad2_per_s, between), freedom

    def most(self, bites: int) -> float:
        """The most that disturbs a window of so many bites or a part of it, rad²."""
        known = (one.rad2 for one in self.scales if one.bites <= bites)
        return max(self.bite_rad2, *known, 0.0)


def inflated(freedom: float) -> float:
    """Factor on a variance known with few degrees of freedom (Student's t at 95.45 per cent)."""
    return (float(special.stdtrit(max(freedom, 1.5), 0.97725)) / 2) ** 2


def learned(
    phase_rad: Array,
    level_rad: Array,
    new: int,
    bite_s: float,
    before: Noise,
    harmonics_rad2: float,
) -> Noise:
    """What the scatter from bite to bite adds to what was known about noise.

    Parameters
    ----------
    phase_rad
        Shape (bites,): phase beside the reference, whether it moves or not.
    level_rad
        Shape (bites,): what noise did to the level.
    new
        How many of the last bites were not there before.
    bite_s
        Distance of the bites, seconds.
    before
        What was known.
    harmonics_rad2
        Variance of one bite's phase from the noise about its harmonics alone.
    """
    levels = np.concatenate((before.levels_rad, level_rad[len(level_rad) - new :]))[-_LEVELS_KEPT:]
    known = min(before.freedom, _REMEMBERED)
    older = replace(before, freedom=known, age=before.age + 1, levels_rad=levels)
    if len(phase_rad) < 4:
        return older
    third = np.diff(phase_rad, 3) ** 2
    recent = (*before.recent, *third[len(third) - min(new, len(third)) :].tolist())[-_RECENT:]
    # A step shows in three or four third differences, noise in all: hence the median. Variance of
    # a third difference of white noise: 1 + 9 + 9 + 1; neighbours overlap.
    counted = third if len(phase_rad) > _RECENT else recent
    if len(counted) == 0:
        return older
    seen, freedom = float(np.median(counted)) / _MEDIAN_SQUARE / 20.0, len(counted) / 4
    if seen > _ANOTHER * before.bite_rad2:
        known = min(known, _FEW)
    elif _ANOTHER * seen < before.bite_rad2 and len(counted) >= _ENOUGH:
        known = min(known, 2 * _FEW)
    both = (known * before.bite_rad2 + freedom * seen) / (known + freedom)
    walk = before.walk_rad2_per_s
    if len(phase_rad) < BITES_FOR_WALK and not before.walk_seen:
        # Too few to tell a walk from scatter: what is more than the harmonics' own noise may be
        # one. Averaged over bites, a walk has third differences of 8/3 of what it gains in a bite.
        beyond = max(seen - _OWN_NOISE * harmonics_rad2, _HIDDEN * harmonics_rad2)
        walk = 20 / (8 / 3) * beyond / bite_s
    return replace(
        older,
        bite_rad2=both,
        freedom=known + freedom,
        walk_rad2_per_s=walk,
        recent=recent,
        scales=_scales(levels, both, known + freedom),
    )


def _scales(levels: Array, white_rad2: float, freedom: float) -> tuple[Scale, ...]:
    """Scale by scale, each beginning from what the one before makes likely."""
    found: list[Scale] = []
    likely = white_rad2
    # A bite that still holds some of another sound stands out, and must not count as noise.
    middle = np.sort(levels)[len(levels) // 2]
    widest = _OUTLIERS * np.sort(np.abs(levels - middle))[len(levels) // 2]
    levels = np.minimum(np.maximum(levels, middle - widest), middle + widest)
    for scale in _SCALES:
        if len(levels) < scale:
            break
        second, third = (np.correlate(levels, bend) for bend in _BENDS[scale])
        seen = float(second @ second + third @ third) / (2 * len(second))
        tries = 1.5 * len(levels) / scale
        prior = min(freedom, _SCALE_FREEDOM)
        likely = (prior * likely + tries * seen) / (prior + tries)
        found.append(Scale(scale, likely, prior + tries))
    return tuple(found)

"""Two alternating notes tell whether it is the base that drifts, or the scale.

One note cannot tell. A base that drifts moves both notes alike; a scale that drifts opens or
closes the interval between them. Temperature does the second to an uncompensated converter, by
about 4 cents per octave per kelvin (1200 / T), about the pitch where its current equals its
reference current.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pitchwright.errors import InputError
from pitchwright.stability.temperature import TemperatureCoefficient, temperature_coefficient
from pitchwright.stability.wander import reading_noise_cents
from pitchwright.stability.wording import signed
from pitchwright.tracking.coverage import expanded_u

__all__ = ["BaseAndScale", "TemperatureEffect", "separate_drift", "temperature_effect"]

Array = NDArray[np.float64]

_MOST_APART: Final = 6.0
"""Readings of the other note count as neighbours up to this many intervals away."""
_EDGE: Final = 0.1
_LEAST_READINGS: Final = 8


@dataclass(frozen=True, slots=True, eq=False)
class BaseAndScale:
    """Base and scale at the same moments.

    Attributes
    ----------
    t_s
        When, shape (n,).
    base_cents
        Departure at ``cv_ref_v``, shape (n,).
    scale_cents_per_oct
        Departure of the scale, shape (n,).
    cv_ref_v
        The control voltage that base refers to.
    base_moved_cents, u_base_moved_cents
        From the first to the last tenth of the time, with standard uncertainty from the scatter
        of the readings.
    scale_moved_cents_per_oct, u_scale_moved_cents_per_oct
        The same for the scale.
    """

    t_s: Array
    base_cents: Array
    scale_cents_per_oct: Array
    cv_ref_v: float
    base_moved_cents: float
    u_base_moved_cents: float
    scale_moved_cents_per_oct: float
    u_scale_moved_cents_per_oct: float

    @property
    def sentence(self) -> str:
        """What moved, for a person."""
        base_moved = abs(self.base_moved_cents) > expanded_u(self.u_base_moved_cents)
        scale_moved = abs(self.scale_moved_cents_per_oct) > expanded_u(
            self.u_scale_moved_cents_per_oct
        )
        base = f"{signed(self.base_moved_cents)} ± {expanded_u(self.u_base_moved_cents):.2f} cents"
        scale = (
            f"{signed(self.scale_moved_cents_per_oct)} ± "
            f"{expanded_u(self.u_scale_moved_cents_per_oct):.2f} cents per octave"
        )
        if base_moved and scale_moved:
            return f"Both moved: the base by {base}, the scale by {scale} (k = 2)."
        if base_moved:
            return f"The base moved by {base}, the scale did not ({scale}, k = 2)."
        if scale_moved:
            return f"The scale moved by {scale}, the base did not ({base}, k = 2)."
        return f"Neither base ({base}) nor scale ({scale}, k = 2) moved."


@dataclass(frozen=True, slots=True)
class TemperatureEffect:
    """What one kelvin does to base and scale.

    Attributes
    ----------
    base, scale
        The two coefficients.
    still_cv_v
        The control voltage whose pitch the temperature leaves alone; NaN where the scale does
        not follow the temperature.
    """

    base: TemperatureCoefficient
    scale: TemperatureCoefficient
    still_cv_v: float

    @property
    def sentence(self) -> str:
        """What temperature does, for a person."""
        if not self.scale.known:
            return f"{self.base.sentence} It is not seen to move the scale."
        return (
            f"{self.scale.sentence} What is played by {self.still_cv_v:.1f} V stays where it is; "
            "an uncompensated converter does this by about −4.0 cents per octave."
        )


def separate_drift(
    t_s: Array, cents: Array, cv_v: Array, cv_ref_v: float | None = None
) -> BaseAndScale:
    """Tell base and scale apart, moment by moment.

    Parameters
    ----------
    t_s
        Times of all readings in order, shape (n,).
    cents
        Departure of each from its note, shape (n,); NaN where there was no reading.
    cv_v
        Control voltage of each, shape (n,): two different values.
    cv_ref_v
        Where base is meant: the lower note's voltage unless said otherwise.

    Raises
    ------
    InputError
        Where there are not two different voltages, or too few readings of each side by side.
    """
    seen = np.isfinite(cents)
    t_s, cents, cv_v = t_s[seen], cents[seen], cv_v[seen]
    voltages = np.unique(cv_v)
    if voltages.size != 2:
        raise InputError(
            f"Base and scale are told apart by two alternating notes, here there are "
            f"{voltages.size}",
            do="Play two notes in turn, some octaves apart",
        )
    low, high = cv_v == voltages[0], cv_v == voltages[1]
    octaves = float(voltages[1] - voltages[0])
    near_s = _MOST_APART * float(np.median(np.diff(t_s)))
    beside = _beside(t_s, t_s[low], near_s) & _beside(t_s, t_s[high], near_s)
    at_s = t_s[beside]
    if at_s.size < _LEAST_READINGS:
        raise InputError(
            "Too few readings of the two notes lie side by side",
            do="Let them alternate for at least four rounds",
        )
    low_cents = np.interp(at_s, t_s[low], cents[low])
    high_cents = np.interp(at_s, t_s[high], cents[high])
    scale = (high_cents - low_cents) / octaves
    ref_v = float(voltages[0]) if cv_ref_v is None else cv_ref_v
    base = low_cents + scale * (ref_v - voltages[0])
    noise_cents = np.array([reading_noise_cents(cents[low]), reading_noise_cents(cents[high])])
    far = (ref_v - float(voltages[0])) / octaves
    edge_s = _EDGE * (at_s[-1] - at_s[0])
    start, end = at_s <= at_s[0] + edge_s, at_s >= at_s[-1] - edge_s
    # Every moment has one note heard and one interpolated: half as many readings of each.
    share = np.sqrt(2.0 / np.sum(start) + 2.0 / np.sum(end))
    return BaseAndScale(
        at_s,
        base,
        scale,
        ref_v,
        float(np.mean(base[end]) - np.mean(base[start])),
        float(share * np.hypot((1.0 - far) * noise_cents[0], far * noise_cents[1])),
        float(np.mean(scale[end]) - np.mean(scale[start])),
        float(share * np.hypot(*noise_cents) / octaves),
    )


def temperature_effect(
    split: BaseAndScale, t_s: Array, temperature_c: Array, *, warming: bool = True
) -> TemperatureEffect:
    """Temperature coefficients of base and scale, and the pitch that stays where it is.

    Parameters
    ----------
    split
        From `separate_drift`.
    t_s, temperature_c
        Times in order and degrees Celsius, shape (n,), NaN where there was none.
    warming
        As for `temperature_coefficient`.

    Raises
    ------
    InputError
        Where there are fewer than eight temperatures.
    """
    seen = np.isfinite(temperature_c)
    if np.sum(seen) < _LEAST_READINGS:
        raise InputError("There are too few temperatures", do=f"Give at least {_LEAST_READINGS}")
    there_c = np.interp(split.t_s, t_s[seen], temperature_c[seen])
    base = temperature_coefficient(split.t_s, split.base_cents, there_c, warming=warming)
    scale = temperature_coefficient(
        split.t_s,
        split.scale_cents_per_oct,
        there_c,
        warming=warming,
        unit="cents per octave",
    )
    still_v = split.cv_ref_v - base.per_k / scale.per_k if scale.known else math.nan
    return TemperatureEffect(base, scale, still_v)


def _beside(t_s: Array, others_s: Array, near_s: float) -> NDArray[np.bool_]:
    """Whether each time lies between two of the others, both near."""
    after = np.searchsorted(others_s, t_s)
    between = (after > 0) & (after < others_s.size)
    on_one = np.zeros(t_s.shape, dtype=bool)
    inside = after < others_s.size
    on_one[inside] = others_s[after[inside]] == t_s[inside]
    gap_s = np.full(t_s.shape, np.inf)
    gap_s[between] = others_s[after[between]] - others_s[after[between] - 1]
    return on_one | (gap_s <= near_s)

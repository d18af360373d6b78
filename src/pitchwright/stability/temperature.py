"""How a pitch follows the temperature.

The warm-up, the wander and the thermometer's own noise are all in the same readings; the
coefficient is taken from the same fit as the forecast, so that its uncertainty knows of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pitchwright.errors import InputError
from pitchwright.stability.fit import explain
from pitchwright.stability.thermometer import room_of
from pitchwright.stability.wording import signed
from pitchwright.tracking.coverage import expanded_u

__all__ = ["TemperatureCoefficient", "temperature_coefficient"]

Array = NDArray[np.float64]

_LEAST_READINGS: Final = 8


@dataclass(frozen=True, slots=True)
class TemperatureCoefficient:
    """How far one kelvin moves a pitch (or a scale).

    Attributes
    ----------
    per_k, u_per_k
        Per kelvin, in the unit that was given, with standard uncertainty.
    low_c, high_c
        Range of temperatures it was seen over, after smoothing.
    lag_s
        How late it follows the thermometer: mean over the lags tried.
    unit
        What moves: "cents", or "cents per octave".
    """

    per_k: float
    u_per_k: float
    low_c: float
    high_c: float
    lag_s: float
    unit: str

    @property
    def known(self) -> bool:
        """Whether it differs from zero by more than its expanded uncertainty (k = 2)."""
        return abs(self.per_k) > expanded_u(self.u_per_k)

    @property
    def moved(self) -> str:
        """What is moved, for the sentence."""
        return "the scale" if self.unit == "cents per octave" else "it"

    @property
    def sentence(self) -> str:
        """The coefficient for a person."""
        seen = f"{self.low_c:.1f} to {self.high_c:.1f} °C"
        if not self.known:
            return (
                f"From {seen} no effect of temperature is seen: less than "
                f"{abs(self.per_k) + expanded_u(self.u_per_k):.2g} {self.unit} per kelvin."
            )
        by = f"{signed(self.per_k)} ± {expanded_u(self.u_per_k):.2f} {self.unit}"
        return f"A kelvin moves {self.moved} by {by} (k = 2, seen from {seen})."


def temperature_coefficient(
    t_s: Array,
    cents: Array,
    temperature_c: Array,
    *,
    warming: bool = True,
    unit: str = "cents",
) -> TemperatureCoefficient:
    """Temperature coefficient of a pitch.

    Parameters
    ----------
    t_s, cents, temperature_c
        Readings in the order of time, shape (n,); NaN where one is missing.
    warming
        False where the oscillator is known to be warm: a slow change of temperature then cannot
        be taken for a warm-up, and the coefficient is known better.
    unit
        What ``cents`` holds, for the sentence.

    Raises
    ------
    InputError
        Where fewer than eight readings have both a pitch and a temperature.
    """
    seen = np.isfinite(cents)
    both = int(np.sum(seen & np.isfinite(temperature_c)))
    if both < _LEAST_READINGS:
        raise InputError(
            f"Only {both} readings have both a pitch and a temperature",
            do=f"Give at least {_LEAST_READINGS}",
        )
    t_s, cents, temperature_c = t_s[seen], cents[seen], temperature_c[seen]
    posterior, _ = explain(t_s, cents, temperature_c, warming=warming)
    per_k, u_per_k = posterior.coefficient()
    room_c = room_of(t_s, temperature_c).temperature_c
    return TemperatureCoefficient(
        per_k,
        u_per_k,
        float(np.min(room_c)),
        float(np.max(room_c)),
        posterior.average(posterior.lag_s)[0],
        unit,
    )

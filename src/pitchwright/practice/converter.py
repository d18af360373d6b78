"""Exponential converter: control volts to a current, and what temperature and resistance do to it.

The collector current of a matched pair is ``I_ref · exp(V_b / (kT/q))``, so one octave is
``(kT/q) ln 2`` volts at the base. The summing network makes that much of each volt at the
temperature it was trimmed at; a resistor with a temperature coefficient makes it follow.
Constants k and q: exact since the SI of 2019 (CODATA).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import wrightomega

__all__ = ["Converter", "thermal_voltage_v"]

Array = NDArray[np.float64]

_BOLTZMANN_J_PER_K: Final = 1.380649e-23
_ELEMENTARY_CHARGE_C: Final = 1.602176634e-19
_ZERO_CELSIUS_K: Final = 273.15


def thermal_voltage_v(temperature_c: float | Array) -> float | Array:
    """Thermal voltage kT/q in volts at a temperature in degrees Celsius, same shape as given."""
    return (temperature_c + _ZERO_CELSIUS_K) * (_BOLTZMANN_J_PER_K / _ELEMENTARY_CHARGE_C)


@dataclass(frozen=True, slots=True)
class Converter:
    """The exponential converter of one oscillator.

    Attributes
    ----------
    reference_a
        Reference current in amperes: temperature turns the scale about the pitch it makes.
    tempco_per_k
        Temperature coefficient of the compensating resistor, per kelvin, referred to
        ``trimmed_at_c``; 0 for none. 3300 ppm/K is the usual part (common practice).
    bulk_ohm
        Bulk emitter resistance, whose voltage drop flattens the top.
    trimmed_at_c
        Temperature in degrees Celsius at which a volt makes exactly an octave.
    """

    reference_a: float = 10e-6
    tempco_per_k: float = 3300e-6
    bulk_ohm: float = 0.0
    trimmed_at_c: float = 25.0

    def octaves_per_volt(self, temperature_c: float | Array) -> float | Array:
        """Octaves per volt at ``temperature_c``, 1 at ``trimmed_at_c``, same shape as given."""
        resistor = 1.0 + self.tempco_per_k * (temperature_c - self.trimmed_at_c)
        return (thermal_voltage_v(self.trimmed_at_c) / thermal_voltage_v(temperature_c)) * resistor

    def current_a(self, octaves: Array, temperature_c: float | Array) -> Array:
        """Collector current in amperes.

        Parameters
        ----------
        octaves
            What the base voltage asks for, in octaves above the reference current.
        temperature_c
            Junction temperature in degrees Celsius: a number or an array shaped like ``octaves``.

        Returns
        -------
        numpy.ndarray
            Current, shaped like ``octaves``.

        Notes
        -----
        With bulk resistance R the current solves I = I_0 exp(-I R / V_T), which is
        I = (V_T / R) W(I_0 R / V_T) with Lambert's W; to first order that is
        -(1200 / ln 2) I R / V_T cents.
        """
        ideal_nepers = octaves * math.log(2.0)
        if self.bulk_ohm == 0.0:
            return np.asarray(self.reference_a * np.exp(ideal_nepers), dtype=np.float64)
        own_scale_a = np.asarray(thermal_voltage_v(temperature_c) / self.bulk_ohm)
        # wrightomega(x) is W(exp(x)) without forming exp(x): exact over the whole range.
        argument = ideal_nepers + np.log(self.reference_a / own_scale_a)
        return np.asarray(own_scale_a * wrightomega(argument), dtype=np.float64)

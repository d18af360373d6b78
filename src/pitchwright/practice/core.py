"""The core: a current charges a capacitor, a reset takes a while, a little current leaks away."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Core"]

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Core:
    """The timing core of one oscillator.

    Attributes
    ----------
    charge_c
        Charge of one period in coulombs: capacitance times the swing of the ramp.
    reset_s
        Time in seconds that each period loses to the reset.
    leakage_a
        Current in amperes that the capacitor does not get; negative where it gets more.
    """

    charge_c: float = 5e-9
    reset_s: float = 0.0
    leakage_a: float = 0.0

    def f_hz(self, current_a: Array, compensation_s: float = 0.0) -> Array:
        """Frequency in hertz for charging currents in amperes, same shape as given.

        ``compensation_s`` is the time a resistor in series with the capacitor gives back in each
        period (R·C; it cancels a reset of the same length exactly, after S. Franco, *Design with
        Operational Amplifiers and Analog Integrated Circuits*, as quoted; page not known).
        """
        period_s = self.charge_c / (current_a - self.leakage_a) + self.reset_s - compensation_s
        return np.asarray(1.0 / period_s, dtype=np.float64)

"""The room that the practice rig stands in: it is a little warmer, then a little cooler."""

from __future__ import annotations

import math
from dataclasses import dataclass

__all__ = ["Room"]


@dataclass(frozen=True, slots=True)
class Room:
    """A room whose temperature swings slowly. All invented.

    Attributes
    ----------
    mean_c
        Degrees Celsius about which it swings.
    swing_k, period_s
        How far, and how long one swing takes.
    thermometer_k
        Standard deviation of one reading of its thermometer.
    """

    mean_c: float = 25.0
    swing_k: float = 0.4
    period_s: float = 4200.0
    thermometer_k: float = 0.03

    def temperature_c(self, t_s: float) -> float:
        """Degrees Celsius at a session time in seconds."""
        return self.mean_c + self.swing_k * math.sin(2.0 * math.pi * t_s / self.period_s)

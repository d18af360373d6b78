"""Warm-up, drift and wander: when an oscillator is ready, and how steady it can ever be.

Pure functions of times, cents and temperatures; no clock and no files.
"""

from pitchwright.stability.allan import NoiseKind, Steadiness, allan_deviation
from pitchwright.stability.temperature import TemperatureCoefficient, temperature_coefficient
from pitchwright.stability.two_notes import (
    BaseAndScale,
    TemperatureEffect,
    separate_drift,
    temperature_effect,
)
from pitchwright.stability.warmup import (
    HORIZON_S,
    TOLERANCE_CENTS,
    Forecast,
    Readiness,
    forecast,
)

__all__ = [
    "HORIZON_S",
    "TOLERANCE_CENTS",
    "BaseAndScale",
    "Forecast",
    "NoiseKind",
    "Readiness",
    "Steadiness",
    "TemperatureCoefficient",
    "TemperatureEffect",
    "allan_deviation",
    "forecast",
    "separate_drift",
    "temperature_coefficient",
    "temperature_effect",
]

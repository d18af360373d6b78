"""Readings to tracking curve, fitted model, reach, best possible and advice.

Pure functions of arrays and frozen dataclasses; knows nothing of sound, files or devices.
"""

from pitchwright.tracking.point import Point

__all__ = ["Point"]

"""Volts of a DC-coupled output or input: a line through what a voltmeter showed.

An interface knows levels from -1 to 1, not volts. A few levels are sent (or come in), a person
reads a voltmeter and types what it shows, and a straight line is fitted: volts = offset + volts
per unit × level. What does not lie on a line (an output that limits, a figure mistyped, a
connection with a filter in it) is refused.

Two things make a voltmeter wrong: its last digit, different at each reading, and its gain, the
same for all. Only the first tells whether the readings lie on a line; the second cannot be seen
here and comes on top: a gain that is off by 0.1 % is 1.2 cents per octave.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pitchwright.errors import InputError
from pitchwright.tracking.coverage import expanded_u
from pitchwright.units import CENTS_PER_OCTAVE

__all__ = ["Calibration", "Measured", "fit_calibration", "last_digit_v"]

Array = NDArray[np.float64]

_FEWEST = 3
_MOST_V = 50.0
_UNLIKELY = 0.001
"""Readings on a line would scatter so much once in a thousand times."""


@dataclass(frozen=True, slots=True)
class Measured:
    """One level and what the voltmeter showed.

    Attributes
    ----------
    level
        Full scale being 1.
    read_v
        Shown, in volts.
    u_v
        Standard uncertainty of the last digit, in volts.
    """

    level: float
    read_v: float
    u_v: float

    @classmethod
    def read(cls, level: float, written: str) -> Measured:
        """A level with a reading as it was typed: its last digit says how exact it is.

        Raises
        ------
        ValueError
            Where it is no number of volts.
        """
        text = written.strip().casefold().removesuffix("v").strip()
        text = text.replace(",", ".").replace("\N{MINUS SIGN}", "-")
        try:
            read_v = float(text)
        except ValueError:
            read_v = math.nan
        if not abs(read_v) <= _MOST_V:
            raise ValueError(f"“{written[:40]}” is not a voltage, such as 2.497")
        return cls(level, read_v, last_digit_v(text))


@dataclass(frozen=True, slots=True)
class Calibration:
    """The line between levels and volts.

    Attributes
    ----------
    volts_per_unit, offset_v
        Its slope and where it passes level 0.
    covariance
        Of offset and slope, shape (2, 2), the voltmeter's gain left out.
    u_gain
        Relative standard uncertainty of the voltmeter's gain.
    low_v, high_v
        Lowest and highest voltage that was measured.
    off_mv
        Greatest distance of a reading from the line, in millivolts.
    """

    volts_per_unit: float
    offset_v: float
    covariance: tuple[tuple[float, float], tuple[float, float]]
    u_gain: float
    low_v: float
    high_v: float
    off_mv: float

    def level_of(self, cv_v: float) -> float:
        """The level that gives a voltage."""
        return (cv_v - self.offset_v) / self.volts_per_unit

    def volts_of(self, level: float) -> float:
        """The voltage that a level is."""
        return self.offset_v + self.volts_per_unit * level

    def u_v(self, cv_v: float) -> float:
        """Standard uncertainty of a voltage in volts, the voltmeter's gain included."""
        row = np.array([1.0, self.level_of(cv_v)])
        line = float(row @ np.array(self.covariance) @ row)
        return math.hypot(math.sqrt(max(line, 0.0)), cv_v * self.u_gain)

    @property
    def u_scale_cents_per_oct(self) -> float:
        """Standard uncertainty of its volts as a scale error, in cents per octave."""
        slope = math.sqrt(self.covariance[1][1]) / abs(self.volts_per_unit)
        return CENTS_PER_OCTAVE * math.hypot(slope, self.u_gain)

    def sentence(self) -> str:
        """What was found, for a person."""
        at = max(abs(self.low_v), abs(self.high_v))
        return (
            f"Full scale is {abs(self.volts_per_unit):.3f} V, level 0 is {1000 * self.offset_v:.1f}"
            f" mV; no reading is further than {self.off_mv:.1f} mV from the line. A voltage of"
            f" {at:g} V is known to ± {1000 * expanded_u(self.u_v(at)):.1f} mV, a scale to"
            f" ± {expanded_u(self.u_scale_cents_per_oct):.2f} cents per octave (both cover 95 %)."
        )


def last_digit_v(written: str) -> float:
    """Standard uncertainty in volts that a reading's last digit leaves.

    A digital voltmeter rounds, and may be off by one count besides (common practice): evenly
    spread over one count either way.
    """
    digits = written.partition(".")[2]
    return 10.0 ** -len(digits) / math.sqrt(3.0)


def fit_calibration(measured: Sequence[Measured], *, u_gain: float = 0.0) -> Calibration:
    """Fit the line, weighted by the last digits.

    Parameters
    ----------
    measured
        Three readings or more at different levels.
    u_gain
        Relative standard uncertainty of the voltmeter's gain.

    Raises
    ------
    InputError
        Where the readings are too few, or do not lie on a line.
    """
    from scipy.stats import chi2

    if len({one.level for one in measured}) < _FEWEST:
        raise InputError(
            f"A line needs readings at {_FEWEST} different levels or more",
            "calibration",
            "Two readings always lie on a line, whatever is wrong",
        )
    level = np.array([one.level for one in measured])
    read_v = np.array([one.read_v for one in measured])
    u_v = np.array([one.u_v for one in measured])
    if not (np.isfinite(read_v).all() and (u_v > 0.0).all()):
        raise InputError("A reading or its uncertainty is not a possible voltage", "calibration")
    rows = np.stack((np.ones_like(level), level), axis=1) / u_v[:, None]
    covariance = np.linalg.inv(rows.T @ rows)
    offset_v, volts_per_unit = (covariance @ rows.T @ (read_v / u_v)).tolist()
    off_v = read_v - (offset_v + volts_per_unit * level)
    if abs(volts_per_unit) * float(np.ptp(level)) < 20.0 * float(u_v.max()):
        raise InputError(
            "The voltage does not follow the level",
            "calibration",
            "Is the voltmeter on this output, and is the output DC-coupled? One that is not lets"
            " no steady voltage through",
        )
    if float(chi2.sf(float(np.sum((off_v / u_v) ** 2)), len(measured) - 2)) < _UNLIKELY:
        worst = int(np.abs(off_v / u_v).argmax())
        raise InputError(
            f"The readings do not lie on a line: {read_v[worst]:g} V at level {level[worst]:g} is"
            f" {1000 * abs(off_v[worst]):.1f} mV off",
            "calibration",
            "Check that figure; if it is right, the output limits or is not DC-coupled: use"
            " smaller levels or another output",
        )
    return Calibration(
        volts_per_unit,
        offset_v,
        ((covariance[0, 0], covariance[0, 1]), (covariance[1, 0], covariance[1, 1])),
        u_gain,
        float(read_v.min()),
        float(read_v.max()),
        1000.0 * float(np.abs(off_v).max()),
    )

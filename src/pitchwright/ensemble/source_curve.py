"""A source as the thing that is trimmed: its own tracking curve, from voltages or by ear.

A converter's base and scale are trimmed like an oscillator's once its curve is known. A voltmeter
shows it directly; an oscillator whose own curve is known does as well, as the meter.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from pitchwright.ensemble.measured import Meter, Voltage
from pitchwright.errors import InputError
from pitchwright.tracking import Point, TargetCurve
from pitchwright.units import CENTS_PER_OCTAVE, note_to_hz, ratio_of_cents

__all__ = ["points_by_trusted", "points_of_voltages"]


def points_of_voltages(voltages: Sequence[Voltage], meter: Meter) -> tuple[Point, ...]:
    """Readings of a perfect oscillator that these voltages would play.

    Parameters
    ----------
    voltages
        Of one source.
    meter
        What they were read with; its gain error, common to all of them, is counted in each.
    """
    if len({voltage.source for voltage in voltages}) != 1:
        raise InputError("Voltages of one source are needed", do="Give those of one source only")
    return tuple(
        Point(
            note=voltage.note,
            cv_v=(voltage.note - voltage.note_at_0_v) / 12.0,
            f_hz=note_to_hz(voltage.note) * ratio_of_cents(voltage.cents),
            u_cents=CENTS_PER_OCTAVE * math.hypot(meter.u_v, (meter.u_gain or 0.0) * voltage.cv_v),
        )
        for voltage in voltages
    )


def points_by_trusted(points: Sequence[Point], trusted: TargetCurve) -> tuple[Point, ...]:
    """Take a trusted oscillator's own curve out of its readings: what is left is the source.

    Parameters
    ----------
    points
        The trusted oscillator, played by the source.
    trusted
        Its own curve, as measured with a source known to be right.
    """
    return tuple(
        replace(
            point,
            f_hz=point.f_hz * ratio_of_cents(-trusted.cents_at(point.note)),
            u_cents=math.hypot(point.u_cents, trusted.u_at(point.note)),
        )
        for point in points
    )

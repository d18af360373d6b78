"""What a survey of a practice oscillator ought to find."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from pitchwright.practice.converter import thermal_voltage_v
from pitchwright.practice.oscillator import Oscillator
from pitchwright.practice.source import CvSource
from pitchwright.units import CENTS_PER_OCTAVE, MIDDLE_C, cents_between, cv_of_note, note_to_hz

__all__ = ["TrueModel", "true_model"]

_CENTS_PER_NEPER = CENTS_PER_OCTAVE / math.log(2.0)


@dataclass(frozen=True, slots=True)
class TrueModel:
    """The terms of the tracking model, worked out from the parts.

    Attributes
    ----------
    base_cents
        Error at middle C (nominally 3 V) against A4 = 440 Hz, where all other terms are zero.
    scale_cents_per_oct
        Scale error.
    high_ns
        The high end as an equivalent time: reset, less compensation, plus what bulk resistance
        does to first order; the curve has 1200 log2(1 - f · high) cents of it, less the same at
        middle C.
    low_cents_hz
        The low end: so many cents times 1/f, less the same at middle C.
    """

    base_cents: float
    scale_cents_per_oct: float
    high_ns: float
    low_cents_hz: float


def true_model(
    oscillator: Oscillator,
    source: CvSource | None = None,
    t_s: float = 0.0,
    temperature_c: float = 25.0,
) -> TrueModel:
    """Work out the model at one moment; with a source, its gain and offset are part of it.

    Step errors of the source and the oscillator's noise are left out: they are no model's terms.
    """
    gain, offset_v = (1.0 + source.gain_error, source.offset_v) if source else (1.0, 0.0)
    middle_c_v = cv_of_note(MIDDLE_C)
    sent_v = gain * np.array([middle_c_v, middle_c_v + 1.0]) + offset_v
    octaves = oscillator.octaves(sent_v, t_s, temperature_c)
    middle_c_hz = float(oscillator.f_hz(sent_v[:1], t_s, temperature_c)[0])
    junction_c = temperature_c - float(oscillator.warmup.below_k(np.array(t_s)))
    core, converter = oscillator.core, oscillator.converter
    bulk_s = core.charge_c * converter.bulk_ohm / float(thermal_voltage_v(junction_c))
    return TrueModel(
        base_cents=cents_between(middle_c_hz, note_to_hz(MIDDLE_C)),
        scale_cents_per_oct=CENTS_PER_OCTAVE * (float(octaves[1] - octaves[0]) - 1.0),
        high_ns=1e9 * (core.reset_s + bulk_s) - oscillator.compensation_in_all_ns,
        low_cents_hz=-_CENTS_PER_NEPER * core.leakage_a / core.charge_c,
    )

"""The demo scenario: a pit band's modular above the stage of a small theatre. All invented.

No value here was measured on any instrument; they are chosen so that each oscillator has a
fault of its own, of a size that happens (common practice).
"""

from __future__ import annotations

import numpy as np

from pitchwright.practice.converter import Converter
from pitchwright.practice.core import Core
from pitchwright.practice.filter import FilterTone
from pitchwright.practice.noise import Noise
from pitchwright.practice.oscillator import Oscillator
from pitchwright.practice.rig import Rig, Voice
from pitchwright.practice.source import CvSource, step_errors_v
from pitchwright.practice.trimmers import Trimmer
from pitchwright.practice.warmup import WarmUp
from pitchwright.practice.waveforms import Waveform, WaveformKind
from pitchwright.trim.kinds import TrimmerKind

__all__ = ["theatre_rig"]

_SEED = 20260321
"""Of the sources' step errors; any number would do."""


def theatre_rig(on_for_s: float = 3600.0) -> Rig:
    """Return the invented rig as found, its power on for ``on_for_s`` seconds at the start."""
    voices = (_heron(on_for_s), _wren(on_for_s), _plover(on_for_s), _dunlin(on_for_s))
    return Rig(voices=(*voices, _bittern(on_for_s)), sources=(_loft(), _stairs()))


def _heron(on_for_s: float) -> Voice:
    """Scale too wide, all trimmers there: the plain case, pivot at 0 V."""
    oscillator = Oscillator(
        name="Heron",
        trimmers=(
            Trimmer.at(TrimmerKind.BASE_COARSE, 120.0, travel_turns=10.0, backlash_turns=0.01),
            Trimmer.at(TrimmerKind.BASE_FINE, 12.0, travel_turns=10.0, backlash_turns=0.02),
            Trimmer.at(TrimmerKind.SCALE, 4.0, travel_turns=20.0, backlash_turns=0.03),
            Trimmer.at(TrimmerKind.HIGH_END, 150.0, travel_turns=20.0, backlash_turns=0.03),
        ),
        converter=Converter(bulk_ohm=0.5),
        core=Core(reset_s=0.9e-6, leakage_a=2e-12),
        warmup=WarmUp((6.0, 3.0), (240.0, 1500.0), on_for_s),
        noise=Noise(1e-5, 0.006, 0.02),
        base_error_cents=8.3,
        scale_error_cents_per_oct=7.4,
        compensation_ns=650.0,
        base_cents_per_k=0.6,
    )
    return Voice(oscillator, Waveform(WaveformKind.SAW))


def _wren(on_for_s: float) -> Voice:
    """Scale too narrow, coarse tuning summed ahead of the scale trimmer: pivot near 3.5 V."""
    oscillator = Oscillator(
        name="Wren",
        trimmers=(
            Trimmer.at(TrimmerKind.BASE_COARSE, 240.0, travel_turns=10.0, ahead_of_scale=True),
            Trimmer.at(TrimmerKind.BASE_FINE, 15.0, travel_turns=10.0, backlash_turns=0.02),
            Trimmer.at(TrimmerKind.SCALE, 5.0, travel_turns=15.0, reversed_sense=True),
            Trimmer.at(TrimmerKind.HIGH_END, 120.0, travel_turns=20.0),
        ),
        converter=Converter(bulk_ohm=1.0),
        core=Core(reset_s=1.4e-6, leakage_a=5e-12),
        warmup=WarmUp((8.0,), (600.0,), on_for_s),
        noise=Noise(2e-5, 0.01, 0.04),
        pivot_v=3.5,
        base_error_cents=-14.6,
        scale_error_cents_per_oct=-11.8,
        compensation_ns=1500.0,
        base_cents_per_k=-0.9,
    )
    return Voice(oscillator, Waveform(WaveformKind.PULSE, width=0.3))


def _plover(on_for_s: float) -> Voice:
    """No fine scale trimmer: a trimmable buffered output ahead of it does that work."""
    oscillator = Oscillator(
        name="Plover",
        trimmers=(
            Trimmer.at(TrimmerKind.BASE_FINE, 20.0, travel_turns=1.0, step_turns=0.02),
            Trimmer.at(TrimmerKind.OUTPUT, 3.0, travel_turns=20.0, backlash_turns=0.04),
        ),
        converter=Converter(bulk_ohm=0.4),
        core=Core(reset_s=0.5e-6, leakage_a=8e-12),
        warmup=WarmUp((5.0, 2.0), (180.0, 2400.0), on_for_s),
        noise=Noise(1.5e-5, 0.008, 0.03),
        base_error_cents=3.1,
        scale_error_cents_per_oct=4.9,
        compensation_ns=480.0,
        base_cents_per_k=0.4,
    )
    return Voice(oscillator, Waveform(WaveformKind.TRIANGLE))


def _dunlin(on_for_s: float) -> Voice:
    """The top droops by a few cents per kilohertz, and no high-end trimmer to lift it."""
    oscillator = Oscillator(
        name="Dunlin",
        trimmers=(
            Trimmer.at(TrimmerKind.BASE_COARSE, 100.0, travel_turns=10.0),
            Trimmer.at(TrimmerKind.BASE_FINE, 10.0, travel_turns=10.0),
            Trimmer.at(TrimmerKind.SCALE, 6.0, travel_turns=12.0, backlash_turns=0.02),
        ),
        converter=Converter(tempco_per_k=0.0, bulk_ohm=2.0),
        core=Core(reset_s=1.9e-6, leakage_a=20e-12),
        warmup=WarmUp((7.0, 3.0), (300.0, 1800.0), on_for_s),
        noise=Noise(4e-5, 0.02, 0.06),
        pivot_v=0.0,
        base_error_cents=5.7,
        scale_error_cents_per_oct=2.2,
        base_cents_per_k=1.1,
    )
    return Voice(oscillator, Waveform(WaveformKind.SAW))


def _bittern(on_for_s: float) -> Voice:
    """A filter used as an oscillator: a noisy sine that gets weak in the bass."""
    oscillator = Oscillator(
        name="Bittern",
        trimmers=(
            Trimmer.at(TrimmerKind.BASE_COARSE, 300.0, travel_turns=10.0),
            Trimmer.at(TrimmerKind.SCALE, 8.0, travel_turns=12.0, backlash_turns=0.03),
        ),
        converter=Converter(bulk_ohm=0.8),
        core=Core(reset_s=0.7e-6),
        warmup=WarmUp((6.0,), (900.0,), on_for_s),
        noise=Noise(5e-5, 0.04, 0.15),
        pivot_v=2.0,
        base_error_cents=-22.0,
        scale_error_cents_per_oct=15.5,
        base_cents_per_k=2.0,
    )
    tone = FilterTone(noise_db=-60.0, resonance=20.0, low_corner_hz=45.0)
    return Voice(oscillator, Waveform(WaveformKind.SINE), tone=tone)


def _loft() -> CvSource:
    """The keyboard: smooth steps, nearly right."""
    errors_v = step_errors_v(0.25, np.random.default_rng([_SEED, 1]))
    return CvSource("Loft", gain_error=-0.00015, offset_v=0.0002, step_error_v=errors_v)


def _stairs() -> CvSource:
    """The sequencer: coarser steps, and every volt a little too large."""
    errors_v = step_errors_v(1.4, np.random.default_rng([_SEED, 2]))
    return CvSource("Stairs", gain_error=0.0007, offset_v=-0.001, step_error_v=errors_v)

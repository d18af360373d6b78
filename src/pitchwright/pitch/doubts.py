"""What speaks against a reading, in sentences."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from pitchwright.pitch.climb import Climb
from pitchwright.pitch.coarse import Coarse
from pitchwright.pitch.reading import Flag, FlagKind
from pitchwright.units import CENTS_PER_OCTAVE

__all__ = ["about_the_reading", "nothing_periodic", "silence"]

Array = NDArray[np.float64]

ENOUGH_PERIODS = 6.0
_SILENT_DBFS = -90.0
_PERIODIC = 0.7
# Samples in a row at the extreme value, and the share of all samples there, that mean clipping:
# the crest of a clean wave touches its highest value once a period.
_FLAT_SAMPLES = 3
_AT_EXTREME = 1e-6
# A square wave is flat by nature: only a flat top this close to full scale is a doubt.
_FULL_SCALE = 0.985
_STEADY_LEVEL = 0.15
_STEADY_CENTS = 3.0
_OTHER_SHARE = 0.6


def silence(level_dbfs: float) -> str:
    """Why there is nothing to hear, or empty."""
    if level_dbfs == -math.inf:
        return "There is no sound at all"
    if level_dbfs < _SILENT_DBFS:
        return f"The sound is silent: its level is {level_dbfs:.0f} dBFS"
    return ""


def nothing_periodic(coarse: Coarse) -> str:
    """Why the sound has no pitch, or empty."""
    if coarse.best is None or coarse.best.share < _PERIODIC:
        return "Nothing in the sound repeats steadily: it is noise, speech or several tones"
    return ""


def about_the_reading(
    samples: Array,
    duration_s: float,
    f_hz: float,
    coarse: Coarse,
    start: Climb,
    mains_hz: float | None,
) -> tuple[Flag, ...]:
    """All doubts about a reading that has a pitch."""
    found = (
        _too_short(duration_s * f_hz),
        _clipped(samples),
        _unsteady(start, f_hz),
        _octave(coarse),
        _mains(f_hz, duration_s, mains_hz),
    )
    return tuple(flag for flag in found if flag is not None)


def _too_short(periods: float) -> Flag | None:
    if periods >= ENOUGH_PERIODS:
        return None
    return Flag(
        FlagKind.TOO_SHORT,
        f"Only {periods:.1f} periods were heard; {ENOUGH_PERIODS:.0f} are needed to be sure",
    )


def _clipped(x: Array) -> Flag | None:
    for extreme in (float(x.max()), float(x.min())):
        if abs(extreme) < _FULL_SCALE:
            continue
        at = np.abs(x - extreme) <= _AT_EXTREME
        runs = at[:-2] & at[1:-1] & at[2:]
        if runs.any():
            share = 100 * float(at.mean())
            return Flag(
                FlagKind.CLIPPED,
                f"The sound is clipped: {share:.1f} % of the samples stick at full scale; "
                "turn the input down",
            )
    return None


def _unsteady(start: Climb, f_hz: float) -> Flag | None:
    levels = start.block_levels
    change = float(levels.max() / max(levels.min(), 1e-12))
    if change > 1 + _STEADY_LEVEL:
        db = 20 * math.log10(change)
        return Flag(
            FlagKind.UNSTEADY,
            f"The level changes by {db:.1f} dB within the span: an attack or a decay is in it",
        )
    cents = CENTS_PER_OCTAVE / math.log(2) * start.block_off_hz / f_hz
    swing = float(cents.max() - cents.min()) if len(cents) else 0.0
    if swing > _STEADY_CENTS:
        return Flag(
            FlagKind.UNSTEADY,
            f"The pitch moves by {swing:.1f} cents within the span: it is gliding or unsettled",
        )
    return None


def _octave(coarse: Coarse) -> Flag | None:
    assert coarse.best is not None
    for other in coarse.candidates:
        ratio = other.f_hz / coarse.best.f_hz
        multiple = round(ratio)
        if multiple in (2, 3, 4) and abs(ratio - multiple) < 0.02 and other.share > _OTHER_SHARE:
            return Flag(
                FlagKind.OCTAVE_AMBIGUOUS,
                f"{100 * other.share:.0f} % of the sound also fits {other.f_hz:.2f} Hz, "
                f"{multiple} times the frequency read: the octave is not certain",
                other.f_hz,
            )
    return None


def _mains(f_hz: float, duration_s: float, mains_hz: float | None) -> Flag | None:
    for mains in (50.0, 60.0) if mains_hz is None else (mains_hz,):
        for multiple in range(1, 9):
            hum = multiple * mains
            # Hum less than two bins away is inside the reading; mains wander by 0.1 %.
            if abs(f_hz - hum) < max(2.0 / duration_s, 0.002 * hum):
                return Flag(
                    FlagKind.MAINS_NEARBY,
                    f"The pitch is close to {hum:.0f} Hz, where mains hum would be; "
                    "hum and tone cannot be told apart there",
                )
    return None

"""What speaks against a reading, in sentences."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from pitchwright.pitch.climb import Climb
from pitchwright.pitch.coarse import Coarse, coarse_pitch, comb_share
from pitchwright.pitch.reading import Flag, FlagKind
from pitchwright.pitch.spectrum import Spectrum
from pitchwright.units import CENTS_PER_OCTAVE, cents_between

__all__ = [
    "about_the_reading",
    "changing",
    "clipped",
    "hum_alone",
    "movement_cents",
    "moving_pitch",
    "near_mains",
    "nothing_periodic",
    "octave_ambiguous",
    "several_tones",
    "silence",
    "unsteady",
    "waveform_change",
]

Array = NDArray[np.float64]

ENOUGH_PERIODS = 6.0
_SILENT_DBFS = -90.0
_PERIODIC = 0.7
# What must stand out of even noise, as a share of all power.
_NOT_NOISE = 0.3
# What one tone may leave over of the power, its level followed in so many blocks.
_GAIN_BLOCKS = 24
_LEFT_OVER = 0.15
# Samples this near the extreme value, three in a row, are a flat top. A square wave is flat by
# nature: only a top this close to full scale is a doubt.
_AT_EXTREME = 1e-6
_FULL_SCALE = 0.985
_STEADY_LEVEL = 1.15
_LEAST_LEVEL = 0.01
_STEADY_CENTS = 3.0
# How far the share of a harmonic may swing while the waveform counts as the same.
_STEADY_SHAPE = 0.05
# A level that ends so near to where it began, beside its change, was neither attack nor decay.
_COMES_BACK = 0.5
# From so many turning points on, that the pitch swings to and fro is said.
_TO_AND_FRO = 3
# Stretched partials are told of from here on.
_STRETCHED_CENTS = 0.05
# How many times its own scatter a change of level or pitch must be.
_BEYOND_SCATTER = 6.0
# A sub-octave 3 dB below leaves two thirds of the sound to the tone above it.
_OTHER_SHARE = 0.64
_HUM_MULTIPLES = 4
_HUM_DBFS = -40.0
_MAINS_HZ = (50.0, 60.0)
_MAINS_WANDER = 0.003
_NEAR_MAINS_HZ = 2.0
# A moving pitch is followed in parts of this many, each of at least so long.
_PARTS = 16
_PART_S = 0.04
_PART_PERIODIC = 0.7
_PARTS_PERIODIC = 0.7
_LEAP_CENTS = 700.0
_MOVED_CENTS = 30.0


def silence(level_dbfs: float) -> str:
    """Why there is nothing to hear, or empty."""
    if level_dbfs == -math.inf:
        return "There is no sound at all"
    if level_dbfs < _SILENT_DBFS:
        return f"The sound is silent: its level is {level_dbfs:.0f} dBFS"
    return ""


def nothing_periodic(coarse: Coarse) -> str:
    """Why the sound has no pitch, or empty."""
    if coarse.best is None:
        return "Nothing in the sound repeats: it is noise, or lower than can be read"
    power = float(coarse.spectrum.power.sum())
    if coarse.spectrum.total < _NOT_NOISE * power:
        return "The sound is even noise; no tone stands out of it"
    if coarse.best.share < _PERIODIC:
        share = max(100 * coarse.best.share, 0.0)
        return (
            f"No one pitch explains the sound, the best only {share:.0f} % of it: "
            "it is noise, speech or several tones"
        )
    return ""


def several_tones(samples: Array, remainder: Array, spectrum: Spectrum) -> str:
    """Why a tone that was fitted is not the whole story, or empty.

    A level that changes along the span is allowed for, and even noise.
    """
    power = float(samples @ samples)
    tone = samples - remainder
    edges = np.linspace(0, len(samples), _GAIN_BLOCKS + 1).astype(np.intp)[:-1]
    own = np.add.reduceat(tone * tone, edges)
    shared = np.add.reduceat(tone * samples, edges)
    explained = float(np.sum(shared**2 / np.maximum(own, 1e-300)))
    noise = spectrum.noise_variance * len(samples)
    left = 1.0 - (explained + noise) / max(power, 1e-300)
    if left > _LEFT_OVER:
        return (
            f"The best single tone leaves {100 * left:.0f} % of the sound unexplained: "
            "it is noise, speech or several tones"
        )
    return ""


def hum_alone(f_hz: float, level_dbfs: float, mains_hz: float | None) -> str:
    """Why a quiet tone at the mains frequency is not taken for an oscillator, or empty."""
    if level_dbfs > _HUM_DBFS:
        return ""
    for mains in _mains(mains_hz):
        for hum in (mains, 2 * mains):
            if abs(f_hz - hum) < _MAINS_WANDER * hum:
                return f"All that is heard is mains hum at {hum:.0f} Hz, {level_dbfs:.0f} dBFS"
    return ""


def moving_pitch(samples: Array, rate_hz: float, low_hz: float, high_hz: float) -> Flag | None:
    """Whether a sound without one pitch has one that moves: a glide, or two notes."""
    parts = min(_PARTS, int(len(samples) / rate_hz / _PART_S))
    if parts < 3:
        return None
    heard = []
    for part in np.array_split(samples, parts):
        best = coarse_pitch(part - part.mean(), rate_hz, low_hz, high_hz).best
        if best is not None and best.share > _PART_PERIODIC:
            heard.append(best.f_hz)
    if len(heard) < _PARTS_PERIODIC * parts:
        return None
    leaps = np.abs(np.diff(CENTS_PER_OCTAVE * np.log2(heard)))
    if leaps.max() > _LEAP_CENTS:
        return None
    low, high = min(heard), max(heard)
    if cents_between(high, low) < _MOVED_CENTS:
        return None
    per_s = _swings_per_s(np.log2(heard), len(samples) / rate_hz)
    if per_s is not None:
        return Flag(FlagKind.UNSTEADY, _to_and_fro(cents_between(high, low), per_s))
    return Flag(
        FlagKind.UNSTEADY,
        f"The pitch moves from {heard[0]:.1f} Hz to {heard[-1]:.1f} Hz within the span, "
        f"over {cents_between(high, low):.0f} cents: a glide, or more than one note",
    )


def about_the_reading(
    samples: Array,
    duration_s: float,
    f_hz: float,
    coarse: Coarse,
    start: Climb,
    stretch_cents: float,
    mains_hz: float | None,
) -> tuple[Flag, ...]:
    """All doubts about a reading that has a pitch."""
    found = (
        _too_short(duration_s * f_hz),
        clipped(samples),
        unsteady(start, f_hz, duration_s),
        changing(start),
        _stretched(stretch_cents),
        octave_ambiguous(coarse, f_hz),
        near_mains(f_hz, duration_s, mains_hz),
    )
    return tuple(flag for flag in found if flag is not None)


def _too_short(periods: float) -> Flag | None:
    if periods >= ENOUGH_PERIODS:
        return None
    return Flag(
        FlagKind.TOO_SHORT,
        f"Only {periods:.1f} periods were heard; {ENOUGH_PERIODS:.0f} are needed to be sure",
    )


def clipped(x: Array) -> Flag | None:
    """Whether samples, shape (n,), stick at full scale."""
    for extreme in (float(x.max()), float(x.min())):
        if abs(extreme) < _FULL_SCALE:
            continue
        at = np.abs(x - extreme) <= _AT_EXTREME
        if (at[:-2] & at[1:-1] & at[2:]).any():
            return Flag(
                FlagKind.CLIPPED,
                f"The sound is clipped: {100 * float(at.mean()):.1f} % of the samples stick "
                "at full scale; turn the input down",
            )
    return None


def unsteady(start: Climb, f_hz: float, duration_s: float) -> Flag | None:
    """Whether level or pitch move along the span."""
    changed = waveform_change(start) > 0.0
    levels = np.maximum(start.block_levels, _LEAST_LEVEL * start.block_levels.max(axis=0))
    change = max(_swing(track) for track in np.log(np.maximum(levels, 1e-300)).T)
    ends = abs(float(np.log(levels[-1, 0] / levels[0, 0])))
    if change > math.log(_STEADY_LEVEL) and not (changed and ends < _COMES_BACK * change):
        db = 20 * change / math.log(10)
        return Flag(
            FlagKind.UNSTEADY,
            f"The level changes by {db:.1f} dB within the span: an attack or a decay is in it",
        )
    cents = movement_cents(start, f_hz)
    if cents > 0.0:
        per_s = _swings_per_s(start.block_off_hz, duration_s)
        if per_s is not None:
            return Flag(FlagKind.UNSTEADY, _to_and_fro(cents, per_s))
        return Flag(
            FlagKind.UNSTEADY,
            f"The pitch moves by {cents:.1f} cents within the span: it is gliding or unsettled",
        )
    return None


def _to_and_fro(cents: float, per_s: float) -> str:
    return (
        f"The pitch swings to and fro by {cents:.0f} cents, {per_s:.1f} times a second: "
        "vibrato, or a slow oscillator that modulates it; turn that off to read it"
    )


def _swings_per_s(track: Array, duration_s: float) -> float | None:
    """How often a second a track swings to and fro; None where it does not, or seldom."""
    if len(track) < 8:
        return None
    off = track - 0.5 * (track.max() + track.min())
    far = off[np.abs(off) > 0.3 * np.abs(off).max()]
    turns = int(np.count_nonzero(np.diff(np.sign(far))))
    if turns < _TO_AND_FRO:
        return None
    return turns / 2.0 / duration_s


def waveform_change(start: Climb) -> float:
    """How far the waveform changes along the span: the greatest swing of a harmonic's share.

    0 where that is no more than scatter.
    """
    whole = np.maximum(np.sqrt(np.sum(start.block_sizes**2, axis=1)), 1e-300)
    swing = max(_swing(track) for track in (start.block_sizes / whole[:, None]).T)
    return swing if swing > _STEADY_SHAPE else 0.0


def changing(start: Climb) -> Flag | None:
    """Whether the waveform changes along the span."""
    if waveform_change(start) == 0.0:
        return None
    return Flag(
        FlagKind.WAVEFORM_CHANGES,
        "The waveform changes within the span, as pulse-width modulation makes it: "
        "turn the modulation off for a careful reading",
    )


def _stretched(cents: float) -> Flag | None:
    if abs(cents) < _STRETCHED_CENTS:
        return None
    way = "stretched" if cents < 0.0 else "squeezed together"
    return Flag(
        FlagKind.PARTIALS_DISAGREE,
        f"The partials are {way}: the lowest lies {abs(cents):.2f} cents "
        f"{'below' if cents < 0.0 else 'above'} what all together say, as no oscillator's do",
    )


def movement_cents(start: Climb, f_hz: float) -> float:
    """How far the pitch moved within the span, zero where that is too little to doubt it."""
    cents = _swing(CENTS_PER_OCTAVE / math.log(2) * start.block_off_hz / f_hz)
    return cents if cents > _STEADY_CENTS else 0.0


def _swing(track: Array) -> float:
    """Greatest change along a track, zero where scatter from point to point explains it."""
    if len(track) < 2:
        return 0.0
    smooth = (track[1:] + track[:-1]) / 2 if len(track) > 4 else track
    swing = float(smooth.max() - smooth.min())
    if len(track) < 8:
        return swing
    # The median keeps a single step from counting as scatter.
    scatter = float(np.median(np.abs(np.diff(track, 2)))) / (0.6745 * math.sqrt(6))
    return swing if swing > _BEYOND_SCATTER * scatter else 0.0


def octave_ambiguous(coarse: Coarse, f_hz: float) -> Flag | None:
    """Whether a multiple of the frequency explains most of the sound, too."""
    top_hz = coarse.spectrum.bin_hz * (len(coarse.spectrum.power) - 4)
    for multiple in (2, 3, 4):
        other_hz = multiple * f_hz
        if other_hz > top_hz:
            return None
        share = comb_share(coarse.spectrum, other_hz)
        if share > _OTHER_SHARE:
            return Flag(
                FlagKind.OCTAVE_AMBIGUOUS,
                f"{100 * share:.0f} % of the sound also fits {other_hz:.2f} Hz, "
                f"{multiple} times the frequency read: the octave is not certain",
                other_hz,
            )
    return None


def near_mains(f_hz: float, duration_s: float, mains_hz: float | None) -> Flag | None:
    """Whether the pitch lies where mains hum would."""
    for mains in _mains(mains_hz):
        for multiple in range(1, _HUM_MULTIPLES + 1):
            hum = multiple * mains
            near = max(min(1.0 / duration_s, _NEAR_MAINS_HZ), _MAINS_WANDER * hum)
            if abs(f_hz - hum) < near:
                return Flag(
                    FlagKind.MAINS_NEARBY,
                    f"The pitch is close to {hum:.0f} Hz, where mains hum would be; "
                    "hum and tone cannot be told apart there",
                )
    return None


def _mains(mains_hz: float | None) -> tuple[float, ...]:
    return _MAINS_HZ if mains_hz is None else (mains_hz,)

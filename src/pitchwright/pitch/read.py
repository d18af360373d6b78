"""One careful reading of a span of sound: the three stages, the uncertainty, the doubts."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pitchwright.errors import InputError
from pitchwright.pitch import doubts
from pitchwright.pitch.climb import climb
from pitchwright.pitch.coarse import coarse_pitch
from pitchwright.pitch.finish import finish
from pitchwright.pitch.reading import Flag, FlagKind, Reading
from pitchwright.pitch.uncertainty import frequency_and_uncertainty
from pitchwright.units import CENTS_PER_OCTAVE

Array = NDArray[np.float64]

__all__ = ["HIGH_HZ", "LOW_HZ", "read"]

LOW_HZ = 16.0
HIGH_HZ = 12_500.0
_SHORTEST = 64
_ROUNDING = 1e-13
# A fundamental above this has no room for anything beside it.
_SHARE_OF_RATE = 0.45


def read(
    samples: ArrayLike,
    rate_hz: float,
    *,
    low_hz: float = LOW_HZ,
    high_hz: float = HIGH_HZ,
    mains_hz: float | None = None,
) -> Reading:
    """Read the pitch of a span of sound.

    Parameters
    ----------
    samples
        One channel, shape (n,), full scale ±1.
    rate_hz
        Sample rate.
    low_hz, high_hz
        Where to search for the fundamental.
    mains_hz
        Mains frequency, 50 or 60; None where it is not known, and both are watched for.

    Returns
    -------
    Reading
        Where there is no pitch, ``f_hz`` is None and a flag says why.

    Raises
    ------
    InputError
        Where the samples are not one channel of finite numbers, or the rate or the search range
        cannot be.
    """
    x = _checked(samples, rate_hz, low_hz, high_hz)
    level_dbfs = level_of(x)
    given, x = x, centred(x)
    if len(x) < _SHORTEST:
        return _without_pitch(level_dbfs, f"{len(x)} samples are too few to hear a pitch in")
    if silent := doubts.silence(level_dbfs):
        return _without_pitch(level_dbfs, silent)
    high_hz = min(high_hz, _SHARE_OF_RATE * rate_hz)
    coarse = coarse_pitch(x, rate_hz, low_hz, high_hz)
    if (nothing := doubts.nothing_periodic(coarse)) or coarse.best is None:
        moving = doubts.moving_pitch(x, rate_hz, low_hz, high_hz)
        return _without_pitch(level_dbfs, nothing, moving)
    duration_s = len(x) / rate_hz
    start = climb(x, rate_hz, coarse.best.f_hz, coarse.spectrum)
    fit = finish(x, rate_hz, start)
    f_hz, u_cents = frequency_and_uncertainty(fit, duration_s)
    if several := doubts.several_tones(x, fit.remainder, coarse.spectrum):
        moving = doubts.moving_pitch(x, rate_hz, low_hz, high_hz)
        moving = moving or doubts.unsteady(start, f_hz, duration_s) or doubts.changing(start)
        return _without_pitch(level_dbfs, several, moving)
    if hum := doubts.hum_alone(f_hz, level_dbfs, mains_hz):
        return _without_pitch(level_dbfs, hum)
    # Where the pitch moved, it was anywhere along the way.
    moved_cents = doubts.movement_cents(start, f_hz)
    stretch_cents = CENTS_PER_OCTAVE / math.log(2) * fit.stretch / (2 * math.pi * f_hz)
    # A waveform that changes may take the phase along, by about twice what its harmonics change.
    turned = 2 * doubts.waveform_change(start) / (2 * math.pi * f_hz * duration_s)
    turned_cents = CENTS_PER_OCTAVE / math.log(2) * turned / math.sqrt(3)
    u_cents = math.hypot(u_cents, moved_cents / math.sqrt(12), stretch_cents, turned_cents)
    flags = doubts.about_the_reading(
        given, duration_s, f_hz, coarse, start, stretch_cents, mains_hz
    )
    return Reading(f_hz, u_cents, level_dbfs, duration_s * f_hz, flags)


def centred(x: Array) -> Array:
    """The samples without DC, scaled to a peak of one so that no size can overflow."""
    if len(x) == 0:
        return x
    peak = float(np.abs(x).max())
    if peak == 0.0:
        return x
    y: Array = x / peak
    y = y - y.mean()
    # What rounding leaves of a constant is not sound.
    return y if float(np.abs(y).max()) > _ROUNDING else np.zeros_like(x)


def level_of(x: Array) -> float:
    """RMS level without DC in dB relative to a full-scale sine; -inf for silence."""
    y = centred(x)
    if not y.any():
        return -math.inf
    peak = float(np.abs(x).max())
    return 10 * math.log10(2 * float(np.mean(y * y))) + 20 * math.log10(peak)


def _without_pitch(level_dbfs: float, reason: str, more: Flag | None = None) -> Reading:
    none = Flag(FlagKind.NO_PITCH, reason)
    flags = (none,) if more is None else (none, more)
    return Reading(None, math.inf, level_dbfs, 0.0, flags)


def _checked(samples: ArrayLike, rate_hz: float, low_hz: float, high_hz: float) -> Array:
    x = np.asarray(samples, dtype=np.float64)
    if x.ndim != 1:
        raise InputError(
            f"A reading takes one channel, not an array of shape {x.shape}",
            do="Give each channel on its own",
        )
    if not np.isfinite(x).all():
        raise InputError("The sound holds samples that are not finite numbers")
    if not (math.isfinite(rate_hz) and rate_hz > 0):
        raise InputError(f"A sample rate of {rate_hz} Hz cannot be")
    if not 0 < low_hz < high_hz:
        raise InputError(f"A search from {low_hz} Hz to {high_hz} Hz cannot be")
    return x

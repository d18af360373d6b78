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
from pitchwright.pitch.uncertainty import standard_uncertainty_cents

__all__ = ["HIGH_HZ", "LOW_HZ", "read"]

LOW_HZ = 16.0
HIGH_HZ = 12_500.0
_SHORTEST = 64


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
    if len(x) < _SHORTEST:
        return _without_pitch(level_dbfs, f"{len(x)} samples are too few to hear a pitch in")
    if silent := doubts.silence(level_dbfs):
        return _without_pitch(level_dbfs, silent)
    given, x = x, x - x.mean()
    coarse = coarse_pitch(x, rate_hz, low_hz, min(high_hz, 0.45 * rate_hz))
    if nothing := doubts.nothing_periodic(coarse):
        return _without_pitch(level_dbfs, nothing)
    assert coarse.best is not None
    duration_s = len(x) / rate_hz
    start = climb(x, rate_hz, coarse.best.f_hz, coarse.spectrum)
    fit = finish(x, rate_hz, start)
    u_cents = standard_uncertainty_cents(fit, duration_s)
    f_hz = fit.law.mean_hz(duration_s)
    flags = doubts.about_the_reading(given, duration_s, f_hz, coarse, start, mains_hz)
    return Reading(f_hz, u_cents, level_dbfs, duration_s * f_hz, flags)


def level_of(x: NDArray[np.float64]) -> float:
    """RMS level without DC in dB relative to a full-scale sine; -inf for silence."""
    mean_square = float(np.mean((x - x.mean()) ** 2)) if len(x) else 0.0
    return 10 * math.log10(2 * mean_square) if mean_square > 0 else -math.inf


def _without_pitch(level_dbfs: float, reason: str) -> Reading:
    return Reading(None, math.inf, level_dbfs, 0.0, (Flag(FlagKind.NO_PITCH, reason),))


def _checked(
    samples: ArrayLike, rate_hz: float, low_hz: float, high_hz: float
) -> NDArray[np.float64]:
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

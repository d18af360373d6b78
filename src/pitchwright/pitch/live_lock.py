"""Taking up a tone in sound that has only just begun."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pitchwright.pitch import doubts
from pitchwright.pitch.coarse import coarse_pitch
from pitchwright.pitch.live_bites import MARGIN, Law
from pitchwright.pitch.live_tone import FEWEST_BITES, Tone

__all__ = ["LONGEST_S", "SHORTEST_S", "Lock", "lock", "refined"]

Array = NDArray[np.float64]

SHORTEST_S: Final = 0.06
LONGEST_S: Final = 0.45
"""Six periods of 16 Hz, and some."""

# Half the frequency must still show two and a half of its periods, or it is never considered.
_PERIODS: Final = 5.2
_FRAME_S: Final = 0.005
_QUIET: Final = 0.02
_BINS_OFF: Final = 0.2
_NEAR_HZ: Final = 0.2
_ROUNDS: Final = 4
_STRANGE, _STRANGE_RAD = 8.0, 1e-3
_TURN: Final = 0.03


@dataclass(frozen=True, slots=True)
class Lock:
    """What was found: a tone, or why there is none (and whether more of the sound may help)."""

    tone: Tone | None
    reason: str = ""


def lock(samples: Array, start: int, rate_hz: float, low_hz: float, high_hz: float) -> Lock:
    """Look for a tone in the newest sound.

    Parameters
    ----------
    samples, start
        Sound, shape (n,), and the number of its first sample.
    rate_hz
        Sample rate.
    low_hz, high_hz
        Where to search.
    """
    begin = _onset(samples, rate_hz)
    x = samples[begin:]
    if len(x) < SHORTEST_S * rate_hz:
        return Lock(None, "The sound has only just begun")
    coarse = coarse_pitch(x, rate_hz, low_hz, high_hz)
    if coarse.best is None:
        return Lock(None, doubts.nothing_periodic(coarse))
    f_hz = coarse.best.f_hz
    if len(x) / rate_hz < _PERIODS / f_hz:
        return Lock(None, "The sound has only just begun")
    if nothing := doubts.nothing_periodic(coarse):
        return Lock(None, nothing)
    bites_s = (FEWEST_BITES + 0.1) * Law(f_hz, rate_hz, 0.0).bite_s
    need = math.ceil(max((_PERIODS + 0.1) / f_hz, bites_s, SHORTEST_S) * rate_hz) + 2 * MARGIN
    first = max(begin, len(samples) - need)
    law = Law(f_hz, rate_hz, float(start + first + MARGIN))
    tone = refined(samples[first:], start + first, law, _BINS_OFF * coarse.spectrum.bin_hz)
    if tone is not None and _begins_strangely(tone.phase_rad):
        # Part of the first bite was still the sound before.
        law = replace(tone.law, begin=tone.law.begin + tone.law.bite)
        tone = refined(samples[first:], start + first, law, _NEAR_HZ)
    if tone is not None and (times := tone.multiple()) > 1:
        # With some of the sound before in it, the window repeated only so many periods later.
        law = Law(times * tone.law.f_hz, rate_hz, tone.law.begin)
        tone = refined(samples[first:], start + first, law, times * _NEAR_HZ)
    if tone is None:
        return Lock(None, "The sound changes, or is not one tone")
    return Lock(tone)


def _begins_strangely(phase: Array) -> bool:
    """Whether the first bite is far off a line through the others."""
    x = np.arange(1, len(phase))
    slope, begin = np.polyfit(x, phase[1:], 1)
    others = phase[1:] - begin - slope * x
    scatter = math.sqrt(float(others @ others) / max(len(others) - 2, 1))
    return abs(float(phase[0]) - float(begin)) > max(_STRANGE * scatter, _STRANGE_RAD)


def refined(samples: Array, start: int, law: Law, within_hz: float) -> Tone | None:
    """The tone near a frequency, its reference brought up to it; None where there is no one tone.

    Parameters
    ----------
    samples, start
        Sound, shape (n,), and the number of its first sample.
    law
        First guess.
    within_hz
        How far that may be off.
    """
    tone = Tone(samples, start, law, within_hz)
    for _ in range(_ROUNDS):
        if not tone.usable:
            return None
        off_hz, u_hz = _off(tone)
        turn = (abs(off_hz) + 2 * u_hz) * tone.law.bite_s * tone.law.harmonics
        if turn < _TURN and tone.full:
            break
        law = Law(tone.law.f_hz + off_hz, law.rate_hz, law.begin)
        if law.f_hz <= 0.0:
            return None
        tone = Tone(samples, start, law, max(3 * u_hz, 1e-6))
    return tone if tone.usable and tone.sure and tone.full else None


def _off(tone: Tone) -> tuple[float, float]:
    """Frequency beside the reference, and its uncertainty; both in hertz."""
    phase = tone.phase_rad
    x = np.arange(len(phase)) - (len(phase) - 1) / 2
    spread = float(x @ x)
    slope = float(x @ phase) / spread
    left = phase - phase.mean() - slope * x
    scatter = max(float(left @ left) / max(len(x) - 2, 1), tone.noise_rad2)
    to_hz = 1.0 / (2 * np.pi * tone.law.bite_s)
    return slope * to_hz, math.sqrt(scatter / spread) * to_hz


def _onset(samples: Array, rate_hz: float) -> int:
    """Where the sound begins, if something much quieter came first."""
    frame = max(1, int(_FRAME_S * rate_hz))
    frames = len(samples) // frame
    if frames < 2:
        return 0
    cut = samples[len(samples) - frames * frame :].reshape(frames, frame)
    power = np.mean(cut * cut, axis=1) - np.mean(cut, axis=1) ** 2
    loud = np.flatnonzero(power > _QUIET * power.max())
    first = int(loud[0]) if len(loud) else 0
    return len(samples) - (frames - first) * frame if first else 0

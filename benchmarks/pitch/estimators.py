"""What is measured: the product's reading, and general-purpose estimators beside it.

Each takes samples and rate and returns one frequency in hertz, or None. The others get what helps
them: the whole span, a search range that fits it, and the median over their frames.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from benchmarks.pitch.cases import HIGH_HZ, LOW_HZ
from numpy.typing import NDArray

__all__ = ["OTHERS", "Other"]

Array = NDArray[np.float64]


def _low_hz(samples: Array, rate_hz: float, periods: float) -> float:
    return max(LOW_HZ, periods * rate_hz / len(samples))


def _librosa_frame(samples: Array, rate_hz: float) -> dict[str, Any]:
    low_hz = _low_hz(samples, rate_hz, 3.0)
    frame = min(len(samples) // 2 * 2, int(2 * np.ceil(1.6 * rate_hz / low_hz)))
    return {
        "fmin": low_hz,
        "fmax": min(HIGH_HZ, 0.45 * rate_hz),
        "sr": rate_hz,
        "frame_length": frame,
        "hop_length": max(frame // 4, 1),
        "center": False,
    }


def _yin(samples: Array, rate_hz: float) -> float | None:
    import librosa

    f0 = librosa.yin(samples, **_librosa_frame(samples, rate_hz))
    return float(np.median(f0)) if len(f0) else None


def _pyin(samples: Array, rate_hz: float) -> float | None:
    import librosa

    f0, _, _ = librosa.pyin(samples, **_librosa_frame(samples, rate_hz))
    f0 = f0[np.isfinite(f0)]
    return float(np.median(f0)) if len(f0) else None


def _praat_ac(samples: Array, rate_hz: float) -> float | None:
    import parselmouth

    sound = parselmouth.Sound(samples, sampling_frequency=rate_hz)
    pitch = sound.to_pitch_ac(
        pitch_floor=_low_hz(samples, rate_hz, 3.1),
        pitch_ceiling=min(HIGH_HZ, 0.45 * rate_hz),
        very_accurate=False,
    )
    f0 = pitch.selected_array["frequency"]
    f0 = f0[f0 > 0]
    return float(np.median(f0)) if len(f0) else None


def _fft_peak(samples: Array, rate_hz: float) -> float | None:
    n = len(samples)
    size = 1 << (4 * n - 1).bit_length()
    power = np.abs(np.fft.rfft((samples - samples.mean()) * np.hanning(n), size)) ** 2
    m = int(np.argmax(power[1:-1])) + 1
    a, b, c = np.log(power[m - 1 : m + 2] + 1e-300)
    return float((m + 0.5 * (a - c) / (a - 2 * b + c)) * rate_hz / size)


@dataclass(frozen=True, slots=True)
class Other:
    """One estimator, and on how many cases at most it is run (some are slow)."""

    name: str
    estimate: Callable[[Array, float], float | None]
    most: int


OTHERS = (
    Other("librosa yin", _yin, 600),
    Other("librosa pyin", _pyin, 120),
    Other("Praat ac (parselmouth)", _praat_ac, 600),
    Other("FFT peak, Hann, parabola", _fft_peak, 100_000),
)

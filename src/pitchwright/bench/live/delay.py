"""How long a note takes from being sent until its sound is here, found from the sound itself.

Buffers on the way out and on the way in, and whatever lies between, add up to a delay that no
device tells. It is the same for every note, so it is learned once, from one change of pitch.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["change_of_level", "change_of_pitch"]

Array = NDArray[np.float64]

_LONGEST_LAG_S = 0.06
_CLEAR = 4.0
"""The two tones must differ by so much in power before the moment between them is believed."""


def change_of_pitch(
    samples: NDArray[np.floating], rate_hz: float, before_hz: float, after_hz: float
) -> int | None:
    """Sample at which one steady tone gives way to another.

    What repeats after whole periods of the higher tone is the higher tone: the difference of the
    sound and itself so much earlier is small there, and large while the other tone sounds. The
    number of periods is chosen so that the lower tone is then as far from repeating as it can be.

    Parameters
    ----------
    samples
        One channel, shape (n,), the first tone at its beginning and the other at its end.
    rate_hz
        Sample rate.
    before_hz, after_hz
        The two pitches.

    Returns
    -------
    int or None
        Mostly within a period of the lower tone, at the worst seen within two; None where no
        clear change can be seen, as between tones four octaves apart or more.
    """
    x = np.asarray(samples, dtype=np.float64)
    high, low = max(before_hz, after_hz), min(before_hz, after_hz)
    counts = np.arange(1, max(2, int(_LONGEST_LAG_S * high) + 1))
    counts = counts[counts <= 64]
    apart = np.abs(counts * low / high - np.round(counts * low / high))
    exact = counts * rate_hz / high
    rounding = np.abs(exact - np.round(exact)) * high / rate_hz
    # A long lag blurs the moment.
    lag = round(float(exact[int((apart - 2.0 * rounding - 6.0 * exact / rate_hz).argmax())]))
    # Two tones cannot be told apart faster than they come out of step.
    together_s = max(1.0 / low, 1.0 / max(high - low, 1.0), 0.008)
    window = int(rate_hz * min(together_s, 0.1))
    if len(x) < lag + 4 * window:
        return None
    power = np.cumsum(np.concatenate(([0.0], (x[lag:] - x[:-lag]) ** 2)))
    smooth = (power[window:] - power[:-window]) / window
    ends = max(window, len(smooth) // 8)
    first, last = float(np.median(smooth[:ends])), float(np.median(smooth[-ends:]))
    least, most = min(first, last), max(first, last)
    if most <= 0.0 or most < _CLEAR * least:
        return None
    middle = 0.5 * (least + most)
    beyond = smooth < middle if last < first else smooth > middle
    # Once changed it stays so: the last moment that still looks like before.
    still = np.flatnonzero(~beyond)
    at = int(still[-1]) + 1 if still.size else 0
    # A difference looks forward by the lag: it sees the higher tone end that much early.
    return at + window // 2 + (lag if last > first else 0)


def change_of_level(samples: NDArray[np.floating]) -> int | None:
    """Sample at which a steady level gives way to another; None where there is no clear change."""
    x = np.asarray(samples, dtype=np.float64)
    if len(x) < 64:
        return None
    ends = len(x) // 8
    first, last = float(np.median(x[:ends])), float(np.median(x[-ends:]))
    noise = float(np.std(x[:ends])) + float(np.std(x[-ends:]))
    if abs(last - first) < max(6.0 * noise, 1e-4):
        return None
    still = np.flatnonzero((x - 0.5 * (first + last)) * np.sign(last - first) < 0.0)
    return int(still[-1]) + 1 if still.size else None

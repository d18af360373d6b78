"""When a sample was handed over, from callbacks that come late but never early."""

from __future__ import annotations

from collections import deque

__all__ = ["SampleClock"]

_SLICE_S, _SLICES = 2.0, 15
"""In half a minute two clocks drift apart by a millisecond or two, and some callback is prompt."""


class SampleClock:
    """Turns sample numbers of one stream into seconds of `time.monotonic` and back.

    A callback may come late, by however busy the computer is, but not early: the earliest of the
    last half minute tells where the samples really are.

    Parameters
    ----------
    rate_hz
        Nominal sample rate.
    """

    def __init__(self, rate_hz: float) -> None:
        self._rate_hz = rate_hz
        self._slices: deque[tuple[float, float]] = deque(maxlen=_SLICES)

    def saw(self, sample: int, t_s: float) -> None:
        """A callback at ``t_s`` had come to this sample."""
        begin_s = t_s - sample / self._rate_hz
        if not self._slices or t_s - self._slices[-1][0] > _SLICE_S:
            self._slices.append((t_s, begin_s))
        elif begin_s < self._slices[-1][1]:
            self._slices[-1] = (self._slices[-1][0], begin_s)

    def restart(self) -> None:
        """Forget: samples went missing, so what was seen before no longer tells."""
        self._slices.clear()

    def t_s(self, sample: float) -> float:
        """When a sample was or will be handed over; NaN before any callback."""
        return self._begin_s() + sample / self._rate_hz

    def sample(self, t_s: float) -> float:
        """Which sample is handed over at a time; NaN before any callback."""
        return (t_s - self._begin_s()) * self._rate_hz

    def _begin_s(self) -> float:
        return min((begin for _, begin in tuple(self._slices)), default=float("nan"))

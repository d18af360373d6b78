"""When a sample was handed over, from callbacks that come late but never early."""

from __future__ import annotations

from collections import deque

__all__ = ["SampleClock"]

_SLICE_S, _SLICES = 2.0, 15
"""In half a minute two clocks drift apart by a millisecond or two, and some callback is prompt."""

_RECENT_S, _SLIP_S = 1.0, 0.05


class SampleClock:
    """Turns sample numbers of one stream into seconds of `time.monotonic` and back.

    A callback may come late, by however busy the computer is, but not early: the earliest of the
    last half minute tells where the samples really are. Where all of a second are late, samples
    were not asked for meanwhile, and the count begins anew from there.

    Parameters
    ----------
    rate_hz
        Nominal sample rate.
    """

    def __init__(self, rate_hz: float) -> None:
        self._rate_hz = rate_hz
        self._slices: deque[tuple[float, float]] = deque(maxlen=_SLICES)
        self._recent: deque[tuple[float, float]] = deque()

    def saw(self, sample: int, t_s: float) -> bool:
        """A callback at ``t_s`` had come to this sample; whether the count slipped."""
        begin_s = t_s - sample / self._rate_hz
        slipped = self._slipped(t_s, begin_s)
        if slipped:
            self._slices.clear()
            begin_s = min(begin for _, begin in self._recent)
        if not self._slices or t_s - self._slices[-1][0] > _SLICE_S:
            self._slices.append((t_s, begin_s))
        elif begin_s < self._slices[-1][1]:
            self._slices[-1] = (self._slices[-1][0], begin_s)
        return slipped

    def _slipped(self, t_s: float, begin_s: float) -> bool:
        self._recent.append((t_s, begin_s))
        while self._recent[0][0] < t_s - _RECENT_S:
            self._recent.popleft()
        if not self._slices or t_s - self._recent[0][0] < 0.8 * _RECENT_S or len(self._recent) < 3:
            return False
        return min(begin for _, begin in self._recent) > self._begin_s() + _SLIP_S

    def restart(self) -> None:
        """Forget: samples went missing, so what was seen before no longer tells."""
        self._slices.clear()
        self._recent.clear()

    def t_s(self, sample: float) -> float:
        """When a sample was or will be handed over; NaN before any callback."""
        return self._begin_s() + sample / self._rate_hz

    def sample(self, t_s: float) -> float:
        """Which sample is handed over at a time; NaN before any callback."""
        return (t_s - self._begin_s()) * self._rate_hz

    def _begin_s(self) -> float:
        return min((begin for _, begin in tuple(self._slices)), default=float("nan"))

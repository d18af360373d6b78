"""The last seconds of what came in, found again by the time it came, gaps remembered."""

from __future__ import annotations

import time
from collections import deque

import numpy as np
from numpy.typing import NDArray

from pitchwright.bench.live.sample_clock import SampleClock
from pitchwright.bench.live.sound_in import Block, SoundSource, SoundState
from pitchwright.bench.stop import Stop

__all__ = ["Samples", "SoundMemory"]

Samples = NDArray[np.float32]


class SoundMemory:
    """Keeps what a source brings.

    Parameters
    ----------
    source
        Where sound comes from; closing it stays with the caller.
    keep_s
        How far back it remembers, seconds.
    stop
        The wish to stop, looked at each time sound is waited for.
    """

    def __init__(self, source: SoundSource, keep_s: float = 20.0, stop: Stop | None = None) -> None:
        self.source = source
        self._stop = stop or Stop()
        self.rate_hz = source.rate_hz
        self._kept: Samples = np.zeros(
            (round(keep_s * source.rate_hz), source.channels), np.float32
        )
        self._clock = SampleClock(source.rate_hz)
        self._gaps: deque[int] = deque(maxlen=256)
        self._end = self._start = 0
        self.gaps = 0
        """How often samples went missing."""

    @property
    def newest_s(self) -> float:
        """When the newest sample arrived, in seconds of `time.monotonic`; NaN before any."""
        return self._clock.t_s(self._end)

    @property
    def flowing(self) -> bool:
        """Whether the source runs and sound comes."""
        return self.source.state is SoundState.RUNNING

    def pump(self, wait_s: float = 0.05) -> list[Block]:
        """Take in what has come, waiting at most this long for at least something.

        Raises
        ------
        StopAsked
            Where somebody wishes to stop: whatever a bench waits for, it waits here.
        """
        self._stop.look()
        blocks = self.source.read_new(wait_s)
        for block in blocks:
            if block.gap:
                self._gaps.append(block.first)
                self._clock.restart()
                self.gaps += 1
            if block.gap and block.missing == 0 and block.first < self._end:
                continue  # cannot be placed
            self._put(block)
            self._clock.saw(self._end, block.arrived_s)
        return blocks

    def wait_until(self, t_s: float, longest_s: float) -> bool:
        """Take in sound until that of a moment has come; False where it does not come in time."""
        by_s = time.monotonic() + longest_s
        while not self.newest_s >= t_s:
            if time.monotonic() > by_s or not self.flowing:
                return False
            self.pump()
        return True

    def span(self, channel: int, from_s: float, to_s: float) -> Samples | None:
        """The sound of one channel between two moments of `time.monotonic`.

        Returns
        -------
        numpy.ndarray or None
            Shape (n,); None where some of it is missing, forgotten or not there yet.
        """
        first, past = self._clock.sample(from_s), self._clock.sample(to_s)
        if not (self._start <= first < past <= self._end + 1.0):
            return None
        if self._end - first > len(self._kept):
            return None
        begin, end = int(first), min(int(past), self._end)
        if any(begin < gap < end for gap in self._gaps):
            return None
        sound: Samples = self._kept[np.arange(begin, end) % len(self._kept), channel]
        return sound

    def _put(self, block: Block) -> None:
        keep = len(self._kept)
        if self._end == 0:
            self._start = self._end = block.first
        # What was lost stays as silence: no reading reaches over the gap before it.
        lost = min(max(block.first - self._end, 0), keep)
        self._kept[np.arange(block.first - lost, block.first) % keep] = 0.0
        samples = block.samples[-keep:]
        self._end = block.first + len(block.samples)
        self._kept[np.arange(self._end - len(samples), self._end) % keep] = samples

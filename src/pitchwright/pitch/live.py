"""The live tracker: sound in as it comes, a reading twenty times a second.

Pure: it has no clock but the samples it was given. The window that is averaged over grows while
the pitch holds still and shrinks at once when it moves.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pitchwright.pitch.read import HIGH_HZ, LOW_HZ, read
from pitchwright.pitch.reading import FlagKind, Reading

__all__ = ["READINGS_PER_S", "LiveReading", "LiveTracker"]

Array = NDArray[np.float64]

READINGS_PER_S: Final = 20


@dataclass(frozen=True, slots=True)
class LiveReading:
    """What is heard now.

    Attributes
    ----------
    t_s
        The moment the frequency belongs to: the middle of the window, in seconds of samples since
        the tracker began.
    f_hz
        Mean frequency over the window, None where there is no pitch.
    u_cents
        Standard uncertainty in cents (k = 1), sample clock excluded; infinite without a pitch.
    level_dbfs
        RMS level of the newest sound, DC removed, relative to a full-scale sine.
    settled
        Whether the pitch has come to rest, as far as its spread tells.
    clipped
        Whether the newest sound sticks at full scale.
    doubts
        Reasons not to trust it, each a sentence; without a pitch, the reason for that.
    window_s
        How much sound was averaged over, seconds.
    """

    t_s: float
    f_hz: float | None
    u_cents: float
    level_dbfs: float
    settled: bool
    clipped: bool
    doubts: tuple[str, ...]
    window_s: float

    @property
    def end_s(self) -> float:
        """The newest sound that went in, in seconds of samples."""
        return self.t_s + self.window_s / 2


class LiveTracker:
    """Follows the pitch of one channel.

    Parameters
    ----------
    rate_hz
        Sample rate.
    low_hz, high_hz
        Where to search for the fundamental.
    mains_hz
        Mains frequency, 50 or 60; None where it is not known, and both are watched for.
    longest_s
        The window grows no longer than this.
    """

    def __init__(
        self,
        rate_hz: float,
        *,
        low_hz: float = LOW_HZ,
        high_hz: float = HIGH_HZ,
        mains_hz: float | None = None,
        longest_s: float = 2.0,
    ) -> None:
        self.rate_hz = rate_hz
        self._range = low_hz, high_hz, mains_hz
        self._longest = round(longest_s * rate_hz)
        self._hop = round(rate_hz / READINGS_PER_S)
        self._sound = np.zeros(0)
        self._waiting = np.zeros(0)
        self._count = 0

    @property
    def now_s(self) -> float:
        """Seconds of sound since the tracker began, lost samples included."""
        return (self._count + len(self._waiting)) / self.rate_hz

    def push(self, samples: ArrayLike) -> list[LiveReading]:
        """Take the next samples, shape (n,), full scale ±1; return the readings they complete."""
        self._waiting = np.concatenate((self._waiting, np.asarray(samples, dtype=np.float64)))
        found = []
        while len(self._waiting) >= self._hop:
            new, self._waiting = self._waiting[: self._hop], self._waiting[self._hop :]
            self._sound = np.concatenate((self._sound, new))[-self._longest :]
            self._count += len(new)
            found.append(self._read())
        return found

    def gap(self, missing: int = 0) -> None:
        """Throw the window away: ``missing`` samples were lost before the next ones."""
        self._count += len(self._waiting) + missing
        self._sound = np.zeros(0)
        self._waiting = np.zeros(0)

    def careful(self, since_s: float = 0.0) -> Reading:
        """Read the resting pitch as carefully as the window allows.

        Parameters
        ----------
        since_s
            Sound from before this moment (seconds of samples) does not count.
        """
        low_hz, high_hz, mains_hz = self._range
        most = max(0, self._count - math.ceil(since_s * self.rate_hz))
        sound = self._sound[-most:] if most else self._sound[:0]
        return read(sound, self.rate_hz, low_hz=low_hz, high_hz=high_hz, mains_hz=mains_hz)

    def _read(self) -> LiveReading:
        low_hz, high_hz, mains_hz = self._range
        reading = read(
            self._sound[-round(0.25 * self.rate_hz) :],
            self.rate_hz,
            low_hz=low_hz,
            high_hz=high_hz,
            mains_hz=mains_hz,
        )
        window_s = min(0.25, len(self._sound) / self.rate_hz)
        return LiveReading(
            self._count / self.rate_hz - window_s / 2,
            reading.f_hz,
            reading.u_cents,
            reading.level_dbfs,
            reading.f_hz is not None and not reading.has(FlagKind.UNSTEADY),
            reading.has(FlagKind.CLIPPED),
            tuple(flag.reason for flag in reading.flags),
            window_s,
        )

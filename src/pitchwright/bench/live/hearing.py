"""Hearing: many channels at once, each followed by a tracker of its own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pitchwright.bench.live.sound_in import SoundSource, SoundState
from pitchwright.pitch.live import LiveReading, LiveTracker
from pitchwright.pitch.reading import Reading

__all__ = ["HeardNow", "Hearing"]


@dataclass(frozen=True, slots=True)
class HeardNow:
    """One live reading of one channel.

    Attributes
    ----------
    name
        The channel's name.
    reading
        As the tracker gave it; its uncertainty leaves the clock out.
    u_cents
        Standard uncertainty with the clock's tolerance (rectangular) or the reference's own.
    ratio
        Frequency over the reference channel's, None without one or while it is not heard.
    arrived_s
        ``time.monotonic`` when its newest sound had arrived.
    """

    name: str
    reading: LiveReading
    u_cents: float
    ratio: float | None
    arrived_s: float


class Hearing:
    """Follows the channels of a source.

    Parameters
    ----------
    source
        Where sound comes from; closing it stays with the caller.
    names
        One name a channel of the source, in order; an empty name is not followed.
    reference
        Name of a channel that holds an oscillator left alone, None for the computer's clock.
    clock_ppm
        Tolerance of the computer's clock in parts per million.
    mains_hz
        50 or 60; None where it is not known.
    """

    def __init__(
        self,
        source: SoundSource,
        names: Sequence[str],
        *,
        reference: str | None = None,
        clock_ppm: float = 50.0,
        mains_hz: float | None = None,
    ) -> None:
        self._source = source
        self._reference, self._clock_ppm = reference, clock_ppm
        self._trackers = {
            name: (place, LiveTracker(source.rate_hz, mains_hz=mains_hz))
            for place, name in enumerate(names)
            if name
        }
        self.gaps = 0

    @property
    def now_s(self) -> float:
        """The source's sample clock: seconds of sound that went in, lost samples included."""
        return max(tracker.now_s for _, tracker in self._trackers.values())

    @property
    def state(self) -> SoundState:
        """What the source is doing."""
        return self._source.state

    def tracker(self, name: str) -> LiveTracker:
        """The tracker of a channel, for a careful take."""
        return self._trackers[name][1]

    def update(self, wait_s: float = 0.1) -> list[HeardNow]:
        """Take in what has come; the readings it completes, in order of time."""
        found = []
        for block in self._source.read_new(wait_s):
            self.gaps += block.gap
            for name, (place, tracker) in self._trackers.items():
                if block.gap:
                    tracker.gap(block.missing)
                for reading in tracker.push(block.samples[:, place]):
                    found.append(HeardNow(name, reading, reading.u_cents, None, block.arrived_s))
        return sorted(found, key=lambda heard: heard.reading.end_s)

    def take(
        self,
        names: Sequence[str],
        *,
        wanted_u_cents: float = 0.02,
        most_s: float = 3.0,
        from_s: float = 0.0,
    ) -> dict[str, Reading]:
        """Wait for a careful reading of each of these channels.

        Parameters
        ----------
        names
            Of the channels.
        wanted_u_cents, most_s, from_s
            As in :class:`~pitchwright.pitch.live_take.CarefulTake`.
        """
        raise NotImplementedError

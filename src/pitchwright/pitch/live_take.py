"""One careful reading out of a live stream: as soon as it is good enough, or at the deadline."""

from __future__ import annotations

from collections.abc import Iterable

from pitchwright.pitch.live import LiveReading, LiveTracker
from pitchwright.pitch.reading import Reading

__all__ = ["CarefulTake"]


class CarefulTake:
    """Waits until a pitch has settled and is known well enough, then reads it carefully.

    Parameters
    ----------
    tracker
        Whose sound is read.
    wanted_u_cents
        Standard uncertainty that is good enough.
    from_s
        Sound from before this moment (seconds of samples) does not count: the note had not
        arrived.
    most_s
        Read what there is once this much sound has passed since ``from_s``.
    """

    def __init__(
        self,
        tracker: LiveTracker,
        *,
        wanted_u_cents: float = 0.02,
        from_s: float = 0.0,
        most_s: float = 3.0,
    ) -> None:
        self._tracker = tracker
        self._wanted_u_cents = wanted_u_cents
        self._from_s, self._until_s = from_s, from_s + most_s

    def offer(self, readings: Iterable[LiveReading]) -> Reading | None:
        """Look at the tracker's newest readings; the careful reading once it is due, else None."""
        due = False
        for reading in readings:
            known = reading.settled and reading.u_cents <= self._wanted_u_cents
            due |= known and reading.end_s - reading.window_s >= self._from_s
            due |= reading.end_s >= self._until_s
        return self._tracker.careful(self._from_s) if due else None

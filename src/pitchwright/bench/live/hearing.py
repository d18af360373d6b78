"""Hearing: many channels at once, each followed by a tracker of its own.

With a reference channel, an oscillator left alone, frequencies become ratios to it and the
computer's clock drops out; without one the clock's tolerance is in every uncertainty.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from pitchwright.bench.live.elsewhere import Elsewhere
from pitchwright.bench.live.sound_in import SoundSource, SoundState
from pitchwright.errors import InputError
from pitchwright.pitch.live import LiveReading, LiveTracker
from pitchwright.pitch.reading import Reading
from pitchwright.units import cents_between, cents_from_ppm

__all__ = ["Beside", "HeardNow", "Hearing"]

_TRY_AGAIN_S: Final = 1.0
_STILL_THE_SAME_S: Final = 0.3
_NEAR_CENTS: Final = 300.0


@dataclass(frozen=True, slots=True)
class Beside:
    """A frequency beside the reference oscillator's.

    Attributes
    ----------
    ratio
        Frequency over the reference's.
    cents
        Away from the nearest octave of the reference.
    beats_hz
        Beats per second against that octave, None where that is too far off to beat.
    """

    ratio: float
    cents: float
    beats_hz: float | None

    @classmethod
    def of(cls, f_hz: float, reference_hz: float) -> Beside:
        """Compare two frequencies."""
        ratio = f_hz / reference_hz
        octaves = round(math.log2(ratio))
        cents = cents_between(f_hz, reference_hz * 2.0**octaves)
        # The harmonics that lie closest together beat: the lowest common ones.
        higher = f_hz * 2.0 ** max(0, -octaves)
        other = reference_hz * 2.0 ** max(0, octaves)
        beats = abs(higher - other) if abs(cents) <= _NEAR_CENTS else None
        return cls(ratio, cents, beats)


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
        Standard uncertainty with the clock's tolerance, or, beside a reference, with the
        reference's own uncertainty instead; infinite without a pitch.
    beside
        Beside the reference channel; None without one, or while it is not heard.
    arrived_s
        ``time.monotonic`` when its newest sound had arrived.
    """

    name: str
    reading: LiveReading
    u_cents: float
    beside: Beside | None
    arrived_s: float


class Hearing:
    """Follows the channels of a source.

    Parameters
    ----------
    source
        Where sound comes from; closing it stays with the caller.
    names
        One name a channel of the source, in order.
    others
        Names of the source's channels after those, on which nothing is meant to sound: where one
        of ``names`` is silent and one of these is not, that is said.
    reference
        Name of the channel that holds an oscillator left alone, None for the computer's clock.
    clock_ppm
        Standard uncertainty of the computer's clock in parts per million.
    mains_hz
        50 or 60; None where it is not known.
    say
        Is given sentences about the source: lost, back, samples missing.

    Raises
    ------
    InputError
        Where two channels have the same name, or none has the reference's.
    """

    def __init__(
        self,
        source: SoundSource,
        names: Sequence[str],
        *,
        others: Sequence[str] = (),
        reference: str | None = None,
        clock_ppm: float = 50.0,
        mains_hz: float | None = None,
        say: Callable[[str], None] = lambda _: None,
    ) -> None:
        if len(set(names)) < len(names):
            raise InputError("Two channels have the same name", do="Name each differently")
        if reference is not None and reference not in names:
            raise InputError(
                f"There is no channel called “{reference}” for a reference",
                do=f"There are: {', '.join(names)}",
            )
        self._source, self._say = source, say
        self._reference = reference
        # The reference comes first, so that what belongs together is compared.
        self._order = sorted(range(len(names)), key=lambda place: names[place] != reference)
        self._names = tuple(names)
        self._trackers = [LiveTracker(source.rate_hz, mains_hz=mains_hz) for _ in names]
        self._elsewhere = Elsewhere(source.rate_hz, names, others)
        self._u_clock_cents = cents_from_ppm(clock_ppm)
        self._latest: LiveReading | None = None
        self._away = SoundState.RUNNING
        self._tried_s = 0.0
        self.gaps = 0
        """How often samples were missing so far."""

    def update(self, wait_s: float = 0.1) -> list[HeardNow]:
        """Take in what has come; the readings it completes, in order of time.

        A source that is gone is said to be, and tried again once a second.
        """
        found: list[HeardNow] = []
        for block in self._source.read_new(wait_s):
            if block.gap:
                self.gaps += 1
                self._say("Some of the sound was lost; what was heard before it does not count.")
                self._elsewhere.start_again()
                for tracker in self._trackers:
                    tracker.gap(block.missing)
            for sentence in self._elsewhere.take(block.samples):
                self._say(sentence)
            for place in self._order:
                readings = self._trackers[place].push(block.samples[:, place])
                found += [self._heard(self._names[place], one, block.arrived_s) for one in readings]
        self._look_after()
        return sorted(found, key=lambda heard: heard.reading.end_s)

    def take(self, *, wanted_u_cents: float = 0.02, most_s: float = 5.0) -> dict[str, Reading]:
        """One careful reading of each channel, as soon as it is good enough or time is up.

        Parameters
        ----------
        wanted_u_cents
            A settled pitch known as well as this is read at once (standard uncertainty, clock
            excluded).
        most_s
            Read what there is after so many seconds.

        Raises
        ------
        InputError
            Where no sound arrives.
        """
        taken: dict[str, Reading] = {}
        until = time.monotonic() + most_s
        while len(taken) < len(self._names):
            over = time.monotonic() > until or self._source.state is SoundState.ENDED
            good = {
                one.name
                for one in self.update(0.05)
                if one.reading.settled and one.reading.u_cents <= wanted_u_cents
            }
            for name, tracker in zip(self._names, self._trackers, strict=True):
                if name not in taken and (over or name in good):
                    if tracker.now_s == 0.0:
                        raise InputError(
                            "No sound arrives, not even silence",
                            do="Check that the interface is connected and the sound server runs",
                        )
                    taken[name] = tracker.careful()
        return taken

    def _heard(self, name: str, reading: LiveReading, arrived_s: float) -> HeardNow:
        if name == self._reference:
            self._latest = reading
            return HeardNow(name, reading, reading.u_cents, None, arrived_s)
        u_cents = math.hypot(reading.u_cents, self._u_clock_cents)
        reference = self._latest
        if reading.f_hz is None or reference is None or reference.f_hz is None:
            return HeardNow(name, reading, u_cents, None, arrived_s)
        if abs(reference.t_s - reading.t_s) > max(_STILL_THE_SAME_S, reference.window_s):
            return HeardNow(name, reading, u_cents, None, arrived_s)
        beside = Beside.of(reading.f_hz, reference.f_hz)
        u_cents = math.hypot(reading.u_cents, reference.u_cents)
        return HeardNow(name, reading, u_cents, beside, arrived_s)

    def _look_after(self) -> None:
        """Say what became of the source, and try to get it back."""
        state = self._source.state
        if state is SoundState.ENDED:
            return
        if state is SoundState.RUNNING:
            if self._away is not SoundState.RUNNING:
                self._say("The sound is back.")
            self._away = state
            return
        if self._away is SoundState.RUNNING:
            self._say(
                "The sound input is gone; it is tried again until it is back."
                if state is SoundState.LOST
                else "No sound arrives any more, not even silence; the input is opened again."
            )
        self._away = state
        now_s = time.monotonic()
        if now_s - self._tried_s >= _TRY_AGAIN_S:
            self._tried_s = now_s
            self._source.reopen()

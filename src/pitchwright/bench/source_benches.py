"""Benches on which a source is what is trimmed: heard through a trusted oscillator, or by meter.

To a guided trim the source looks like an oscillator: what it is asked for it answers in hertz, as
a perfect oscillator would play the voltage.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from pitchwright.bench.practice import PracticeBench
from pitchwright.bench.runner import Bench
from pitchwright.ensemble import Meter, Voltage
from pitchwright.ensemble.source_curve import points_of_voltages
from pitchwright.practice.trimmable_source import TrimmableSource
from pitchwright.procedures.requests import (
    Ask,
    Chosen,
    Ended,
    Heard,
    NotePlayed,
    PlayNote,
    ReadingsTaken,
    TakeReadings,
    TrackPoint,
    TurnWatched,
    Wait,
    Waited,
    WatchTurn,
)
from pitchwright.tracking import TargetCurve
from pitchwright.trim.kinds import TrimmerKind
from pitchwright.trim.trimmer import Known, Trimmer
from pitchwright.units import cv_of_note, note_name, ratio_of_cents

__all__ = ["ByMeter", "PracticeSourceBench", "ThroughTrusted", "source_trimmers"]


def source_trimmers() -> tuple[Trimmer, ...]:
    """Base and scale of a source's output; its scale leaves 0 V alone."""
    at_0_v = Known(at_zero_volts=True)
    return (
        Trimmer(TrimmerKind.BASE_FINE.entry.called, TrimmerKind.BASE_FINE),
        Trimmer(TrimmerKind.SCALE.entry.called, TrimmerKind.SCALE, known=at_0_v),
    )


class ThroughTrusted:
    """A bench that hears a source through an oscillator whose own curve is known.

    Parameters
    ----------
    inner
        The bench that hears the oscillator.
    source, trusted
        Names of the source, and of the oscillator it plays.
    curve
        The oscillator's own curve, as measured with a source known to be right.
    """

    def __init__(self, inner: Bench, source: str, trusted: str, curve: TargetCurve) -> None:
        self.inner = inner
        self._source, self._trusted, self._curve = source, trusted, curve

    def now_s(self) -> float:
        """Return the clock in seconds."""
        return self.inner.now_s()

    def play(self, request: PlayNote) -> NotePlayed:
        """Have the note sound."""
        return self.inner.play(request)

    def listen(self, request: TakeReadings) -> ReadingsTaken:
        """Read the oscillator, and take its own curve out."""
        asked = replace(request, oscillators=(self._trusted,))
        heard = self.inner.listen(asked).heard
        return ReadingsTaken(tuple(self._of_source(one, request.note) for one in heard))

    def watch(self, request: WatchTurn, live: Callable[[TrackPoint], None]) -> TurnWatched:
        """Have a trimmer of the source turned; aims are shifted by the oscillator's own curve."""
        own = self._curve.cents_at(request.note)
        asked = replace(
            request,
            oscillator=self._trusted,
            start_cents=request.start_cents + own,
            aim_cents=request.aim_cents + own,
            low_cents=request.low_cents + own,
            high_cents=request.high_cents + own,
        )
        watched = self.inner.watch(
            asked, lambda point: live(TrackPoint(point.t_s, point.cents - own))
        )
        return replace(
            watched,
            after=self._of_source(watched.after, request.note),
            track=tuple(TrackPoint(point.t_s, point.cents - own) for point in watched.track),
        )

    def choose(self, request: Ask) -> Chosen:
        """Have the person choose."""
        return self.inner.choose(request)

    def pass_time(self, request: Wait) -> Waited:
        """Let time pass."""
        return self.inner.pass_time(request)

    def _of_source(self, heard: Heard, note: float) -> Heard:
        if heard.f_hz is None:
            return replace(heard, oscillator=self._source)
        return replace(
            heard,
            oscillator=self._source,
            f_hz=heard.f_hz * ratio_of_cents(-self._curve.cents_at(note)),
            u_cents=math.hypot(heard.u_cents, self._curve.u_at(note)),
        )


class ByMeter:
    """A bench on which a person reads a voltmeter and types what it shows.

    Parameters
    ----------
    source
        Name of the source.
    meter
        How good the voltmeter is.
    read_v
        Asks for a voltage: given a sentence, and whether nothing may be answered (the person is
        content); what was typed, or None for nothing.
    say
        Is given sentences for the person.
    clock
        Seconds, never falling.
    note_at_0_v
        The note that 0 V plays.
    """

    def __init__(
        self,
        source: str,
        meter: Meter,
        read_v: Callable[[str, bool], float | None],
        say: Callable[[str], None],
        clock: Callable[[], float],
        note_at_0_v: float,
    ) -> None:
        self._source, self._meter, self._note_at_0_v = source, meter, note_at_0_v
        self._read_v, self._say, self._clock = read_v, say, clock

    def now_s(self) -> float:
        """Return the clock in seconds."""
        return self._clock()

    def play(self, request: PlayNote) -> NotePlayed:
        """Ask the person to play the note."""
        self._say(request.sentence)
        return NotePlayed(self._clock())

    def listen(self, request: TakeReadings) -> ReadingsTaken:
        """Ask for the voltage of the note."""
        wanted = cv_of_note(request.note, self._note_at_0_v)
        asked = f"Volts at {note_name(request.note)} ({wanted:.4f} would be right): "
        return ReadingsTaken((self._heard(request.note, self._read_v(asked, False)),))

    def watch(self, request: WatchTurn, live: Callable[[TrackPoint], None]) -> TurnWatched:
        """Ask for voltages while the person turns, until nothing is typed."""
        right = cv_of_note(request.note, self._note_at_0_v)
        aim_v = right + request.aim_cents / 1200.0
        self._say(
            f"On the meter that is {aim_v:.4f} V, give or take {request.window_cents / 1.2:.1f} mV."
        )
        track: list[TrackPoint] = []
        volts: float | None = None
        while True:
            typed = self._read_v(f"Volts now (aim {aim_v:.4f}); Enter when it is there: ", True)
            if typed is None and volts is not None:
                break
            if typed is None:
                continue
            volts = typed
            point = TrackPoint(self._clock(), 1200.0 * (volts - right))
            track.append(point)
            live(point)
        cents = track[-1].cents
        if abs(cents - request.aim_cents) <= request.window_cents:
            ended = Ended.INSIDE
        elif len(track) > 1 and abs(cents - request.start_cents) < 0.2:
            ended = Ended.STILL
        else:
            ended = Ended.OUTSIDE
        return TurnWatched(ended, self._heard(request.note, volts), tuple(track))

    def choose(self, request: Ask) -> Chosen:
        """The usual answer: a voltmeter asks for enough already."""
        return Chosen(request.default)

    def pass_time(self, request: Wait) -> Waited:
        """The person is in no hurry."""
        del request
        return Waited(self._clock())

    def _heard(self, note: float, volts: float | None) -> Heard:
        if volts is None:
            return Heard(self._source, self._clock(), None, 0.0)
        voltage = Voltage(self._source, note, volts, self._note_at_0_v)
        (point,) = points_of_voltages([voltage], self._meter)
        return Heard(self._source, self._clock(), point.f_hz, point.u_cents)


@dataclass(slots=True)
class PracticeSourceBench(PracticeBench):
    """A practice bench on which the trimmers of the source turn, not those of the oscillator.

    Attributes
    ----------
    trimmable
        The source as it stands now; turning replaces it.
    """

    trimmable: TrimmableSource | None = field(default=None, kw_only=True)

    def turn(self, trimmer: str, turns: float) -> None:
        """Turn a trimmer of the source, clockwise positive."""
        assert self.trimmable is not None
        for kind in [one.kind for one in self.trimmable.trimmers]:
            if kind.entry.called == trimmer:
                self.trimmable = self.trimmable.turned(kind, turns)
        self.source = self.trimmable.now

    def bump(self, cents: float) -> None:
        """Knock the source's base knob."""
        assert self.trimmable is not None
        knocked = replace(
            self.trimmable.source, offset_v=self.trimmable.source.offset_v + cents / 1200.0
        )
        self.trimmable = replace(self.trimmable, source=knocked)
        self.source = self.trimmable.now

    def within_reach(self) -> tuple[str, ...]:
        """Names of the trimmers that a screwdriver can be in."""
        assert self.trimmable is not None
        return tuple(one.kind.entry.called for one in self.trimmable.trimmers)

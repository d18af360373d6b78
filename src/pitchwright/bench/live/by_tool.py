"""Notes that the tool plays itself: when their sound is there, and when the next may be sent.

Theory of operation. A note's sound is here a delay after it left; the delay is learned from one
change of pitch (``delay``). From the order of notes that is expected, each is sent as soon as the
one before has been held long enough to be read (``ahead``), so that the delay costs its length
once. Where a note has to be read again, what was sent ahead is given up, it is played anew, and the
others follow. How long a note takes to settle is learned too: it is lengthened where a reading was
still moving.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence

from pitchwright.bench.live.ahead import Ahead
from pitchwright.bench.live.delay import change_of_level, change_of_pitch
from pitchwright.bench.live.notes import NotePlayer, Sent
from pitchwright.bench.live.playing import NotFollowedError, SoundLostError, Window
from pitchwright.bench.live.sound_memory import SoundMemory
from pitchwright.bench.stop import Stop
from pitchwright.errors import InputError
from pitchwright.pitch import read
from pitchwright.pitch.reading import FlagKind
from pitchwright.units import cents_between

__all__ = ["ByTool"]

_MARGIN_S = 0.05
"""Kept free at both ends of a note: the delay is known to about a period, and a callback's time."""
_BEFORE_S, _SHORT_S = 0.6, 0.18
_LONGEST_DELAY_S = 6.0
_CHANGED_CENTS, _FAR_CENTS, _STEP = 40.0, 700.0, 16.0
"""A change has come; a change from which the moment can be told closely."""
_SETTLE_S, _LONGEST_SETTLE_S = 0.06, 3.0


class ByTool:
    """Plays notes through a player, and knows when they are heard.

    Parameters
    ----------
    player
        What plays them.
    memory
        What is heard.
    channels
        Column of each oscillator.
    length_s
        How much sound a note's reading takes, asked for at each.
    voltage
        Column on which the control voltage itself comes in, None where it does not.
    stop
        The wish to stop, looked at while a note is waited for.
    """

    learns_delay = True
    kept = None
    sure = False
    """Nobody says of a note that the tool plays what it is; and none is played beforehand."""

    def __init__(
        self,
        player: NotePlayer,
        memory: SoundMemory,
        channels: Mapping[str, int],
        length_s: Callable[[float], float],
        voltage: tuple[SoundMemory, int] | None = None,
        stop: Stop | None = None,
    ) -> None:
        self._player = player
        self._stop = stop or Stop()
        self._memory, self._channels, self._length_s = memory, channels, length_s
        self._voltage = voltage
        self._expected: list[tuple[float, float]] = []
        self._ahead: Ahead | None = None
        self._now: Sent | None = None
        self._not_before_s = 0.0
        self._missed = 0
        self._longest_s = _LONGEST_DELAY_S
        self._in_flight_s = 0.0
        self.settle_s = _SETTLE_S
        self.delay_s: float | None = None
        """From sending a note until its sound is here; None before it was learned."""
        self.voltage_delay_s = 0.0

    @property
    def alive(self) -> bool:
        """Whether the player is still there."""
        return self._player.alive

    def expect(self, notes: Sequence[tuple[float, float]]) -> None:
        """The order in which notes will be asked for, with their voltages."""
        self._give_up_ahead()
        self._expected = list(notes)

    def play(self, note: float, cv_v: float) -> None:
        """Have a note on its way; it may have left already."""
        if self._ahead is not None and self._ahead.waits_for(note):
            self._now = self._ahead.take()
        else:
            self._give_up_ahead()
            self._send(note, cv_v)
            self._go_ahead(note)
        self._not_before_s = 0.0
        self._missed = self._misses()

    def again(self, note: float, cv_v: float) -> None:
        """Have the note that was just played sound once more, or still."""
        if self._ahead is None and self._now is not None and self._now.note == note:
            self._not_before_s = self._memory.newest_s
        else:
            self._send_again(note, cv_v)
        self._missed = self._misses()

    def hold(self, note: float, cv_v: float) -> None:
        """Have a note sound and stay until another is played."""
        stays = self._ahead is None and self._now is not None and self._now.note == note
        if not stays:
            self._give_up_ahead()
            self._expected = []
            self._send(note, cv_v)

    def window(self) -> Window:
        """When the note can be heard; only its sound lies in there."""
        assert self._now is not None
        assert self.delay_s is not None
        from_s = self._now.t_s + self.delay_s + _MARGIN_S + self.settle_s
        until_s = float("inf")
        if self._ahead is not None:
            until_s = self._ahead.gave_way_s() + self.delay_s - _MARGIN_S
        return Window(max(from_s, self._not_before_s), until_s)

    def voltage_window(self) -> Window | None:
        """When the note's own voltage is there, at the input that measures it."""
        heard = self.window()
        assert self.delay_s is not None
        earlier_s = self.delay_s - self.voltage_delay_s
        return Window(heard.from_s - earlier_s, heard.until_s - earlier_s)

    def disturbed(self) -> bool:
        """Whether the player itself has faltered since the note was played."""
        return self._misses() > self._missed

    def unsettled(self) -> None:
        """A reading was still moving: wait longer from now on."""
        self.settle_s = min(max(2.0 * self.settle_s, 0.1), _LONGEST_SETTLE_S)

    def turned(self, note: float, f_hz: float) -> None:
        """Where a note sounds says nothing of when it comes."""

    def reopen(self) -> None:
        """Take hold of the player again; InputError where it is still gone."""
        self._player.reopen()

    def relearn(self, note: float, cv_v: float) -> None:
        """Forget the delay (a device was away, or notes come at another time) and play again."""
        if self.delay_s is not None:
            # Notes sent before are still to be heard; none of them may be taken for the next.
            self._in_flight_s = 1.3 * self.delay_s + 0.3
        self.delay_s = None
        self._send_again(note, cv_v)
        self._missed = self._misses()

    def close(self) -> None:
        """Send no more, and let go of the player."""
        try:
            self._give_up_ahead()
        finally:
            self._player.close()

    # ------------------------------------------------------------------ sending

    def _send(self, note: float, cv_v: float) -> None:
        if self.delay_s is None:
            self._now = self._learn(note, cv_v)
        else:
            self._now = Sent(note, cv_v, self._player.play(note, cv_v))

    def _send_again(self, note: float, cv_v: float) -> None:
        if self._ahead is not None:
            self._expected = [(note, cv_v), *self._ahead.stop()]
            self._ahead = None
        self._send(note, cv_v)
        self._not_before_s = 0.0
        self._go_ahead(note)

    def _go_ahead(self, note: float) -> None:
        """Send what is expected after this note, if it is where the order has come to."""
        if len(self._expected) < 2 or self._expected[0][0] != note or self._now is None:
            return
        rest, self._expected = self._expected[1:], []
        self._ahead = Ahead(self._player, rest, self._hold_s, self._now, self._stop)

    def _give_up_ahead(self) -> None:
        if self._ahead is not None:
            self._ahead.stop()
            self._ahead = None

    def _hold_s(self, note: float) -> float:
        return self.settle_s + self._length_s(note) + 2.0 * _MARGIN_S + 0.02

    def _misses(self) -> int:
        return int(getattr(self._player, "missed", 0))

    # ------------------------------------------------------------------ the delay

    def _learn(self, note: float, cv_v: float) -> Sent:
        """Play a note and learn the delay; the note sounds afterwards."""
        away = -_STEP if cv_v > 3.0 else _STEP
        other = (note + away, cv_v + away / 12.0)
        for step in ((note, cv_v), other):
            name, before_hz = self._heard_before()
            sent = Sent(*step, self._player.play(*step))
            after_hz = self._heard_after(name, before_hz, sent)
            if name is None or before_hz is None or after_hz is None:
                continue
            if self._measured(name, before_hz, after_hz, sent):
                if step[0] == note:
                    return sent
                return Sent(note, cv_v, self._player.play(note, cv_v))
        raise NotFollowedError(
            "What sounds does not follow the notes that are played",
            self._player.name,
            "Check that the notes reach the oscillator and its sound the right input channel",
        )

    def _heard_before(self) -> tuple[str | None, float | None]:
        """Which oscillator sounds steadily now, and at which frequency."""
        since_s, self._in_flight_s = time.monotonic() + self._in_flight_s, 0.0
        while not self._memory.newest_s > since_s + _BEFORE_S:
            self._pump()
            if time.monotonic() > since_s + _BEFORE_S + _LONGEST_DELAY_S:
                raise SoundLostError
        for name, column in self._channels.items():
            f_hz = self._short(column, self._memory.newest_s, 2.0 * _SHORT_S)
            if f_hz is not None:
                return name, f_hz
        return None, None

    def _heard_after(self, name: str | None, before_hz: float | None, sent: Sent) -> float | None:
        """Wait until another pitch sounds steadily; None where none comes."""
        last_hz: float | None = None
        while self._memory.newest_s < sent.t_s + self._longest_s:
            until_s = self._memory.newest_s + 0.7 * _SHORT_S
            while self._memory.newest_s < until_s:
                self._pump()
            columns = [self._channels[name]] if name else list(self._channels.values())
            here = [self._short(column, self._memory.newest_s, _SHORT_S) for column in columns]
            f_hz = next((one for one in here if one is not None), None)
            moved = f_hz is not None and (
                before_hz is None or abs(cents_between(f_hz, before_hz)) > _CHANGED_CENTS
            )
            if not moved or f_hz is None:
                last_hz = None
                continue
            if last_hz is not None and abs(cents_between(f_hz, last_hz)) < 3.0:
                return f_hz
            last_hz = f_hz
        return None

    def _measured(self, name: str, before_hz: float, after_hz: float, sent: Sent) -> bool:
        newest_s = self._memory.newest_s
        from_s = max(sent.t_s - 0.2, newest_s - 1.5)
        sound = self._memory.span(self._channels[name], from_s, newest_s)
        if sound is None:
            return False
        at = change_of_pitch(sound, self._memory.rate_hz, before_hz, after_hz)
        if at is None or abs(cents_between(after_hz, before_hz)) < _FAR_CENTS:
            return False
        delay_s = from_s + at / self._memory.rate_hz - sent.t_s
        if self._voltage is not None:
            memory, column = self._voltage
            memory.pump(0.0)
            level = memory.span(column, sent.t_s - 0.2, memory.newest_s)
            step = None if level is None else change_of_level(level)
            if step is None:
                raise InputError(
                    "The voltage at the voltage input does not follow the notes",
                    self._player.name,
                    "Check which channel it comes in on, and that the input is DC-coupled",
                )
            self.voltage_delay_s = step / memory.rate_hz - 0.2
        self.delay_s = delay_s
        self._longest_s = max(3.0, 2.0 * delay_s + 1.0)
        return True

    def _short(self, column: int, until_s: float, length_s: float) -> float | None:
        sound = self._memory.span(column, until_s - length_s, until_s)
        if sound is None:
            return None
        reading = read(sound, self._memory.rate_hz)
        return None if reading.has(FlagKind.UNSTEADY) else reading.f_hz

    def _pump(self) -> None:
        self._memory.pump()
        if self._voltage is not None and self._voltage[0] is not self._memory:
            self._voltage[0].pump(0.0)
        if not self._memory.flowing:
            raise SoundLostError

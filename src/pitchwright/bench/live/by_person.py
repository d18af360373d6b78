"""Notes that a person plays: said which, waited for, recognised whichever comes.

A person may play in any order. What comes is recognised by its pitch, the oscillator's own error
and the width of its scale allowed for; another note that is wanted later is kept for then, one that
is not wanted is said at once. But nobody is refused for ever: the program knows less of an
oscillator that is far off than the person whose finger is on the key. Who holds on, or presses
Enter, is believed.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping, Sequence

import numpy as np

from pitchwright.bench.live.expecting import Expecting
from pitchwright.bench.live.playing import Kept, SoundLostError, Window
from pitchwright.bench.live.sound_memory import SoundMemory
from pitchwright.pitch import read
from pitchwright.pitch.reading import FlagKind
from pitchwright.units import cents_between, note_name, note_to_hz

__all__ = ["ByPerson"]

_NEAR_CENTS, _STEADY_CENTS, _STALE_CENTS = 60.0, 8.0, 20.0
_HELD_S, _KEPT_S, _UNCLEAR_S = 0.4, 1.0, 1.5
_INSISTS_S, _NO_OTHER_S = 3.0, 8.0
"""Held so long, a note that may be the one asked for is; and so long, any is, with its doubt."""
_LOUD = 0.003
_LOOK_S, _SHORT_S = 0.12, 0.25


class ByPerson:
    """Waits for notes.

    Parameters
    ----------
    memory
        What is heard.
    channels
        Column of each oscillator; the first that sounds is listened to.
    say
        Is given sentences for the person.
    a4_hz
        Pitch of A4.
    word
        Set where the person says that what sounds is the note asked for.
    """

    alive = True
    learns_delay = False

    def __init__(
        self,
        memory: SoundMemory,
        channels: Mapping[str, int],
        say: Callable[[str], None],
        a4_hz: float,
        word: threading.Event,
    ) -> None:
        self._memory, self._columns, self._say = memory, list(channels.values()), say
        self._a4_hz, self._word = a4_hz, word
        self.sure = False
        self._expecting = Expecting(a4_hz)
        self._wanted: list[float] = []
        self._kept: dict[float, Kept] = {}
        self.kept: Kept | None = None
        """What is to be read instead of what sounds now."""
        self._window = Window(0.0, float("inf"))

    def expect(self, notes: Sequence[tuple[float, float]]) -> None:
        """Which notes will be asked for."""
        self._wanted = [note for note, _ in notes]

    def play(self, note: float, cv_v: float) -> None:
        """Ask for a note and wait until it is held; or take what was kept of it."""
        del cv_v
        if self._wanted and self._wanted[0] == note:
            self._wanted.pop(0)
        self.sure = False
        self.kept = self._kept.pop(note, None)
        if self.kept is None:
            self._window = self._wait_for(note)

    def again(self, note: float, cv_v: float) -> None:
        """Listen on while the person holds the note; ask for it again where it was let go."""
        del cv_v
        if self.kept is not None or not self._sounds_now(note):
            self.kept = None
            self._window = self._wait_for(note)
        else:
            self._window = Window(self._memory.newest_s, float("inf"))

    def hold(self, note: float, cv_v: float) -> None:
        """The note must sound while a trimmer is turned."""
        del cv_v
        self.kept = None
        self._wanted = []
        if not self._sounds_now(note):
            self._wait_for(note)
        self._window = Window(self._memory.newest_s, float("inf"))

    def relearn(self, note: float, cv_v: float) -> None:
        """After a device was away: the note once more."""
        del cv_v
        self.kept = None
        self._window = self._wait_for(note)

    def window(self) -> Window:
        """When the note sounds."""
        return self._window

    def disturbed(self) -> bool:
        """A player that falters is heard in the sound itself."""
        return False

    def unsettled(self) -> None:
        """A person holds a note as long as it takes."""

    def voltage_window(self) -> Window | None:
        """Nobody sends a voltage that could be measured."""
        return None

    def turned(self, note: float, f_hz: float) -> None:
        """A trimmer has moved the pitch: only the note it was turned at tells."""
        self._expecting.only(note, f_hz)

    def reopen(self) -> None:
        """A person is not taken hold of."""

    def close(self) -> None:
        """Nothing to let go of."""

    def _wait_for(self, wanted: float) -> Window:
        self._say(f"Play {note_name(wanted)} and hold it.")
        stale_hz = self._sounding()
        last_hz: float | None = None
        since_s = 0.0
        told: int | None = None
        unclear_s = 0.0
        self.sure = False
        self._word.clear()
        while True:
            self._look_later()
            f_hz = self._sounding()
            unclear_s = 0.0 if f_hz is not None else unclear_s + _LOOK_S
            if unclear_s > _UNCLEAR_S and self._loud():
                self._say("No single note can be heard: do two sound at once, or does it move?")
                unclear_s = -60.0
            if f_hz is None or last_hz is None or _apart(f_hz, last_hz) > _STEADY_CENTS:
                last_hz, since_s = f_hz, self._memory.newest_s - _SHORT_S
                continue
            last_hz = f_hz
            for_s = self._memory.newest_s - since_s
            if for_s < _HELD_S:
                continue
            if self._word.is_set():
                self._word.clear()
                if self._expecting.stayed(wanted, f_hz):
                    self._say(f"That still is the note before; {note_name(wanted)} is wanted.")
                else:
                    self.sure = True
            if self.sure or self._off(wanted, f_hz) < _NEAR_CENTS:
                self._expecting.heard(wanted, f_hz, good=True)
                return Window(since_s, float("inf"))
            if stale_hz is not None and _apart(f_hz, stale_hz) < _STALE_CENTS:
                continue  # it sounded before anything was asked for
            stale_hz = None
            note = self._expecting.nearest_note(f_hz)
            later = float(note) in self._wanted and float(note) not in self._kept
            doubt = self._expecting.doubt(wanted, f_hz)
            known = self._expecting.off_cents(note) is not None
            if later and known and (doubt is not None or self._expecting.sure_of(note)):
                if for_s >= _KEPT_S and self._keep(note, since_s):
                    self._expecting.heard(note, f_hz, good=True)
                    self._say(
                        f"{note_name(note)} is wanted too: it is kept. Now {note_name(wanted)}."
                    )
                continue
            if for_s > (_INSISTS_S if doubt is None else _NO_OTHER_S):
                self._expecting.heard(wanted, f_hz, good=doubt is None)
                return Window(since_s, float("inf"))
            if told != note:
                told = note
                again = " already read" if float(note) in self._kept else ""
                self._say(
                    f"That is near {note_name(note)}{again}; {note_name(wanted)} is wanted. If it"
                    " is the key you hold, hold it on, or press Enter."
                )

    def _keep(self, note: int, since_s: float) -> bool:
        until_s = self._memory.newest_s
        sound = {column: self._memory.span(column, since_s, until_s) for column in self._columns}
        whole = {column: one for column, one in sound.items() if one is not None}
        if len(whole) < len(sound):
            return False
        self._kept[float(note)] = Kept(whole, 0.5 * (since_s + until_s))
        return True

    def _off(self, note: float, f_hz: float) -> float:
        off = cents_between(f_hz, note_to_hz(note, self._a4_hz))
        return abs(off - (self._expecting.off_cents(note) or 0.0))

    def _sounds_now(self, note: float) -> bool:
        f_hz = self._sounding()
        return f_hz is not None and self._off(note, f_hz) < _NEAR_CENTS

    def _sounding(self) -> float | None:
        """The pitch that sounds steadily now, of the first channel that has one."""
        now_s = self._memory.newest_s
        for column in self._columns:
            sound = self._memory.span(column, now_s - _SHORT_S, now_s)
            if sound is None:
                continue
            reading = read(sound, self._memory.rate_hz)
            if reading.f_hz is not None and not reading.has(FlagKind.UNSTEADY):
                return reading.f_hz
        return None

    def _loud(self) -> bool:
        """Whether anything sounds at all."""
        now_s = self._memory.newest_s
        sound = [self._memory.span(column, now_s - _SHORT_S, now_s) for column in self._columns]
        return any(one is not None and float(np.std(one)) > _LOUD for one in sound)

    def _look_later(self) -> None:
        until_s = self._memory.newest_s + _LOOK_S
        while not self._memory.newest_s >= until_s:
            came = self._memory.pump()
            if not self._memory.flowing:
                raise SoundLostError
            if came and until_s != until_s:  # nothing had come before
                until_s = self._memory.newest_s + _LOOK_S


def _apart(f_hz: float, other_hz: float) -> float:
    return abs(cents_between(f_hz, other_hz))

"""Notes sent ahead: the next one leaves before the last one's sound has come.

Each note is held just long enough to be read. Since the delay is the same for all, their sounds
come one after another as they were sent, and a long buffer costs its length once, not at each note.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence

from pitchwright.bench.live.notes import NotePlayer, Sent
from pitchwright.bench.stop import Stop
from pitchwright.errors import PitchwrightError

__all__ = ["Ahead"]

_LOOK_S = 0.1


class Ahead:
    """Sends notes in order, in a thread, until stopped.

    Parameters
    ----------
    player
        What plays them.
    notes
        MIDI note numbers with their voltages, in order.
    hold_s
        How long a note is held, asked for at each.
    after
        The note that sounds now; it is held before the first one is sent.
    stop
        The wish to stop, looked at while a note is waited for.
    """

    def __init__(
        self,
        player: NotePlayer,
        notes: Sequence[tuple[float, float]],
        hold_s: Callable[[float], float],
        after: Sent,
        stop: Stop,
    ) -> None:
        self._player, self._hold_s = player, hold_s
        self._notes = [(after.note, after.cv_v), *notes]
        self._sent = [after]
        self._taken = 1
        self._changed = threading.Condition()
        self._wish, self._over = stop, threading.Event()
        self._fault: PitchwrightError | None = None
        self._thread = threading.Thread(target=self._run, name="notes ahead", daemon=True)
        self._thread.start()

    def waits_for(self, note: float) -> bool:
        """Whether this is the note that comes next."""
        return self._taken < len(self._notes) and self._notes[self._taken][0] == note

    def take(self) -> Sent:
        """The next note, once it was sent; errors as `NotePlayer.play`, and StopAsked."""
        with self._changed:
            while len(self._sent) <= self._taken and self._fault is None:
                self._wish.look()
                self._changed.wait(_LOOK_S)
            if len(self._sent) <= self._taken and self._fault is not None:
                raise self._fault
            self._taken += 1
            return self._sent[self._taken - 1]

    def gave_way_s(self) -> float:
        """When the note taken last gave way to the next; infinite where it has not."""
        with self._changed:
            return self._sent[self._taken].t_s if len(self._sent) > self._taken else float("inf")

    def stop(self) -> list[tuple[float, float]]:
        """Send no more; the notes that were not taken."""
        self._over.set()
        self._thread.join()
        return self._notes[self._taken :]

    def _run(self) -> None:
        for note, cv_v in self._notes[1:]:
            # Only this thread adds to what was sent.
            last = self._sent[-1]
            left_s = last.t_s + self._hold_s(last.note) - time.monotonic()
            if self._over.wait(max(left_s, 0.0)):
                return
            try:
                sent = Sent(note, cv_v, self._player.play(note, cv_v))
            except PitchwrightError as fault:
                with self._changed:
                    self._fault = fault
                    self._changed.notify_all()
                return
            with self._changed:
                self._sent.append(sent)
                self._changed.notify_all()

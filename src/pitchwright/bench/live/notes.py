"""How a note gets played: one small protocol for MIDI, a control voltage and a person."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

__all__ = ["NotePlayer", "Sent"]


@dataclass(frozen=True, slots=True)
class Sent:
    """A note that was sent on its way.

    Attributes
    ----------
    note
        MIDI note number.
    cv_v
        Nominal control voltage in volts.
    t_s
        When it left, in seconds of `time.monotonic`; its sound comes later by the loop's delay,
        which is the same for every note.
    """

    note: float
    cv_v: float
    t_s: float


class NotePlayer(Protocol):
    """Plays one note at a time, and leaves nothing sounding behind."""

    name: str
    """For a person: ``MIDI to Loft``."""

    @property
    def alive(self) -> bool:
        """Whether what plays is still there."""

    def play(self, note: float, cv_v: float) -> float:
        """Have a note sound and stay; when it left, in seconds of `time.monotonic`.

        Raises
        ------
        InputError
            Where the note cannot be played, or what plays it is gone.
        """

    def silence(self) -> None:
        """Let go of whatever sounds: notes off, voltage to 0."""

    def reopen(self) -> None:
        """Take hold of the device again after it was gone; InputError where it still is."""

    def close(self) -> None:
        """Silence and give the device back; may be called more than once."""

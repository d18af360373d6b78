"""Whether what is heard can be the note that was asked for: wrong notes, hanging notes, slips.

An oscillator may be far off, but it is off alike at neighbouring notes. So a reading is held
against the readings nearest to it.
"""

from __future__ import annotations

from pitchwright.units import cents_between, note_name, note_of_hz, note_to_hz

__all__ = ["Expecting"]

_FIRST_CENTS = 700.0
_NEAR_CENTS, _PER_OCTAVE_CENTS = 80.0, 120.0


class Expecting:
    """Remembers by how much one oscillator is off where, and what sounded last.

    Parameters
    ----------
    a4_hz
        Pitch of A4.
    """

    def __init__(self, a4_hz: float = 440.0) -> None:
        self._a4_hz = a4_hz
        self._off: dict[float, float] = {}
        self._last: tuple[float, float] | None = None

    def off_cents(self, note: float) -> float | None:
        """How far off a note is expected to be; None where nothing is known."""
        if not self._off:
            return None
        return self._off[self._nearest(note)]

    def nearest_note(self, f_hz: float) -> int:
        """The note that a frequency is likeliest to be."""
        heard = note_of_hz(f_hz, self._a4_hz)
        off = self.off_cents(heard)
        return round(heard - (off or 0.0) / 100.0)

    def doubt(self, note: float, f_hz: float) -> str:
        """Why a reading cannot be this note, as a sentence; empty where it can."""
        off = cents_between(f_hz, note_to_hz(note, self._a4_hz))
        expected = self.off_cents(note)
        if expected is None:
            if abs(off) <= _FIRST_CENTS:
                return ""
            return (
                f"{note_name(note)} was asked for, and what sounds is near"
                f" {note_name(round(note_of_hz(f_hz, self._a4_hz)))}: did the note arrive, and is"
                " the octave switch where it should be?"
            )
        octaves = abs(note - self._nearest(note)) / 12.0
        if abs(off - expected) <= _NEAR_CENTS + _PER_OCTAVE_CENTS * octaves:
            return ""
        if self._last is not None and self._last[0] != note:
            stayed = abs(cents_between(f_hz, self._last[1])) < 5.0
            if stayed:
                return (
                    f"The pitch stayed at {note_name(self._last[0])} when {note_name(note)} was"
                    " asked for: the note did not arrive, or another one hangs"
                )
        return (
            f"{note_name(note)} was asked for, but {note_name(self.nearest_note(f_hz))} sounds:"
            " another note was played, or two at once"
        )

    def heard(self, note: float, f_hz: float, *, good: bool) -> None:
        """Remember a reading."""
        if good:
            self._off[note] = cents_between(f_hz, note_to_hz(note, self._a4_hz))
            self._last = (note, f_hz)

    def only(self, note: float, f_hz: float) -> None:
        """Forget all readings but this one."""
        self._off.clear()
        self.heard(note, f_hz, good=True)

    def _nearest(self, note: float) -> float:
        return min(self._off, key=lambda known: abs(known - note))

"""What the tracking curve should be: cents from equal temperament at A4 = 440 Hz, by note."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from pitchwright.errors import InputError
from pitchwright.tracking.point import Point
from pitchwright.units import A4_HZ, MIDDLE_C, cents_between, note_name, note_to_hz

__all__ = ["TargetCurve"]


class _Heard(Protocol):
    """What a measured note must say to be followed."""

    @property
    def note(self) -> float: ...
    @property
    def f_hz(self) -> float: ...
    @property
    def u_cents(self) -> float: ...


@dataclass(frozen=True, slots=True)
class TargetCurve:
    """Cents from equal temperament (A4 = 440 Hz) that each note should have.

    Attributes
    ----------
    notes, cents, u_cents
        Knots, ascending in note, with the standard uncertainty of each; straight between them.
    everywhere
        Whether the one knot holds for every note (flat).
    absolute
        Whether it is tied to a frequency standard, so that the clock's error counts; not so where
        it was heard in the same take.
    words
        What it is, to follow “against”.
    """

    notes: tuple[float, ...]
    cents: tuple[float, ...]
    u_cents: tuple[float, ...]
    everywhere: bool
    absolute: bool
    words: str

    @classmethod
    def flat(cls, a4_hz: float = A4_HZ) -> TargetCurve:
        """Equal temperament at a chosen A4 in hertz."""
        if not (math.isfinite(a4_hz) and a4_hz > 0.0):
            raise InputError(f"A4 cannot be {a4_hz:g} Hz", do="Choose a frequency such as 440")
        off = cents_between(a4_hz, A4_HZ)
        return cls((69.0,), (off,), (0.0,), True, True, f"equal temperament at A4 = {a4_hz:g} Hz")

    @classmethod
    def own(cls, points: Iterable[Point], note: float = MIDDLE_C) -> TargetCurve:
        """Equal temperament through the oscillator's own middle C.

        Where ``note`` was not played, through the nearest note that was.
        """
        kept = [p for p in points if p.kept]
        if not kept:
            raise InputError("No reading to tune to", do="Play middle C and read it")
        nearest = min(abs(p.note - note) for p in kept)
        chosen = [p for p in kept if abs(p.note - note) <= nearest + 1e-9]
        off = [cents_between(p.f_hz, note_to_hz(p.note)) for p in chosen]
        weight = np.array([1.0 / max(p.u_cents, 1e-9) ** 2 for p in chosen])
        cents = float(np.average(off, weights=weight))
        u = float(1.0 / math.sqrt(weight.sum()))
        name = " and ".join(dict.fromkeys(note_name(p.note) for p in chosen))
        words = "its own middle C" if nearest == 0.0 and note == MIDDLE_C else f"its own {name}"
        return cls((float(note),), (cents,), (u,), True, False, words)

    @classmethod
    def following(cls, curve: Iterable[_Heard], name: str, *, same_take: bool) -> TargetCurve:
        """Another oscillator's measured curve, even where that one is off.

        Parameters
        ----------
        curve
            Measured notes (a tracking curve's entries, or points), at least one.
        name
            Whose curve.
        same_take
            Whether both were recorded together, so that the recorder's clock cancels.
        """
        heard = sorted(curve, key=lambda entry: entry.note)
        if not heard:
            raise InputError(f"{name} has no measured note to follow", do="Survey it first")
        return cls(
            tuple(float(e.note) for e in heard),
            tuple(cents_between(e.f_hz, note_to_hz(e.note)) for e in heard),
            tuple(e.u_cents for e in heard),
            False,
            not same_take,
            f"the curve of {name}",
        )

    @classmethod
    def table(cls, cents_of_note: Mapping[float, float], words: str = "the table") -> TargetCurve:
        """Cents from equal temperament at A4 = 440 Hz, note by note."""
        if not cents_of_note:
            raise InputError("The target table is empty", do="Give at least one note")
        for note, cents in cents_of_note.items():
            if not (math.isfinite(note) and math.isfinite(cents)):
                raise InputError(f"The target table has no number at note {note}")
        notes = tuple(sorted(float(n) for n in cents_of_note))
        return cls(
            notes,
            tuple(float(cents_of_note[n]) for n in notes),
            (0.0,) * len(notes),
            False,
            True,
            words,
        )

    def through(self, middle: TargetCurve) -> TargetCurve:
        """The curve moved to go through an oscillator's own middle C, as `own` gives it.

        Flat, it is that; else its shape stays and its words say both.
        """
        if self.everywhere:
            return middle
        note, off, u = middle.notes[0], middle.cents[0], middle.u_cents[0]
        moved = off - self.cents_at(min(max(note, self.notes[0]), self.notes[-1]))
        return TargetCurve(
            self.notes,
            tuple(cents + moved for cents in self.cents),
            tuple(math.hypot(one, u) for one in self.u_cents),
            everywhere=False,
            absolute=False,
            words=f"{self.words}, through {middle.words}",
        )

    def cents_at(self, note: float) -> float:
        """Cents at a note.

        Raises
        ------
        InputError
            Where the note lies outside a table or another's curve.
        """
        return self._read(self.cents, note)

    def u_at(self, note: float) -> float:
        """Standard uncertainty in cents at a note; refuses as ``cents_at`` does."""
        return self._read(self.u_cents, note)

    def _read(self, knots: tuple[float, ...], note: float) -> float:
        if self.everywhere:
            return knots[0]
        low, high = self.notes[0], self.notes[-1]
        if not low - 1e-9 <= note <= high + 1e-9:
            raise InputError(
                f"{note_name(note)} is outside {self.words}, which goes from {note_name(low)} to "
                f"{note_name(high)}",
                do="Leave the note out or extend the target",
            )
        return float(np.interp(note, self.notes, knots))

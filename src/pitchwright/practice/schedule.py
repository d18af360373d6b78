"""What is played when, and what that makes of control voltage and loudness over time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pitchwright.errors import InputError
from pitchwright.practice.source import CvSource
from pitchwright.units import note_name

__all__ = ["PlayedNote", "Schedule", "one_after_another"]

Array = NDArray[np.float64]

_SETTLED_TAUS = 14.0
"""After so many time constants an octave's step has less than 0.001 cent to go."""


@dataclass(frozen=True, slots=True)
class PlayedNote:
    """One note of a take.

    Attributes
    ----------
    note
        MIDI note number that the source is asked for.
    start_s, length_s
        When it begins and how long it lasts, in seconds.
    glide_s
        How long the voltage takes from the note before, evenly; 0 to jump.
    attack_s
        How long the loudness rises where there was silence before; it falls as fast in the gap
        after.
    mistake
        Whether it was not meant to be played.
    """

    note: float
    start_s: float
    length_s: float
    glide_s: float = 0.0
    attack_s: float = 0.01
    mistake: bool = False

    @property
    def end_s(self) -> float:
        """When it ends."""
        return self.start_s + self.length_s


def one_after_another(
    notes: Sequence[float],
    *,
    length_s: float = 1.0,
    gap_s: float = 0.25,
    start_s: float = 0.5,
    glide_s: float = 0.0,
    attack_s: float = 0.01,
) -> tuple[PlayedNote, ...]:
    """Notes of equal length in the order given; ``gap_s = 0`` plays them legato."""
    return tuple(
        PlayedNote(note, start_s + place * (length_s + gap_s), length_s, glide_s, attack_s)
        for place, note in enumerate(notes)
    )


class Schedule:
    """Voltage and loudness of notes played through a source.

    Parameters
    ----------
    notes
        In order of time, none beginning before the one before it has ended.
    source
        What turns notes into volts.

    Raises
    ------
    InputError
        Where there are no notes, or they overlap, or a time is not possible.
    """

    def __init__(self, notes: Sequence[PlayedNote], source: CvSource) -> None:
        _check(notes)
        self.notes = tuple(notes)
        self.source = source
        self._start_s = np.array([note.start_s for note in notes])
        self._end_s = np.array([note.end_s for note in notes])
        self._glide_s = np.array([note.glide_s for note in notes])
        self._attack_s = np.array([note.attack_s for note in notes])
        self._to_v = np.array([source.cv_v(note.note) for note in notes])
        self._from_v = self._to_v.copy()
        joins = np.isclose(self._start_s[1:], self._end_s[:-1], rtol=0.0, atol=1e-6)
        self._joined = np.concatenate(([False], joins))
        for index in range(1, len(notes)):
            reached = self._voltage(self._start_s[index : index + 1], np.array([index - 1]))
            self._from_v[index] = reached[0]

    def settled_s(self, index: int) -> float:
        """When note ``index`` has reached its voltage and its loudness, in seconds."""
        note = self.notes[index]
        moving_s = note.glide_s if note.glide_s > 0.0 else _SETTLED_TAUS * self.source.settle_s
        if self._from_v[index] == self._to_v[index]:
            moving_s = 0.0
        rising_s = 0.0 if self._joined[index] else note.attack_s
        return note.start_s + max(moving_s, rising_s)

    def cv_v(self, t_s: Array) -> Array:
        """Control voltage in volts at times in seconds, ascending, same shape as given."""
        playing = np.searchsorted(self._start_s, t_s, side="right") - 1
        return self._voltage(t_s, np.maximum(playing, 0))

    def loudness(self, t_s: Array) -> Array:
        """Loudness from 0 to 1 at times in seconds, ascending, same shape as given."""
        playing = np.maximum(np.searchsorted(self._start_s, t_s, side="right") - 1, 0)
        attack_s = np.maximum(self._attack_s[playing], 1e-9)
        into_s = t_s - self._start_s[playing]
        at_once = self._joined | (self._attack_s == 0.0)
        rise = np.where(at_once[playing], into_s >= 0.0, np.clip(into_s / attack_s, 0.0, 1.0))
        fall = 1.0 - np.clip((t_s - self._end_s[playing]) / attack_s, 0.0, 1.0)
        # Raised cosine: a corner in the loudness would click over the whole spectrum.
        return np.asarray(0.5 - 0.5 * np.cos(np.pi * np.minimum(rise, fall)))

    def _voltage(self, t_s: Array, index: NDArray[np.intp]) -> Array:
        into_s = np.maximum(t_s - self._start_s[index], 0.0)
        glide_s = self._glide_s[index]
        even = 1.0 - into_s / np.where(glide_s > 0.0, glide_s, 1.0)
        settling = np.exp(-into_s / max(self.source.settle_s, 1e-9))
        left = np.where(glide_s > 0.0, np.maximum(even, 0.0), settling)
        return np.asarray(self._to_v[index] + (self._from_v[index] - self._to_v[index]) * left)


def _check(notes: Sequence[PlayedNote]) -> None:
    if not notes:
        raise InputError("A take without notes cannot be played", do="Give at least one note")
    before_s = 0.0
    for place, note in enumerate(notes, start=1):
        where = f"note {place} ({note_name(note.note)})"
        if not 0.0 <= note.note <= 127.0:
            raise InputError("It is outside C-1 to G9", where=f"note {place}", do="Choose another")
        times_s = (note.start_s, note.length_s, note.glide_s, note.attack_s)
        if note.length_s <= 0.0 or min(times_s[2:]) < 0.0 or not np.all(np.isfinite(times_s)):
            raise InputError("Its length, glide or attack is not a possible time", where=where)
        if note.start_s < before_s - 1e-6:
            raise InputError("It begins before the one before it has ended", where=where)
        before_s = note.end_s

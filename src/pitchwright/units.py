"""Cents, ratios, notes and volts: the only place where one is turned into another.

A note is a MIDI note number, 69 being A4; it may be fractional (69.5 is a quarter tone above).
A control voltage (``cv_v``) is nominal at one volt per octave, 0 V playing C1 unless said
otherwise, so that middle C is 3 V. A cent is 1/1200 of an octave (A. J. Ellis, 1885); A4 = 440 Hz
is ISO 16:1975.
"""

from __future__ import annotations

import math
import re
from typing import Final, overload

import numpy as np
from numpy.typing import NDArray

from pitchwright.errors import InputError

__all__ = [
    "A4_HZ",
    "A4_NOTE",
    "CENTS_PER_OCTAVE",
    "MIDDLE_C",
    "NOTE_AT_0_V",
    "cents_between",
    "cents_from_ppm",
    "cv_of_note",
    "note_name",
    "note_of_cv",
    "note_of_hz",
    "note_to_hz",
    "parse_note",
    "ratio_of_cents",
]

Array = NDArray[np.float64]

CENTS_PER_OCTAVE: Final = 1200.0
A4_HZ: Final = 440.0
A4_NOTE: Final = 69
MIDDLE_C: Final = 60
NOTE_AT_0_V: Final = 24
"""The note that 0 V plays unless the user says otherwise: C1."""

_STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_ACCIDENTALS = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1}
_NAMES = ("C", "C♯", "D", "D♯", "E", "F", "F♯", "G", "G♯", "A", "A♯", "B")
_NOTE = re.compile(r"([A-Ga-g])([#♯b♭]?)(-?\d{1,2})")


@overload
def cents_between(f_hz: float, ref_hz: float) -> float: ...
@overload
def cents_between(f_hz: Array, ref_hz: float | Array) -> Array: ...
def cents_between(f_hz: float | Array, ref_hz: float | Array) -> float | Array:
    """Interval from ``ref_hz`` up to ``f_hz`` in cents: 1200 log2(f / ref), same shape as given."""
    if isinstance(f_hz, np.ndarray) or isinstance(ref_hz, np.ndarray):
        return np.asarray(CENTS_PER_OCTAVE * np.log2(np.asarray(f_hz) / ref_hz), dtype=np.float64)
    return CENTS_PER_OCTAVE * math.log2(f_hz / ref_hz)


@overload
def ratio_of_cents(cents: float) -> float: ...
@overload
def ratio_of_cents(cents: Array) -> Array: ...
def ratio_of_cents(cents: float | Array) -> float | Array:
    """Frequency ratio of an interval in cents: 2^(cents / 1200), same shape as given."""
    if isinstance(cents, np.ndarray):
        return np.asarray(np.exp2(cents / CENTS_PER_OCTAVE), dtype=np.float64)
    return math.exp2(cents / CENTS_PER_OCTAVE)


def cents_from_ppm(ppm: float) -> float:
    """Pitch error in cents of a clock off by ``ppm`` parts per million (100 ppm: 0.1731)."""
    return CENTS_PER_OCTAVE * math.log2(1.0 + ppm * 1e-6)


@overload
def note_to_hz(note: float, a4_hz: float = A4_HZ) -> float: ...
@overload
def note_to_hz(note: Array, a4_hz: float = A4_HZ) -> Array: ...
def note_to_hz(note: float | Array, a4_hz: float = A4_HZ) -> float | Array:
    """Equal-tempered frequency in hertz of a note number: a4_hz · 2^((note - 69) / 12)."""
    if isinstance(note, np.ndarray):
        return np.asarray(a4_hz * np.exp2((note - A4_NOTE) / 12.0), dtype=np.float64)
    return a4_hz * math.exp2((note - A4_NOTE) / 12.0)


def note_of_hz(f_hz: float, a4_hz: float = A4_HZ) -> float:
    """Fractional note number that ``f_hz`` is in equal temperament."""
    return A4_NOTE + 12.0 * math.log2(f_hz / a4_hz)


def cv_of_note(note: float, note_at_0_v: float = NOTE_AT_0_V) -> float:
    """Nominal control voltage in volts of a note at one volt per octave."""
    return (note - note_at_0_v) / 12.0


def note_of_cv(cv_v: float, note_at_0_v: float = NOTE_AT_0_V) -> float:
    """Fractional note number that a nominal control voltage asks for."""
    return note_at_0_v + 12.0 * cv_v


def note_name(note: float) -> str:
    """Name of a note, middle C being C4: ``C♯4``, and ``C4 +25`` for 25 cents above C4."""
    nearest = round(note)
    name = f"{_NAMES[nearest % 12]}{nearest // 12 - 1}"
    off_cents = round((note - nearest) * 100.0)
    return name if off_cents == 0 else f"{name} {'+' if off_cents > 0 else '−'}{abs(off_cents)}"


def parse_note(text: str) -> int:
    """Note number of a name such as ``C4``, ``F#3``, ``Bb-1``, or of a number 0 to 127.

    Raises
    ------
    InputError
        Where the text is neither, or lies outside MIDI note numbers 0 to 127.
    """
    cleaned = text.strip()
    if cleaned.isascii() and cleaned.isdigit():
        note = int(cleaned)
    elif match := _NOTE.fullmatch(cleaned):
        step, accidental, octave = match.groups()
        note = _STEPS[step.upper()] + _ACCIDENTALS[accidental] + 12 * (int(octave) + 1)
    else:
        raise InputError(
            f"“{text[:40]}” is not a note",
            do="Write a name such as C4 or F#3, or a number 0 to 127",
        )
    if not 0 <= note <= 127:
        raise InputError(f"The note {text[:40]} is outside C-1 to G9", do="Choose one inside")
    return note

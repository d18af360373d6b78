"""What was heard of one or more oscillators over time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["History", "Trace"]

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Trace:
    """One oscillator's pitch over time.

    Attributes
    ----------
    name
        The oscillator.
    cents
        Departure from its note where notes were given, else from its first reading, shape (n,);
        NaN where there was no reading.
    f_hz
        Frequency, shape (n,), NaN where there was no reading; None where cents were given.
    """

    name: str
    cents: Array
    f_hz: Array | None = None


@dataclass(frozen=True, slots=True, eq=False)
class History:
    """Readings of several oscillators on one clock.

    Attributes
    ----------
    t_s
        Seconds since the first row, never falling, shape (n,).
    traces
        One per oscillator.
    temperature_c
        Degrees Celsius, shape (n,), NaN where there was none; None where none was recorded.
    note
        MIDI note number played at each row, shape (n,); None where it was one note throughout.
    remarks
        What a person should know about the history, a sentence each: gaps, columns not used.
    """

    t_s: Array
    traces: tuple[Trace, ...]
    temperature_c: Array | None = None
    note: Array | None = None
    remarks: tuple[str, ...] = ()

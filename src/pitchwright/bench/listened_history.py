"""A history from a long recording of a held note: one careful reading every so often."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pitchwright.bench.recording import Recording
from pitchwright.errors import InputError
from pitchwright.pitch import FlagKind, read
from pitchwright.stability.history import History, Trace
from pitchwright.units import cents_between

__all__ = ["listen_history"]

Array = NDArray[np.float64]

READ_S: Final = 2.0
_USABLE: Final = frozenset({FlagKind.MAINS_NEARBY, FlagKind.TOO_SHORT})
"""Doubts that leave a reading good enough for a history."""
_OTHER_NOTE_CENTS: Final = 300.0


def listen_history(
    path: Path,
    every_s: float = 10.0,
    names: Sequence[str] = (),
    progress: Callable[[float], None] = lambda _: None,
) -> History:
    """Read every channel of a recording once every ``every_s`` seconds.

    Parameters
    ----------
    path
        A recording in which each channel holds one note.
    every_s
        Seconds from one reading to the next; each reading takes two seconds of sound, or all
        there is where they come closer.
    names
        Names of the channels, as many as there are, or none.
    progress
        Told how much is done, 0 to 1.

    Raises
    ------
    InputError
        Where the recording cannot be read, is too short, no channel holds a steady note, or the
        names do not fit the channels.
    """
    if not 0.5 <= every_s <= 3600.0:
        raise InputError(
            f"A reading every {every_s:g} s cannot be", do="Choose between 0.5 and 3600 seconds"
        )
    with Recording(path) as recording:
        if names and len(names) != recording.channels:
            raise InputError(
                f"There are {len(names)} names for {recording.channels} channels",
                str(path),
                "Give one for each channel, with commas between",
            )
        named = list(names) or [f"channel {k + 1}" for k in range(recording.channels)]
        rows = _readings(recording, every_s, progress)
    if len(rows) < 2:
        raise InputError(
            "The recording is too short for a history", str(path), "Record for some minutes"
        )
    t_s = np.array([moment_s for moment_s, _ in rows])
    f_hz = np.array([heard for _, heard in rows]).T
    traces, remarks = [], []
    for name, pitches in zip(named, f_hz, strict=True):
        kept = _one_note(pitches)
        left_out = int(np.sum(np.isnan(kept)))
        if left_out == kept.size:
            remarks.append(f"{name}: no steady note was heard, so it is left out.")
            continue
        if left_out:
            remarks.append(f"{name}: {left_out} of {kept.size} moments had no usable reading.")
        first_hz = float(kept[np.isfinite(kept)][0])
        traces.append(Trace(name, cents_between(kept, first_hz), kept))
    if not traces:
        raise InputError(
            "No channel holds a steady note", str(path), "Record one held note an oscillator"
        )
    return History(t_s - t_s[0], tuple(traces), remarks=tuple(remarks))


def _readings(
    recording: Recording, every_s: float, progress: Callable[[float], None]
) -> list[tuple[float, list[float]]]:
    """Moment and frequency of each channel (NaN without one), once every ``every_s``."""
    span = int(min(READ_S, every_s) * recording.rate_hz)
    step = int(every_s * recording.rate_hz)
    rows: list[tuple[float, list[float]]] = []
    waiting = np.empty((0, recording.channels), dtype=np.float32)
    first = due = 0
    for block in recording.blocks():
        waiting = np.concatenate([waiting, block])
        while due + span <= first + len(waiting):
            sound = waiting[due - first : due - first + span]
            heard = [_pitch(sound[:, k], recording.rate_hz) for k in range(recording.channels)]
            rows.append(((due + span / 2.0) / recording.rate_hz, heard))
            due += step
        keep_from = min(max(due - first, 0), len(waiting))
        waiting, first = waiting[keep_from:], first + keep_from
        progress(min((first + len(waiting)) / recording.frames, 1.0))
    return rows


def _pitch(sound: NDArray[np.float32], rate_hz: float) -> float:
    reading = read(sound, rate_hz)
    if reading.f_hz is None or any(flag.kind not in _USABLE for flag in reading.flags):
        return math.nan
    return reading.f_hz


def _one_note(f_hz: Array) -> Array:
    """Leave out what is a minor third or more away from the middle: another note, or an octave."""
    if not np.isfinite(f_hz).any():
        return f_hz
    away = np.abs(cents_between(f_hz, float(np.nanmedian(f_hz))))
    return np.asarray(np.where(away < _OTHER_NOTE_CENTS, f_hz, np.nan))

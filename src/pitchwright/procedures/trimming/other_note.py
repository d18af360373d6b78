"""Another note than the one asked for: somebody who plays errs, and a key is next to a key.

A reading that lies whole semitones from where its note was expected is of another note. The note is
asked for again; a second reading that agrees with the first is believed, whatever was expected.
"""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import replace

import numpy as np

from pitchwright.procedures import sentences
from pitchwright.procedures.requests import Answer, Request, Tell
from pitchwright.procedures.survey import listen, point_of
from pitchwright.tracking.point import Point
from pitchwright.units import cents_between, note_name, note_to_hz

__all__ = ["OTHER_NOTE", "semitones_off", "survey_again"]

OTHER_NOTE = "another note"

_NEAR_CENTS, _NARROWEST_CENTS = 30.0, 70.0
_MOST_ROUNDS = 2


def semitones_off(off_cents: float, scale_cents_per_oct: float) -> int:
    """How many semitones another note is away that would explain an error; 0 where none does.

    The other note has the error of its own place, so a semitone is as wide as the scale has it.
    """
    wide = 100.0 + scale_cents_per_oct / 12.0
    if wide < _NARROWEST_CENTS:  # it does not follow the notes at all
        return 0
    semitones = round(off_cents / wide)
    return semitones if abs(off_cents - wide * semitones) <= _NEAR_CENTS else 0


def survey_again(
    oscillator: str, points: tuple[Point, ...], note_at_0_v: float, settle_s: float
) -> Generator[Request, Answer, tuple[Point, ...]]:
    """Ask again for the notes of a survey that were another note; the points without those."""
    for _ in range(_MOST_ROUNDS):
        wrong = _others(points)
        if not wrong:
            break
        for place, semitones in wrong:
            old = points[place]
            why = f"{note_name(old.note)} again: it may have been another note."
            (heard,) = yield from listen((oscillator,), old.note, note_at_0_v, settle_s, why)
            new = point_of(heard, old.note, note_at_0_v)
            if new.kept and abs(cents_between(new.f_hz, old.f_hz)) > _NEAR_CENTS:
                left_out = replace(old, kept=False, why="another note was played")
                yield Tell(OTHER_NOTE, sentences.other_note(old.note, old.note + semitones))
                points = (*points[:place], left_out, *points[place + 1 :], new)
    return tuple(sorted(points, key=lambda point: point.t_s))


def _others(points: tuple[Point, ...]) -> list[tuple[int, int]]:
    """Places of the points that are whole semitones from the line through most, and how many."""
    places = [k for k, point in enumerate(points) if point.kept]
    if len(places) < 4:
        return []
    cv_v = np.array([points[k].cv_v for k in places])
    cents = np.array(
        [cents_between(points[k].f_hz, float(note_to_hz(points[k].note))) for k in places]
    )
    # The median of all slopes between pairs (Theil 1950, Sen 1968): a third may be wrong.
    i, j = np.triu_indices(len(places), 1)
    apart = cv_v[j] != cv_v[i]
    slope = float(np.median((cents[j] - cents[i])[apart] / (cv_v[j] - cv_v[i])[apart]))
    off = cents - slope * cv_v
    off -= float(np.median(off))
    found = [(place, semitones_off(float(o), slope)) for place, o in zip(places, off, strict=True)]
    return [(place, semitones) for place, semitones in found if semitones]

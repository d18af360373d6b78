"""Reading one note in the middle of a guided trim."""

from __future__ import annotations

import math
from collections.abc import Generator

import numpy as np

from pitchwright.procedures import sentences
from pitchwright.procedures.requests import Answer, Heard, Request, Tell
from pitchwright.procedures.survey import listen
from pitchwright.procedures.trimming.other_note import OTHER_NOTE, semitones_off
from pitchwright.procedures.trimming.state import Trimming
from pitchwright.trim.belief import SCALE
from pitchwright.trim.happened import Happened
from pitchwright.trim.trimmer import Trimmer
from pitchwright.units import cents_between, note_name

__all__ = [
    "ACCUSED_SIGMA",
    "CONTACT_JUMPS",
    "by_itself_cents",
    "hear",
    "jumped_at_rest",
    "read_note",
]

_MOST_TIMES, _ENOUGH, _SAME_CENTS = 5, 2, 15.0
CONTACT_JUMPS = 2
_JUMPED_SIGMA, ACCUSED_SIGMA = 7.0, 3.5
_WILD_CENTS = 1.0
"""What base walks in a minute, and drifts, on a bad evening: no knob is accused of that."""
_ASTRAY_CENTS = 60.0
"""Nobody bumps a knob so far without a word: something that was believed is wrong."""


def read_note(state: Trimming, index: int, why: str) -> Generator[Request, Answer, None]:
    """Play one note, read it, and take it into the belief."""
    heard = yield from hear(state, index, why)
    if heard is None:
        return
    at = state.cents(heard, index)
    expected, spread = state.belief.foresee([index], [heard.t_s])
    u_cents = state.belief.u_reading(heard.u_cents)
    sigma = math.sqrt(float(spread[0, 0]) + u_cents**2)
    off = at - float(expected[0])
    if np.isfinite(state.belief.read_s[index]):
        if abs(off) > max(_JUMPED_SIGMA * sigma, 1.2):
            minutes = max(heard.t_s - state.belief.t_s, 0.0) / 60.0
            if state.in_hand:
                trimmer = state.acting[state.in_hand].trimmer
                yield from jumped_at_rest(state, trimmer, abs(off))
            accused = len(state.rest_jumps[state.in_hand]) < CONTACT_JUMPS
            if accused and abs(off) > ACCUSED_SIGMA * math.hypot(sigma, by_itself_cents(minutes)):
                name = note_name(float(state.belief.notes.note[index]))
                yield Tell(Happened.BUMPED, sentences.bumped_meanwhile(name, off))
            state.astray += abs(off) > _ASTRAY_CENTS
            state.belief = state.belief.moved(scale=False)
        else:
            state.belief = state.belief.surprised(off, sigma)
    state.belief = state.belief.heard(index, at, u_cents, heard.t_s)
    state.playing = index


def jumped_at_rest(
    state: Trimming, trimmer: Trimmer, size_cents: float | None
) -> Generator[Request, Answer, None]:
    """Take note of a jump with the hand at rest; two with the same trimmer are its contact."""
    if size_cents is None:
        return
    jumps = state.rest_jumps[trimmer.name]
    jumps.append(size_cents)
    if len(jumps) == CONTACT_JUMPS:
        size = float(np.median(jumps))
        yield Tell(Happened.BAD_CONTACT, sentences.bad_contact(trimmer, size))


def by_itself_cents(minutes: float) -> float:
    """How far base may have gone by itself in so many minutes of a bad evening, one sigma."""
    return math.hypot(0.4, _WILD_CENTS * math.hypot(minutes**0.5, minutes))


def hear(
    state: Trimming, index: int, why: str, expected_cents: float | None = None
) -> Generator[Request, Answer, Heard | None]:
    """Play one note and read it, nothing more; None where it gives no pitch.

    ``expected_cents`` is where it should lie, from the belief unless given: whole semitones from
    there may be another note, which is asked for again.
    """
    settings = state.settings
    note = float(state.belief.notes.note[index])
    name = note_name(note)
    believed: Heard | None = None
    was = same = 0
    for _ in range(_MOST_TIMES):
        (heard,) = yield from listen(
            (settings.oscillator,), note, settings.note_at_0_v, settings.settle_s, f"{name} {why}."
        )
        if heard.f_hz is None:
            break
        expected = expected_cents
        if expected is None:
            expected = float(state.belief.foresee([index], [heard.t_s])[0][0])
        scale = float(state.belief.mean[SCALE])
        semitones = semitones_off(state.cents(heard, index) - expected, scale)
        if believed is not None and believed.f_hz is not None:
            if abs(cents_between(heard.f_hz, believed.f_hz)) < _SAME_CENTS:
                same += 1
                if same == _ENOUGH:
                    break  # time and again the same: it is so
            else:
                yield Tell(OTHER_NOTE, sentences.other_note(note, note + was))
        if not semitones:
            break
        believed, was = heard, semitones
        why = "again: it may have been another note"
    if heard.f_hz is None:
        yield Tell("left out", f"{name} gives no pitch now; the tool goes on without it.")
        return None
    return heard

"""How far today's oscillators are from a planned detune."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from pitchwright.detune.beats import UNISON, beat_hz
from pitchwright.detune.plan import DetunePlan, PairBeats
from pitchwright.errors import InputError
from pitchwright.tracking import CurveEntry
from pitchwright.tracking.coverage import expanded_u
from pitchwright.units import cents_between, note_name

__all__ = ["Distance", "distance"]


@dataclass(frozen=True, slots=True)
class Distance:
    """Today against the plan, for one pair.

    Attributes
    ----------
    pair
        The two oscillators, “Heron and Wren”.
    notes
        The MIDI notes both were measured at within the plan's range.
    offset_cents, u_cents
        By how many cents the pair is wider apart than planned, and its standard uncertainty.
    beats_hz, planned_hz
        Beats per second today and as planned.
    ratio
        Fastest to slowest beat today.
    sentence
        The same in words.
    """

    pair: str
    notes: tuple[int, ...]
    offset_cents: tuple[float, ...]
    u_cents: tuple[float, ...]
    beats_hz: tuple[float, ...]
    planned_hz: tuple[float, ...]
    ratio: float
    sentence: str


def distance(plan: DetunePlan, today: Mapping[str, Sequence[CurveEntry]]) -> tuple[Distance, ...]:
    """Compare measured curves with the plan, pair by pair.

    Parameters
    ----------
    plan
        The plan.
    today
        Tracking curves by oscillator; those the plan does not know are left aside.

    Raises
    ------
    InputError
        Where fewer than two of the plan's oscillators were measured, or two share no note.
    """
    targets = {voice.name: dict(zip(plan.notes, voice.cents, strict=True)) for voice in plan.voices}
    heard = {name: _by_note(today[name], plan) for name in targets if name in today}
    if len(heard) < 2:
        raise InputError(
            f"Of {', '.join(targets)} only {', '.join(heard) or 'none'} was measured",
            do="Give readings of two of them at least",
        )
    return tuple(
        _compared(plan, pair, heard, targets)
        for pair in plan.pairs
        if pair.lower in heard and pair.upper in heard
    )


def _by_note(readings: Sequence[CurveEntry], plan: DetunePlan) -> dict[int, CurveEntry]:
    wanted = set(plan.notes)
    return {int(r.note): r for r in readings if r.note == int(r.note) and int(r.note) in wanted}


def _compared(
    plan: DetunePlan,
    pair: PairBeats,
    heard: Mapping[str, Mapping[int, CurveEntry]],
    targets: Mapping[str, Mapping[int, float]],
) -> Distance:
    lower, upper = heard[pair.lower], heard[pair.upper]
    notes = sorted(lower.keys() & upper.keys())
    who = f"{pair.lower} and {pair.upper}"
    if not notes:
        raise InputError(
            f"{who} share no note in the plan's range", do="Survey both over the same notes"
        )
    leader = plan.voices[0].name
    interval = plan.interval if leader in (pair.lower, pair.upper) else UNISON
    offsets, u_cents, beats = [], [], []
    for note in notes:
        a, b = lower[note], upper[note]
        wanted = targets[pair.upper][note] - targets[pair.lower][note]
        offsets.append(cents_between(b.f_hz, a.f_hz) - wanted)
        u_cents.append(math.hypot(a.u_cents, b.u_cents))
        beats.append(beat_hz(a.f_hz, b.f_hz, interval))
    planned = tuple(pair.beats_hz[plan.notes.index(note)] for note in notes)
    sizes = np.abs(beats)
    turns = min(beats) * max(beats) <= 0.0
    ratio = math.inf if turns else float(sizes.max() / sizes.min())
    worst = int(np.abs(offsets).argmax())
    sentence = (
        f"{who}: farthest from the plan at {note_name(notes[worst])}, "
        f"{abs(offsets[worst]):.2f} ± {expanded_u(u_cents[worst]):.2f} cents too "
        f"{'wide' if offsets[worst] * np.sign(planned[worst] or 1.0) > 0.0 else 'narrow'}: "
        f"{sizes[worst]:.2f} beats per second instead of {abs(planned[worst]):.2f}."
    )
    if turns:
        sentence += " Today the beat dies away within the range and grows again the other way."
    return Distance(
        pair=who,
        notes=tuple(notes),
        offset_cents=tuple(offsets),
        u_cents=tuple(u_cents),
        beats_hz=tuple(beats),
        planned_hz=planned,
        ratio=ratio,
        sentence=sentence,
    )

"""Target curves that beat as wanted.

What trimmers can do limits what can be planned. The base alone shifts every note by the same cents,
so beats double each octave. With the scale too, beats may be chosen at two notes, or made as even
as they can be: the offset must then halve each octave, and a straight line in volts can only
imitate that. The smallest ratio of the fastest to the slowest beat a line allows is 1.06 over one
octave, 1.26 over two, 1.67 over three, 3.68 over five. A high-end trimmer, which acts in proportion
to the frequency, adds a third shape.

With the slowest beat given, note by note the offset must lie between the cents of the slowest and
of the fastest beat. The first is fixed and the second grows with the ratio, concavely, so its
tangents lie outside it and a few linear programmes in (base, scale, high end, ratio) close in on
the smallest ratio from below (J. E. Kelley's cutting planes, *J. SIAM* 8, 1960, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog
from scipy.special import ndtr

from pitchwright.detune.beats import UNISON, Interval, beat_hz, cents_for_beat
from pitchwright.errors import InputError
from pitchwright.tracking import TargetCurve
from pitchwright.units import (
    A4_HZ,
    CENTS_PER_OCTAVE,
    MIDDLE_C,
    cents_between,
    note_name,
    note_to_hz,
    ratio_of_cents,
)

__all__ = ["DetunePlan", "PairBeats", "Voice", "constant", "even", "two_notes"]

Array = NDArray[np.float64]

SET_U_CENTS = 0.3
"""How closely an offset is set at each end of a range (common practice for a careful hand)."""


@dataclass(frozen=True, slots=True)
class Voice:
    """The target curve of one oscillator.

    Attributes
    ----------
    name
        The oscillator.
    position
        How many times the planned beat it stands above the leader, which stands at 0.
    cents
        Target at each of the plan's notes, in cents from equal temperament at A4 = 440 Hz; an
        oscillator that is to sound an interval higher has the interval in it.
    base_cents
        Of that, at middle C, the high end's share not counted.
    scale_cents_per_oct, high_cents_per_khz
        Of that, what grows with the octave, and with the frequency.
    """

    name: str
    position: float
    cents: tuple[float, ...]
    base_cents: float
    scale_cents_per_oct: float
    high_cents_per_khz: float

    def target(self, notes: Sequence[int]) -> TargetCurve:
        """The same as a target curve, for the plan's notes."""
        cents = dict(zip(map(float, notes), self.cents, strict=True))
        return TargetCurve.table(cents, f"the planned detune of {self.name}")


@dataclass(frozen=True, slots=True)
class PairBeats:
    """How two of the oscillators beat, note by note.

    Attributes
    ----------
    lower, upper
        Their names.
    beats_hz
        Beats per second at each of the plan's notes; negative where the upper is too low.
    ratio
        Fastest to slowest, both as sizes; infinite where the beat stands still at a note.
    """

    lower: str
    upper: str
    beats_hz: tuple[float, ...]
    ratio: float


@dataclass(frozen=True, slots=True)
class DetunePlan:
    """Target curves, the beats they give, and what can go wrong.

    Attributes
    ----------
    kind
        “constant cents”, “two notes” or “even beats”.
    notes
        Every semitone of the range, as MIDI notes.
    interval
        Between the leader and the others.
    voices
        One target curve each, the leader's first.
    pairs
        Every pair's beats.
    ratio
        Fastest to slowest beat of the leader and its nearest neighbour.
    crossing_probability
        How likely it is that a beat stands still somewhere, with ends set to 0.3 cent.
    sentences, warnings
        What the plan is, and what to beware of.
    """

    kind: str
    notes: tuple[int, ...]
    interval: Interval
    voices: tuple[Voice, ...]
    pairs: tuple[PairBeats, ...]
    ratio: float
    crossing_probability: float
    sentences: tuple[str, ...]
    warnings: tuple[str, ...]


def constant(
    cents: float,
    low: int,
    high: int,
    names: Sequence[str] = ("leader", "follower"),
    positions: Sequence[float] | None = None,
    interval: Interval = UNISON,
    a4_hz: float = A4_HZ,
) -> DetunePlan:
    """The same cents at every note: base alone. Beats double each octave.

    Parameters
    ----------
    cents
        How far one position is from the next.
    low, high
        Range as MIDI notes.
    names, positions
        The oscillators, leader first, and where each stands in multiples of ``cents``; equally
        spaced from 0 where None.
    interval
        Between the leader and the others.
    a4_hz
        Pitch of A4.
    """
    notes, f_hz = _range(low, high, a4_hz)
    if not math.isfinite(cents) or not 0.0 < abs(cents) <= 100.0:
        raise InputError(
            f"A detune of {cents:g} cents cannot be", do="Ask for more than 0, at most 100"
        )
    shapes = [_Shape(cents * k, 0.0, 0.0) for k in _places(names, positions)]
    return _plan("constant cents", notes, f_hz, names, positions, shapes, interval, a4_hz)


def two_notes(
    first: tuple[int, float],
    second: tuple[int, float],
    low: int,
    high: int,
    names: Sequence[str] = ("leader", "follower"),
    positions: Sequence[float] | None = None,
    interval: Interval = UNISON,
    a4_hz: float = A4_HZ,
) -> DetunePlan:
    """Chosen beat rates at two notes: base and scale.

    Parameters
    ----------
    first, second
        A MIDI note and the beats per second wanted there; negative for an upper tone too low.
    low, high, names, positions, interval, a4_hz
        As for `constant`.

    Raises
    ------
    InputError
        Where both notes are the same, or a beat rate cannot be.
    """
    notes, f_hz = _range(low, high, a4_hz)
    (note_1, beat_1), (note_2, beat_2) = first, second
    if note_1 == note_2:
        raise InputError(
            f"Both beat rates are for {note_name(note_1)}", do="Name two different notes"
        )
    shapes = []
    for k in _places(names, positions):
        at = [
            cents_for_beat(k * beat, note_to_hz(note, a4_hz), interval) if k else 0.0
            for note, beat in ((note_1, beat_1), (note_2, beat_2))
        ]
        scale = 12.0 * (at[1] - at[0]) / (note_2 - note_1)
        shapes.append(_Shape(at[0] + scale * (MIDDLE_C - note_1) / 12.0, scale, 0.0))
    return _plan("two notes", notes, f_hz, names, positions, shapes, interval, a4_hz)


def even(
    slowest_hz: float,
    low: int,
    high: int,
    names: Sequence[str] = ("leader", "follower"),
    positions: Sequence[float] | None = None,
    interval: Interval = UNISON,
    a4_hz: float = A4_HZ,
    *,
    high_end: bool = False,
) -> DetunePlan:
    """Beats as even as base and scale can make them: the smallest fastest-to-slowest ratio.

    Parameters
    ----------
    slowest_hz
        The slowest beat wanted anywhere in the range; negative for upper tones too low.
    high_end
        Whether a high-end trimmer may help.
    low, high, names, positions, interval, a4_hz
        As for `constant`.

    Raises
    ------
    InputError
        Where the beat rate cannot be.
    """
    notes, f_hz = _range(low, high, a4_hz)
    if not slowest_hz:
        raise InputError("No beat at all is no detune", do="Ask for a beat rate above 0")
    shapes = [
        _evenest(k * slowest_hz, notes, f_hz, interval, high_end) if k else _Shape(0.0, 0.0, 0.0)
        for k in _places(names, positions)
    ]
    return _plan("even beats", notes, f_hz, names, positions, shapes, interval, a4_hz)


@dataclass(frozen=True, slots=True)
class _Shape:
    base_cents: float
    scale_cents_per_oct: float
    high_cents_per_khz: float

    def cents(self, notes: Sequence[int], f_hz: Array) -> Array:
        octaves = (np.asarray(notes, dtype=np.float64) - MIDDLE_C) / 12.0
        return np.asarray(
            self.base_cents
            + self.scale_cents_per_oct * octaves
            + self.high_cents_per_khz * f_hz / 1000.0,
            dtype=np.float64,
        )


def _range(low: int, high: int, a4_hz: float) -> tuple[tuple[int, ...], Array]:
    if not 0 <= low < high <= 127:
        raise InputError(
            f"{low} to {high} is no range of notes", do="Give a lower and a higher note"
        )
    notes = tuple(range(low, high + 1))
    return notes, note_to_hz(np.array(notes, dtype=np.float64), a4_hz)


def _places(names: Sequence[str], positions: Sequence[float] | None) -> tuple[float, ...]:
    """Position of each voice, the leader at 0."""
    if len(names) < 2 or len(set(names)) != len(names):
        raise InputError("A detune needs two or more oscillators", do="Name each of them once")
    if positions is None:
        return tuple(float(place) for place in range(len(names)))
    places = tuple(float(place) for place in positions)
    if len(places) != len(names) or places[0] != 0.0 or len(set(places)) != len(places):
        raise InputError(
            "Each oscillator needs a position of its own, the first of them 0",
            "positions",
            f"Write {len(names)} different figures, such as 0, 1, 2",
        )
    if not all(map(math.isfinite, places)):
        raise InputError("A position must be a number", "positions", "Write figures")
    return places


def _evenest(
    slowest_hz: float, notes: tuple[int, ...], f_hz: Array, interval: Interval, high_end: bool
) -> _Shape:
    sign = math.copysign(1.0, slowest_hz)
    meeting_hz = interval.lower_partial * f_hz
    lowest = np.array([cents_for_beat(slowest_hz, float(f), interval) for f in f_hz])
    octaves = (np.array(notes, dtype=np.float64) - MIDDLE_C) / 12.0
    columns = np.column_stack([np.ones(len(notes)), octaves, f_hz / 1000.0][: 3 if high_end else 2])
    width = columns.shape[1]
    ratio = 1.0
    cuts, limits = [-sign * np.column_stack([columns, np.zeros(len(notes))])], [-sign * lowest]
    solution: Array = np.zeros(width + 1)
    for _ in range(30):
        # Tangent of the fastest beat's cents at today's ratio: an outer bound, being concave for
        # an upper tone too high; for one too low it is convex and the tangent an approximation
        # that the repetition makes exact where it matters, at the solution.
        if sign < 0.0:
            ratio = min(ratio, 0.5 * float(meeting_hz.min()) / -slowest_hz)
        top = CENTS_PER_OCTAVE * np.log2(1.0 + ratio * slowest_hz / meeting_hz)
        slope = CENTS_PER_OCTAVE / math.log(2.0) * slowest_hz / (meeting_hz + ratio * slowest_hz)
        cut = sign * np.column_stack([columns, -slope])
        limit = sign * (top - slope * ratio)
        # Of older tangents only the concave case may keep its own: there they never cut too deep.
        if sign < 0.0:
            del cuts[1:], limits[1:]
        cuts.append(cut)
        limits.append(limit)
        solved = linprog(
            np.append(np.zeros(width), 1.0),
            A_ub=np.vstack(cuts),
            b_ub=np.concatenate(limits),
            bounds=[(None, None)] * width + [(1.0, None)],
            method="highs",
        )
        solution, before = np.asarray(solved.x, dtype=np.float64), ratio
        ratio = float(solution[-1])
        if abs(ratio - before) < 1e-10 * ratio:
            break
    third = float(solution[2]) if high_end else 0.0
    return _Shape(float(solution[0]), float(solution[1]), third)


def _plan(
    kind: str,
    notes: tuple[int, ...],
    f_hz: Array,
    names: Sequence[str],
    positions: Sequence[float] | None,
    shapes: Sequence[_Shape],
    interval: Interval,
    a4_hz: float,
) -> DetunePlan:
    places = _places(names, positions)
    standard = cents_between(a4_hz, A4_HZ)
    offsets = [shape.cents(notes, f_hz) for shape in shapes]
    voices = tuple(
        Voice(
            name=name,
            position=place,
            cents=tuple(map(float, offset + standard + (interval.cents if number else 0.0))),
            base_cents=shape.base_cents + standard + (interval.cents if number else 0.0),
            scale_cents_per_oct=shape.scale_cents_per_oct,
            high_cents_per_khz=shape.high_cents_per_khz,
        )
        for number, (name, place, shape, offset) in enumerate(
            zip(names, places, shapes, offsets, strict=True)
        )
    )
    just = interval.lower_partial / interval.upper_partial
    tones = [
        f_hz * ratio_of_cents(offset) * (just if number else 1.0)
        for number, offset in enumerate(offsets)
    ]
    pairs = []
    for one, other in combinations(range(len(names)), 2):
        lower, upper = (one, other) if places[one] < places[other] or not one else (other, one)
        between = interval if not lower or not upper else UNISON
        beats = np.array(
            [
                beat_hz(float(a), float(b), between)
                for a, b in zip(tones[lower], tones[upper], strict=True)
            ]
        )
        pairs.append(PairBeats(names[lower], names[upper], tuple(map(float, beats)), _ratio(beats)))
    nearest = min(range(1, len(names)), key=lambda number: abs(places[number]))
    pair = pairs[nearest - 1]
    crossing = _crossing(offsets[nearest])
    return DetunePlan(
        kind=kind,
        notes=notes,
        interval=interval,
        voices=voices,
        pairs=tuple(pairs),
        ratio=pair.ratio,
        crossing_probability=crossing,
        sentences=_sentences(kind, notes, pairs, pair, places),
        warnings=_warnings(notes, offsets[nearest], crossing, pair),
    )


def _ratio(beats_hz: Array) -> float:
    size = np.abs(beats_hz)
    if size.min() < 1e-9 * size.max() or beats_hz.min() * beats_hz.max() < 0.0:
        return math.inf
    return float(size.max() / size.min())


def _crossing(offset_cents: Array) -> float:
    """How likely the offset changes sign at one end or the other, each set to SET_U_CENTS."""
    side = math.copysign(1.0, float(offset_cents.sum()))
    kept = 1.0
    for end in (offset_cents[0], offset_cents[-1]):
        kept *= float(ndtr(side * float(end) / SET_U_CENTS))
    return 1.0 - kept


def _spoken(beats: float) -> str:
    size = abs(beats)
    if size < 1e-6:
        return "no beat"
    return f"{size:.2f} beats per second" if size >= 1.0 else f"a beat every {1.0 / size:.3g} s"


def _sentences(
    kind: str,
    notes: tuple[int, ...],
    pairs: Sequence[PairBeats],
    pair: PairBeats,
    places: Sequence[float],
) -> tuple[str, ...]:
    size = np.abs(pair.beats_hz)
    slow, fast = int(size.argmin()), int(size.argmax())
    where = f"{note_name(notes[0])} to {note_name(notes[-1])}"
    said = [
        f"{pair.lower} and {pair.upper}, {where}: {_spoken(size[slow])} at "
        f"{note_name(notes[slow])}, {_spoken(size[fast])} at {note_name(notes[fast])}"
        + (f", a ratio of {pair.ratio:.2f}." if math.isfinite(pair.ratio) else ".")
    ]
    if kind == "constant cents":
        said.append("The same cents everywhere make beats that double each octave.")
    if kind == "even beats":
        plain = 2.0 ** ((notes[-1] - notes[0]) / 12.0)
        said.append(f"Plain constant cents would have a ratio of {plain:.3g} over this range.")
    if len(places) > 2:
        widest = max(pairs, key=lambda p: max(map(abs, p.beats_hz)))
        times = (max(places) - min(places)) / min(abs(a - b) for a, b in combinations(places, 2))
        said.append(
            f"Of all pairs {widest.lower} and {widest.upper} beat fastest, {times:.3g} times as "
            "fast as the closest pair."
        )
    return tuple(said)


def _warnings(
    notes: tuple[int, ...], offset_cents: Array, crossing: float, pair: PairBeats
) -> tuple[str, ...]:
    said = []
    if min(pair.beats_hz) * max(pair.beats_hz) <= 0.0:
        beats = np.array(pair.beats_hz)
        still = int(np.abs(beats).argmin())
        said.append(
            f"The beat dies away near {note_name(notes[still])} and grows again: below that note "
            "one oscillator is the sharp one, above it the other."
        )
    elif notes[-1] - notes[0] > 36 and crossing > 0.01:
        end = int(np.abs(offset_cents[[0, -1]]).argmin()) * -1
        said.append(
            f"Beyond three octaves this asks for a steady hand: at {note_name(notes[end])} the "
            f"offset is only {abs(offset_cents[end]):.2f} cents, so with ends set to "
            f"{SET_U_CENTS} cent about one in {1.0 / crossing:.0f} dies away on the way and grows "
            "again."
        )
    fastest = max(map(abs, pair.beats_hz))
    if fastest > 15.0:
        said.append(
            f"At {fastest:.0f} beats per second the ear hears roughness, not beats (common "
            "practice)."
        )
    return tuple(said)

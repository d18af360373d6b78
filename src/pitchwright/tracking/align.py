"""Which note was meant: the pitches heard laid against the notes asked for.

Without a list each pitch is taken to the nearest note, once what all have in common (an instrument
tuned flat, a scale that is off) is set aside. With a list the two are aligned as sequences by
dynamic programming (Needleman and Wunsch, 1970): notes may be missing, repeated or played by
mistake, the whole may be transposed, off by any amount and its scale off by a few percent. What the
pitches alone cannot decide is said as a doubt.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pitchwright.errors import InputError
from pitchwright.units import note_name, parse_note

__all__ = ["Alignment", "HeardPitch", "Meant", "align", "parse_notes"]

Floats = NDArray[np.float64]

_MOST_NOTES: Final = 10_000
_RANGE: Final = re.compile(r"(\S+?)\s*\.\.\s*(\S+?)(?:\s+step\s+(\d{1,3}))?", re.IGNORECASE)

# Costs are squared residuals in units of what a sound oscillator may be off after the line is set
# aside; a note skipped on both sides costs as much as a residual of 0.9 semitone.
_RESIDUAL: Final = 0.4
_MISTAKE: Final = 3.0
_MISSING: Final = 2.0
_REPEAT: Final = 0.3
_OTHER_OCTAVE: Final = 0.01
_PER_SEMITONE: Final = 0.05
_PER_SCALE: Final = 20.0
_AMBIGUOUS: Final = 2.0
_SCALES: Final = np.arange(-5, 6) * 0.01
_BEST_OFFSETS: Final = 5
_OUT_OF_ORDER: Final = 0.35
_NEARLY_HALFWAY: Final = 0.35
# Seven semitones flat is an oscillator mistuned, ten is one an octave down and two sharp.
_OFF_AT_MOST: Final = 3.5


@dataclass(frozen=True, slots=True)
class HeardPitch:
    """One pitch heard.

    Attributes
    ----------
    note
        As a fractional note number.
    other
        The other candidate where the octave is ambiguous, else None.
    held
        Whether it is the note before it, held on.
    """

    note: float
    other: float | None = None
    held: bool = False


@dataclass(frozen=True, slots=True)
class Meant:
    """Which note one pitch stands for.

    Attributes
    ----------
    note
        The note asked for, or None where it is none of those written (a mistake).
    other_octave
        Whether the other octave of an ambiguous pitch was taken, because the list asks for it.
    why
        What is doubtful or remarkable about it, as a sentence; empty where nothing is.
    """

    note: int | None
    other_octave: bool = False
    why: str = ""


@dataclass(frozen=True, slots=True)
class Alignment:
    """The pitches heard with the notes they stand for.

    Attributes
    ----------
    meant
        One for each pitch heard, in the same order.
    offset_semitones
        How far above the notes meant the pitches lie, at the middle of the notes.
    octaves
        The whole octaves in it.
    scale_error
        Share by which the pitches move more than the notes do (0.01: 12 cents per octave).
    ambiguous
        Whether another alignment explains the pitches about as well.
    doubts
        What a person should know, each a sentence.
    """

    meant: tuple[Meant, ...]
    offset_semitones: float = 0.0
    octaves: int = 0
    scale_error: float = 0.0
    ambiguous: bool = False
    doubts: tuple[str, ...] = ()


def parse_notes(text: str) -> tuple[int, ...]:
    """Note numbers of a written list: ``C1..C7 step 6``, ``C4, E4, G4``, ``36..96, 60``.

    Parts are separated by commas, semicolons, spaces or new lines; a range goes up or down,
    includes its ends as far as its step (1 unless said) reaches them.

    Raises
    ------
    InputError
        Where a part is no note or range, or the list is empty or too long.
    """
    notes: list[int] = []
    for part in re.split(r"[,;\n]+", text):
        words = part.strip()
        if not words:
            continue
        if match := _RANGE.fullmatch(words):
            first, last, step = match.groups()
            notes += _run(parse_note(first), parse_note(last), int(step or 1))
        elif ".." in words or "step" in words.lower():
            raise InputError(
                f"“{words[:40]}” is not a run of notes",
                do="Write one as C1..C7 or C1..C7 step 6",
            )
        else:
            notes += [parse_note(word) for word in words.split()]
        if len(notes) > _MOST_NOTES:
            raise InputError(f"The list has more than {_MOST_NOTES} notes", do="Shorten it")
    if not notes:
        raise InputError("The list of notes is empty", do="Write it as C1..C7 step 6 or C4, E4, G4")
    return tuple(notes)


def align(heard: Sequence[HeardPitch], written: Sequence[int] | None = None) -> Alignment:
    """Say which note each pitch stands for.

    Parameters
    ----------
    heard
        The pitches in the order of time.
    written
        The notes asked for in the order of playing; None takes the nearest note.

    Returns
    -------
    Alignment
        One `Meant` for each pitch, and the doubts.
    """
    if not heard:
        return Alignment(())
    if written is None or not written:
        return _nearest(heard)
    forward = _as_written(heard, np.asarray(written, dtype=np.float64))
    if _in_order(forward) == len(heard):
        return forward
    backward = _as_written(heard, np.asarray(written[::-1], dtype=np.float64))
    if _in_order(backward) <= _in_order(forward):
        return forward
    said = (
        "The notes were heard in the other direction than they are written: taken as played from "
        f"{note_name(written[-1])} to {note_name(written[0])}"
    )
    return replace(backward, doubts=(said, *backward.doubts))


def _in_order(laid: Alignment) -> int:
    """How many pitches found their place in the list without a remark."""
    return sum(one.note is not None and (one.other_octave or not one.why) for one in laid.meant)


def _run(first: int, last: int, step: int) -> list[int]:
    if step == 0:
        raise InputError("A step of 0 goes nowhere", do="Write a step of 1 or more")
    return list(range(first, last + 1, step) if last >= first else range(first, last - 1, -step))


def _nearest(heard: Sequence[HeardPitch]) -> Alignment:
    pitch = np.array([one.note for one in heard])
    middle = float(np.median(pitch))
    # What is common to all: the offset is where the fractions cluster, the scale what makes them.
    scales = np.arange(-20, 21) * 0.002
    turns = np.exp(2j * np.pi * (pitch - scales[:, None] * (pitch - middle)))
    means = turns.mean(axis=1)
    span = float(np.ptp(pitch))
    worth = np.abs(means) - 5.0 * np.abs(scales)
    # Few notes fit any scale, and a scale that moves none by a quarter tone changes nothing.
    best = int(np.argmax(worth)) if len(heard) >= 5 and span > 12.0 else len(scales) // 2
    scale, offset = float(scales[best]), float(np.angle(means[best])) / (2.0 * np.pi)
    if abs(scale) * span < 0.5:
        scale, offset = 0.0, float(np.angle(means[len(scales) // 2])) / (2.0 * np.pi)
    notes = np.round(pitch - scale * (pitch - middle) - offset).astype(int)
    doubts: list[str] = []
    halfway = abs(offset) > _NEARLY_HALFWAY
    if halfway:
        doubts.append(
            f"The pitches lie about {abs(100 * offset):.0f} cents "
            f"{'above' if offset > 0 else 'below'} the nearest notes, so that the notes meant may "
            "be a semitone off: give the list of notes played"
        )
    if scale:
        doubts.append(
            f"The pitches spread by {1200 * scale:+.0f} cents per octave against the notes, too "
            "far to be sure which note was meant at the ends: give the list of notes played"
        )
    meant = []
    for one, note in zip(heard, notes.tolist(), strict=True):
        off = one.note - note
        why = ""
        if abs(off - offset) > _NEARLY_HALFWAY and not scale:
            why = f"Heard {100 * off:+.0f} cents off {note_name(note)}: the note meant is a guess"
            doubts.append(f"{why}; give the list of notes played")
        elif one.other is not None:
            why = f"Its octave is not certain: it may also be {note_name(round(one.other))}"
        meant.append(Meant(note, why=why))
    uncertain = sum(one.other is not None for one in heard)
    if uncertain:
        doubts.append(
            f"The octave of {uncertain} of {len(heard)} notes is not certain from the sound: give "
            "the list of notes played"
        )
    return Alignment(
        tuple(meant),
        offset_semitones=offset,
        scale_error=scale,
        ambiguous=bool(doubts),
        doubts=tuple(dict.fromkeys(doubts)),
    )


@dataclass(frozen=True, slots=True)
class _Line:
    """What the pitch of a written note is expected to be."""

    offset: float
    scale: float
    middle: float

    def pitch(self, note: Floats | float) -> Floats:
        return np.asarray(note + self.offset + self.scale * (note - self.middle), dtype=np.float64)

    @property
    def cost(self) -> float:
        return _PER_SEMITONE * abs(self.offset) + _PER_SCALE * abs(self.scale)


@dataclass(frozen=True, slots=True)
class _Path:
    """One way to lay the pitches against the list: for each pitch its place in it, or -1."""

    cost: float
    line: _Line
    places: tuple[int, ...]


def _as_written(heard: Sequence[HeardPitch], written: Floats) -> Alignment:
    pitch = np.array([one.note for one in heard])
    other = np.array([np.nan if one.other is None else one.other for one in heard])
    held = np.array([one.held for one in heard])
    paths = sorted(
        (_settled(pitch, other, held, written, line) for line in _lines(pitch, other, written)),
        key=lambda path: path.cost,
    )
    best = paths[0]
    rivals = [path for path in paths[1:] if abs(path.line.offset - best.line.offset) > 0.5]
    octaves = round(best.line.offset / 12.0)
    if abs(best.line.offset - 12 * octaves) > _OFF_AT_MOST:
        octaves = int(best.line.offset / 12.0)
    doubts = []
    ambiguous = False
    if not any(place >= 0 for place in best.places):
        ambiguous = True
        doubts.append("Nothing that was heard fits the list of notes")
    elif rivals and rivals[0].cost - best.cost < _AMBIGUOUS:
        ambiguous = True
        shift = rivals[0].line.offset - best.line.offset
        if abs(abs(shift) - 12.0) < 0.5 and np.isfinite(other).any():
            doubts.append(
                "The octave is not certain from the sound; the one nearest to the list was taken"
            )
        else:
            doubts.append(
                "The list fits the pitches in more than one way: every note meant may also be "
                f"{abs(shift):.0f} semitones {'lower' if shift > 0 else 'higher'}; play the whole "
                "list again to be sure"
            )
    missing = sorted(set(range(len(written))) - set(best.places))
    if missing and not ambiguous:
        names = ", ".join(note_name(written[place]) for place in missing[:8])
        more = f" and {len(missing) - 8} more" if len(missing) > 8 else ""
        doubts.append(f"Written but not heard: {names}{more}")
    if octaves:
        doubts.append(
            f"Everything was heard {abs(octaves)} octave{'s' if abs(octaves) > 1 else ''} "
            f"{'above' if octaves > 0 else 'below'} the written notes"
        )
    meant = [
        _meant(one, place, written, best.line)
        for one, place in zip(heard, best.places, strict=True)
    ]
    return Alignment(
        tuple(meant), best.line.offset, octaves, best.line.scale, ambiguous, tuple(doubts)
    )


def _meant(one: HeardPitch, place: int, written: Floats, line: _Line) -> Meant:
    expected = line.pitch(written)
    if place >= 0:
        takes_other = _nearer_other(one, float(expected[place]))
        note = int(written[place])
        if takes_other:
            return Meant(note, True, "Of its two possible octaves the one on the list was taken")
        return Meant(note)
    takes_other = False
    nearest = int(np.argmin(np.abs(expected - one.note)))
    if abs(expected[nearest] - one.note) <= _OUT_OF_ORDER:
        note = int(written[nearest])
        return Meant(
            note,
            why=f"Played out of the written order; taken as {note_name(note)} from its pitch",
        )
    about = note_name(round(one.note))
    return Meant(None, why=f"None of the written notes (about {about}): left out as a mistake")


def _nearer_other(one: HeardPitch, expected: float) -> bool:
    return one.other is not None and abs(one.other - expected) < abs(one.note - expected)


def _lines(pitch: Floats, other: Floats, written: Floats) -> list[_Line]:
    """Offsets and scales worth trying: where many differences between heard and written agree."""
    middle = float(np.median(written))
    candidates = np.concatenate((pitch, other[np.isfinite(other)]))
    lines = []
    for scale in _SCALES if len(pitch) >= 3 else np.zeros(1):
        expected = written + scale * (written - middle)
        away = (candidates[:, None] - expected[None, :]).ravel()
        edges = np.arange(np.floor(away.min()) - 1.0, away.max() + 2.0, 0.25)
        counts = np.histogram(away, edges)[0]
        together = np.convolve(counts, np.ones(3), "same")
        for place in np.argsort(-together, kind="stable")[:_BEST_OFFSETS]:
            near = np.abs(away - (edges[place] + 0.125)) <= 0.375
            if near.any():
                lines.append(_Line(float(np.median(away[near])), float(scale), middle))
    return lines


def _settled(
    pitch: Floats, other: Floats, held: NDArray[np.bool_], written: Floats, line: _Line
) -> _Path:
    """Align, fit the line to what was aligned, and again until nothing changes."""
    path = _path(pitch, other, held, written, line)
    for _ in range(3):
        places = np.array(path.places)
        used = places >= 0
        if not used.any():
            break
        notes = written[places[used]]
        expected = path.line.pitch(notes)
        swapped = np.abs(other[used] - expected) < np.abs(pitch[used] - expected)
        heard = np.where(swapped, other[used], pitch[used])
        better = _path(pitch, other, held, written, _fitted(notes, heard, line.middle))
        if better.cost >= path.cost - 1e-9:
            break
        path = better
    return path


def _fitted(notes: Floats, heard: Floats, middle: float) -> _Line:
    off = heard - notes
    away = notes - middle
    if len(np.unique(notes)) < 3:
        return _Line(float(np.median(off)), 0.0, middle)
    # Least squares that leans to a true scale, so that three notes close together do not tilt it.
    sums = np.array([[len(notes), away.sum()], [away.sum(), (away**2).sum() + 50.0]])
    offset, scale = np.linalg.solve(sums, np.array([off.sum(), (off * away).sum()]))
    return _Line(float(offset), float(np.clip(scale, -0.08, 0.08)), middle)


def _path(
    pitch: Floats, other: Floats, held: NDArray[np.bool_], written: Floats, line: _Line
) -> _Path:
    """Cheapest alignment for one line."""
    expected = line.pitch(written)
    cost = ((pitch[:, None] - expected) / _RESIDUAL) ** 2
    swapped = ((other[:, None] - expected) / _RESIDUAL) ** 2 + _OTHER_OCTAVE
    cost = np.fmin(cost, swapped)
    rows, columns = cost.shape
    skipped = _MISSING * np.arange(columns + 1)
    best = np.empty((rows + 1, columns + 1))
    best[0] = skipped
    for row in range(rows):
        before, repeat = best[row], 0.0 if held[row] else _REPEAT
        here = before + _MISTAKE
        here[1:] = np.minimum(here[1:], before[:-1] + cost[row])
        here[1:] = np.minimum(here[1:], before[1:] + cost[row] + repeat)
        # A written note skipped after this pitch: the running minimum, charged for each step.
        best[row + 1] = np.minimum.accumulate(here - skipped) + skipped
    places = [-1] * rows
    row, column = rows, columns
    while row > 0:
        now, repeat = float(best[row, column]), 0.0 if held[row - 1] else _REPEAT
        if column and _same(now, best[row, column - 1] + _MISSING):
            column -= 1
            continue
        row -= 1
        if column and _same(now, best[row, column - 1] + cost[row, column - 1]):
            column -= 1
            places[row] = column
        elif column and _same(now, best[row, column] + cost[row, column - 1] + repeat):
            places[row] = column - 1
    return _Path(float(best[rows, columns]) + line.cost, line, tuple(places))


def _same(cost: float, other: float) -> bool:
    return math.isclose(cost, other, rel_tol=1e-9, abs_tol=1e-9)

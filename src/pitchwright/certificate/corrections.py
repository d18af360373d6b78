"""Per-note corrections for a digital source: what cannot be trimmed, taken out note by note.

A correction is worth what it removes and costs what it brings in: the uncertainty of the reading
it was made from, and the wander of the oscillator at that moment, frozen into the table. Where the
error squared is not even twice that (the reading's own scatter is in it once already), correcting
gains nothing, and the note is left alone with the reason.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from pitchwright.certificate.csv_table import write_csv
from pitchwright.certificate.midi_tuning import STEP_CENTS, pitch_of_word, word_of_pitch
from pitchwright.errors import InputError
from pitchwright.procedures.worked_out import CorrectionsMade, NoteCorrected
from pitchwright.tracking import Point, TargetCurve
from pitchwright.tracking.coverage import expanded_u
from pitchwright.tracking.readings import Readings
from pitchwright.units import CENTS_PER_OCTAVE, note_name

__all__ = ["CorrectedNote", "Corrections", "corrections", "corrections_made", "write_corrections"]

Array = NDArray[np.float64]

_MV_PER_CENT = 1000.0 / CENTS_PER_OCTAVE
_LOO_SPREAD = math.sqrt(1.5)
"""A note left out and put back by its two neighbours misses by this times the notes' scatter."""


@dataclass(frozen=True, slots=True)
class CorrectedNote:
    """What happens to one note.

    Attributes
    ----------
    note
        MIDI note.
    error_cents, u_cents
        Error today and its standard uncertainty; of notes that were not played, as their
        neighbours have it. None beyond the notes played.
    correction_cents, correction_mv
        What to add at the source, in steps it can make.
    predicted_cents
        What that leaves at the note as measured: what quantisation cannot take out.
    u_predicted_cents
        Standard uncertainty of that in use, wander included.
    how
        “measured”, “between” or “left alone”.
    why
        Why it was left alone; empty otherwise.
    """

    note: int
    error_cents: float | None
    u_cents: float | None
    correction_cents: float
    correction_mv: float
    predicted_cents: float | None
    u_predicted_cents: float | None
    how: str
    why: str = ""


@dataclass(frozen=True, slots=True)
class Corrections:
    """A table of 128 corrections and what it is worth.

    Attributes
    ----------
    notes
        All MIDI notes, 0 to 127.
    wander_cents
        How far the oscillator wanders between visits to a note; None where none was visited twice
        and nothing was given.
    hidden_cents
        What notes that were not played may hide, as a standard uncertainty.
    step_cents
        The step corrections are rounded to.
    worst_before_cents, worst_after_cents
        Greatest error at the notes played, today and predicted (uncertainty not included).
    u_after_cents
        Standard uncertainty of a corrected note in use, root mean square over the notes played.
    sentences
        The same in words.
    """

    notes: tuple[CorrectedNote, ...]
    wander_cents: float | None
    hidden_cents: float
    step_cents: float
    worst_before_cents: float
    worst_after_cents: float
    u_after_cents: float
    sentences: tuple[str, ...]

    @property
    def pitches(self) -> tuple[float, ...]:
        """Fractional MIDI note that each note shall play, shape (128,)."""
        return tuple(one.note + one.correction_cents / 100.0 for one in self.notes)

    @property
    def changed(self) -> dict[int, float]:
        """Of `pitches`, those that differ from the plain note."""
        return {n: pitch for n, pitch in enumerate(self.pitches) if pitch != n}


def corrections(
    points: Sequence[Point],
    target: TargetCurve,
    wander_cents: float | None = None,
    step_cents: float = STEP_CENTS,
) -> Corrections:
    """Work out what to add at every note so that the oscillator meets its target.

    Parameters
    ----------
    points
        Readings of one oscillator; notes visited more than once show how far it wanders.
    target
        What the curve should be.
    wander_cents
        How far it wanders (standard deviation), where known better than the repeats say.
    step_cents
        The smallest step the source can make; a step of the MIDI Tuning Standard by default.

    Raises
    ------
    InputError
        Where nothing can be corrected, or the error wanders more than correcting would gain.
    """
    if not (math.isfinite(step_cents) and 0.0 < step_cents <= 100.0):
        raise InputError(
            f"A step of {step_cents:g} cents cannot be", do="Write a figure above 0, at most 100"
        )
    if wander_cents is not None and not (math.isfinite(wander_cents) and wander_cents >= 0.0):
        raise InputError(
            f"A wander of {wander_cents:g} cents cannot be", do="Write a figure, 0 or more"
        )
    readings = Readings.of(points, target)
    if any(note != int(note) or not 0 <= note <= 127 for note in readings.note):
        raise InputError(
            "Corrections belong to keys, and a reading lies between two of them",
            do="Survey whole notes from 0 to 127",
        )
    played, error, u_mean, visits, found = _by_note(readings)
    wander = found if wander_cents is None else wander_cents
    # What a correction brings in: the reading's uncertainty and the wander it caught.
    brought = np.sqrt(u_mean**2 + (wander or 0.0) ** 2 / visits)
    _refuse_where_nothing_is_gained(error, brought, wander)
    hidden = _hidden(played, error, brought)
    answer = 1.0 + _slope(played, error) / CENTS_PER_OCTAVE

    notes = []
    for note in range(128):
        if not played[0] <= note <= played[-1]:
            notes.append(_left(note, None, None, "No reading reaches this far"))
            continue
        exact = note in played
        e = float(np.interp(note, played, error))
        u = float(np.interp(note, played, brought))
        if not exact:
            u = math.hypot(u, hidden)
        if e * e <= 2.0 * u**2:
            reason = (
                f"Its {abs(e):.2f} cents are not more than what correcting would bring in "
                f"(±{expanded_u(u):.2f})"
            )
            notes.append(_left(note, e, u, reason))
            continue
        wanted = -e / answer
        stepped = round(wanted / step_cents) * step_cents
        # Kept inside what the standard can write; at the very ends only.
        pitch = min(max(note + stepped / 100.0, 0.0), 127.0 + 16382.0 / 16384.0)
        written = pitch_of_word(word_of_pitch(pitch))
        assert written is not None
        cents = 100.0 * (written - note)
        notes.append(
            CorrectedNote(
                note=note,
                error_cents=e,
                u_cents=u,
                correction_cents=cents,
                correction_mv=cents * _MV_PER_CENT,
                predicted_cents=e + answer * cents,
                u_predicted_cents=math.hypot(u, wander or 0.0),
                how="measured" if exact else "between",
            )
        )
    return _summed_up(tuple(notes), played, error, wander, hidden, step_cents)


def corrections_made(oscillator: str, table: Corrections, sent_to: str = "") -> CorrectionsMade:
    """Corrections as they are handed on and written down; ``sent_to`` is the MIDI port, if any."""
    return CorrectionsMade(
        oscillator=oscillator,
        notes=tuple(
            NoteCorrected(
                one.note,
                one.error_cents,
                one.correction_cents,
                one.predicted_cents,
                one.u_predicted_cents,
            )
            for one in table.notes
            if one.error_cents is not None
            and one.predicted_cents is not None
            and one.u_predicted_cents is not None
        ),
        wander_cents=table.wander_cents,
        step_cents=table.step_cents,
        worst_before_cents=table.worst_before_cents,
        worst_after_cents=table.worst_after_cents,
        u_after_cents=table.u_after_cents,
        sent_to=sent_to,
        sentences=table.sentences,
    )


def write_corrections(path: Path, table: Corrections) -> None:
    """Write the corrections as CSV: cents and millivolts a note, errors before and after."""
    write_csv(
        path,
        (
            "note",
            "name",
            "error_cents",
            "u_cents",
            "correction_cents",
            "correction_mv",
            "predicted_cents",
            "u_predicted_cents",
            "how",
            "why",
        ),
        [
            (
                one.note,
                note_name(one.note),
                one.error_cents,
                one.u_cents,
                one.correction_cents,
                one.correction_mv,
                one.predicted_cents,
                one.u_predicted_cents,
                one.how,
                one.why,
            )
            for one in table.notes
        ],
    )


def _left(note: int, error: float | None, u: float | None, why: str) -> CorrectedNote:
    return CorrectedNote(note, error, u, 0.0, 0.0, error, u, "left alone", why)


def _by_note(readings: Readings) -> tuple[Array, Array, Array, Array, float | None]:
    """Note, mean error, its uncertainty and visits, by note; and the wander between visits."""
    played = np.unique(readings.note)
    error, u_mean, visits = (np.zeros(len(played)) for _ in range(3))
    squares, spare, noise = 0.0, 0, 0.0
    for place, note in enumerate(played):
        here = readings.note == note
        cents, u = readings.cents[here], readings.u_cents[here]
        visits[place] = len(cents)
        error[place] = cents.mean()
        u_mean[place] = math.sqrt(float((u**2).sum())) / len(cents)
        if len(cents) > 1:
            squares += float(((cents - cents.mean()) ** 2).sum())
            noise += float((u**2).mean()) * (len(cents) - 1)
            spare += len(cents) - 1
    wander = math.sqrt(max(0.0, (squares - noise) / spare)) if spare else None
    return played, error, u_mean, visits, wander


def _refuse_where_nothing_is_gained(error: Array, brought: Array, wander: float | None) -> None:
    if (error**2).sum() > 2.0 * (brought**2).sum():
        return
    size = math.sqrt(float((error**2).mean()))
    why = (
        f"it wanders by {wander:.2f} cents between visits"
        if wander
        else f"the readings are only known to ±{expanded_u(np.sqrt((brought**2).mean())):.2f}"
    )
    raise InputError(
        f"Correcting would gain nothing: the error is {size:.2f} cents on average, and {why}",
        do="Let it warm up and survey again, visiting notes more than once",
    )


def _hidden(played: Array, error: Array, brought: Array) -> float:
    """What a note between the played ones may hide: how badly neighbours foretell a played one."""
    if len(played) < 3:
        return float(np.abs(error).max())
    share = (played[1:-1] - played[:-2]) / (played[2:] - played[:-2])
    foretold = error[:-2] + share * (error[2:] - error[:-2])
    scatter = float(((error[1:-1] - foretold) ** 2).mean()) / _LOO_SPREAD**2
    return math.sqrt(max(0.0, scatter - float((brought**2).mean())))


def _slope(played: Array, error: Array) -> float:
    """Cents per octave of the whole curve: how much more than a cent a cent of voltage makes."""
    if len(played) < 2:
        return 0.0
    return float(np.polyfit(played / 12.0, error, 1)[0])


def _summed_up(
    notes: tuple[CorrectedNote, ...],
    played: Array,
    error: Array,
    wander: float | None,
    hidden: float,
    step_cents: float,
) -> Corrections:
    at_played = [notes[int(note)] for note in played]
    after = [one.predicted_cents or 0.0 for one in at_played]
    u_after = math.sqrt(float(np.mean([(one.u_predicted_cents or 0.0) ** 2 for one in at_played])))
    before = float(np.abs(error).max())
    left = max(map(abs, after))
    worst = note_name(float(played[int(np.abs(error).argmax())]))
    changed = [one for one in notes if one.how != "left alone"]
    between = sum(one.how == "between" for one in changed)
    alone = [one for one in notes if one.how == "left alone" and one.error_cents is not None]
    said = [
        f"{len(changed)} notes are corrected, {between} of them between notes that were played.",
        f"At the notes played the greatest error goes from {before:.2f} cents (at {worst}) to "
        f"{left:.2f}, and a corrected note is then known to ±{expanded_u(u_after):.2f} cents "
        "(k = 2).",
        f"Rounding to steps of {step_cents:.2g} cents leaves up to {step_cents / 2.0:.2g} cents.",
    ]
    if alone:
        names = ", ".join(note_name(one.note) for one in alone[:6])
        more = f" and {len(alone) - 6} more" if len(alone) > 6 else ""
        said.append(f"Left alone, because correcting would gain nothing there: {names}{more}.")
    if between and hidden >= 0.005:
        said.append(f"Notes that were not played may hide another ±{expanded_u(hidden):.2f} cents.")
    if wander is None:
        said.append(
            "How far the oscillator wanders is not known, because no note was visited twice: play "
            "some of them again to find out whether the corrections will hold."
        )
    return Corrections(notes, wander, hidden, step_cents, before, left, u_after, tuple(said))

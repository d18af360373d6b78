"""What a sheet on the page shows, from a survey or from a trim under way.

Numerics come with the values that are handed in; nothing heavy is imported here, so that the first
page is served at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pitchwright.units import note_to_hz, ratio_of_cents
from pitchwright.web.modelled import Line, line_of

if TYPE_CHECKING:
    from pitchwright.procedures.outcomes import CurveKnown
    from pitchwright.tracking.conformity import JudgedCurve
    from pitchwright.tracking.survey import OscillatorSurvey

__all__ = ["Dot", "Reached", "SheetData", "of_curves", "of_survey"]


@dataclass(frozen=True, slots=True)
class Dot:
    """One note of a curve.

    Attributes
    ----------
    note
        MIDI note number.
    cents, u_cents
        Away from the target, and what covers 95 %.
    readings
        How many readings were kept for it; 0 where that is not known.
    left_out
        Why readings of it were thrown away, a sentence each.
    doubt
        Why it looks like a mistake; empty where it does not.
    """

    note: float
    cents: float
    u_cents: float
    readings: int = 0
    left_out: tuple[str, ...] = ()
    doubt: str = ""

    def beat_hz(self, a4_hz: float = 440.0) -> float:
        """Beats a second against the note as it should be, positive where it is sharp."""
        f_hz = note_to_hz(self.note, a4_hz)
        return f_hz * (ratio_of_cents(self.cents) - 1.0)


@dataclass(frozen=True, slots=True)
class Reached:
    """The widest run of notes inside a tolerance; None where no note is for certain."""

    tolerance_cents: float
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class SheetData:
    """One oscillator's sheet.

    Attributes
    ----------
    name
        Of the oscillator.
    now, found
        As it stands, and as found (empty where that is the same).
    model, model_found
        Lines as (note, cents), empty where there is none.
    fitted
        Whether the lines are of a fitted model; else they only join the notes.
    foreseen
        The curve once the planned moves are made, as (note, cents); empty where not known.
    tolerance_cents
        The band.
    reaches
        One a tolerance, tightest first.
    """

    name: str
    now: tuple[Dot, ...]
    found: tuple[Dot, ...] = ()
    model: Line = ()
    model_found: Line = ()
    fitted: bool = False
    foreseen: Line = ()
    tolerance_cents: float = 1.0
    reaches: tuple[Reached, ...] = ()

    @property
    def worst(self) -> Dot | None:
        """The note farthest off, those in doubt left aside where others are there."""
        sure = [dot for dot in self.now if not dot.doubt] or list(self.now)
        return max(sure, key=lambda dot: abs(dot.cents), default=None)


def of_survey(survey: OscillatorSurvey, found: OscillatorSurvey | None = None) -> SheetData:
    """The sheet of a finished survey, beside one of the same oscillator as found."""
    tightest = min(one.tolerance_cents for one in survey.reaches)
    left_out: dict[float, list[str]] = {}
    for out in survey.curve.left_out:
        left_out.setdefault(out.point.note, []).append(out.why)
    dots = tuple(
        Dot(
            entry.note,
            entry.cents,
            judged.expanded_cents,
            entry.readings,
            tuple(left_out.get(entry.note, ())),
            entry.doubt,
        )
        for entry, judged in zip(survey.curve.entries, survey.judged(tightest).notes, strict=True)
    )
    was: tuple[Dot, ...] = ()
    if found is not None:
        was = tuple(
            Dot(one.note, one.cents, one.expanded_cents) for one in found.judged(tightest).notes
        )
    reaches = tuple(
        Reached(one.tolerance_cents, one.low, one.high)
        for one in sorted(survey.reaches, key=lambda one: one.tolerance_cents)
    )
    return SheetData(
        survey.name,
        dots,
        was,
        model=_model(survey),
        model_found=_model(found) if found is not None else (),
        fitted=True,
        tolerance_cents=tightest,
        reaches=reaches,
    )


def _model(survey: OscillatorSurvey) -> Line:
    """The fitted line, from the first to the last note measured."""
    entries = survey.curve.entries
    return line_of(survey.model, entries[0].note, entries[-1].note) if len(entries) > 1 else ()


def of_curves(
    now: CurveKnown,
    found: CurveKnown | None,
    tolerance_cents: float,
    foreseen: Sequence[float] = (),
    readings: Sequence[float] = (),
    *,
    model: Line = (),
    model_found: Line = (),
) -> SheetData:
    """The sheet of a trim under way.

    Parameters
    ----------
    now, found
        The curve as it is believed to stand, and as found.
    tolerance_cents
        What is wanted.
    foreseen
        Cents at the notes of ``now`` once the planned moves are made, or nothing.
    readings
        The note of each reading that was kept.
    model, model_found
        The fitted model's line through each; empty where it is not known.
    """
    kept = {note: sum(1 for one in readings if one == note) for note in set(readings)}
    judged = now.judged(tolerance_cents)
    run = judged.run
    dots = _dots(judged, kept)
    was = (
        _dots(found.judged(tolerance_cents), {})
        if found is not None and found.cents != now.cents
        else ()
    )
    lines = tuple(zip(now.notes, foreseen, strict=True)) if foreseen else ()
    return SheetData(
        now.oscillator,
        dots,
        was,
        model=model or tuple(zip(now.notes, now.cents, strict=True)),
        model_found=(model_found or tuple((dot.note, dot.cents) for dot in was)) if was else (),
        fitted=bool(model),
        foreseen=lines,
        tolerance_cents=tolerance_cents,
        reaches=(
            Reached(
                tolerance_cents,
                judged.notes[run[0]].note if run else None,
                judged.notes[run[1]].note if run else None,
            ),
        ),
    )


def _dots(judged: JudgedCurve, kept: dict[float, int]) -> tuple[Dot, ...]:
    return tuple(
        Dot(one.note, one.cents, one.expanded_cents, kept.get(one.note, 0)) for one in judged.notes
    )

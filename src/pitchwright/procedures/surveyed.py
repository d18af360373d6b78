"""The one place where a closed survey is worked out: what every face, file and entry shows."""

from __future__ import annotations

from dataclasses import replace

from pitchwright.procedures.circumstances import AS_USUAL
from pitchwright.procedures.outcomes import SurveyClosed
from pitchwright.tracking import OscillatorSurvey, Point, TargetCurve, survey_oscillator

__all__ = ["curve_followed", "surveyed"]


def surveyed(closed: SurveyClosed, tolerance_cents: float | None = None) -> OscillatorSurvey:
    """Work a survey out from its readings and their circumstances.

    Parameters
    ----------
    closed
        The readings. Where their circumstances are not noted, they count as measured against equal
        temperament at A4 = 440 Hz by a clock that is right.
    tolerance_cents
        The only tolerance wanted; those of the circumstances where None.

    Raises
    ------
    InputError
        Where no reading can be used, or the target does not cover a note.
    """
    under = closed.circumstances or AS_USUAL
    if tolerance_cents is not None:
        under = replace(under, tolerances=(tolerance_cents,))
    return survey_oscillator(
        closed.oscillator,
        closed.points,
        target=under.target,
        tolerances=under.tolerances,
        clock_ppm=under.clock_ppm,
    )


def curve_followed(oscillator: str, points: tuple[Point, ...], *, same_take: bool) -> TargetCurve:
    """The curve of a surveyed oscillator as another's target; readings in doubt are left out."""
    curve = surveyed(SurveyClosed(oscillator, points)).curve
    heard = curve.trusted or curve.entries
    return TargetCurve.following(heard, oscillator, same_take=same_take)

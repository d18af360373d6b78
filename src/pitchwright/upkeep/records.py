"""A closed survey as the logbook keeps it, and back again."""

from __future__ import annotations

import math
from dataclasses import replace

from pitchwright.errors import InputError
from pitchwright.logbook.facts import Figures, SurveyRecorded
from pitchwright.procedures.circumstances import AS_USUAL, Circumstances
from pitchwright.procedures.outcomes import SurveyClosed
from pitchwright.procedures.surveyed import surveyed
from pitchwright.tracking import OscillatorSurvey, TermState

__all__ = ["closed_of", "figures_of", "recorded_of"]


def recorded_of(closed: SurveyClosed, *, invented: bool) -> SurveyRecorded:
    """A closed survey as it is written down, with what it came to."""
    under = closed.circumstances or AS_USUAL
    try:
        figures = figures_of(surveyed(closed))
    except InputError:  # too little to say anything: the readings are kept all the same
        figures = Figures(tolerance_cents=under.tolerances[0])
    return SurveyRecorded(
        under.state,
        closed.points,
        figures,
        replace(under.conditions, source=closed.source or under.conditions.source),
        under.target,
        under.clock_ppm,
        invented,
    )


def closed_of(name: str, recorded: SurveyRecorded) -> SurveyClosed:
    """The survey as it was closed, from its entry; the oscillator by the name it has today."""
    tolerance = recorded.figures.tolerance_cents
    under = Circumstances(
        recorded.state,
        recorded.target,
        tolerances=AS_USUAL.tolerances if tolerance is None else (tolerance,),
        clock_ppm=recorded.clock_ppm,
        conditions=recorded.conditions,
    )
    return SurveyClosed(name, recorded.points, circumstances=under)


def figures_of(survey: OscillatorSurvey) -> Figures:
    """Base, scale, high end and reach with their uncertainties; None where undetermined.

    The reach is the one at the first tolerance that was asked for.
    """
    model, reach = survey.model, survey.reaches[0]
    high_known = model.high.state is not TermState.UNDETERMINED
    return Figures(
        base_cents=_finite(model.base.value),
        u_base_cents=_finite(model.base.u),
        scale_cents_per_oct=_finite(model.scale_cents_per_oct),
        u_scale_cents_per_oct=_finite(model.u_scale_cents_per_oct),
        high_cents_per_khz=_finite(model.high_cents_per_khz) if high_known else None,
        u_high_cents_per_khz=_finite(model.u_high_cents_per_khz) if high_known else None,
        tolerance_cents=reach.tolerance_cents,
        reach_low=reach.low,
        reach_high=reach.high,
    )


def _finite(figure: float | None) -> float | None:
    return figure if figure is not None and math.isfinite(figure) else None

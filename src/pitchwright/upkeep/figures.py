"""What a survey came to, as the logbook keeps it."""

from __future__ import annotations

import math

from pitchwright.logbook.facts import Figures
from pitchwright.tracking import OscillatorSurvey, TermState

__all__ = ["figures_of"]


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

"""What can be asked for, ready to be run: a procedure with its settings and what is kept of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pitchwright.procedures.ensemble_check import EnsembleSettings
    from pitchwright.procedures.events import Procedure
    from pitchwright.procedures.settings import TrimSettings
    from pitchwright.procedures.survey import SurveySettings

__all__ = ["Job", "ensemble_job", "survey_job", "trim_job", "warmup_job"]


@dataclass(frozen=True, slots=True)
class Job:
    """One procedure, not started yet; it can be made anew to go on after a stop.

    Attributes
    ----------
    name
        Of the procedure, as events name it.
    oscillators
        Whom it is about.
    settings
        What it is made with.
    make
        Makes the procedure.
    expected
        The first notes that will be asked for, in order, where that is known.
    """

    name: str
    oscillators: tuple[str, ...]
    settings: Any
    make: Callable[[], Procedure[Any]]
    expected: tuple[float, ...] = ()


def survey_job(settings: SurveySettings) -> Job:
    """A survey."""
    from pitchwright.procedures.survey import order, survey

    return Job(
        "survey",
        settings.oscillators,
        settings,
        lambda: survey(settings),
        tuple(order(settings)),
    )


def trim_job(settings: TrimSettings) -> Job:
    """A guided trim."""
    from pitchwright.procedures.guided_trim import guided_trim
    from pitchwright.procedures.survey import order

    return Job(
        "guided trim",
        (settings.oscillator,),
        settings,
        lambda: guided_trim(settings),
        tuple(order(settings.as_found)),
    )


def warmup_job(oscillators: Sequence[str], note: float) -> Job:
    """A warm-up watch at one note."""
    from pitchwright.procedures.warmup_watch import WatchSettings, warmup_watch

    settings = WatchSettings(tuple(oscillators), (note,))
    return Job("warm-up watch", settings.oscillators, settings, lambda: warmup_watch(settings))


def ensemble_job(settings: EnsembleSettings) -> Job:
    """An ensemble check."""
    from pitchwright.procedures.ensemble_check import ensemble_check

    return Job("ensemble check", settings.oscillators, settings, lambda: ensemble_check(settings))

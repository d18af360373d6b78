"""What can be asked for, ready to be run: a procedure with its settings and what is kept of it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from pitchwright.errors import InputError

if TYPE_CHECKING:
    from pitchwright.procedures.ensemble_check import EnsembleSettings
    from pitchwright.procedures.events import Event, Procedure
    from pitchwright.procedures.settings import TrimSettings
    from pitchwright.procedures.survey import SurveySettings
    from pitchwright.procedures.warmup_watch import WatchSettings

__all__ = ["Job", "ensemble_job", "job_of", "survey_job", "trim_job", "warmup_job"]


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


def warmup_job(settings: WatchSettings) -> Job:
    """A warm-up watch."""
    from pitchwright.procedures.warmup_watch import warmup_watch

    return Job("warm-up watch", settings.oscillators, settings, lambda: warmup_watch(settings))


def ensemble_job(settings: EnsembleSettings) -> Job:
    """An ensemble check."""
    from pitchwright.procedures.ensemble_check import ensemble_check

    return Job("ensemble check", settings.oscillators, settings, lambda: ensemble_check(settings))


def job_of(events: Iterable[Event], where: str = "") -> Job | None:
    """The job that events began with; None where none of them is a beginning.

    Raises
    ------
    InputError
        Where it is a procedure that is not known, or has other settings than this version's.
    """
    from pitchwright.procedures.ensemble_check import EnsembleSettings
    from pitchwright.procedures.events import Started
    from pitchwright.procedures.plain import from_plain
    from pitchwright.procedures.settings import TrimSettings
    from pitchwright.procedures.survey import SurveySettings
    from pitchwright.procedures.warmup_watch import WatchSettings

    begun = next((event.what for event in events if isinstance(event.what, Started)), None)
    if begun is None:
        return None
    at = f"{where}, settings" if where else "settings"
    makers: dict[str, tuple[type, Callable[[Any], Job]]] = {
        "survey": (SurveySettings, survey_job),
        "guided trim": (TrimSettings, trim_job),
        "warm-up watch": (WatchSettings, warmup_job),
        "ensemble check": (EnsembleSettings, ensemble_job),
    }
    if begun.procedure not in makers:
        raise InputError(f"A {begun.procedure} cannot be gone on with", where)
    kind, make = makers[begun.procedure]
    return make(from_plain(begun.settings, kind, at))

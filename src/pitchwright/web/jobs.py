"""What can be asked for, ready to be run: a procedure with its settings and what is kept of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from pitchwright.units import NOTE_AT_0_V

if TYPE_CHECKING:
    from pitchwright.procedures.events import Procedure
    from pitchwright.procedures.settings import TrimSettings
    from pitchwright.tracking import TargetCurve
    from pitchwright.trim.trimmer import Trimmer
    from pitchwright.upkeep import Surveying

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
    surveying
        How the logbook is to understand its surveys.
    expected
        The first notes that will be asked for, in order, where that is known.
    """

    name: str
    oscillators: tuple[str, ...]
    settings: Any
    make: Callable[[], Procedure[Any]]
    surveying: Surveying
    expected: tuple[float, ...] = ()


def survey_job(
    oscillators: Sequence[str],
    notes: Sequence[float],
    *,
    target: TargetCurve | None = None,
    tolerance_cents: float = 1.0,
    own_middle: bool = False,
    left: bool = False,
    note_at_0_v: float = NOTE_AT_0_V,
    clock_ppm: float = 0.0,
) -> Job:
    """A survey; ``left`` where it shows what a guided trim left."""
    from pitchwright.logbook.facts import SurveyState
    from pitchwright.procedures.survey import SurveySettings, order, survey
    from pitchwright.tracking import TargetCurve
    from pitchwright.upkeep import Surveying

    settings = SurveySettings(tuple(oscillators), tuple(notes), note_at_0_v)
    surveying = Surveying(
        target=target or TargetCurve.flat(),
        own_middle=own_middle,
        tolerance_cents=tolerance_cents,
        clock_ppm=clock_ppm,
        state=SurveyState.AS_LEFT if left else None,
    )
    return Job(
        "survey",
        settings.oscillators,
        settings,
        lambda: survey(settings),
        surveying,
        tuple(order(settings)),
    )


def trim_job(
    oscillator: str,
    trimmers: Sequence[Trimmer],
    low: float,
    high: float,
    *,
    target: TargetCurve,
    tolerance_cents: float = 1.0,
    own_middle: bool = False,
    note_at_0_v: float = NOTE_AT_0_V,
    clock_ppm: float = 0.0,
) -> Job:
    """A guided trim."""
    from pitchwright.procedures.settings import TrimSettings

    settings = TrimSettings(
        oscillator,
        tuple(trimmers),
        low,
        high,
        tolerance_cents,
        target=target,
        own_middle=own_middle,
        note_at_0_v=note_at_0_v,
        clock_ppm=clock_ppm,
    )
    return trim_job_of(settings, clock_ppm=clock_ppm)


def trim_job_of(settings: TrimSettings, *, clock_ppm: float = 0.0) -> Job:
    """A guided trim with these settings: one to be taken up again."""
    from pitchwright.procedures.guided_trim import guided_trim
    from pitchwright.procedures.survey import SurveySettings, order
    from pitchwright.upkeep import Surveying

    first = SurveySettings((settings.oscillator,), settings.notes, settings.note_at_0_v)

    surveying = Surveying(
        target=settings.target,
        own_middle=settings.own_middle,
        tolerance_cents=settings.tolerance_cents,
        clock_ppm=clock_ppm,
    )
    return Job(
        "guided trim",
        (settings.oscillator,),
        settings,
        lambda: guided_trim(settings),
        surveying,
        tuple(order(first)),
    )


def warmup_job(oscillators: Sequence[str], note: float) -> Job:
    """A warm-up watch at one note."""
    from pitchwright.procedures.warmup_watch import WatchSettings, warmup_watch
    from pitchwright.upkeep import Surveying

    settings = WatchSettings(tuple(oscillators), (note,))
    return Job(
        "warm-up watch", settings.oscillators, settings, lambda: warmup_watch(settings), Surveying()
    )


def ensemble_job(
    oscillators: Sequence[str],
    notes: Sequence[float],
    sources: Sequence[str],
    *,
    tolerance_cents: float = 1.0,
) -> Job:
    """An ensemble check."""
    from pitchwright.procedures.ensemble_check import EnsembleSettings, ensemble_check
    from pitchwright.upkeep import Surveying

    settings = EnsembleSettings(
        tuple(oscillators), tuple(notes), tuple(sources), tolerance_cents=tolerance_cents
    )
    return Job(
        "ensemble check",
        settings.oscillators,
        settings,
        lambda: ensemble_check(settings),
        Surveying(tolerance_cents=tolerance_cents),
    )

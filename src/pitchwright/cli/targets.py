"""What a trim goes by: a table, a plan, or another oscillator's curve, from a file or surveyed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from pitchwright.cli import console
from pitchwright.procedures.settings import TrimSettings
from pitchwright.procedures.survey import SurveySettings
from pitchwright.procedures.surveyed import curve_followed
from pitchwright.tracking import Point

__all__ = ["to_target"]


def to_target(
    settings: TrimSettings,
    target: Path | None,
    follow: str,
    surveyed: Callable[[SurveySettings], Sequence[Point]],
) -> TrimSettings:
    """The settings with another target curve, where one was asked for.

    Parameters
    ----------
    settings
        What is wanted besides.
    target
        File of the target.
    follow
        Whose curve to follow: of the file, or, without one, as it is when surveyed first.
    surveyed
        Surveys the oscillator that is to be followed.

    Raises
    ------
    InputError
        Where there is no such target, or it does not reach over the range.
    """
    if target is not None:
        from pitchwright.bench.target_file import read_target

        return replace(settings, target=read_target(target, settings.oscillator, follow))
    if not follow:
        return settings
    console.sentence(f"First {follow} is surveyed, whose curve {settings.oscillator} is to follow.")
    points = surveyed(SurveySettings((follow,), settings.all_notes, settings.note_at_0_v))
    console.sentence(
        "Its curve, not equal temperament, is what is aimed at: where it is off, so will be "
        f"{settings.oscillator}, and they will not beat."
    )
    return replace(settings, target=curve_followed(follow, tuple(points), same_take=True))

"""What readings must come with to be understood: against what, by which clock, under what.

A survey gets its circumstances with its settings and hands them on with its readings, so that
whoever works it out, shows it, writes it down or prints it says the same of it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

from pitchwright.errors import InputError
from pitchwright.tracking.point import Point
from pitchwright.tracking.target import TargetCurve

__all__ = ["AS_USUAL", "NOTHING_SAID", "Circumstances", "Conditions", "SurveyState"]


class SurveyState(StrEnum):
    """Where in the upkeep of an instrument a survey stands."""

    AS_FOUND = "as found"
    AS_LEFT = "as left"
    CHECK = "check"


@dataclass(frozen=True, slots=True)
class Conditions:
    """What a survey was made under; None or empty where nobody said.

    Attributes
    ----------
    temperature_c
        Room temperature in degrees Celsius.
    minutes_on
        Minutes since power-on.
    source, route
        What played the notes, and the way of the control voltage to the oscillator.
    reference
        What the pitches were compared with: recorder's clock, reference oscillator, counter.
    """

    temperature_c: float | None = None
    minutes_on: float | None = None
    source: str = ""
    route: str = ""
    reference: str = ""

    def checked(self) -> Conditions:
        """The same; InputError where nothing is played under such conditions."""
        if self.temperature_c is not None and not -40.0 <= self.temperature_c <= 70.0:
            raise InputError(
                f"No instrument is played at {self.temperature_c:g} degrees Celsius",
                "temperature",
                "Check the figure",
            )
        if self.minutes_on is not None and not 0.0 <= self.minutes_on < 1e7:
            raise InputError(
                f"It cannot have been on for {self.minutes_on:g} minutes",
                "minutes on",
                "Check the figure",
            )
        return self

    def or_else(self, usual: Conditions) -> Conditions:
        """These, and where nobody said, what is usual."""
        return Conditions(
            usual.temperature_c if self.temperature_c is None else self.temperature_c,
            usual.minutes_on if self.minutes_on is None else self.minutes_on,
            self.source or usual.source,
            self.route or usual.route,
            self.reference or usual.reference,
        )


NOTHING_SAID: Final = Conditions()


@dataclass(frozen=True, slots=True)
class Circumstances:
    """How the readings of a survey are to be understood.

    Attributes
    ----------
    state
        Where in the upkeep the survey stands; said by the procedure that knows.
    target
        What the pitches are measured against; equal temperament at A4 = 440 Hz where None.
    own_middle
        Whether against the oscillator's own middle C: the target then gives the shape only. Known
        once the readings are there, so `closing` puts it into the target.
    follow
        The oscillator of the same survey whose curve the others are measured against; empty for
        none. `closing` puts it into the target too.
    tolerances
        In cents, for the reach; the first is the one that counts.
    clock_ppm
        Standard uncertainty of the clock behind the pitches, parts per million; 0 where it cancels.
    conditions
        What the survey is made under.
    """

    state: SurveyState = SurveyState.CHECK
    target: TargetCurve | None = None
    own_middle: bool = False
    follow: str = ""
    tolerances: tuple[float, ...] = (1.0, 2.0, 5.0)
    clock_ppm: float = 0.0
    conditions: Conditions = NOTHING_SAID

    def __post_init__(self) -> None:
        """Refuse two targets at once."""
        if self.own_middle and self.follow:
            raise InputError(
                "It can be tuned to its own middle C or to another's curve, not to both",
                do="Choose one of them",
            )

    def closing(self, oscillator: str, read: Mapping[str, tuple[Point, ...]]) -> Circumstances:
        """The circumstances of one oscillator of a survey, its target settled by what was read.

        Parameters
        ----------
        oscillator
            Whose they are to be.
        read
            The readings of all that were surveyed, by name.
        """
        target = self.target or TargetCurve.flat()
        if self.own_middle:
            target = target.through(TargetCurve.own(read[oscillator]))
        elif self.follow and self.follow != oscillator:
            kept = [point for point in read[self.follow] if point.kept]
            target = TargetCurve.following(kept, self.follow, same_take=True)
        return replace(self, target=target, own_middle=False, follow="")


AS_USUAL: Final = Circumstances()
"""Equal temperament at A4 = 440 Hz, by a clock that is right: what counts where nothing is said."""

"""Beat rates and cents, each from the other.

Two tones beat with the difference of the two partials that nearly meet. Of oscillators in unison
these are the fundamentals; of oscillators an interval apart, the partials that the interval's just
ratio names (a fifth, 3:2: the third partial of the lower and the second of the upper).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from pitchwright.errors import InputError
from pitchwright.units import cents_between, note_name, note_of_hz, ratio_of_cents

__all__ = ["UNISON", "Interval", "beat_hz", "cents_for_beat"]

_MOST_CENTS = 100.0
"""A semitone: what is farther apart is an interval, not a detune."""


@dataclass(frozen=True, slots=True)
class Interval:
    """The just interval between two oscillators: upper / lower = lower_partial / upper_partial.

    Attributes
    ----------
    lower_partial, upper_partial
        The partial of the lower and of the upper tone that meet; 1 and 1 for a unison, 2 and 1 for
        an octave, 3 and 2 for a fifth.
    """

    lower_partial: int = 1
    upper_partial: int = 1

    def __post_init__(self) -> None:
        if not 1 <= self.upper_partial <= self.lower_partial <= 16:
            raise InputError(
                f"{self.lower_partial}:{self.upper_partial} is not an interval that beats",
                do="Write it as upper to lower in small whole numbers, 3:2 for a fifth",
            )

    @property
    def cents(self) -> float:
        """The just interval in cents; 701.955 for a fifth."""
        return cents_between(float(self.lower_partial), float(self.upper_partial))


UNISON: Final = Interval()


def beat_hz(lower_hz: float, upper_hz: float, interval: Interval = UNISON) -> float:
    """Beat rate in hertz of the partials that meet: positive where the interval is too wide."""
    return interval.upper_partial * upper_hz - interval.lower_partial * lower_hz


def cents_for_beat(wanted_hz: float, lower_hz: float, interval: Interval = UNISON) -> float:
    """How many cents wider than just an interval above ``lower_hz`` beats at ``wanted_hz``.

    Parameters
    ----------
    wanted_hz
        Beats per second; negative for an interval that is too narrow.
    lower_hz
        Frequency of the lower tone.
    interval
        The just interval.

    Raises
    ------
    InputError
        Where such a beat rate cannot be: not a number, or more than a semitone away.
    """
    meeting_hz = interval.lower_partial * lower_hz
    if not math.isfinite(wanted_hz):
        raise InputError("A beat rate must be a number", do="Write beats per second, such as 0.5")
    low, high = (meeting_hz * (ratio_of_cents(sign * _MOST_CENTS) - 1.0) for sign in (-1.0, 1.0))
    if not low <= wanted_hz <= high:
        raise InputError(
            f"{abs(wanted_hz):g} beats per second cannot be at {_named(lower_hz)}: that would be "
            "more than a semitone, an interval and not a detune",
            do=f"Ask for {high if wanted_hz > 0.0 else -low:.2g} at most there, or start higher",
        )
    return cents_between(meeting_hz + wanted_hz, meeting_hz)


def _named(f_hz: float) -> str:
    return f"{note_name(round(note_of_hz(f_hz)))} ({f_hz:.4g} Hz)"

"""What was found out while it was measured, as values; their sentences are made here only.

A finding is a kind and its figures: a program reads these, a person reads the sentence.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from pitchwright.tracking.course import Course, Happening
from pitchwright.tracking.coverage import expanded_u
from pitchwright.tracking.readings import Readings
from pitchwright.units import note_name

__all__ = ["Finding", "Jumped", "Moved", "Returned", "Strayed", "Unclear", "find"]

_WORTH: float = 0.5
"""Odds from which a happening is told."""


@dataclass(frozen=True, slots=True)
class Moved:
    """All notes moved while they were measured, in a line or settling."""

    kind: ClassVar[str] = "moved"
    doubt: ClassVar[bool] = False
    settling: bool
    cents_per_min: float
    expanded_cents_per_min: float
    odds: float

    @property
    def sentence(self) -> str:
        """The finding in words."""
        u = plain(self.expanded_cents_per_min)
        by = f"{signed(self.cents_per_min)} ± {u} cents per minute"
        if self.settling:
            return (
                f"It was still settling while it was measured, by {by} on the whole; the curve is "
                "as it was half-way. Let it warm up, and survey it again."
            )
        return f"It drifted by {by} while it was measured; the curve is as it was half-way."


@dataclass(frozen=True, slots=True)
class Jumped:
    """From one visit on all notes lie higher or lower."""

    kind: ClassVar[str] = "jumped"
    doubt: ClassVar[bool] = True
    after_note: float
    t_s: float
    cents: float
    expanded_cents: float
    odds: float

    @property
    def sentence(self) -> str:
        """The finding in words."""
        way = "higher" if self.cents > 0.0 else "lower"
        return (
            f"All notes after {note_name(self.after_note)}, {self.t_s:.0f} s into the survey, lie "
            f"{abs(self.cents):.1f} ± {plain(self.expanded_cents)} cents {way}: was a knob "
            "touched? The curve is as it was for most of the notes."
        )


@dataclass(frozen=True, slots=True)
class Strayed:
    """One visit to a note was far from the other visits to it."""

    kind: ClassVar[str] = "strayed"
    doubt: ClassVar[bool] = True
    note: float
    t_s: float
    cents: float
    odds: float

    @property
    def sentence(self) -> str:
        """The finding in words."""
        return (
            f"{note_name(self.note)} at {self.t_s:.0f} s was heard {abs(self.cents):.1f} cents "
            f"{'above' if self.cents > 0.0 else 'below'} where it lay at its other visits: was "
            "another key down, or was a knob touched?"
        )


@dataclass(frozen=True, slots=True)
class Unclear:
    """Notes played again came back elsewhere, and what moved them cannot be told."""

    kind: ClassVar[str] = "unclear"
    doubt: ClassVar[bool] = True
    odds: tuple[tuple[str, float], ...]

    @property
    def sentence(self) -> str:
        """The finding in words."""
        words = {"line": "a drift", "settling": "a warm-up", "jump": "a touched knob",
                 "stray": "a wrong key", "nothing": "chance alone"}  # fmt: skip
        said = " or ".join(words[kind] for kind, _ in self.odds)
        return (
            f"Notes that were played again did not come back to where they were: {said} could be "
            "why, and the uncertainties allow for each. Survey it again once it rests."
        )


@dataclass(frozen=True, slots=True)
class Returned:
    """How well notes came back when they were played again."""

    kind: ClassVar[str] = "returned"
    doubt: ClassVar[bool] = False
    cents: float
    repeats: int

    @property
    def sentence(self) -> str:
        """The finding in words."""
        if not self.repeats:
            return (
                "No note was played twice, so how well a note comes back is not known: "
                f"{plain(self.cents)} cents is taken for it. Play a low, a middle and a high note "
                "again."
            )
        return (
            f"A note played again comes back within {plain(expanded_u(self.cents))} cents (95 %), "
            f"by {self.repeats} repeat{'' if self.repeats == 1 else 's'}."
        )


Finding = Moved | Jumped | Strayed | Unclear | Returned


def find(course: Course, readings: Readings) -> tuple[Finding, ...]:
    """What a course comes to, doubts first."""
    likeliest = course.likeliest
    odds = course.odds[likeliest]
    returned = Returned(course.returning.cents, course.repeats)
    if likeliest is Happening.NOTHING and odds > _WORTH:
        return (returned,)
    begin = float(readings.t_s.min())
    moving = course.odds[Happening.LINE] + course.odds[Happening.SETTLING]
    if course.repeats and max(odds, moving) <= _WORTH:
        told = sorted(course.odds.items(), key=lambda item: -item[1])
        return Unclear(tuple((str(k), p) for k, p in told if p > 0.1)), returned
    if not course.repeats and likeliest is not Happening.JUMP:
        return (returned,)
    if likeliest is Happening.JUMP:
        at = course.at
        jump = Jumped(
            float(readings.note[at]),
            float(readings.t_s[at]) - begin,
            course.size_cents,
            expanded_u(course.u_size_cents),
            odds,
        )
        return jump, returned
    if likeliest is Happening.STRAY:
        at = course.at
        t_s = float(readings.t_s[at]) - begin
        return Strayed(float(readings.note[at]), t_s, course.size_cents, odds), returned
    settling = course.odds[Happening.SETTLING] > course.odds[Happening.LINE]
    u = expanded_u(course.u_rate_cents_per_min) if np.isfinite(course.u_rate_cents_per_min) else 0.0
    return Moved(settling, course.rate_cents_per_min, u, moving), returned


def plain(cents: float | None) -> str:
    """An amount without a sign, with as many digits as it deserves."""
    if cents is None:
        return "unknown"
    return f"{cents:.1f}" if cents >= 0.95 else f"{max(cents, 0.01):.2f}"


def signed(cents: float) -> str:
    """An amount with its sign."""
    text = f"{cents:+.2f}" if abs(cents) < 9.95 else f"{cents:+.1f}"
    return text.replace("-", "−")

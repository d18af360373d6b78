"""What the logbook knows beside the event stream: instruments, surveys as recorded, notes.

The events of a procedure are written down as they are. These are the facts that no procedure
reports: who the instruments are, under what conditions a survey was made and what it came to, what
a person wrote, and that something was written down wrongly.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from pitchwright.procedures.circumstances import NOTHING_SAID, Conditions, SurveyState
from pitchwright.tracking.point import Point
from pitchwright.tracking.target import TargetCurve

__all__ = [
    "EntryWithdrawn",
    "Fact",
    "Figures",
    "InstrumentDescribed",
    "NoteWritten",
    "SurveyRecorded",
    "TrimmerDescribed",
]


@dataclass(frozen=True, slots=True)
class TrimmerDescribed:
    """One trimmer of an instrument: the user's name for it, and its kind (``scale``, ...)."""

    name: str
    kind: str


@dataclass(frozen=True, slots=True)
class InstrumentDescribed:
    """An oscillator, or a filter used as one; a later description replaces an earlier one.

    Attributes
    ----------
    name
        What the user calls it.
    what
        ``oscillator``, ``filter`` or whatever else the user says it is.
    trimmers
        In the order the user gave.
    fed_by
        The output of a buffered multiple or the source that feeds it; empty where not said.
    """

    kind: ClassVar[str] = "instrument described"
    name: str
    what: str = "oscillator"
    trimmers: tuple[TrimmerDescribed, ...] = ()
    fed_by: str = ""


@dataclass(frozen=True, slots=True)
class Figures:
    """What a survey came to, as it was told to the person then; None where undetermined.

    Attributes
    ----------
    base_cents, scale_cents_per_oct, high_cents_per_khz
        The fitted model, each with its standard uncertainty ``u_``.
    tolerance_cents, reach_low, reach_high
        The reach at this tolerance, as MIDI note numbers.
    """

    base_cents: float | None = None
    u_base_cents: float | None = None
    scale_cents_per_oct: float | None = None
    u_scale_cents_per_oct: float | None = None
    high_cents_per_khz: float | None = None
    u_high_cents_per_khz: float | None = None
    tolerance_cents: float | None = None
    reach_low: float | None = None
    reach_high: float | None = None


@dataclass(frozen=True, slots=True)
class SurveyRecorded:
    """A survey of one instrument with all its readings: `survey_oscillator` makes it again.

    Attributes
    ----------
    state
        Where in the upkeep it stands.
    points
        The readings, kept and left out alike.
    figures
        What they came to.
    conditions
        What they were made under.
    target
        What the pitches were measured against; None where a record does not say.
    clock_ppm
        Standard uncertainty of the clock behind the pitches, parts per million; 0 where it cancels.
    invented
        Whether the instrument is of the practice rig.
    """

    kind: ClassVar[str] = "survey recorded"
    state: SurveyState
    points: tuple[Point, ...]
    figures: Figures = Figures()
    conditions: Conditions = NOTHING_SAID
    target: TargetCurve | None = None
    clock_ppm: float = 0.0
    invented: bool = False


@dataclass(frozen=True, slots=True)
class NoteWritten:
    """What a person wrote down, about an instrument or about nothing in particular."""

    kind: ClassVar[str] = "note written"
    text: str


@dataclass(frozen=True, slots=True)
class EntryWithdrawn:
    """The entry that this one corrects was wrong and counts no longer; it stays to be read."""

    kind: ClassVar[str] = "entry withdrawn"
    reason: str


Fact = InstrumentDescribed | SurveyRecorded | NoteWritten | EntryWithdrawn

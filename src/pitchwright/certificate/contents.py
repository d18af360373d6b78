"""What a certificate is made of, before it is words on paper: results, not entries of a logbook.

How a note stands against the tolerance is for ``tracking.conformity`` to say.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from pitchwright.errors import InputError
from pitchwright.tracking import Conformity, OscillatorSurvey
from pitchwright.tracking.conformity import widest_run
from pitchwright.units import ratio_of_cents

__all__ = [
    "Contents",
    "NoteResult",
    "SurveyDone",
    "TurnDone",
    "VisitDone",
    "note_results",
    "widest_inside",
]


@dataclass(frozen=True, slots=True)
class SurveyDone:
    """One survey as it goes on paper, and what it was made under.

    Attributes
    ----------
    survey
        Its result.
    at
        When, with its time zone.
    uid
        The logbook's identifier of it; empty where it is in none.
    bench
        Which bench it was made on; empty where not known.
    temperature_c, minutes_on
        Room temperature and minutes since power-on; None where nobody said.
    source, route
        What played the notes, and the way of the control voltage; empty where nobody said.
    reference
        What the pitches were compared with, to follow “compared with”; empty where nobody said.
    remark
        What a reader must know of how it was worked out; empty where there is nothing.
    """

    survey: OscillatorSurvey
    at: datetime
    uid: str = ""
    bench: str = ""
    temperature_c: float | None = None
    minutes_on: float | None = None
    source: str = ""
    route: str = ""
    reference: str = ""
    remark: str = ""

    @property
    def clock_ppm(self) -> float:
        """Standard uncertainty of the clock that is counted, parts per million; 0 where none is."""
        return 1e6 * (ratio_of_cents(self.survey.u_common_cents) - 1.0)


@dataclass(frozen=True, slots=True)
class TurnDone:
    """One turn of a trimmer: cents at the note that sounded, before, aimed at and after.

    ``turns`` is clockwise positive and None where nobody counted; ``after_cents`` is None where
    nothing could be read; ``ended`` says in words how it came to rest.
    """

    note: float
    before_cents: float
    aim_cents: float
    after_cents: float | None
    turns: float | None
    probe: bool
    ended: str


@dataclass(frozen=True, slots=True)
class VisitDone:
    """One visit: one trimmer, screwdriver in to screwdriver out."""

    visit: int
    trimmer: str
    turns: tuple[TurnDone, ...]


@dataclass(frozen=True, slots=True)
class Contents:
    """Everything that goes on the certificate of one instrument.

    Attributes
    ----------
    name, what, fed_by, trimmers
        The instrument as it is described.
    found, left
        The surveys before anything was turned and after; one of them may be None.
    visits
        What was turned between them.
    tolerance_cents
        Greatest error allowed either way.
    dated
        The day that is written on it.
    invented
        Whether the instrument is of the practice rig.
    later
        When it was surveyed again after what this certificate shows, up to the day it is dated.

    Raises
    ------
    InputError
        Where there is no survey at all.
    """

    name: str
    found: SurveyDone | None
    left: SurveyDone | None
    tolerance_cents: float
    dated: date
    what: str = "oscillator"
    fed_by: str = ""
    trimmers: tuple[str, ...] = ()
    visits: tuple[VisitDone, ...] = ()
    invented: bool = False
    later: tuple[datetime, ...] = ()

    def __post_init__(self) -> None:
        """Refuse a certificate of nothing."""
        if self.found is None and self.left is None:
            raise InputError(
                "There is no survey to certify", self.name[:60], "Survey it first, then ask again"
            )

    @property
    def last(self) -> SurveyDone:
        """The survey that says how it stands: as left, or as found where nothing else is there."""
        last = self.left or self.found
        assert last is not None
        return last

    @property
    def number(self) -> str:
        """What to call this certificate by: its day, and where the logbook has its last survey."""
        return f"{self.dated:%Y%m%d}-{self.last.uid[:6] or '000000'}"


@dataclass(frozen=True, slots=True)
class NoteResult:
    """One note's result with everything that makes it uncertain.

    Attributes
    ----------
    note, cv_v, f_hz, cents
        As in the tracking curve.
    u_cents
        Combined standard uncertainty, the clock's share included where it counts.
    coverage
        Coverage factor k for 95.45 %, from Student's t where the degrees of freedom are few.
    standing
        Against the tolerance.
    doubt
        Why the note looks like a mistake; empty where it does not.
    """

    note: float
    cv_v: float
    f_hz: float
    cents: float
    u_cents: float
    coverage: float
    standing: Conformity
    doubt: str

    @property
    def expanded_cents(self) -> float:
        """U = k · u."""
        return self.coverage * self.u_cents


def note_results(survey: OscillatorSurvey, tolerance_cents: float) -> tuple[NoteResult, ...]:
    """The curve of a survey note by note, ascending, with the clock's uncertainty counted in."""
    judged = survey.judged(tolerance_cents).notes
    return tuple(
        NoteResult(
            entry.note,
            entry.cv_v,
            entry.f_hz,
            entry.cents,
            one.u_cents,
            one.coverage,
            one.standing,
            entry.doubt,
        )
        for entry, one in zip(survey.curve.entries, judged, strict=True)
    )


def widest_inside(results: Sequence[NoteResult]) -> tuple[NoteResult, ...]:
    """The run of neighbouring notes inside the tolerance that spans most; empty where none is."""
    run = widest_run(
        [one.note for one in results], [one.standing is Conformity.INSIDE for one in results]
    )
    return tuple(results[run[0] : run[1] + 1]) if run else ()

"""What the logbook says about the instruments: who they are, how they changed, who is due."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any, Final

from sqlalchemy import Row, func, select

from pitchwright.errors import InputError
from pitchwright.logbook.entries import parse_body
from pitchwright.logbook.facts import InstrumentDescribed
from pitchwright.logbook.store import Logbook, instrument_uid, new_uid
from pitchwright.logbook.tables import entry, instrument, procedure_run, survey, trimmer
from pitchwright.procedures.circumstances import SurveyState
from pitchwright.stability.years import (
    DAYS_PER_MONTH,
    DriftRate,
    Interval,
    drift_rate,
    months_until,
    normalised_error,
)
from pitchwright.tracking.coverage import expanded_u

__all__ = [
    "Change",
    "Due",
    "InstrumentNow",
    "SurveyRow",
    "UnfinishedRun",
    "changes",
    "described",
    "due",
    "due_of",
    "find_instrument",
    "history",
    "identifier_of",
    "instrument_names",
    "instruments",
    "known_trimmers",
    "rates",
    "since_last_time",
    "survey_row",
    "time_of",
    "unfinished",
]

FEWEST_SURVEYS: Final = 3
"""Fewer surveys than this say nothing about a drift."""
_FEWEST_INTERVALS: Final = 2
_SHORTEST_MONTHS: Final = 1.0 / DAYS_PER_MONTH


@dataclass(frozen=True, slots=True)
class InstrumentNow:
    """An instrument as it was last described, and how often it was surveyed."""

    uid: str
    name: str
    what: str
    fed_by: str
    surveys: int
    last_at_utc: str | None


@dataclass(frozen=True, slots=True)
class SurveyRow:
    """One recorded survey: when, in what state, and its figures (None where undetermined)."""

    uid: str
    at_utc: str
    state: SurveyState
    base_cents: float | None
    u_base_cents: float | None
    scale_cents_per_oct: float | None
    u_scale_cents_per_oct: float | None
    high_cents_per_khz: float | None
    u_high_cents_per_khz: float | None
    tolerance_cents: float | None
    reach_low: float | None
    reach_high: float | None
    temperature_c: float | None
    run: str | None


def instruments(logbook: Logbook) -> tuple[InstrumentNow, ...]:
    """Every instrument, by name."""
    wanted = (
        select(
            instrument.c.uid,
            instrument.c.name,
            instrument.c.kind,
            instrument.c.fed_by,
            func.count(survey.c.uid),
            func.max(survey.c.at_utc),
        )
        .select_from(
            instrument.outerjoin(
                survey,
                (survey.c.instrument == instrument.c.uid) & survey.c.withdrawn.is_(False),
            )
        )
        .group_by(instrument.c.uid, instrument.c.name, instrument.c.kind, instrument.c.fed_by)
        .order_by(instrument.c.name, instrument.c.uid)
    )
    with logbook.reading() as connection:
        return tuple(InstrumentNow(*row) for row in connection.execute(wanted))


def instrument_names(logbook: Logbook) -> dict[str, str]:
    """Names of the instruments by their identifiers."""
    return {known.uid: known.name for known in instruments(logbook)}


def find_instrument(logbook: Logbook, name: str) -> InstrumentNow:
    """The instrument of a name (upper and lower case alike), or of an identifier.

    Raises
    ------
    InputError
        Where none or several bear it.
    """
    known = instruments(logbook)
    bearing = [one for one in known if one.name.casefold() == name.casefold() or one.uid == name]
    if len(bearing) == 1:
        return bearing[0]
    listed = ", ".join(one.name[:60] for one in known[:20]) or "none yet"
    what = "No instrument is" if not bearing else "Several instruments are"
    raise InputError(f"{what} called “{name[:60]}”", logbook.where, f"There are: {listed}")


def described(logbook: Logbook, uid: str) -> InstrumentDescribed | None:
    """How an instrument was last described; None where it never was."""
    wanted = (
        select(entry.c.kind, entry.c.body)
        .select_from(instrument.join(entry, instrument.c.described_by == entry.c.uid))
        .where(instrument.c.uid == uid)
    )
    with logbook.reading() as connection:
        row = connection.execute(wanted).one_or_none()
    what = None if row is None else parse_body(row.kind, row.body)
    return what if isinstance(what, InstrumentDescribed) else None


def identifier_of(logbook: Logbook, name: str) -> str:
    """The identifier of the instrument of a name, known or not; the first where several bear it."""
    known = instruments(logbook)
    for one in known:
        if one.name.casefold() == name.casefold():
            return one.uid
    uid = instrument_uid(name)
    # The name may have belonged to an instrument that is called something else now.
    return uid if all(one.uid != uid for one in known) else new_uid()


def history(logbook: Logbook, uid: str) -> tuple[SurveyRow, ...]:
    """The surveys of one instrument that were not withdrawn, in order of time."""
    wanted = (
        select(survey)
        .where(survey.c.instrument == uid, survey.c.withdrawn.is_(False))
        .order_by(survey.c.at_utc, survey.c.uid)
    )
    with logbook.reading() as connection:
        return tuple(survey_row(row) for row in connection.execute(wanted))


def known_trimmers(logbook: Logbook, uid: str) -> dict[str, str]:
    """What was learned about each trimmer of an instrument, as JSON text by trimmer name."""
    wanted = select(trimmer.c.name, trimmer.c.known).where(trimmer.c.instrument == uid)
    with logbook.reading() as connection:
        return {row.name: row.known for row in connection.execute(wanted)}


@dataclass(frozen=True, slots=True)
class UnfinishedRun:
    """A procedure that began and never came to its end."""

    uid: str
    procedure: str
    instrument: str | None
    begun_at_utc: str


def unfinished(logbook: Logbook) -> tuple[UnfinishedRun, ...]:
    """The procedures that can be taken up again, newest first."""
    wanted = (
        select(procedure_run)
        .where(procedure_run.c.closed_at_utc.is_(None))
        .order_by(procedure_run.c.begun_at_utc.desc())
    )
    with logbook.reading() as connection:
        return tuple(
            UnfinishedRun(row.uid, row.procedure, row.instrument, row.begun_at_utc)
            for row in connection.execute(wanted)
        )


@dataclass(frozen=True, slots=True)
class Change:
    """How one figure changed between two surveys.

    Attributes
    ----------
    figure
        ``scale``, ``high end`` or ``base``.
    unit
        Of the figure.
    before, after
        Its values.
    normalised
        E_n; above 1 the change is more than the uncertainties explain.
    """

    figure: str
    unit: str
    before: float
    after: float
    normalised: float

    @property
    def sentence(self) -> str:
        """The change in words."""
        by = f"{self.after - self.before:+.2f}".replace("-", "−")
        verdict = (
            "more than the uncertainty explains"
            if self.normalised > 1.0
            else "no more than the uncertainty"
        )
        return (
            f"{self.figure.capitalize()} changed by {by} {self.unit}: {verdict} "
            f"(E_n = {self.normalised:.1f})."
        )


_FIGURES = (
    ("base", "cents", "base_cents"),
    ("scale", "cents per octave", "scale_cents_per_oct"),
    ("high end", "cents per kHz", "high_cents_per_khz"),
)


def since_last_time(surveys: Sequence[SurveyRow]) -> tuple[tuple[SurveyRow, SurveyRow], ...]:
    """The pairs of surveys that say what changed last: before and after, the older pair first.

    Where the newest survey is as left and one as found went before it in the same upkeep, there are
    two: what time did (the survey before, to as found) and what trimming did (to as left).
    """
    if len(surveys) < 2:
        return ()
    *_, before, newest = surveys
    trimmed = (before.state, newest.state) == (SurveyState.AS_FOUND, SurveyState.AS_LEFT)
    if trimmed and len(surveys) > 2:
        return ((surveys[-3], before), (before, newest))
    return ((before, newest),)


def changes(before: SurveyRow, after: SurveyRow) -> tuple[Change, ...]:
    """What changed between two surveys, the figures that both of them have."""
    found = []
    for figure, unit, name in _FIGURES:
        old, new = getattr(before, name), getattr(after, name)
        u_old, u_new = getattr(before, f"u_{name}"), getattr(after, f"u_{name}")
        if None in (old, new, u_old, u_new) or u_old + u_new == 0.0:
            continue
        e_n = normalised_error(old, expanded_u(u_old), new, expanded_u(u_new))
        found.append(Change(figure, unit, old, new, e_n))
    return tuple(found)


def rates(surveys: Sequence[SurveyRow]) -> dict[str, DriftRate]:
    """Drift per month of scale and high end, from each as-left to the as-found that follows.

    Base is left out: it is set by hand whenever the instrument is played. So are intervals of less
    than a day: they show how it warmed up, not how it ages.
    """
    found = {}
    for figure, _, name in _FIGURES[1:]:
        intervals = [
            Interval(
                months_between(left.at_utc, after.at_utc),
                getattr(after, name) - getattr(left, name),
                math.hypot(getattr(left, f"u_{name}"), getattr(after, f"u_{name}")),
            )
            for left, after in _left_and_found(surveys)
            if None not in (getattr(left, name), getattr(after, name))
            and None not in (getattr(left, f"u_{name}"), getattr(after, f"u_{name}"))
            and months_between(left.at_utc, after.at_utc) >= _SHORTEST_MONTHS
        ]
        rate = drift_rate(intervals)
        if rate is not None:
            found[figure] = rate
    return found


@dataclass(frozen=True, slots=True)
class Due:
    """When an instrument should be looked at again.

    Attributes
    ----------
    name, uid
        Which.
    expected, earliest
        When the tolerance is reached, as its own drift expects, and the earliest day at which
        that is inside the uncertainty; None where unknown or not within a hundred years.
    reason
        Why, in one sentence.
    """

    name: str
    uid: str
    expected: date | None
    earliest: date | None
    reason: str


def due(logbook: Logbook, *, tolerance_cents: float = 1.0, octaves: float = 3.0) -> tuple[Due, ...]:
    """When each instrument is due, the next one first, the unknown last.

    Parameters
    ----------
    logbook
        Where from.
    tolerance_cents
        Greatest error allowed at the far end.
    octaves
        From the note where base is set (middle C) to the far end of the range that matters.
    """
    found = [
        due_of(
            known,
            history(logbook, known.uid),
            tolerance_cents=tolerance_cents,
            octaves=octaves,
        )
        for known in instruments(logbook)
    ]
    return tuple(sorted(found, key=lambda one: (one.earliest is None, one.earliest or date.max)))


def months_between(first_utc: str, second_utc: str) -> float:
    """Months from one time to a later one."""
    return (time_of(second_utc) - time_of(first_utc)) / timedelta(days=DAYS_PER_MONTH)


def time_of(at_utc: str) -> datetime:
    """The moment that an entry's time says."""
    return datetime.fromisoformat(at_utc).astimezone(UTC)


def _left_and_found(surveys: Sequence[SurveyRow]) -> list[tuple[SurveyRow, SurveyRow]]:
    pairs = []
    left: SurveyRow | None = None
    for row in surveys:
        if row.state is SurveyState.AS_FOUND and left is not None:
            pairs.append((left, row))
            left = None
        elif row.state is SurveyState.AS_LEFT:
            left = row
    return pairs


def due_of(
    known: InstrumentNow,
    surveys: Sequence[SurveyRow],
    *,
    tolerance_cents: float = 1.0,
    octaves: float = 3.0,
) -> Due:
    """When one instrument is due, from its surveys; tolerance and octaves as in `due`."""

    def unknown(reason: str) -> Due:
        return Due(known.name, known.uid, None, None, f"Unknown: {reason}")

    if len(surveys) < FEWEST_SURVEYS:
        return unknown(f"{len(surveys)} of at least {FEWEST_SURVEYS} surveys so far.")
    rate = rates(surveys).get("scale")
    if rate is None:
        return unknown("no survey as found follows, a day or more later, on one as left.")
    if rate.intervals < _FEWEST_INTERVALS:
        return unknown("one interval does not show how regular its drift is: survey it once more.")
    newest = surveys[-1]
    if newest.scale_cents_per_oct is None or newest.u_scale_cents_per_oct is None:
        return unknown("the newest survey could not determine scale.")
    expected, earliest = months_until(
        tolerance_cents / octaves,
        newest.scale_cents_per_oct,
        expanded_u(newest.u_scale_cents_per_oct),
        rate,
    )
    start = time_of(newest.at_utc)
    drifts = (
        f"{rate.per_month:+.3f} ± {rate.expanded:.3f} cents per octave a month over "
        f"{rate.intervals} interval{'' if rate.intervals == 1 else 's'}"
    ).replace("-", "−")
    first = _day(start, earliest)
    if first is None:
        return Due(known.name, known.uid, None, None, f"Not in sight: scale drifts by {drifts}.")
    return Due(
        known.name,
        known.uid,
        _day(start, expected),
        first,
        f"Scale drifts by {drifts}: by then ±{tolerance_cents:g} cent"
        f"{'' if tolerance_cents == 1 else 's'} at {octaves:g} octaves from middle C can no longer "
        "be vouched for.",
    )


def _day(start: datetime, months: float) -> date | None:
    return None if math.isinf(months) else (start + timedelta(days=months * DAYS_PER_MONTH)).date()


def survey_row(row: Row[Any]) -> SurveyRow:
    """A row of the projected surveys."""
    return SurveyRow(
        uid=row.uid,
        at_utc=row.at_utc,
        state=SurveyState(row.state),
        base_cents=row.base_cents,
        u_base_cents=row.u_base_cents,
        scale_cents_per_oct=row.scale_cents_per_oct,
        u_scale_cents_per_oct=row.u_scale_cents_per_oct,
        high_cents_per_khz=row.high_cents_per_khz,
        u_high_cents_per_khz=row.u_high_cents_per_khz,
        tolerance_cents=row.tolerance_cents,
        reach_low=row.reach_low,
        reach_high=row.reach_high,
        temperature_c=row.temperature_c,
        run=row.run,
    )

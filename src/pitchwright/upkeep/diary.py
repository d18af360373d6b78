"""What was done when, a line for each thing a person would call one, in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import select

from pitchwright.logbook.entries import Body, Entry, entry_of
from pitchwright.logbook.facts import EntryWithdrawn, InstrumentDescribed, NoteWritten
from pitchwright.logbook.history import SurveyRow, instrument_names, survey_row
from pitchwright.logbook.store import Logbook
from pitchwright.logbook.tables import entry, procedure_run, survey
from pitchwright.procedures.events import Started
from pitchwright.procedures.outcomes import EnsembleSeen, ForecastMade, VerdictGiven
from pitchwright.procedures.requests import ReadingsTaken, WatchTurn
from pitchwright.procedures.worked_out import CorrectionsMade, DetunePlanned, RouteSolved
from pitchwright.tracking.coverage import expanded_u
from pitchwright.units import note_name

__all__ = ["Line", "diary", "survey_words"]

_ALONE = (
    NoteWritten.kind,
    EntryWithdrawn.kind,
    InstrumentDescribed.kind,
    ReadingsTaken.kind,
    ForecastMade.kind,
)
_OUTCOMES = (
    Started.kind,
    VerdictGiven.kind,
    ForecastMade.kind,
    EnsembleSeen.kind,
    RouteSolved.kind,
    DetunePlanned.kind,
    CorrectionsMade.kind,
    WatchTurn.kind,
)


@dataclass(frozen=True, slots=True)
class Line:
    """One thing that was done.

    Attributes
    ----------
    at_utc
        When.
    uid
        The entry; of a run, the one that began it.
    instrument
        The instrument's name; empty where it is about none or several.
    what
        What it was: a survey's state, the procedure, note, reading.
    words
        What came of it.
    withdrawn
        Whether it was withdrawn since.
    """

    at_utc: str
    uid: str
    instrument: str
    what: str
    words: str
    withdrawn: bool = False


def diary(
    logbook: Logbook, *, instrument: str | None = None, most: int = 50, surveys: bool = True
) -> tuple[Line, ...]:
    """The newest lines, in order of time.

    Parameters
    ----------
    logbook
        Where from.
    instrument
        Identifier of the one instrument wanted; all where None.
    most
        How many lines at the most.
    surveys
        Whether surveys are among them.
    """
    names = instrument_names(logbook)
    lines = [
        *(_surveys(logbook, names, instrument, most) if surveys else ()),
        *_runs(logbook, names, instrument, most),
        *_alone(logbook, names, instrument, most),
    ]
    return tuple(sorted(lines, key=lambda line: (line.at_utc, line.uid))[-most:])


def survey_words(row: SurveyRow) -> str:
    """The figures of a survey in words."""
    parts = []
    if row.scale_cents_per_oct is not None:
        parts.append(
            f"scale {_figure(row.scale_cents_per_oct, row.u_scale_cents_per_oct)} cents per octave"
        )
    if row.high_cents_per_khz is not None:
        parts.append(
            f"high end {_figure(row.high_cents_per_khz, row.u_high_cents_per_khz)} cents per kHz"
        )
    if row.reach_low is not None and row.reach_high is not None and row.tolerance_cents is not None:
        parts.append(
            f"within ±{row.tolerance_cents:g} from {note_name(row.reach_low)} to "
            f"{note_name(row.reach_high)}"
        )
    elif row.tolerance_cents is not None:
        parts.append(f"no note for certain within ±{row.tolerance_cents:g}")
    return ", ".join(parts) or "readings only"


def _figure(amount: float, u: float | None) -> str:
    text = f"{amount:+.2f}"
    if u is not None:
        text += f" ± {expanded_u(u):.2f}"
    return text.replace("-", "−")


def _surveys(
    logbook: Logbook, names: dict[str, str], instrument: str | None, most: int
) -> list[Line]:
    wanted = select(survey).order_by(survey.c.at_utc.desc()).limit(most)
    if instrument is not None:
        wanted = wanted.where(survey.c.instrument == instrument)
    with logbook.reading() as connection:
        return [
            Line(
                row.at_utc,
                row.uid,
                names.get(row.instrument or "", ""),
                f"survey, {row.state}",
                survey_words(survey_row(row)),
                row.withdrawn,
            )
            for row in connection.execute(wanted)
        ]


def _runs(logbook: Logbook, names: dict[str, str], instrument: str | None, most: int) -> list[Line]:
    run = procedure_run.c
    with_survey = select(survey.c.run).where(survey.c.run.is_not(None))
    # A survey that came to its end stands there as a survey already.
    wanted = (
        select(procedure_run)
        .where(
            (run.procedure != "survey")
            | (run.closed_at_utc.is_(None) & run.uid.not_in(with_survey))
        )
        .order_by(run.begun_at_utc.desc())
    )
    if instrument is not None:
        wanted = wanted.where((run.instrument == instrument) | run.instrument.is_(None))
    about = names.get(instrument or "", "")
    with logbook.reading() as connection:
        rows = connection.execute(wanted if instrument is not None else wanted.limit(most)).all()
    lines: list[Line] = []
    for row in rows:
        came_of = list(logbook.entries(run=row.uid, kinds=_OUTCOMES))
        if instrument is not None and row.instrument is None and not _concerns(came_of, about):
            continue
        words = _run_words(came_of, about)
        if row.closed_at_utc is None:
            words = f"not ended. {words}".strip()
        name = names.get(row.instrument or "", "")
        begun = next((one.uid for one in came_of if isinstance(one.what, Started)), row.uid)
        lines.append(Line(row.begun_at_utc, begun, name, row.procedure, words))
        if len(lines) == most:
            break
    return lines


def _concerns(came_of: Sequence[Entry], name: str) -> bool:
    """Whether what came of a run of several oscillators is about one of them."""
    return any(name.casefold() in map(str.casefold, _oscillators(one.what)) for one in came_of)


def _oscillators(what: Body) -> tuple[str, ...]:
    match what:
        case ForecastMade() | CorrectionsMade():
            return (what.oscillator,)
        case EnsembleSeen():
            return what.oscillators
        case RouteSolved():
            return tuple(one.oscillator for one in what.deliveries)
        case DetunePlanned():
            return tuple(voice.name for voice in what.plan.voices)
    return ()


def _run_words(came_of: Sequence[Entry], about: str) -> str:
    """What came of a run in words; of several oscillators, of the one it is ``about``, if any."""
    visits = 0
    last: dict[str, str] = {}  # by oscillator, where each has words of its own
    for one in came_of:
        match what := one.what:
            case WatchTurn():
                visits = what.visit
            case VerdictGiven(verdict=verdict):
                last[""] = f"{verdict.standing.value}, holds ±{verdict.holds_cents:.2f} cents."
            case ForecastMade():
                if what.oscillator.casefold() == about.casefold() or not about:
                    last[what.oscillator] = what.sentence
            case EnsembleSeen():
                last[""] = " ".join(what.sentences[:1])
            case RouteSolved():
                last[""] = _route_words(what, about)
            case DetunePlanned():
                last[""] = " ".join([*what.plan.sentences[:1], *(d.sentence for d in what.today)])
            case CorrectionsMade():
                last[""] = (
                    f"greatest error {what.worst_before_cents:.1f} cents before, "
                    f"{what.worst_after_cents:.1f} predicted after; "
                    + (f"sent to {what.sent_to}." if what.sent_to else "not sent by MIDI.")
                )
    words = " ".join(
        f"{who}: {sentence}" if len(last) > 1 else sentence for who, sentence in last.items()
    )
    if visits:
        words = f"{visits} visit{'' if visits == 1 else 's'}. {words}".strip()
    return words


def _route_words(solved: RouteSolved, about: str) -> str:
    own = [d.sentence for d in solved.deliveries if d.oscillator.casefold() == about.casefold()]
    words = (own or [*solved.sentences, ""])[0]
    return f"{solved.route}: {words}" if solved.route else words


def _alone(
    logbook: Logbook, names: dict[str, str], instrument: str | None, most: int
) -> list[Line]:
    wanted = (
        select(entry)
        .where(entry.c.run.is_(None), entry.c.kind.in_(_ALONE))
        .order_by(entry.c.id.desc())
        .limit(most)
    )
    if instrument is not None:
        wanted = wanted.where(entry.c.instrument == instrument)
    with logbook.reading() as connection:
        found = [entry_of(row) for row in connection.execute(wanted)]
        corrected = [one.uid for one in found]
        withdrawn = set(
            connection.scalars(
                select(entry.c.corrects).where(
                    entry.c.corrects.in_(corrected), entry.c.kind == EntryWithdrawn.kind
                )
            )
        )
    return [
        Line(
            one.at_utc,
            one.uid,
            names.get(one.instrument or "", ""),
            *_words(one),
            one.uid in withdrawn,
        )
        for one in found
    ]


def _words(one: Entry) -> tuple[str, str]:
    what = one.what
    if isinstance(what, NoteWritten):
        return "note", what.text
    if isinstance(what, EntryWithdrawn):
        return "withdrawn", f"{(one.corrects or '')[:8]}: {what.reason}"
    if isinstance(what, InstrumentDescribed):
        parts = [what.what]
        if what.fed_by:
            parts.append(f"fed by {what.fed_by}")
        if what.trimmers:
            parts.append("trimmers: " + ", ".join(trimmer.name for trimmer in what.trimmers))
        return "described", "; ".join(parts)
    if isinstance(what, ForecastMade):
        return "warm-up", what.sentence
    assert isinstance(what, ReadingsTaken)
    return "reading", "; ".join(
        f"{heard.oscillator} {'no pitch' if heard.f_hz is None else f'{heard.f_hz:.3f} Hz'}"
        for heard in what.heard
    )

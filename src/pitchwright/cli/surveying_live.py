"""A survey at the live bench: notes played, read and written down as they come."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from pitchwright.bench.live.bench_file import BenchFile
from pitchwright.bench.runner import Subscriber
from pitchwright.cli import console
from pitchwright.cli.console import number
from pitchwright.cli.kept_events import keeping, kept_in
from pitchwright.cli.live import connected, expect_notes
from pitchwright.cli.recorded import go_on_with_survey, recorder, say_where
from pitchwright.cli.survey import hand_out
from pitchwright.cli.surveying import Against, Surveyed
from pitchwright.procedures.circumstances import Conditions, SurveyState
from pitchwright.procedures.events import Event
from pitchwright.procedures.requests import NotePlayed, PlayNote, ReadingsTaken, Tell
from pitchwright.procedures.survey import SurveySettings, order
from pitchwright.procedures.surveyed import surveyed
from pitchwright.sitting import Begun, Sitting, job_of, survey_job
from pitchwright.tracking.align import parse_notes
from pitchwright.units import CENTS_PER_OCTAVE, note_name

__all__ = ["surveying_live"]

_NOTES = "C1..C7 step 6"


def surveying_live(
    bench: BenchFile,
    against: Against,
    *,
    names: str,
    notes: str,
    events: Path | None,
    resume: bool,
    afresh: bool,
    logbook: str,
    conditions: Conditions,
    state: SurveyState,
    sheet: Path | None,
    csv: Path | None,
    as_json: bool,
) -> None:
    """Survey live, written into the logbook as it happens, and hand the result out.

    Parameters
    ----------
    bench
        What is connected.
    against
        What is measured against.
    names
        Of the oscillators, with commas; all of the bench where empty.
    notes
        Which notes; every sixth semitone from C1 to C7 where empty.
    events
        Keeps what happens, and is gone on from where it was stopped.
    resume, afresh
        Whether to go on with a survey that was stopped, or to forget it.
    logbook
        Where it is written down.
    conditions, state
        What it is made under, and where in the upkeep it stands.
    sheet, csv, as_json
        As for `hand_out`.
    """
    only = _named(bench, names)
    against = _with_the_bench_s_clock(against, bench)
    under = against.circumstances(
        only, against.clock_ppm, conditions.or_else(bench.conditions(only, against.clock_ppm))
    )
    under = replace(under, state=state)
    with recorder(logbook, practice=bench.invented) as written:
        earlier, run_uid = tuple(kept_in(events)), ""
        if not earlier:
            stopped = go_on_with_survey(written, only, resume=resume, afresh=afresh)
            if stopped is not None:
                earlier, run_uid = stopped.events, stopped.run
        job = job_of(earlier, str(events or "logbook")) or survey_job(
            SurveySettings(
                tuple(only),
                tuple(float(note) for note in sorted(set(parse_notes(notes or _NOTES)))),
                note_at_0_v=bench.note_at_0_v,
                circumstances=under,
            )
        )
        begun = Sitting(written).begin(
            job,
            earlier=earlier,
            run=run_uid,
            what={name: bench.oscillator[name].what for name in job.oscillators},
            trimmers={name: bench.trimmers(name) for name in job.oscillators},
        )
        voltages = _Voltages()
        heard = _survey(
            bench, begun, (keeping(events), voltages), a4_hz=against.a4_hz, quiet=as_json
        )
        hand_out(heard, sheet=sheet, csv=csv, as_json=as_json)
        if not as_json:
            voltages.tell(heard)
            say_where(written)


def _survey(
    bench: BenchFile, begun: Begun, told: Sequence[Subscriber], *, a4_hz: float, quiet: bool
) -> list[Surveyed]:
    """Survey oscillators of a bench, all at once; `quiet` tells nothing on the way."""
    settings: SurveySettings = begun.job.settings
    say = console.warning if quiet else console.sentence
    progress = () if quiet else (_Progress(len(order(settings))),)
    with connected(
        bench, settings.oscillators, a4_hz=a4_hz, start_s=begun.start_s, say=say
    ) as live:
        expect_notes(live, bench, _still_to_play(settings, begun.earlier))
        points = begun.carry_out(live, (*told, *progress))
    closed = [settings.closed(name, points) for name in settings.oscillators]
    return [
        Surveyed(
            one,
            surveyed(one),
            f"live, channel {bench.oscillator[one.oscillator].channel}",
            invented=bench.invented,
            instrument=one.oscillator,
        )
        for one in closed
    ]


def _named(bench: BenchFile, names: str) -> list[str]:
    """The oscillators that are meant; all of the bench where none is named."""
    only = [bench.named(name.strip()) for name in names.split(",") if name.strip()]
    return only or list(bench.oscillator)


def _with_the_bench_s_clock(against: Against, bench: BenchFile) -> Against:
    """The clock's tolerance: the bench's own unless said, nothing where a reference cancels it."""
    usual = against.clock_ppm == Against().clock_ppm
    if bench.u_clock_ppm == 0.0 or usual:
        return replace(against, clock_ppm=bench.u_clock_ppm)
    return against


def _still_to_play(settings: SurveySettings, earlier: Sequence[Event]) -> list[float]:
    """What is left of the order after the notes that an interrupted survey has read."""
    read, played = 0, False
    for event in earlier:
        if isinstance(event.what, NotePlayed):
            played = True
        elif isinstance(event.what, ReadingsTaken):
            read, played = read + played, False
    return order(settings)[read:]


class _Voltages:
    """What came in as control voltage at each note, where that was measured."""

    def __init__(self) -> None:
        self._asked: PlayNote | None = None
        self._off_v: dict[float, list[float]] = {}

    def __call__(self, event: Event) -> None:
        what = event.what
        if isinstance(what, PlayNote):
            self._asked = what
        elif isinstance(what, NotePlayed) and what.cv_v is not None and self._asked is not None:
            self._off_v.setdefault(self._asked.note, []).append(what.cv_v - self._asked.cv_v)

    def tell(self, surveyed: Sequence[Surveyed]) -> None:
        """Part the keyboard's error from each oscillator's own, note by note."""
        if not self._off_v:
            return
        mean_v = {note: sum(off) / len(off) for note, off in sorted(self._off_v.items())}
        console.gap()
        console.sentence(
            "The control voltage was measured as it came in. What is off in it is the source's"
            " doing; the rest of what was heard is the oscillator's own (all in cents):"
        )
        curves = [
            {entry.note: entry.cents for entry in one.survey.curve.entries} for one in surveyed
        ]
        rows = []
        for note, off_v in mean_v.items():
            source = CENTS_PER_OCTAVE * off_v
            own = [
                number(curve[note] - source, 2, sign=True) if note in curve else "unknown"
                for curve in curves
            ]
            rows.append(
                (
                    note_name(note),
                    number(1000 * off_v, 2, sign=True),
                    number(source, 2, sign=True),
                    *own,
                )
            )
        names = [f"{one.survey.name}'s own" for one in surveyed]
        console.table(("note", "source, mV", "source", *names), rows)


class _Progress:
    """One line a note."""

    def __init__(self, count: int) -> None:
        self._count, self._played = count, 0

    def __call__(self, event: Event) -> None:
        what = event.what
        if isinstance(what, PlayNote):
            self._played += 1
            console.sentence(f"{self._played} of {self._count}: {note_name(what.note)}.")
        elif isinstance(what, Tell):
            console.sentence(what.sentence, indent=2)

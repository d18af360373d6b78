"""A warm-up watch in the terminal: what bench is watched, and what is told on the way."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from pitchwright.bench.live.bench_file import BenchFile
from pitchwright.bench.runner import Bench, Subscriber
from pitchwright.cli import console
from pitchwright.cli.kept_events import keeping, kept_in
from pitchwright.cli.live import connected
from pitchwright.cli.recorded import recorder
from pitchwright.procedures.events import Event
from pitchwright.procedures.outcomes import ForecastMade
from pitchwright.procedures.requests import PlayNote, Tell
from pitchwright.procedures.warmup_watch import SETTLED, WarmupWatched, WatchSettings
from pitchwright.sitting import Begun, Sitting, job_of, warmup_job
from pitchwright.stability import Readiness
from pitchwright.stability.history import History
from pitchwright.stability.wording import in_words
from pitchwright.units import note_name
from pitchwright.upkeep import Recorder

__all__ = [
    "WatchTeller",
    "practice_rig",
    "watch_live",
    "watch_practice",
    "write_history",
]

_QUIET_S = 600.0


def practice_rig(only: str) -> tuple[Bench, tuple[str, ...]]:
    """The practice rig, its power just switched on, and the oscillators asked for (all if none).

    Raises
    ------
    InputError
        Where there is no oscillator of a name.
    """
    from pitchwright.bench.practice_rig import RigBench
    from pitchwright.practice import theatre_rig

    rig = theatre_rig(on_for_s=0.0)
    wanted = [name.strip() for name in only.split(",") if name.strip()]
    voices = rig.only(*wanted).voices if wanted else rig.voices
    return RigBench(rig), tuple(voice.oscillator.name for voice in voices)


def _watch(begun: Begun, bench: Bench, *subscribers: Subscriber) -> History:
    """Watch until everything is warm; what happens is told in the terminal as well."""
    settings: WatchSettings = begun.job.settings
    many = len(settings.oscillators) * len(settings.notes) > 1
    teller = WatchTeller(with_note=len(settings.notes) > 1, with_name=many)
    watched: WarmupWatched = begun.carry_out(bench, (teller, *subscribers))
    return watched.history


def watch_live(
    bench: BenchFile, settings: WatchSettings, logbook: str, events: Path | None
) -> History:
    """Watch what is connected, and write it down as it happens.

    Parameters
    ----------
    bench
        What is connected.
    settings
        What is wanted; a watch that is gone on with keeps its own.
    logbook
        Where it is written down.
    events
        Keeps what happens, and is gone on from.
    """
    earlier = kept_in(events)
    job = job_of(earlier, str(events)) or warmup_job(settings)
    with recorder(logbook, practice=bench.invented) as written:
        begun = Sitting(written).begin(job, earlier=earlier)
        console.note("Enter ends the watch before its time.")
        settings = job.settings
        with connected(
            bench,
            settings.oscillators,
            a4_hz=settings.a4_hz,
            start_s=begun.start_s,
            say=console.note,
        ) as live:
            history = _watch(begun, live, keeping(events))
        _note_where(written)
    return history


def watch_practice(rig: Bench, settings: WatchSettings, logbook: str) -> History:
    """Watch the practice rig, and write it down beside ``logbook``: an hour takes seconds here."""
    with recorder(logbook, practice=True) as written:
        history = _watch(Sitting(written).begin(warmup_job(settings)), rig)
        _note_where(written)
    return history


def _note_where(written: Recorder) -> None:
    if written.where and not written.turned_aside:
        console.note(f"Written down in the logbook: {written.where}.")


class WatchTeller:
    """Prints a forecast where it says something new, or after ten minutes without a word.

    Parameters
    ----------
    with_note, with_name
        Whether a line says which note, which oscillator.
    """

    def __init__(self, *, with_note: bool = False, with_name: bool = True) -> None:
        self._with_note = with_note
        self._with_name = with_name
        self._said: dict[tuple[str, float], tuple[Readiness, float]] = {}

    def __call__(self, event: Event) -> None:
        """Print one event, or nothing."""
        what = event.what
        if isinstance(what, ForecastMade):
            self._forecast(what)
        elif isinstance(what, Tell):
            console.warning(what.sentence)
        elif isinstance(what, PlayNote) and not self._with_note:
            console.note(what.sentence)

    def _forecast(self, made: ForecastMade) -> None:
        key = (made.oscillator, made.note)
        before, since_s = self._said.get(key, (Readiness.TOO_EARLY, -_QUIET_S))
        if before in SETTLED and made.ready_in_s == 0.0:
            return  # its chance of being ready goes up and down a little: nothing new
        again = made.readiness is before and made.watched_s - since_s < _QUIET_S
        if again or made.readiness is Readiness.TOO_EARLY:
            return
        self._said[key] = (made.readiness, made.watched_s)
        who = made.oscillator if self._with_name else ""
        if self._with_note:
            who = f"{who} at {note_name(made.note)}"
        when = f"After {in_words(made.watched_s)}"
        console.note(f"{when}, {who}: {made.sentence}" if who else f"{when}: {made.sentence}")


def write_history(path: Path, history: History) -> None:
    """Write a history as the table that ``pitchwright warmup`` reads."""
    from pitchwright.certificate.csv_table import write_csv

    headings = ["t_s"]
    columns: list[Sequence[str | float]] = [history.t_s.tolist()]
    if history.note is not None:
        headings.append("note")
        columns.append([note_name(note) for note in history.note.tolist()])
    for trace in history.traces:
        pitches = trace.cents if trace.f_hz is None else trace.f_hz
        headings.append(f"{trace.name} {'cents' if trace.f_hz is None else 'f_hz'}")
        columns.append(pitches.tolist())
    if history.temperature_c is not None:
        headings.append("temperature_c")
        columns.append(history.temperature_c.tolist())
    write_csv(path, headings, list(zip(*columns, strict=True)))

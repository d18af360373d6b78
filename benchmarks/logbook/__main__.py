"""Ten years of 40 oscillators, two million readings: open, chart, append, export, import, check.

Run ``python -m benchmarks.logbook``; it needs about 3 GB in the temporary folder and writes
``RESULTS.md`` beside this file. ``--readings N`` makes it smaller, for a quick look; then nothing
is written. ``python -m benchmarks.logbook.kills`` pulls the plug instead.
"""

from __future__ import annotations

import argparse
import os
import platform
import statistics
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

from pitchwright.logbook.care import check
from pitchwright.logbook.entries import Body, Entry, body_text
from pitchwright.logbook.exchange import export_lines, import_lines
from pitchwright.logbook.facts import Figures, InstrumentDescribed, NoteWritten, SurveyRecorded
from pitchwright.logbook.history import due, find_instrument, history, rates
from pitchwright.logbook.lines import entry_line, head_line, line_of
from pitchwright.logbook.store import Logbook, iso_utc
from pitchwright.procedures.circumstances import Conditions, SurveyState
from pitchwright.procedures.events import Closed, Started
from pitchwright.procedures.requests import Heard, ReadingsTaken
from pitchwright.tracking import Point
from pitchwright.units import note_to_hz
from pitchwright.upkeep.diary import diary

READINGS = 2_000_000
OSCILLATORS = 40
YEARS = 10
SURVEYS_A_YEAR = 4
NOTES = tuple(range(24, 97, 6))
START = datetime(2016, 11, 1, 18, 0, tzinfo=UTC)
RESULTS = Path(__file__).parent / "RESULTS.md"


def main() -> None:
    """Measure, print and write the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--readings", type=int, default=READINGS)
    readings = parser.parse_args().readings
    with tempfile.TemporaryDirectory() as folder:
        rows = measure(Path(folder), readings)
    lines = [
        "# The logbook's speed",
        "",
        f"A synthetic history: {OSCILLATORS} oscillators, {YEARS} years, {readings:,} "
        f"readings; Python {platform.python_version()}, SQLite with full synchronisation, "
        f"{platform.machine()}. Made by `python -m benchmarks.logbook`. Judged by processor time, "
        f"with the clock's beside it; the machine had a load of {os.getloadavg()[0]:.0f} on "
        f"{os.cpu_count()} processors.",
        "",
        "| what | bar | measured | |",
        "| --- | --- | --- | --- |",
        *(
            f"| {what} | {bar} | {got} | {'met' if met else 'missed'} |"
            for what, bar, got, met in rows
        ),
        "",
    ]
    print("\n".join(lines))
    if readings == READINGS:
        RESULTS.write_text("\n".join(lines), encoding="utf-8")


def measure(folder: Path, readings: int) -> list[tuple[str, str, str, bool]]:
    """One row a bar: what, bar, measured, met."""
    lines, path, again = folder / "made.jsonl", folder / "logbook.sqlite", folder / "again.jsonl"
    entries = write_history(lines, readings)
    rows: list[tuple[str, str, str, bool]] = []
    with Logbook(str(path), bench="loft") as logbook:
        rows.append(speed_row("import", entries, lambda: import_lines(logbook, lines)))
        rows.append(speed_row("export", entries, lambda: export_lines(logbook, again)))
    opening = [timed(lambda: Logbook(str(path), bench="loft").close()) for _ in range(9)]
    rows.append(time_row("open (median of 9)", 0.3, median(opening)))
    with Logbook(str(path), bench="loft") as logbook:

        def chart() -> None:
            surveys = history(logbook, find_instrument(logbook, "Oscillator 17").uid)
            assert len(surveys) == YEARS * SURVEYS_A_YEAR * 2
            rates(surveys)

        rows.append(time_row("history chart data", 0.5, timed(chart)))
        rows.append(time_row("who is due, all instruments", 0.5, timed(lambda: due(logbook))))
        rows.append(time_row("what was done when, newest 40", 0.5, timed(lambda: told(logbook))))
        appending = [timed(lambda: logbook.append(NoteWritten("one more"))) for _ in range(300)]
        rows.append(time_row("append one entry (median of 300)", 0.005, median(appending)))
        rows.append(time_row("check all of it", 30.0, timed(lambda: sound(logbook))))
    return rows


def told(logbook: Logbook) -> None:
    """What ``pitchwright log`` looks up."""
    assert len(diary(logbook, most=40)) == 40


def sound(logbook: Logbook) -> None:
    """What ``pitchwright log check`` does; the history is made without a fault."""
    assert check(logbook) == ()


@dataclass(frozen=True, slots=True)
class Spent:
    """Seconds of processor time, and seconds by the clock."""

    processor_s: float
    clock_s: float


def timed(work: Callable[[], object]) -> Spent:
    """What ``work`` takes."""
    begun, processor = time.perf_counter(), time.process_time()
    work()
    return Spent(time.process_time() - processor, time.perf_counter() - begun)


def median(spent: Sequence[Spent]) -> Spent:
    """The median of each."""
    return Spent(
        statistics.median(one.processor_s for one in spent),
        statistics.median(one.clock_s for one in spent),
    )


def speed_row(what: str, entries: int, work: Callable[[], object]) -> tuple[str, str, str, bool]:
    """A row for a bar of 50,000 entries a second."""
    spent = timed(work)
    rate = entries / spent.processor_s
    got = f"{rate:,.0f} entries/s ({entries / spent.clock_s:,.0f} by the clock)"
    return (what, "≥ 50,000 entries/s", got, rate >= 50_000)


def time_row(what: str, bar_s: float, spent: Spent) -> tuple[str, str, str, bool]:
    """A row for a bar in seconds."""
    got = f"{spent.processor_s * 1000:.1f} ms ({spent.clock_s * 1000:.1f} by the clock)"
    return (what, f"< {bar_s * 1000:g} ms", got, spent.processor_s < bar_s)


def write_history(path: Path, readings: int) -> int:
    """Write a made-up history as JSON lines; how many entries it has."""
    rng = np.random.default_rng(40)
    written = 0
    surveys = OSCILLATORS * YEARS * SURVEYS_A_YEAR
    each = readings // surveys
    with path.open("w", encoding="utf-8") as lines:
        lines.write(head_line())

        def put(at: datetime, what: Body, instrument: str, run: str | None = None) -> None:
            # As random as they are: a sorted identifier would flatter the index.
            uid = rng.bytes(16).hex()
            entry = Entry(uid, iso_utc(at), "loft", what, run, instrument)
            lines.write(entry_line(entry))

        for number in range(OSCILLATORS):
            instrument = f"{number + 1:032x}"
            described = InstrumentDescribed(f"Oscillator {number + 1}")
            put(START, described, instrument)
            written += 1
            drift = rng.normal(0.0, 0.05)
            bodies = [
                body_text(
                    ReadingsTaken((Heard(described.name, -1.0, note_to_hz(note), 0.01),))
                ).replace('"t_s":-1.0', '"t_s":[T_S]')
                for note in NOTES
            ]
            for visit in range(YEARS * SURVEYS_A_YEAR):
                at = START + timedelta(days=visit * 365.25 / SURVEYS_A_YEAR)
                run = rng.bytes(16).hex()
                put(at, Started("guided trim", {}), instrument, run)
                uids, at_utc, kind = rng.bytes(16 * each).hex(), iso_utc(at), ReadingsTaken.kind
                for reading in range(each):
                    body = bodies[reading % len(bodies)].replace("[T_S]", f"{reading}.0")
                    uid = uids[32 * reading : 32 * (reading + 1)]
                    lines.write(line_of(uid, at_utc, "loft", kind, run, instrument, None, body))
                    written += 1
                found = 12.0 / SURVEYS_A_YEAR * drift + rng.normal(0.0, 0.02)
                for state, scale in (
                    (SurveyState.AS_FOUND, found),
                    (SurveyState.AS_LEFT, rng.normal(0.0, 0.02)),
                ):
                    points = tuple(
                        Point(float(n), (n - 24) / 12, note_to_hz(n), 0.01) for n in NOTES
                    )
                    figures = Figures(0.0, 0.02, float(scale), 0.02, -1.0, 0.1, 1.0, 24.0, 84.0)
                    survey = SurveyRecorded(state, points, figures, Conditions(21.0))
                    put(at, survey, instrument, run)
                put(at, Closed("guided trim"), instrument, run)
                written += 4
    return written


if __name__ == "__main__":
    main()

"""Ten years of 40 oscillators, two million readings: open, chart, append, export, import.

Run ``python -m benchmarks.logbook``; it needs about 2 GB in the temporary folder and writes
``RESULTS.md`` beside this file. ``--readings N`` makes a smaller history, for a quick look.
"""

from __future__ import annotations

import argparse
import json
import platform
import statistics
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

from pitchwright.logbook.entries import body_text
from pitchwright.logbook.exchange import export_lines, import_lines
from pitchwright.logbook.facts import (
    Conditions,
    Figures,
    InstrumentDescribed,
    NoteWritten,
    SurveyRecorded,
    SurveyState,
)
from pitchwright.logbook.history import due, find_instrument, history, rates
from pitchwright.logbook.store import Logbook, iso_utc
from pitchwright.procedures.requests import Heard, ReadingsTaken
from pitchwright.tracking import Point
from pitchwright.units import note_to_hz

OSCILLATORS = 40
YEARS = 10
SURVEYS_A_YEAR = 4
NOTES = tuple(range(24, 97, 6))
START = datetime(2016, 11, 1, 18, 0, tzinfo=UTC)
RESULTS = Path(__file__).parent / "RESULTS.md"


def main() -> None:
    """Measure, print and write the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--readings", type=int, default=2_000_000)
    readings = parser.parse_args().readings
    with tempfile.TemporaryDirectory() as folder:
        rows = measure(Path(folder), readings)
    lines = [
        "# The logbook's speed",
        "",
        f"A synthetic history: {OSCILLATORS} oscillators, {YEARS} years, {readings:,} readings; "
        f"Python {platform.python_version()}, SQLite with full synchronisation, "
        f"{platform.machine()}, wall time. Made by `python -m benchmarks.logbook`.",
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
    if readings == 2_000_000:
        RESULTS.write_text("\n".join(lines), encoding="utf-8")


def measure(folder: Path, readings: int) -> list[tuple[str, str, str, bool]]:
    """One row a bar: what, bar, measured, met."""
    lines, path, again = folder / "made.jsonl", folder / "logbook.sqlite", folder / "again.jsonl"
    entries = write_history(lines, readings)
    rows: list[tuple[str, str, str, bool]] = []
    with Logbook(str(path), bench="loft") as logbook:
        spent, _ = timed(lambda: import_lines(logbook, lines))
        rows.append(speed_row("import", entries, spent))
        spent, _ = timed(lambda: export_lines(logbook, again))
        rows.append(speed_row("export", entries, spent))
    opening = [timed(lambda: Logbook(str(path), bench="loft").close())[0] for _ in range(9)]
    rows.append(time_row("open (median of 9)", 0.3, statistics.median(opening)))
    with Logbook(str(path), bench="loft") as logbook:

        def chart() -> None:
            surveys = history(logbook, find_instrument(logbook, "Oscillator 17").uid)
            assert len(surveys) == YEARS * SURVEYS_A_YEAR * 2
            rates(surveys)

        rows.append(time_row("history chart data", 0.5, timed(chart)[0]))
        rows.append(time_row("who is due, all instruments", 0.5, timed(lambda: due(logbook))[0]))
        appending = [timed(lambda: logbook.append(NoteWritten("one more")))[0] for _ in range(300)]
        rows.append(
            time_row("append one entry (median of 300)", 0.005, statistics.median(appending))
        )
    return rows


def timed(work: Callable[[], object]) -> tuple[float, object]:
    """Wall seconds that ``work`` takes, and what it returns."""
    begun = time.perf_counter()
    outcome = work()
    return time.perf_counter() - begun, outcome


def speed_row(what: str, entries: int, spent_s: float) -> tuple[str, str, str, bool]:
    """A row for a bar of 50,000 entries a second."""
    rate = entries / spent_s
    return (what, "≥ 50,000 entries/s", f"{rate:,.0f} entries/s", rate >= 50_000)


def time_row(what: str, bar_s: float, spent_s: float) -> tuple[str, str, str, bool]:
    """A row for a bar in seconds."""
    return (what, f"< {bar_s * 1000:g} ms", f"{spent_s * 1000:.1f} ms", spent_s < bar_s)


def write_history(path: Path, readings: int) -> int:
    """Write a made-up history as JSON lines; how many entries it has."""
    rng = np.random.default_rng(40)
    written = 0
    surveys = OSCILLATORS * YEARS * SURVEYS_A_YEAR
    each = readings // surveys
    with path.open("w", encoding="utf-8") as lines:
        lines.write('{"format":"pitchwright logbook","version":1}\n')

        def put(uid: str, at: datetime, kind: str, instrument: str, body: str) -> None:
            head = json.dumps(
                {
                    "uid": uid,
                    "at_utc": iso_utc(at),
                    "bench": "loft",
                    "kind": kind,
                    "instrument": instrument,
                }
            )
            lines.write(f'{head[:-1]},"body":{body}}}\n')

        for number in range(OSCILLATORS):
            instrument = f"{number + 1:032x}"
            described = InstrumentDescribed(f"Oscillator {number + 1}")
            put(f"{written:032x}", START, described.kind, instrument, body_text(described))
            written += 1
            drift = rng.normal(0.0, 0.05)
            for visit in range(YEARS * SURVEYS_A_YEAR):
                at = START + timedelta(days=visit * 365.25 / SURVEYS_A_YEAR)
                for reading in range(each):
                    note = NOTES[reading % len(NOTES)]
                    heard = ReadingsTaken(
                        (Heard(described.name, float(reading), note_to_hz(note), 0.01),)
                    )
                    put(f"{written:032x}", at, heard.kind, instrument, body_text(heard))
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
                    put(f"{written:032x}", at, survey.kind, instrument, body_text(survey))
                    written += 1
    return written


if __name__ == "__main__":
    main()

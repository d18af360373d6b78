"""Six invented years of one oscillator: what the logbook makes of them, and what goes on paper.

Run as ``python examples/years_of_an_instrument.py FOLDER``: a history chart, a certificate and a
label go there. Without a folder nothing is kept. The instrument and its drift are invented.
"""

import sys
import tempfile
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np

from pitchwright.certificate.certificate import certificate_pdf, certificate_picture
from pitchwright.certificate.label import labels_pdf
from pitchwright.logbook import Logbook
from pitchwright.logbook.entries import Body
from pitchwright.logbook.facts import (
    InstrumentDescribed,
    SurveyRecorded,
    TrimmerDescribed,
)
from pitchwright.logbook.history import due
from pitchwright.procedures.circumstances import Conditions, SurveyState
from pitchwright.procedures.events import Closed, Started
from pitchwright.procedures.requests import Ended, Heard, TurnWatched, WatchTurn
from pitchwright.tracking import Point, TargetCurve, survey_oscillator
from pitchwright.units import cv_of_note, note_to_hz, ratio_of_cents
from pitchwright.upkeep.certifying import certificate_of, history_chart
from pitchwright.upkeep.records import figures_of

HERON = "0123456789abcdef0123456789abcdef"
FIRST = datetime(2021, 3, 6, 17, 0, tzinfo=UTC)
DRIFT_A_MONTH = 0.04
NOTES = range(24, 85, 6)
CLOCK_PPM = 50.0


def surveyed(
    state: SurveyState, scale: float, base: float, minutes_on: float, rng: np.random.Generator
) -> SurveyRecorded:
    """A survey of an oscillator whose scale and base are off by so much."""
    points = []
    for place, note in enumerate(NOTES):
        f_hz = note_to_hz(note)
        cents = base + scale * (note - 60) / 12.0 - 0.4 * f_hz / 1000.0 + rng.normal(0.0, 0.05)
        points.append(
            Point(note, cv_of_note(note), f_hz * ratio_of_cents(cents), 0.05, t_s=6.0 * place)
        )
    target = TargetCurve.flat()
    survey = survey_oscillator(
        "Heron", points, target=target, tolerances=(1.0,), clock_ppm=CLOCK_PPM
    )
    under = Conditions(
        temperature_c=round(21.0 + rng.normal(0.0, 0.8), 1),
        minutes_on=minutes_on,
        source="Loft",
        route="trimmable output 2",
        reference="the recorder’s clock",
    )
    return SurveyRecorded(
        state, tuple(points), figures_of(survey), under, target, CLOCK_PPM, invented=True
    )


def turned(
    trimmer: str, visit: int, note: int, start_cents: float, aim_cents: float, turns: float
) -> tuple[WatchTurn, TurnWatched]:
    """One turn of a trimmer that stops 0.04 cents from its aim."""
    f_hz = note_to_hz(note)
    asked = WatchTurn(
        "Heron", trimmer, visit, 1, note, cv_of_note(note), f_hz, start_cents, aim_cents, 0.4,
        -60.0, 60.0, None, turns > 0, False, f"Turn the {trimmer}.",
    )  # fmt: skip
    heard = Heard("Heron", 0.0, f_hz * ratio_of_cents(aim_cents + 0.04), 0.03)
    return asked, TurnWatched(Ended.INSIDE, heard, (), turns)


def write_years(book: Logbook) -> None:
    """Twelve visits, half a year apart, each found, trimmed and left."""
    rng = np.random.default_rng(7)
    trimmers = (TrimmerDescribed("scale", "scale"), TrimmerDescribed("fine", "base fine"))
    described = InstrumentDescribed("Heron", trimmers=trimmers, fed_by="trimmable output 2")
    book.append(described, instrument=HERON, at=FIRST)
    scale, at = 3.4, FIRST
    for visit in range(12):
        found = surveyed(SurveyState.AS_FOUND, scale, rng.normal(0.0, 2.0), 90.0, rng)
        left = surveyed(SurveyState.AS_LEFT, rng.normal(0.08, 0.02), 0.2, 115.0, rng)
        run = f"{visit:032x}"
        base = found.figures.base_cents or 0.0
        turns = (
            *turned("scale", 1, 84, base + 2.0 * scale, base + 0.5, -0.4 * scale),
            *turned("fine", 2, 60, base, 0.0, -0.1 * base),
        )
        steps: tuple[Body, ...] = (
            Started("guided trim", {}),
            found,
            *turns,
            Closed("guided trim"),
            left,
        )
        for minute, what in enumerate(steps):
            book.append(what, run=run, instrument=HERON, at=at + timedelta(minutes=4 * minute))
        days = 182.6 + rng.normal(0.0, 12.0)
        scale = 0.08 + (DRIFT_A_MONTH + rng.normal(0.0, 0.006)) * days / 30.44
        at += timedelta(days=days)


def main(folder: Path) -> None:
    """Write the years into a logbook, ask it what became of Heron, and put it on paper."""
    with (
        tempfile.TemporaryDirectory() as kept_nowhere,
        Logbook(str(Path(kept_nowhere) / "years.sqlite"), bench="loft") as book,
    ):
        write_years(book)
        (heron,) = due(book)
        print(f"Heron is due on {heron.earliest}. {heron.reason}")
        chart = history_chart(book, "Heron")
        contents = certificate_of(book, "Heron", dated=date(2026, 11, 25))
    # An entry's identifier is drawn by lot; fixed ones make the same paper each time.
    assert contents.found is not None
    assert contents.left is not None
    contents = replace(
        contents,
        found=replace(contents.found, uid="5e6f7a8b9c0d" + 20 * "0"),
        left=replace(contents.left, uid="1a2b3c4d5e6f" + 20 * "0"),
    )
    (folder / "history.svg").write_text(chart, encoding="utf-8")
    (folder / "certificate.pdf").write_bytes(certificate_pdf(contents))
    (folder / "certificate.png").write_bytes(certificate_picture(contents))
    (folder / "label.pdf").write_bytes(labels_pdf([contents]))


if __name__ == "__main__":
    if len(sys.argv) > 1:
        main(Path(sys.argv[1]))
    else:
        with tempfile.TemporaryDirectory() as nowhere:
            main(Path(nowhere))

"""A logbook with a few years in it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from pitchwright.logbook.facts import (
    Figures,
    InstrumentDescribed,
    NoteWritten,
    SurveyRecorded,
    TrimmerDescribed,
)
from pitchwright.logbook.store import Logbook, new_uid
from pitchwright.procedures.circumstances import Conditions, SurveyState
from pitchwright.tracking import Point

START = datetime(2022, 3, 1, 18, 0, tzinfo=UTC)


def some_survey(state: SurveyState, scale: float, base: float = 0.2) -> SurveyRecorded:
    points = tuple(
        Point(note, (note - 24) / 12, 32.703 * 2 ** ((note - 24) / 12), 0.03, t_s=float(note))
        for note in range(24, 85, 12)
    )
    figures = Figures(base, 0.03, scale, 0.02, -1.1, 0.2, 1.0, 24.0, 84.0)
    return SurveyRecorded(state, points, figures, Conditions(21.0, 95.0, "Loft", "output 2"))


@pytest.fixture
def logbook(tmp_path: Path) -> Iterator[Logbook]:
    """Heron drifts by 0.12 cents per octave a month and is trimmed once a year."""
    with Logbook(str(tmp_path / "logbook.sqlite"), bench="loft") as book:
        heron = new_uid()
        trimmers = (TrimmerDescribed("scale", "scale"),)
        described = InstrumentDescribed("Heron", trimmers=trimmers, fed_by="output 2")
        book.append(described, instrument=heron, at=START)
        book.append(NoteWritten("bought second-hand"), instrument=heron, at=START)
        for year in range(4):
            day = START + timedelta(days=365.25 * year)
            found = 0.05 + 12 * 0.12 * (year > 0)
            for state, scale in ((SurveyState.AS_FOUND, found), (SurveyState.AS_LEFT, 0.05)):
                book.append(some_survey(state, scale), instrument=heron, at=day)
                day += timedelta(hours=1)
        yield book

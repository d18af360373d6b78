"""Contents of certificates made of invented readings, and what reads a PDF independently of us."""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from pitchwright.certificate.contents import Contents, SurveyDone, TurnDone, VisitDone
from pitchwright.tracking import OscillatorSurvey, Point, survey_oscillator
from pitchwright.units import cv_of_note, note_to_hz, ratio_of_cents

Shape = Callable[[int], float]


def survey_of(
    shape: Shape,
    *,
    notes: range = range(24, 85, 6),
    u_cents: float = 0.05,
    clock_ppm: float = 50.0,
    name: str = "Heron",
) -> OscillatorSurvey:
    """A survey whose curve is ``shape`` plus a little that repeats."""
    points = [
        Point(
            note,
            cv_of_note(note),
            note_to_hz(note) * ratio_of_cents(shape(note) + 0.02 * ((7 * note) % 5 - 2)),
            u_cents,
            t_s=4.0 * place,
        )
        for place, note in enumerate(notes)
    ]
    return survey_oscillator(name, points, clock_ppm=clock_ppm)


def done(survey: OscillatorSurvey, hour: int = 13, uid: str = "a1b2c3d4e5f6") -> SurveyDone:
    return SurveyDone(
        survey=survey,
        at=datetime(2026, 11, 25, hour, 2, tzinfo=UTC),
        uid=(uid * 3)[:32],
        bench="loft",
        temperature_c=21.5,
        minutes_on=95.0,
        source="Loft",
        route="trimmable output 2",
        reference="the recorder’s clock",
    )


@pytest.fixture
def survey() -> Callable[..., OscillatorSurvey]:
    """Make a survey of a shape; see `survey_of`."""
    return survey_of


@pytest.fixture
def on_paper() -> Callable[..., SurveyDone]:
    """Put a survey under conditions; see `done`."""
    return done


@pytest.fixture
def contents() -> Contents:
    """Heron as found three cents an octave wide, and as left."""
    return Contents(
        name="Heron",
        found=done(survey_of(lambda n: 3.0 * (n - 60) / 12.0 + 5.0)),
        left=done(survey_of(lambda n: 0.2), 14, "b7c2c3d4e5f6"),
        tolerance_cents=1.0,
        dated=date(2026, 11, 25),
        fed_by="trimmable output 2",
        trimmers=("base fine", "scale"),
        visits=(
            VisitDone(
                1,
                "scale",
                (
                    TurnDone(84, 11.0, 10.0, 10.1, -0.15, True, "stopped at the limit"),
                    TurnDone(84, 10.1, 5.1, 5.08, None, False, "inside the window"),
                ),
            ),
            VisitDone(2, "base fine", (TurnDone(60, 5.05, 0.2, None, -0.6, False, "still"),)),
        ),
    )


@dataclass(frozen=True)
class Pdf:
    """A PDF as other programs see it."""

    path: Path

    def text(self, *options: str) -> str:
        return self._ran("pdftotext", *options, self.path, "-")

    def facts(self) -> dict[str, str]:
        lines = self._ran("pdfinfo", self.path).splitlines()
        return {key: rest.strip() for key, _, rest in (line.partition(":") for line in lines)}

    def faces(self) -> list[list[str]]:
        return [line.split() for line in self._ran("pdffonts", self.path).splitlines()[2:]]

    def tags(self) -> str:
        return self._ran("pdfinfo", "-struct-text", self.path)

    @staticmethod
    def _ran(*command: str | Path) -> str:
        ran = subprocess.run(command, check=True, timeout=120, capture_output=True)
        return ran.stdout.decode()


@pytest.fixture
def read_pdf(tmp_path: Path) -> Callable[[bytes], Pdf]:
    def write(pdf: bytes) -> Pdf:
        path = tmp_path / "read.pdf"
        path.write_bytes(pdf)
        return Pdf(path)

    return write

"""What a sheet shows: from a survey, and from a trim under way."""

from __future__ import annotations

import pytest

from pitchwright.procedures.outcomes import CurveKnown
from pitchwright.tracking import Point, survey_oscillator
from pitchwright.units import note_to_hz
from pitchwright.web.sheet_data import Dot, Reached, of_curves, of_survey

NOTES = tuple(float(note) for note in range(24, 85, 6))


def points(cents: float = 5.0) -> list[Point]:
    hertz = [note_to_hz(note) * 2.0 ** (cents / 1200.0) for note in NOTES]
    return [
        Point(note, (note - 24.0) / 12.0, f_hz, 0.05, 2.0 * i)
        for i, (note, f_hz) in enumerate(zip(NOTES, hertz, strict=True))
    ]


def curve(*cents: float, u: float = 0.1, visit: int = 0) -> CurveKnown:
    return CurveKnown("Heron", NOTES[: len(cents)], cents, (u,) * len(cents), visit)


def test_a_survey_keeps_what_was_thrown_away_and_why() -> None:
    clipped = Point(48.0, 2.0, 131.0, 0.05, 60.0, kept=False, why="It was clipped.")
    sheet = of_survey(survey_oscillator("Heron", [*points(), clipped]))
    at = {dot.note: dot for dot in sheet.now}
    assert at[48.0].left_out == ("It was clipped.",)
    assert at[48.0].readings == 1
    assert at[54.0].left_out == ()
    assert sheet.fitted
    assert sheet.model[0][0] == NOTES[0]
    assert sheet.model[-1][0] == NOTES[-1]


def test_a_survey_stands_beside_the_one_as_found() -> None:
    before = survey_oscillator("Heron", points(40.0))
    sheet = of_survey(survey_oscillator("Heron", points(0.5)), before)
    assert [dot.cents for dot in sheet.found] == pytest.approx([40.0] * len(NOTES))
    assert sheet.model_found


def test_as_found_is_shown_once_something_has_changed() -> None:
    first = curve(5.0, 6.0, 7.0)
    assert of_curves(first, first, 1.0).found == ()
    later = of_curves(curve(0.1, 0.2, 0.3, visit=1), first, 1.0)
    assert [dot.cents for dot in later.found] == [5.0, 6.0, 7.0]


def test_readings_are_counted_note_by_note() -> None:
    sheet = of_curves(curve(5.0, 6.0), None, 1.0, readings=[24.0, 24.0, 30.0])
    assert [dot.readings for dot in sheet.now] == [2, 1]


def test_foreseen_stands_at_its_notes() -> None:
    sheet = of_curves(curve(5.0, 6.0), None, 1.0, foreseen=(0.1, -0.1))
    assert sheet.foreseen == ((24.0, 0.1), (30.0, -0.1))


def test_the_reach_counts_what_covers_95_percent() -> None:
    inside = curve(0.7, 0.7, 0.7, u=0.1)
    assert of_curves(inside, None, 1.0).reaches == (Reached(1.0, 24.0, 36.0),)
    unsure = curve(0.7, 0.7, 0.7, u=0.2)
    assert of_curves(unsure, None, 1.0).reaches == (Reached(1.0, None, None),)
    broken = curve(0.1, 3.0, 0.1, 0.1)
    assert of_curves(broken, None, 1.0).reaches == (Reached(1.0, 36.0, 42.0),)


def test_worst_leaves_doubted_notes_aside() -> None:
    sheet = of_survey(survey_oscillator("Heron", points()))
    assert sheet.worst is not None
    assert sheet.worst.cents == pytest.approx(5.0)


def test_beats_follow_from_cents() -> None:
    # A4 a cent sharp: 440 Hz times (2^(1/1200) - 1) = 0.2542 Hz (arithmetic).
    assert Dot(69.0, 1.0, 0.1).beat_hz() == pytest.approx(0.25423, abs=1e-4)

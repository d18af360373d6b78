from itertools import pairwise
from typing import Any

import pytest

from pitchwright.errors import InputError
from pitchwright.procedures.requests import Heard, NotePlayed, PlayNote, ReadingsTaken
from pitchwright.procedures.survey import SurveySettings, notes_of_range, order, survey


def test_both_ends_are_played() -> None:
    assert notes_of_range(24, 84, 6) == tuple(range(24, 85, 6))
    assert notes_of_range(24, 50, 12) == (24, 36, 50)
    with pytest.raises(InputError):
        notes_of_range(60, 60, 6)


def test_low_middle_and_high_come_first_and_again() -> None:
    played = order(SurveySettings(("Heron",), notes_of_range(24, 84, 6)))
    assert played[:3] == [60, 24, 84]
    assert played[-2:] == [24, 84]
    assert {note for note in played if played.count(note) > 1} == {24, 60, 84}
    assert sorted(set(played)) == list(range(24, 85, 6))


@pytest.mark.parametrize("count", range(1, 16))
def test_no_survey_goes_without_a_repeat(count: int) -> None:
    notes = tuple(36.0 + 5.0 * i for i in range(count))
    played = order(SurveySettings(("Heron",), notes))
    assert set(played) == set(notes)
    assert len(played) - count >= min(count, 3)
    # No note comes twice in a row: it would show nothing of how it comes back.
    assert count == 1 or all(a != b for a, b in pairwise(played))


def test_points_come_out_with_doubts_kept() -> None:
    settings = SurveySettings(("Heron", "Wren"), (48.0, 60.0, 72.0))
    procedure, k = survey(settings), 0
    request = next(procedure)
    answer: Any
    try:
        while True:
            k += 1
            if isinstance(request, PlayNote):
                note, answer = request.note, NotePlayed(float(k))
            elif request.kind == "take readings":
                silent = note == 72.0
                answer = ReadingsTaken(
                    (
                        Heard("Heron", float(k), 100.0, 0.02),
                        Heard("Wren", float(k), None if silent else 99.0, 0.02),
                    )
                )
            else:
                answer = None
            request = procedure.send(answer)
    except StopIteration as stop:
        points = stop.value
    assert all(point.kept for point in points["Heron"])
    left_out = [point for point in points["Wren"] if not point.kept]
    assert {point.note for point in left_out} == {72.0}
    assert left_out[0].why

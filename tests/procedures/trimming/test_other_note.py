from dataclasses import replace
from typing import Any

import pytest

from pitchwright.procedures.requests import PlayNote
from pitchwright.procedures.trimming.other_note import OTHER_NOTE, semitones_off, survey_again
from pitchwright.procedures.trimming.reading import hear
from pitchwright.tracking.point import Point


@pytest.mark.parametrize(
    ("off", "scale", "semitones"),
    [
        (103.0, 0.0, 1),
        (-1196.0, 0.0, -12),
        (60.0, 0.0, 0),
        (45.0, 0.0, 0),
        (12.0, 0.0, 0),
        # An octave lower on a scale 40 cents an octave too wide: its own error is 40 lower too.
        (-1240.0, 40.0, -12),
        (-1200.0, 40.0, 0),
        (-1200.0, -1200.0, 0),  # it does not follow the notes at all
    ],
)
def test_whole_semitones_are_another_note(off: float, scale: float, semitones: int) -> None:
    assert semitones_off(off, scale) == semitones


class Erring:
    """Plays another note the first so many times that it is asked for one."""

    def __init__(self, line: Any, note: float, by: float, times: int) -> None:
        self.line, self.note, self.by, self.left = line, note, by, times

    def run(self, procedure: Any) -> Any:
        try:
            request = next(procedure)
            while True:
                answer = self.line.answer(request)
                if isinstance(request, PlayNote) and request.note == self.note and self.left:
                    self.left -= 1
                    self.line.note += self.by
                request = procedure.send(answer)
        except StopIteration as stop:
            return stop.value


def test_a_note_is_asked_for_again_and_the_right_one_taken(line: Any, make_state: Any) -> None:
    state = make_state(line)
    heard = Erring(line, 60.0, -1.0, 1).run(hear(state, 6, "again"))
    assert state.cents(heard, 6) == pytest.approx(line.cents(60.0))
    assert line.told() == [OTHER_NOTE]


def test_what_comes_time_and_again_is_believed(line: Any, make_state: Any) -> None:
    state = make_state(line)
    line.base += 100.0
    heard = line.run(hear(state, 6, "again"))
    assert state.cents(heard, 6) == pytest.approx(line.cents(60.0))
    assert line.told() == []
    assert len(line.of(PlayNote)) == 3


def test_another_note_in_the_survey_is_left_out(line: Any) -> None:
    points = []
    for k, note in enumerate(range(24, 85, 6)):
        heard = line.heard(float(note) + (2.0 if note == 48 else 0.0))
        points.append(Point(float(note), (note - 24.0) / 12.0, heard.f_hz, 0.03, float(k)))
    line.t_s = 20.0
    again = line.run(survey_again("x", tuple(points), 24.0, 10.0))
    left_out = [point for point in again if not point.kept]
    assert [point.note for point in left_out] == [48.0]
    kept = next(point for point in again if point.kept and point.note == 48.0)
    assert kept.f_hz == pytest.approx(line.heard(48.0).f_hz)
    assert line.told() == [OTHER_NOTE]
    straight = tuple(replace(point, kept=True) for point in again if point.kept)
    begun = len(line.asked)
    assert line.run(survey_again("x", straight, 24.0, 10.0)) == straight
    assert len(line.asked) == begun

"""What is played when: voltages, glides, loudness, and what cannot be played."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitchwright.errors import InputError
from pitchwright.practice import CvSource, PlayedNote, one_after_another
from pitchwright.practice.schedule import Schedule

INSTANT = CvSource("Loft", settle_s=0.0)


def test_one_after_another() -> None:
    first, second = one_after_another([60, 72], length_s=2.0, gap_s=0.5, start_s=1.0)
    assert (first.start_s, first.end_s, second.start_s, second.note) == (1.0, 3.0, 3.5, 72)


def test_voltage_jumps_glides_and_holds() -> None:
    notes = [
        PlayedNote(24, 1.0, 1.0),
        PlayedNote(36, 2.0, 2.0, glide_s=1.0),
        PlayedNote(48, 5.0, 1.0),
    ]
    schedule = Schedule(notes, INSTANT)
    cv_v = schedule.cv_v(np.array([0.0, 1.5, 2.0, 2.25, 3.0, 4.5, 5.0001, 9.0]))
    np.testing.assert_allclose(cv_v, [0.0, 0.0, 0.0, 0.25, 1.0, 1.0, 2.0, 2.0], atol=1e-9)
    assert schedule.settled_s(1) == 3.0


def test_a_glide_cut_short_starts_the_next_note_from_where_it_got() -> None:
    notes = [
        PlayedNote(24, 0.0, 1.0),
        PlayedNote(48, 1.0, 0.5, glide_s=1.0),
        PlayedNote(24, 1.5, 1.0, 1.0),
    ]
    cv_v = Schedule(notes, INSTANT).cv_v(np.array([1.4999, 1.5001, 2.0]))
    np.testing.assert_allclose(cv_v, [1.0, 1.0, 0.5], atol=0.001)


def test_a_slow_source_settles_exponentially() -> None:
    schedule = Schedule(
        [PlayedNote(24, 0.0, 1.0), PlayedNote(36, 1.0, 1.0)], CvSource("Loft", settle_s=0.02)
    )
    assert schedule.cv_v(np.array([1.02]))[0] == pytest.approx(1.0 - np.exp(-1.0))
    settled_s = schedule.settled_s(1)
    assert settled_s == pytest.approx(1.28)
    assert 1200.0 * (1.0 - schedule.cv_v(np.array([settled_s]))[0]) < 0.001


def test_loudness_rises_after_silence_and_not_in_legato() -> None:
    notes = [PlayedNote(24, 1.0, 1.0, attack_s=0.1), PlayedNote(36, 2.0, 1.0, attack_s=0.1)]
    schedule = Schedule(notes, INSTANT)
    t_s = np.array([0.9, 1.05, 1.2, 1.999, 2.0, 2.05, 2.9999, 3.05, 3.2])
    np.testing.assert_allclose(
        schedule.loudness(t_s), [0.0, 0.5, 1.0, 1.0, 1.0, 1.0, 1.0, 0.5, 0.0], atol=1e-9
    )
    assert schedule.settled_s(0) == pytest.approx(1.1)
    assert schedule.settled_s(1) == 2.0


@st.composite
def schedules(draw: st.DrawFn) -> list[PlayedNote]:
    notes: list[PlayedNote] = []
    now_s = 0.0
    for _ in range(draw(st.integers(1, 8))):
        now_s += draw(st.sampled_from([0.0, 0.002, 0.3]))
        length_s = draw(st.floats(0.01, 1.0))
        glide_s = draw(st.sampled_from([0.0, 0.2]))
        attack_s = draw(st.sampled_from([0.0, 0.01, 0.4]))
        notes.append(PlayedNote(draw(st.integers(0, 127)), now_s, length_s, glide_s, attack_s))
        now_s = notes[-1].end_s
    return notes


@given(schedules())
def test_what_is_called_settled_is(notes: list[PlayedNote]) -> None:
    source = CvSource("Stairs", gain_error=0.001, settle_s=0.003)
    schedule = Schedule(notes, source)
    t_s = np.linspace(0.0, notes[-1].end_s + 0.5, 500)
    loudness = schedule.loudness(t_s)
    assert np.all((loudness >= 0.0) & (loudness <= 1.0))
    for index, note in enumerate(notes):
        span_s = np.linspace(schedule.settled_s(index), note.end_s, 5)
        if span_s[0] < note.end_s:
            # The last moment belongs to the next note where that joins on.
            np.testing.assert_allclose(schedule.loudness(span_s[:-1]), 1.0, atol=1e-6)
            cents = 1200.0 * (schedule.cv_v(span_s[:-1]) - source.cv_v(note.note))
            np.testing.assert_allclose(cents, 0.0, atol=0.011)


@pytest.mark.parametrize(
    ("notes", "sentence"),
    [
        ([], "A take without notes"),
        ([PlayedNote(60, 0.0, 0.0)], "note 1 .C4.: Its length"),
        ([PlayedNote(60, -1.0, 2.0)], "note 1 .C4.: It begins before"),
        ([PlayedNote(60, 0.0, 1.0), PlayedNote(62, 0.9, 1.0)], "note 2 .D4.: It begins before"),
        ([PlayedNote(140, 0.0, 1.0)], "note 1: It is outside C-1 to G9"),
        ([PlayedNote(60, 0.0, float("nan"))], "note 1 .C4.: Its length"),
    ],
)
def test_what_cannot_be_played_is_a_sentence(notes: list[PlayedNote], sentence: str) -> None:
    with pytest.raises(InputError, match=sentence):
        Schedule(notes, INSTANT)

"""Whether what sounds can be the note that was asked for."""

from __future__ import annotations

import pytest

from pitchwright.bench.live.expecting import DoubtKind, Expecting
from pitchwright.units import note_to_hz, ratio_of_cents


def test_an_oscillator_far_off_is_far_off_alike_everywhere() -> None:
    expecting = Expecting()
    off = ratio_of_cents(230.0)
    assert expecting.doubt(60, note_to_hz(60) * off) is None
    expecting.heard(60, note_to_hz(60) * off, good=True)
    assert expecting.doubt(66, note_to_hz(66) * off) is None
    assert expecting.nearest_note(note_to_hz(66) * off) == 66
    wrong = expecting.doubt(66, note_to_hz(64) * off)
    assert wrong is not None
    assert wrong.kind is DoubtKind.OTHER
    assert "F♯4 was asked for, but E4 sounds" in wrong.sentence


def test_a_wide_scale_is_no_wrong_note() -> None:
    expecting = Expecting()
    expecting.heard(60, note_to_hz(60), good=True)
    assert expecting.doubt(84, note_to_hz(84) * ratio_of_cents(2 * 90.0)) is None


def test_a_pitch_that_stays_is_told_from_a_wrong_one() -> None:
    expecting = Expecting()
    expecting.heard(60, note_to_hz(60), good=True)
    wrong = expecting.doubt(72, note_to_hz(60))
    assert wrong is not None
    assert wrong.kind is DoubtKind.STAYED
    assert "stayed at C4 when C5 was asked for" in wrong.sentence


def test_the_first_note_an_octave_away_is_doubted() -> None:
    wrong = Expecting().doubt(60, note_to_hz(72))
    assert wrong is not None
    assert "is near C5" in wrong.sentence


def test_after_a_trimmer_was_turned_only_the_new_reading_counts() -> None:
    expecting = Expecting()
    expecting.heard(60, note_to_hz(60), good=True)
    expecting.heard(72, note_to_hz(72), good=True)
    expecting.only(72, note_to_hz(72) * ratio_of_cents(300.0))
    assert expecting.doubt(60, note_to_hz(60) * ratio_of_cents(300.0)) is None
    expecting.heard(60, note_to_hz(65), good=False)
    assert expecting.off_cents(60) == expecting.off_cents(72)


def test_a_wide_scale_is_learned_from_two_notes() -> None:
    """60 cents an octave: at C8 a semitone and more beyond what the nearest note says."""
    expecting = Expecting()
    for note in (48, 60):
        expecting.heard(note, note_to_hz(note) * ratio_of_cents(60.0 * (note - 48) / 12), good=True)
    assert expecting.off_cents(84) == pytest.approx(180.0)
    assert expecting.nearest_note(note_to_hz(84) * ratio_of_cents(180.0)) == 84
    assert expecting.sure_of(66)
    assert not Expecting().sure_of(66)

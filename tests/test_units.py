"""Cents, notes and volts: definitions, round trips, and what `parse_note` refuses.

Values marked Ellis follow from the definition of the cent (A. J. Ellis, On the Musical Scales of
Various Nations, J. Soc. Arts, 1885); values marked OEIS are A329207, the frequency of middle C.
The others are worked out from the definition beside them.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitchwright import units
from pitchwright.errors import InputError

FREQUENCIES_HZ = st.floats(8.0, 20_000.0)
CENTS = st.floats(-12_000.0, 12_000.0)
NOTES = st.floats(0.0, 127.0)


def test_a_cent_is_a_twelve_hundredth_of_an_octave() -> None:
    assert units.ratio_of_cents(1.0) == pytest.approx(1.0005777895, abs=5e-11)  # Ellis
    assert units.cents_between(2.0, 1.0) == 1200.0
    assert units.cents_between(1.0, 2.0) == -1200.0


def test_a_just_fifth_is_two_cents_wider_than_the_tempered() -> None:
    # 1200 log2(3/2) = 701.955 (Ellis gives 702).
    assert units.cents_between(3.0, 2.0) == pytest.approx(701.955, abs=5e-4)


def test_middle_c_has_its_known_frequency() -> None:
    assert units.note_to_hz(units.MIDDLE_C) == pytest.approx(261.6255653005986, rel=1e-15)  # OEIS


def test_another_a4_moves_every_note_by_the_same_interval() -> None:
    notes = np.arange(128.0)
    moved = units.cents_between(units.note_to_hz(notes, 442.0), units.note_to_hz(notes))
    np.testing.assert_allclose(moved, 1200.0 * math.log2(442.0 / 440.0), atol=1e-9)


def test_a_clock_off_by_100_ppm_is_a_sixth_of_a_cent() -> None:
    # 1200 log2(1 ± 0.0001), worked out from the series of the logarithm: ± 1e-4 - 0.5e-8.
    assert units.cents_from_ppm(100.0) == pytest.approx(1731.2340490667 * 0.99995e-4, abs=1e-9)
    assert units.cents_from_ppm(-100.0) == pytest.approx(-1731.2340490667 * 1.00005e-4, abs=1e-9)


def test_a_semitone_is_a_twelfth_of_a_volt_and_0_v_is_c1() -> None:
    assert units.cv_of_note(61) - units.cv_of_note(60) == pytest.approx(1.0 / 12.0)
    assert units.cv_of_note(24) == 0.0
    assert units.cv_of_note(60) == 3.0
    assert units.cv_of_note(60, note_at_0_v=36) == 2.0


@given(FREQUENCIES_HZ, CENTS)
def test_cents_there_and_back(ref_hz: float, cents: float) -> None:
    f_hz = ref_hz * units.ratio_of_cents(cents)
    assert units.cents_between(f_hz, ref_hz) == pytest.approx(cents, abs=1e-8)


@given(NOTES, st.floats(400.0, 480.0))
def test_a_note_there_and_back_through_hertz(note: float, a4_hz: float) -> None:
    assert units.note_of_hz(units.note_to_hz(note, a4_hz), a4_hz) == pytest.approx(note, abs=1e-10)


@given(NOTES, st.integers(0, 60))
def test_a_note_there_and_back_through_volts(note: float, note_at_0_v: int) -> None:
    cv_v = units.cv_of_note(note, note_at_0_v)
    assert units.note_of_cv(cv_v, note_at_0_v) == pytest.approx(note, abs=1e-12)


@given(st.lists(FREQUENCIES_HZ, min_size=1, max_size=8))
def test_arrays_give_what_their_members_give(frequencies_hz: list[float]) -> None:
    array = np.array(frequencies_hz)
    singly = [units.cents_between(f_hz, 440.0) for f_hz in frequencies_hz]
    np.testing.assert_allclose(units.cents_between(array, 440.0), singly, atol=1e-9)
    back = units.ratio_of_cents(units.cents_between(array, 440.0)) * 440.0
    np.testing.assert_allclose(back, array, rtol=1e-12)


def test_an_array_may_be_the_reference_of_one_frequency() -> None:
    cents = units.cents_between(880.0, np.array([440.0, 880.0]))  # type: ignore[call-overload]
    np.testing.assert_allclose(cents, [1200.0, 0.0])


@pytest.mark.parametrize(
    ("note", "name"),
    [
        (60, "C4"),
        (69, "A4"),
        (61, "C♯4"),
        (0, "C-1"),
        (127, "G9"),
        (60.25, "C4 +25"),
        (59.9, "C4 −10"),
        (60.004, "C4"),
        (60.5, "C4 +50"),
        (61.5, "D4 −50"),
    ],
)
def test_the_name_of_a_note(note: float, name: str) -> None:
    assert units.note_name(note) == name


@given(st.integers(0, 127))
def test_a_note_there_and_back_through_its_name(note: int) -> None:
    assert units.parse_note(units.note_name(note)) == note


@pytest.mark.parametrize(
    ("text", "note"),
    [
        ("C4", 60),
        ("c4", 60),
        (" A4 ", 69),
        ("F#3", 54),
        ("F♯3", 54),
        ("Bb-1", 10),
        ("bb3", 58),
        ("b3", 59),
        ("B♭3", 58),
        ("Cb4", 59),
        ("B#3", 60),
        ("60", 60),
        ("0", 0),
        ("127", 127),
    ],
)
def test_what_parse_note_understands(text: str, note: int) -> None:
    assert units.parse_note(text) == note


@pytest.mark.parametrize("text", ["", "H4", "C", "C##4", "4C", "C4.5", "-1", "٣", "C4 C5", "C4\n5"])
def test_what_is_not_a_note_is_refused_by_name(text: str) -> None:
    with pytest.raises(InputError, match="is not a note") as refused:
        units.parse_note(text)
    assert "such as C4" in refused.value.sentence


@pytest.mark.parametrize("text", ["128", "G#9", "Cb-1", "C99", "C-2", "999999999999999999999"])
def test_a_note_beyond_midi_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="outside C-1 to G9"):
        units.parse_note(text)


@given(st.text(max_size=200))
def test_any_text_is_a_note_or_is_refused_in_one_line(text: str) -> None:
    refusal = ""
    try:
        note = units.parse_note(text)
    except InputError as refused:
        refusal = refused.sentence
    else:
        assert 0 <= note <= 127
    assert len(refusal) < 160
    assert len(refusal.splitlines()) <= 1

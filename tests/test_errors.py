"""Errors are sentences for a person, and carry the exit code."""

from __future__ import annotations

import pickle

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitchwright.errors import InputError, InternalError, PitchwrightError


@pytest.mark.parametrize(
    ("what", "where", "do", "sentence"),
    [
        ("The file is empty", "", "", "The file is empty."),
        ("The file is empty", "take.wav", "", "take.wav: The file is empty."),
        ("It is empty", "take.wav", "Record it again", "take.wav: It is empty. Record it again."),
        ("It is empty.", "", "Record it again.", "It is empty. Record it again."),
        ("It is\nempty", "a\tb.wav", "Record  it", "a b.wav: It is empty. Record it."),
    ],
)
def test_what_where_and_what_to_do_make_one_line(
    what: str, where: str, do: str, sentence: str
) -> None:
    error = InputError(what, where, do)
    assert error.sentence == sentence
    assert str(error) == sentence


@given(st.text(), st.text(), st.text())
def test_a_sentence_is_always_one_line(what: str, where: str, do: str) -> None:
    assert len(InputError(what, where, do).sentence.splitlines()) <= 1


def test_what_was_given_wrong_and_what_went_wrong_inside_have_their_codes() -> None:
    assert InputError("x").exit_code == 2
    assert InternalError("x").exit_code == 1
    assert issubclass(InputError, PitchwrightError)
    assert issubclass(InternalError, PitchwrightError)


def test_an_error_survives_the_way_between_processes() -> None:
    # A worker process hands its error back pickled.
    error = InputError("It is empty", "take.wav", "Record it again")
    back = pickle.loads(pickle.dumps(error))
    assert isinstance(back, InputError)
    assert back.sentence == error.sentence

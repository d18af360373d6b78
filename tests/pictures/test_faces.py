"""Widths of words against the faces themselves; what is cut still fits."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.pictures.inside import width

from pitchwright.pictures.faces import fitted, text_width, wrapped

WORDS = "Heron’s worst note: F♯5, −12.4 ± 0.3 cents — “in doubt”, Übung à côté"


@pytest.mark.parametrize(
    ("face", "how"),
    [("DejaVuSans", {}), ("DejaVuSans-Bold", {"bold": True}), ("DejaVuSerif", {"serif": True})],
)
def test_no_word_is_wider_than_allowed_for_and_little_is_wasted(
    face: str, how: dict[str, bool]
) -> None:
    true, ours = width(WORDS, 20.0, face), text_width(WORDS, 20.0, **how)
    assert true <= ours <= 1.02 * true


@given(st.text(max_size=40), st.floats(20.0, 300.0))
def test_what_is_cut_fits(words: str, room: float) -> None:
    cut = fitted(words, 12.0, room)
    assert text_width(cut, 12.0) <= room
    assert cut == words or cut.endswith("…")


def test_lines_hold_all_words_or_say_that_they_do_not() -> None:
    words = "one two three four five six seven"
    assert " ".join(wrapped(words, 12.0, 80.0, 9)) == words
    assert wrapped(words, 12.0, 80.0, 2)[-1].endswith("…")
    assert all(text_width(line, 12.0) <= 80.0 for line in wrapped(words, 12.0, 80.0, 9))

"""Which note was meant: lists aligned in spite of all that an oscillator may do to them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pitchwright.errors import InputError
from pitchwright.tracking.align import Alignment, HeardPitch, align, parse_notes

LIST = parse_notes("C1..C7 step 6")


def heard(pitches: object) -> list[HeardPitch]:
    return [HeardPitch(float(pitch)) for pitch in np.asarray(pitches, dtype=float)]


def notes(alignment: Alignment) -> list[int | None]:
    return [meant.note for meant in alignment.meant]


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("C4", (60,)),
        ("C4, E4, G4", (60, 64, 67)),
        ("C4 E4 G4", (60, 64, 67)),
        ("c4;Bb3\nF#2", (60, 58, 42)),
        ("60,64", (60, 64)),
        ("C1..C2", tuple(range(24, 37))),
        ("C1..C7 step 6", tuple(range(24, 97, 6))),
        ("C1 .. C2 STEP 5", (24, 29, 34)),
        ("C2..C1 step 4", (36, 32, 28, 24)),
        ("C1..C2 step 12, A4, 36..24 step 12", (24, 36, 69, 36, 24)),
        ("C-1..G9 step 127", (0, 127)),
    ],
)
def test_lists_as_people_write_them(text: str, wanted: tuple[int, ...]) -> None:
    assert parse_notes(text) == wanted


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is empty"),
        (" , ;", "is empty"),
        ("H4", "“H4” is not a note"),
        ("C4..", "not a run of notes"),
        ("C1..C7 step", "not a run of notes"),
        ("C1..C7 step 0", "goes nowhere"),
        ("step 3", "not a run of notes"),
        ("C1..X7", "“X7” is not a note"),
        ("C4..200", "outside"),
        (",".join(["C-1..G9"] * 100), "more than 10000"),
    ],
)
def test_lists_that_are_none(text: str, words: str) -> None:
    with pytest.raises(InputError, match=words):
        parse_notes(text)


@given(st.text(alphabet="CcDE#b0123456789.,; \nstep-", max_size=30))
def test_any_text_gives_notes_or_a_sentence(text: str) -> None:
    try:
        given_notes = parse_notes(text)
    except InputError:
        return
    assert all(0 <= note <= 127 for note in given_notes)


@pytest.mark.parametrize(
    ("offset", "scale", "octaves"),
    [
        (0.05, 0.0, 0),
        (-2.1, 0.0, 0),
        (3.4, 0.0, 0),
        (23.7, 0.0, 2),
        (-12.2, 0.0, -1),
        (-7.3, -0.03, 0),
        (1.3, 0.04, 0),
        (-13.9, 0.02, -1),
    ],
)
def test_offsets_octaves_and_scale_errors_still_align(
    offset: float, scale: float, octaves: int
) -> None:
    written = np.array(LIST)
    laid = align(heard(written + offset + scale * (written - 60)), LIST)
    assert notes(laid) == list(LIST)
    assert laid.octaves == octaves
    assert laid.offset_semitones == pytest.approx(offset, abs=0.1)
    assert laid.scale_error == pytest.approx(scale, abs=0.005)
    assert not laid.ambiguous
    assert bool(laid.doubts) == bool(octaves)


def test_a_curve_that_droops_at_the_top_aligns() -> None:
    written = np.array(LIST)
    droop = -0.4 * 2.0 ** ((written - 96) / 12)
    assert notes(align(heard(written - 5.0 + droop), LIST)) == list(LIST)


def test_a_mistake_is_left_out() -> None:
    pitches = [note - 2.0 for note in LIST]
    pitches.insert(5, pitches[4] + 1.0)
    laid = align(heard(pitches), LIST)
    assert notes(laid) == [*LIST[:5], None, *LIST[5:]]
    assert "left out as a mistake" in laid.meant[5].why


def test_a_repeated_note_stays_in_place() -> None:
    laid = align(heard([*LIST[:3], LIST[2], *LIST[3:]]), LIST)
    assert notes(laid) == [*LIST[:3], LIST[2], *LIST[3:]]


def test_a_missing_note_amid_the_list_is_named() -> None:
    laid = align(heard(np.delete(np.array(LIST), 5) + 3.1), LIST)
    assert notes(laid) == [*LIST[:5], *LIST[6:]]
    assert laid.doubts == ("Written but not heard: F♯3",)


@pytest.mark.parametrize("left_out", [0, -1])
def test_a_missing_end_of_an_even_list_is_a_doubt(left_out: int) -> None:
    # Twelve notes six semitones apart fit thirteen in two ways; nothing in the pitches tells.
    laid = align(heard(np.delete(np.array(LIST), left_out) + 0.1), LIST)
    assert laid.ambiguous
    assert any("6 semitones" in doubt for doubt in laid.doubts)


def test_there_and_back_on_a_list_that_says_there() -> None:
    laid = align(heard([*LIST, *LIST[-2::-1]]), LIST)
    assert notes(laid) == [*LIST, *LIST[-2::-1]]
    assert all("out of the written order" in meant.why for meant in laid.meant[len(LIST) :])


def test_the_list_settles_octaves_that_the_sound_leaves_open() -> None:
    pitches = [
        HeardPitch(
            note + 0.1 + (12 if place % 3 == 0 else 0), note + 0.1 if place % 3 == 0 else None
        )
        for place, note in enumerate(LIST)
    ]
    laid = align(pitches, LIST)
    assert notes(laid) == list(LIST)
    assert [meant.other_octave for meant in laid.meant] == [p.other is not None for p in pitches]


def test_all_octaves_open_takes_the_written_one_and_says_so() -> None:
    laid = align([HeardPitch(note - 12.0, float(note)) for note in LIST], LIST)
    assert notes(laid) == list(LIST)
    assert laid.octaves == 0
    assert all(meant.other_octave for meant in laid.meant)
    assert any("octave is not certain" in doubt for doubt in laid.doubts)


def test_pitches_that_fit_nothing_are_all_mistakes() -> None:
    laid = align(heard([40.0, 43.5, 41.2]), [60])
    assert sum(note is None for note in notes(laid)) >= 2
    assert laid.meant


def test_nothing_heard() -> None:
    assert align([], LIST).meant == ()


@settings(max_examples=100)  # each tries some fifty ways to lie, which takes its time
@given(
    st.lists(st.integers(24, 96), min_size=6, max_size=25, unique=True),
    st.floats(-30, 30),
    st.floats(-0.03, 0.03),
    st.integers(0, 2**32 - 1),
)
def test_any_whole_list_aligns_or_doubts(
    written: list[int], offset: float, scale: float, seed: int
) -> None:
    errors = np.random.default_rng(seed).normal(0.0, 0.03, len(written))
    pitches = np.array(written) + offset + scale * (np.array(written) - 60) + errors
    laid = align(heard(pitches), written)
    assert notes(laid) == written or laid.ambiguous


def test_nearest_without_a_list() -> None:
    laid = align(heard([60.1, 62.05, 64.12, 65.02]))
    assert notes(laid) == [60, 62, 64, 65]
    assert laid.doubts == ()


def test_nearest_of_an_instrument_tuned_off_stays_together() -> None:
    # Some lie above half a semitone and some below: taken one by one they would part.
    laid = align(heard([60.47, 62.52, 64.49, 65.53, 67.5]))
    steps = np.diff([meant.note for meant in laid.meant if meant.note is not None])
    assert steps.tolist() == [2, 2, 1, 2]
    assert laid.ambiguous
    assert any("a semitone off" in doubt for doubt in laid.doubts)


def test_nearest_with_a_scale_error_keeps_the_steps_and_doubts() -> None:
    written = np.array(LIST)
    laid = align(heard(written + 0.02 * (written - 60)))
    assert notes(laid) == list(LIST)
    assert any("+24 cents per octave" in doubt for doubt in laid.doubts)


def test_nearest_says_where_a_note_is_a_guess() -> None:
    laid = align(heard([60.0, 62.0, 64.45, 65.0, 67.0]))
    assert "a guess" in laid.meant[2].why
    assert laid.ambiguous


def test_nearest_says_where_the_octave_is_open() -> None:
    laid = align([HeardPitch(60.0, 72.0), HeardPitch(62.0), HeardPitch(64.0)])
    assert "C5" in laid.meant[0].why
    assert any("1 of 3 notes" in doubt for doubt in laid.doubts)


def test_a_list_written_downwards_is_laid_on_a_take_that_goes_up() -> None:
    """Thirteen notes, each of them heard: none may vanish."""
    up = list(range(24, 97, 6))
    laid = align([HeardPitch(n + 0.02) for n in up], parse_notes("C7..C1 step 6"))
    assert [one.note for one in laid.meant] == up
    assert "other direction" in laid.doubts[0]
    down = align([HeardPitch(n + 0.02) for n in reversed(up)], parse_notes("C7..C1 step 6"))
    assert [one.note for one in down.meant] == up[::-1]
    assert not any("direction" in doubt for doubt in down.doubts)

"""Plans for two, three and more oscillators."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitchwright.detune import Interval, constant, even, two_notes
from pitchwright.errors import InputError
from pitchwright.units import note_to_hz


def test_constant_cents_double_each_octave() -> None:
    plan = constant(3.0, 24, 84)
    beats = np.array(plan.pairs[0].beats_hz)
    assert beats[12:] / beats[:-12] == pytest.approx(2.0)
    assert plan.ratio == pytest.approx(32.0)
    assert plan.voices[0].cents == (0.0,) * 61
    assert plan.voices[1].cents == pytest.approx((3.0,) * 61)


def test_two_notes_beat_as_asked_and_lie_on_a_line() -> None:
    plan = two_notes((36, 0.5), (72, 1.5), 24, 84)
    beats = dict(zip(plan.notes, plan.pairs[0].beats_hz, strict=True))
    assert beats[36] == pytest.approx(0.5)
    assert beats[72] == pytest.approx(1.5)
    assert np.diff(plan.voices[1].cents, 2) == pytest.approx(0.0, abs=1e-9)
    scale = 12.0 * float(np.diff(plan.voices[1].cents)[0])
    assert plan.voices[1].scale_cents_per_oct == pytest.approx(scale)
    assert plan.voices[1].base_cents == pytest.approx(plan.voices[1].cents[60 - 24])


def test_a_beat_that_turns_round_is_warned_of() -> None:
    plan = two_notes((36, 1.0), (72, -1.0), 24, 84)
    assert math.isinf(plan.ratio)
    assert "dies away" in plan.warnings[0]


@given(
    slowest_hz=st.floats(0.05, 1.2) | st.floats(-1.2, -0.05),
    low=st.integers(24, 60),
    octaves=st.integers(1, 5),
    high_end=st.booleans(),
)
def test_even_beats_are_never_slower_than_asked(
    slowest_hz: float, low: int, octaves: int, high_end: bool
) -> None:
    plan = even(slowest_hz, low, low + 12 * octaves, high_end=high_end)
    beats = np.array(plan.pairs[0].beats_hz)
    assert np.sign(beats) == pytest.approx(np.sign(slowest_hz))
    assert np.abs(beats).min() == pytest.approx(abs(slowest_hz), rel=1e-4)
    assert plan.ratio < 2.0**octaves
    if high_end:
        assert plan.ratio <= even(slowest_hz, low, low + 12 * octaves).ratio + 1e-6


def test_of_three_equally_spaced_the_outer_pair_beats_double() -> None:
    for plan in (
        constant(2.0, 36, 72, ("Heron", "Wren", "Plover")),
        even(0.5, 36, 72, ("Heron", "Wren", "Plover")),
    ):
        inner, outer, other = (np.array(pair.beats_hz) for pair in plan.pairs)
        assert outer == pytest.approx(2.0 * inner, rel=5e-3)
        assert other == pytest.approx(inner, rel=5e-2)
        assert any("2 times as fast" in sentence for sentence in plan.sentences)


def test_positions_place_oscillators_on_both_sides() -> None:
    plan = even(0.5, 36, 60, ("Heron", "Wren", "Plover", "Dunlin"), (0.0, 1.0, -1.0, 2.5))
    assert len(plan.pairs) == 6
    by_names = {(pair.lower, pair.upper): pair.beats_hz for pair in plan.pairs}
    assert min(by_names["Heron", "Wren"]) == pytest.approx(0.5, rel=1e-4)
    assert max(by_names["Heron", "Plover"]) == pytest.approx(-0.5, rel=1e-4)
    assert min(by_names["Plover", "Wren"]) > 0.9


def test_an_interval_and_another_a4_are_in_the_target() -> None:
    plan = even(0.5, 48, 60, interval=Interval(3, 2), a4_hz=442.0)
    leader, upper = plan.voices
    lower_hz = note_to_hz(48) * 2.0 ** (leader.cents[0] / 1200.0)
    upper_hz = note_to_hz(48) * 2.0 ** (upper.cents[0] / 1200.0)
    assert lower_hz == pytest.approx(note_to_hz(48, 442.0))
    assert 2.0 * upper_hz - 3.0 * lower_hz == pytest.approx(plan.pairs[0].beats_hz[0])
    assert upper.target(plan.notes).cents_at(48.0) == pytest.approx(upper.cents[0])


@pytest.mark.parametrize(
    ("ask", "says"),
    [
        (lambda: constant(0.0, 24, 84), "detune of 0 cents cannot be"),
        (lambda: constant(math.nan, 24, 84), "cannot be"),
        (lambda: constant(3.0, 84, 24), "no range of notes"),
        (lambda: constant(3.0, 24, 84, ("Heron",)), "two or more"),
        (lambda: constant(3.0, 24, 84, ("Heron", "Heron")), "two or more"),
        (lambda: even(0.0, 24, 84), "no detune"),
        (lambda: even(50.0, 24, 84), "cannot be at C1"),
        (lambda: even(math.nan, 24, 84), "must be a number"),
        (lambda: two_notes((60, 1.0), (60, 2.0), 24, 84), "Both beat rates are for C4"),
        (lambda: even(1.0, 24, 84, positions=(0.0, 0.0)), "position of its own"),
        (lambda: even(1.0, 24, 84, positions=(1.0, 2.0)), "the first of them 0"),
        (lambda: even(1.0, 24, 84, positions=(0.0, math.inf)), "must be a number"),
    ],
)
def test_what_cannot_be_planned(ask: object, says: str) -> None:
    assert callable(ask)
    with pytest.raises(InputError, match=says):
        ask()


def test_rough_is_not_beating() -> None:
    assert any("roughness" in warning for warning in constant(20.0, 48, 96).warnings)

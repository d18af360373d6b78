"""Who is fed from which output: as few out of tune as can be, then the least sum."""

from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pitchwright.ensemble import Output, Player, assign
from pitchwright.errors import InputError
from pitchwright.tracking import CurveEntry
from pitchwright.units import cv_of_note, note_to_hz

NOTES = np.arange(24.0, 85.0, 6.0)


def player(name: str, scale: float, bend: float = 0.0, **trim: float) -> Player:
    entries = tuple(
        CurveEntry(
            float(n),
            cv_of_note(float(n)),
            note_to_hz(float(n)),
            scale * cv_of_note(float(n)) + bend * (-1.0) ** k,
            0.02,
        )
        for k, n in enumerate(NOTES)
    )
    return Player(name, entries, **trim)


def test_who_needs_a_trim_gets_one_that_reaches() -> None:
    players = [player("Heron", 0.0), player("Wren", -12.0), player("Plover", 3.0)]
    outputs = [Output("one", -5.0, 5.0), Output("two", -20.0, 20.0)]
    heron, wren, plover = assign(players, outputs, 1.0)
    assert (heron.output, wren.output, plover.output) == ("", "two", "one")
    assert wren.output_cents_per_oct == pytest.approx(12.0, abs=1e-6)
    assert plover.output_cents_per_oct == pytest.approx(-3.0, abs=1e-6)
    assert all(feed.within for feed in (heron, wren, plover))
    assert "from a plain output" in heron.sentence


def test_outputs_go_where_they_bring_somebody_into_tune() -> None:
    # The far one gains more cents, but stays out of tune either way.
    players = [player("Heron", -40.0), player("Wren", -2.0)]
    heron, wren = assign(players, [Output("one", -5.0, 5.0)], 1.0)
    assert (heron.output, wren.output) == ("", "one")
    assert wren.within
    assert not heron.within
    assert "outside ±1" in heron.sentence


def test_its_own_trimmer_does_what_the_output_cannot() -> None:
    (feed,) = assign(
        [player("Heron", -8.0, low_cents_per_oct=-5.0, high_cents_per_oct=5.0)],
        [Output("one", -5.0, 5.0)],
        1.0,
    )
    assert feed.output_cents_per_oct + feed.own_cents_per_oct == pytest.approx(8.0, abs=1e-6)
    assert feed.output_cents_per_oct == pytest.approx(5.0)
    assert "on one and" in feed.sentence


def test_the_base_is_what_centres_the_curve() -> None:
    (feed,) = assign([player("Heron", 0.0, bend=0.5)], [], 1.0)
    assert feed.left_cents == pytest.approx(0.5)
    assert feed.base_cents == pytest.approx(0.0)


@settings(max_examples=30)
@given(
    scales=st.lists(st.floats(-15.0, 15.0), min_size=1, max_size=4),
    trims=st.lists(st.floats(0.5, 12.0), min_size=0, max_size=3),
    tolerance=st.floats(0.3, 5.0),
)
def test_no_other_choice_is_better(
    scales: list[float], trims: list[float], tolerance: float
) -> None:
    players = [player(f"o{n}", scale, bend=0.2) for n, scale in enumerate(scales)]
    outputs = [Output(f"t{n}", -trim, trim) for n, trim in enumerate(trims)]
    chosen = assign(players, outputs, tolerance)
    ours = (sum(not feed.within for feed in chosen), sum(feed.left_cents for feed in chosen))

    def alone(place: int, output: Output | None) -> tuple[bool, float]:
        (feed,) = assign([players[place]], [output] if output else [], tolerance)
        return not feed.within, feed.left_cents

    table = [[alone(n, output) for output in [*outputs, None]] for n in range(len(players))]
    columns = [*range(len(outputs)), *([len(outputs)] * len(players))]
    for choice in set(permutations(columns, len(players))):
        picked = [table[n][column] for n, column in enumerate(choice)]
        theirs = (sum(p[0] for p in picked), sum(p[1] for p in picked))
        # A trimmable output must bring a hundredth of a cent to be taken up.
        assert ours[0] <= theirs[0]
        assert ours[0] < theirs[0] or ours[1] <= theirs[1] + 0.011 * len(players)


def test_more_outputs_than_oscillators_and_the_reverse() -> None:
    two = [player("Heron", 4.0), player("Wren", -4.0)]
    many = [Output(f"t{n}", -5.0, 5.0) for n in range(5)]
    used = [feed.output for feed in assign(two, many, 1.0)]
    assert len(set(used)) == 2
    crowd = [player(f"o{n}", 4.0) for n in range(6)]
    assert sum(feed.output != "" for feed in assign(crowd, many[:2], 1.0)) == 2


@pytest.mark.parametrize(
    ("players", "outputs", "tolerance", "says"),
    [
        ([], [], 1.0, "no oscillator"),
        ([player("Heron", 0.0)] * 2, [], 1.0, "Two oscillators are called Heron"),
        ([player("Heron", 0.0)], [Output("t", 0, 1)] * 2, 1.0, "Two outputs are called t"),
        ([Player("Heron", ())], [], 1.0, "Heron: It has no reading"),
        ([player("Heron", 0.0)], [], 0.0, "tolerance of 0 cents"),
    ],
)
def test_what_cannot_be_assigned(
    players: list[Player], outputs: list[Output], tolerance: float, says: str
) -> None:
    with pytest.raises(InputError, match=says):
        assign(players, outputs, tolerance)


def test_a_trim_range_the_wrong_way_round() -> None:
    with pytest.raises(InputError, match="output t: A trim from 5 to -5"):
        Output("t", 5.0, -5.0)

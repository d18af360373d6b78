"""The survey as a whole: curve, reach, mistakes, advice, and what it says in words."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitchwright.errors import InputError
from pitchwright.tracking import CurveEntry, OscillatorSurvey, Point, survey_oscillator
from pitchwright.tracking.advice import SurveyAgain
from pitchwright.tracking.conformity import CommonPart, judge
from pitchwright.tracking.findings import Jumped, Strayed
from pitchwright.tracking.reach import reach
from pitchwright.units import ratio_of_cents

Played = Callable[..., list[Point]]
HALVES = [60, *range(24, 85, 6), 60]


def off(point: Point, cents: float, **changes: Any) -> Point:
    return replace(point, f_hz=point.f_hz * ratio_of_cents(cents), **changes)


def entry(note: float, cents: float, u_cents: float = 0.1) -> CurveEntry:
    return CurveEntry(note, (note - 24) / 12.0, 100.0, cents, u_cents)


# --- the curve


def test_repeats_are_combined_by_weight_and_drift_taken_out(played: Played) -> None:
    points = played([48, 60, 72, 48, 60, 72], drift=6.0)
    survey = survey_oscillator("Heron", points)
    assert [e.note for e in survey.curve.entries] == [48, 60, 72]
    assert [e.readings for e in survey.curve.entries] == [2, 2, 2]
    # A step between the rounds explains them too: what it could mimic is in the uncertainty.
    assert all(abs(e.cents) < e.expanded_cents < 1.0 for e in survey.curve.entries)

    sure, unsure = played([60, 60], seconds=0.0)
    curve = survey_oscillator("Heron", [sure, off(unsure, 0.1, u_cents=0.2)]).curve
    # The surer reading counts more, and neither counts alone: a note never comes back exactly.
    assert 0.0 < curve.entries[0].cents < 0.05


def test_readings_left_out_stay_in_the_record_with_their_reason(played: Played) -> None:
    points = played(range(24, 85, 12))
    points[2] = replace(points[2], kept=False, why="A glide, not a note.")
    survey = survey_oscillator("Heron", points)
    assert [e.note for e in survey.curve.entries] == [24, 36, 60, 72, 84]
    assert survey.curve.left_out[0].point is points[2]
    assert "1 reading was left out: A glide, not a note." in survey.sentences()


def test_scatter_between_visits_widens_the_curve(played: Played) -> None:
    points = [off(p, 0.5 if i % 2 else -0.5) for i, p in enumerate(played([60] * 8))]
    survey = survey_oscillator("Heron", points)
    only = survey.curve.entries[0]
    # Standard deviation 0.53 of eight; Student's t of seven is 2.43, so U is 0.46 (GUM, G.2).
    assert only.expanded_cents == pytest.approx(2.43 * 0.535 / 8**0.5, rel=0.15)


# --- reach


def test_the_guard_band_counts_uncertainty_and_stops_at_the_tolerance() -> None:
    inside, outside = entry(60, 0.799), entry(60, 0.801)
    assert reach(judge([inside], 1.0)).low == 60
    assert reach(judge([outside], 1.0)).low is None
    assert reach(judge([inside], 1.0, CommonPart(0.05))).low is None


def test_the_widest_run_is_chosen_and_its_ends_are_named() -> None:
    entries = [entry(n, c) for n, c in ((24, 0), (36, 0), (42, 3), (48, 0), (60, 0), (72, -3))]
    found = reach(judge(entries, 1.0))
    assert (found.low, found.high, found.notes, found.widest_gap) == (24, 36, 2, 12.0) or (
        found.low,
        found.high,
    ) == (48, 60)
    assert not found.whole
    assert "end" in found.sentence
    wide = reach(judge(entries, 5.0))
    assert (wide.low, wide.high, wide.whole, wide.ends) == (24, 72, True, "")
    none = reach(judge([entry(60, 4.0)], 1.0))
    assert none.sentence == (
        "Within ±1 cent: no note for certain. The nearest is C4 (+4.0 ± 0.2 cents)."
    )


@given(
    cents=st.lists(st.floats(-5.0, 5.0), min_size=1, max_size=30),
    tolerance=st.floats(0.5, 5.0),
    more=st.floats(0.0, 5.0),
)
def test_reach_grows_with_the_tolerance_and_holds_only_conforming_notes(
    cents: list[float], tolerance: float, more: float
) -> None:
    entries = [entry(24 + i, c) for i, c in enumerate(cents)]
    narrow, wide = reach(judge(entries, tolerance)), reach(judge(entries, tolerance + more))
    if narrow.low is not None and narrow.high is not None:
        assert wide.low is not None
        assert wide.high is not None
        assert wide.high - wide.low >= narrow.high - narrow.low
        for e in entries:
            if narrow.low <= e.note <= narrow.high:
                assert abs(e.cents) + e.expanded_cents <= tolerance


# --- mistakes


def test_a_wrong_key_is_named_and_does_not_bend_the_model(played: Played) -> None:
    points = played(range(24, 85, 6), scale=2.0, note_scatter=0.2, seed=1)
    points[4] = off(points[4], 100.0)
    survey = survey_oscillator("Heron", points)
    doubted = [e for e in survey.curve.entries if e.doubt]
    assert [e.note for e in doubted] == [48]
    assert survey.worst.note == 48
    assert survey.worst_trusted.note != 48
    assert survey.model.scale_cents_per_oct == pytest.approx(2.0, abs=0.3)
    assert survey.best_possible_cents < 1.0
    assert survey.advice[0].startswith("Play C3 again")
    assert "C3 is in doubt" in survey.headline
    # It still breaks the reach: it may be true.
    assert not survey.reach_at(20.0).whole


def test_one_wrong_visit_is_told_and_never_left_out(played: Played) -> None:
    points = played([60, *range(24, 85, 6), 60], scale=1.0, note_scatter=0.1, seed=2)
    points[-1] = off(points[-1], -300.0)
    survey = survey_oscillator("Heron", points)
    assert not survey.curve.left_out
    told = survey.findings[0]
    assert isinstance(told, Strayed | Jumped)
    assert told.cents == pytest.approx(-300.0, abs=1.0)
    assert survey.advised == (SurveyAgain(told.kind),)
    assert survey.model.scale_cents_per_oct == pytest.approx(1.0, abs=0.3)


def test_an_untrimmed_oscillator_is_not_taken_for_mistakes(played: Played) -> None:
    points = played(
        range(24, 97, 3), base=-60.0, scale=80.0, high_ns=3000.0, note_scatter=0.3, seed=3
    )
    assert not any(e.doubt for e in survey_oscillator("Heron", points).curve.entries)


# --- advice: scale +12 cents per octave, pivot 0 V, worked by hand


def test_worked_example_of_the_aim(played: Played) -> None:
    """At C4 (3 V) 0, at C6 (5 V) +24 cents; scale and base take out all.

    Taking out 12 cents per octave about 0 V lowers C6 by 60 and C4 by 36 cents: stop C6 at
    24 - 60 = -36; then base goes up by 36.
    """
    survey = survey_oscillator("Heron", played([*range(24, 85, 6), 60], scale=12.0))
    scale, base, outcome = survey.advice[:3]
    assert "C6 falls by 24.0 cents against C4 (−12.0 cents per octave)" in scale
    assert "C6 itself falls by 60.0 cents: stop where it reads −36.0 cents" in scale
    assert base == "Then turn base up by 36.0 cents: stop where C4 reads 0.0 cents."
    assert "from 36.0 to 0.0 cents" in outcome


def test_the_high_end_is_turned_first_where_it_is_known(played: Played) -> None:
    survey = survey_oscillator(
        "Heron", played([60, *range(24, 121, 6), 60], high_ns=2000.0, scale=3.0)
    )
    assert survey.advice[0].startswith("Turn the high-frequency trimmer so that C9 rises")
    assert survey.advice[1].startswith("Turn the scale trimmer")


def test_nothing_to_turn_and_nothing_to_gain_are_said(played: Played) -> None:
    good = survey_oscillator("Heron", played(HALVES, note_scatter=0.1, seed=4))
    assert good.advice[0] == "Nothing to turn: every note measured is within ±1 cent."
    # One note off up, the next down: no trimmer helps.
    points = [off(p, 2.5 if i % 2 else -2.5) for i, p in enumerate(played(range(24, 85, 6)))]
    rough = survey_oscillator("Heron", points)
    assert rough.advice[0].startswith("Nothing to gain by turning: the worst note is 2.5 cents off")


def test_what_is_unknown_comes_with_the_note_to_add(played: Played) -> None:
    advice = " ".join(survey_oscillator("Heron", played(range(24, 73, 12), scale=5.0)).advice)
    assert "cannot show the high end: add C" in advice
    assert "play C1 again at the end" in advice


# --- in words, and what is refused


@given(
    notes=st.lists(st.integers(0, 127), min_size=1, max_size=12),
    scale=st.floats(-100.0, 100.0),
    seed=st.integers(0, 2**32 - 1),
)
def test_every_survey_speaks_in_whole_sentences(
    played: Played, notes: list[int], scale: float, seed: int
) -> None:
    survey = survey_oscillator("Heron", played(notes, scale=scale, note_scatter=0.3, seed=seed))
    for sentence in (*survey.sentences(), *survey.advice, survey.headline):
        assert sentence[0].isupper()
        assert sentence.endswith(".")
        assert "nan" not in sentence
        assert "None" not in sentence
    assert len(survey.curve.entries) == len(set(notes))
    assert survey.best_possible_cents <= abs(survey.worst.cents) + 1e-9


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"f_hz": -3.0}, "no usable numbers"),
        ({"f_hz": float("nan")}, "no usable numbers"),
        ({"u_cents": -1.0}, "no usable numbers"),
        ({"kept": False}, "No reading can be used"),
    ],
)
def test_readings_that_cannot_be_are_refused(
    played: Played, change: dict[str, Any], says: str
) -> None:
    with pytest.raises(InputError, match=f"Heron: .*{says}"):
        survey_oscillator("Heron", [replace(played([60])[0], **change)])


@pytest.mark.parametrize("tolerances", [(), (0.0,), (float("nan"),)])
def test_tolerances_must_be_above_zero(played: Played, tolerances: tuple[float, ...]) -> None:
    with pytest.raises(InputError, match="above zero"):
        survey_oscillator("Heron", played([60]), tolerances=tolerances)


def test_a_clock_that_cannot_be_is_refused(played: Played) -> None:
    with pytest.raises(InputError, match="ppm"):
        survey_oscillator("Heron", played([60]), clock_ppm=-1.0)


def test_the_clock_narrows_the_reach_against_a_standard(played: Played) -> None:
    points = played(HALVES, base=0.8)
    sure: OscillatorSurvey = survey_oscillator("Heron", points)
    unsure = survey_oscillator("Heron", points, clock_ppm=100.0)
    assert sure.reaches[0].whole
    assert unsure.reaches[0].low is None
    assert unsure.curve.entries[0].u_cents == sure.curve.entries[0].u_cents

"""The fitted model: terms found, left out, or said to be unknown; and honest uncertainties."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitchwright.tracking import Point, TargetCurve, TermState, TrackingModel
from pitchwright.tracking.choose import fit_model
from pitchwright.tracking.model import high_end_cents
from pitchwright.tracking.readings import Readings
from pitchwright.units import cents_from_ppm, note_to_hz

Played = Callable[..., list[Point]]

OCTAVES = range(24, 85, 12)
HALVES = [60, *range(24, 85, 6), 60]
WIDE = [60, *range(24, 121, 6), 60]


def model_of(points: Sequence[Point], clock_ppm: float = 0.0) -> TrackingModel:
    return fit_model(Readings.of(points, TargetCurve.flat()), clock_ppm=clock_ppm)


@given(
    base=st.floats(-50.0, 50.0),
    scale=st.floats(-30.0, 30.0),
    high_ns=st.floats(-1500.0, 3000.0).filter(lambda t: abs(t) > 300.0),
    drift=st.floats(-2.0, 2.0).filter(lambda d: abs(d) > 0.7),
)
def test_exact_readings_give_the_truth_back(
    played: Played, base: float, scale: float, high_ns: float, drift: float
) -> None:
    model = model_of(played(WIDE, base=base, scale=scale, high_ns=high_ns, drift=drift))
    assert model.base_cents == pytest.approx(base, abs=0.01)
    assert model.scale_cents_per_oct == pytest.approx(scale, abs=0.01)
    assert model.high_ns == pytest.approx(high_ns, rel=0.02)
    assert model.drift_cents_per_min == pytest.approx(drift, abs=0.05)
    assert model.residual_max_cents < 0.02


@given(shift=st.floats(-100.0, 100.0), seed=st.integers(0, 2**32 - 1))
def test_a_shift_of_all_readings_moves_base_and_nothing_else(
    played: Played, shift: float, seed: int
) -> None:
    points = played(HALVES, base=1.0, scale=5.0, note_scatter=0.3, seed=seed)
    moved = [
        Point(p.note, p.cv_v, p.f_hz * 2.0 ** (shift / 1200.0), p.u_cents, p.t_s) for p in points
    ]
    before, after = model_of(points), model_of(moved)
    assert after.base_cents - before.base_cents == pytest.approx(shift, abs=0.03)
    # The high end is a matter of hertz, and 100 cents are 6 % more of them.
    assert after.scale_cents_per_oct == pytest.approx(before.scale_cents_per_oct, abs=0.03)
    assert after.residual_max_cents == pytest.approx(before.residual_max_cents, abs=0.05)


def test_low_end_is_found_where_it_bends(played: Played) -> None:
    # A leakage that lifts C1 by 8 cents.
    model = model_of(played(range(24, 97, 3), low=8.0 * note_to_hz(24), scale=2.0))
    assert model.low.state is TermState.KEPT
    assert model.low.value == pytest.approx(8.0 * note_to_hz(24), rel=0.04)
    assert model.low_cents_at_bottom == pytest.approx(7.0, abs=0.25)


def test_terms_that_are_not_there_are_left_out(played: Played) -> None:
    kept = 0
    for seed in range(40):
        model = model_of(played(HALVES, scale=3.0, note_scatter=0.2, seed=seed))
        kept += model.high.state is TermState.KEPT
        kept += model.low.state is TermState.KEPT
    assert kept <= 6  # 80 chances at about one in twenty


def test_one_note_tells_base_only(played: Played) -> None:
    model = model_of(played([60], base=7.0))
    assert model.names == ("base",)
    assert model.base_cents == pytest.approx(7.0)
    assert model.scale.state is TermState.UNDETERMINED
    assert "add C6" in model.scale.why
    assert {term.name for term in model.undetermined} >= {"scale", "high"}


def test_two_notes_tell_base_and_scale_from_their_readings_alone(played: Played) -> None:
    model = model_of(played([48, 60], scale=6.0))
    assert model.scale_cents_per_oct == pytest.approx(6.0, abs=0.05)
    assert model.dof == 0
    assert "rests on the readings alone" in model.base.why
    # How well two notes come back, 0.1·√2; droop of 0.4 cent and a drift hide too.
    assert 0.14 < (model.u_scale_cents_per_oct or 0.0) < 3.0


def test_up_to_5_v_the_high_end_is_unknown_and_scale_says_so(played: Played) -> None:
    # Six notes C1 to C6, droop of 3 cents per kHz: scale is hidden by about half a cent per octave.
    model = model_of(played(OCTAVES, scale=10.0, high_ns=1733.0, note_scatter=0.3, seed=1))
    assert model.high.state is TermState.UNDETERMINED
    assert model.high.add_note is not None
    assert model.high.add_note > 84
    assert abs((model.scale_cents_per_oct or 0.0) - 10.0) > 0.3
    assert model.hidden_scale_cents_per_oct > 0.3
    assert abs((model.scale_cents_per_oct or 0.0) - 10.0) < (model.scale.expanded or 0.0)


def test_the_note_advised_does_determine_the_high_end(played: Played) -> None:
    short = model_of(played(range(24, 73, 6), high_ns=1733.0, note_scatter=0.3, seed=2))
    add = short.high.add_note
    assert add is not None
    longer = model_of(played([*range(24, 73, 6), add], high_ns=1733.0, note_scatter=0.3, seed=2))
    assert longer.high.state is not TermState.UNDETERMINED


def test_the_clock_touches_base_only(played: Played) -> None:
    points = played(WIDE, scale=2.0, high_ns=500.0, note_scatter=0.2, seed=3)
    without, with_clock = model_of(points), model_of(points, clock_ppm=50.0)
    u, wider = without.u_base_cents, with_clock.u_base_cents
    assert wider**2 - u**2 == pytest.approx(cents_from_ppm(50.0) ** 2, rel=1e-6)
    assert with_clock.u_scale_cents_per_oct == without.u_scale_cents_per_oct
    assert with_clock.u_high_ns == without.u_high_ns


def test_drift_is_told_from_tracking_by_a_note_played_again(played: Played) -> None:
    once = model_of(played(OCTAVES, drift=2.0))
    assert once.drift.state is TermState.UNDETERMINED
    assert "again" in once.drift.why
    again = model_of(played([60, 24, 84, *OCTAVES, 84, 24, 60], drift=2.0))
    assert again.drift_cents_per_min == pytest.approx(2.0, abs=0.2)
    assert again.scale_cents_per_oct == pytest.approx(0.0, abs=0.02)
    # Without repeats it hides in scale, 2 cents a minute, 3 s an octave, and scale says so.
    assert once.scale_cents_per_oct == pytest.approx(0.1, abs=0.05)
    assert abs(once.scale_cents_per_oct or 0.0) < (once.scale.expanded or 0.0)


def test_residuals_larger_than_stated_widen_what_is_stated(played: Played) -> None:
    smooth = model_of(played(WIDE, scale=2.0, seed=5))
    rough = model_of(played(WIDE, scale=2.0, note_scatter=1.0, seed=5))
    assert smooth.note_scatter_cents < 0.02
    assert rough.note_scatter_cents == pytest.approx(1.0, rel=0.5)
    assert (rough.u_scale_cents_per_oct or 0.0) > 10.0 * (smooth.u_scale_cents_per_oct or 1.0)


@pytest.mark.parametrize("note_scatter", [0.03, 0.3])
def test_intervals_cover_the_truth_as_often_as_they_say(
    played: Played, note_scatter: float
) -> None:
    """95.45 % stated; of 150 surveys chance allows 136 (one in a hundred tries is below)."""
    rng = np.random.default_rng(20)
    inside = {"scale": 0, "high": 0}
    for _ in range(150):
        scale, high_ns = rng.normal() * 10.0, rng.uniform(1200.0, 3000.0)
        model = model_of(
            played(
                WIDE,
                base=rng.normal() * 20.0,
                scale=scale,
                high_ns=high_ns,
                drift=rng.choice([-0.3, 0.3]),
                note_scatter=note_scatter,
                u_cents=0.01,
                returning=0.15,
                seed=int(rng.integers(2**32)),
            )
        )
        for term, truth in ((model.scale, scale), (model.high, high_ns)):
            assert term.value is not None
            assert term.expanded is not None
            inside[term.name] += abs(term.value - truth) <= term.expanded
    for name, count in inside.items():
        assert count >= 136, f"{name}: {count} of 150"


def test_the_model_at_its_reference_note_is_base(played: Played) -> None:
    model = model_of(played(WIDE, base=4.0, scale=3.0, high_ns=900.0))
    assert model.cents_at(60.0) == pytest.approx(model.base_cents)
    top = 4.0 + 15.0 + high_end_cents(8437.0, 900.0) - high_end_cents(262.2, 900.0)
    assert model.cents_at(120.0) == pytest.approx(top, abs=0.1)

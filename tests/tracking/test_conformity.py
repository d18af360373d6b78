"""One rule of conformity, and everyone who tells a person how an oscillator stands follows it."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm
from scipy.stats import t as student_t

from pitchwright.certificate.contents import note_results, widest_inside
from pitchwright.ensemble.outputs import Player, assign
from pitchwright.procedures.outcomes import CurveKnown
from pitchwright.tracking import CommonPart, Conformity, CurveEntry, JudgedCurve, judge
from pitchwright.tracking.conformity import NoteError, widest_run
from pitchwright.tracking.coverage import K2
from pitchwright.tracking.curve import TrackingCurve
from pitchwright.tracking.reach import reach
from pitchwright.tracking.survey import OscillatorSurvey
from pitchwright.web.sheet_data import of_curves


def one(cents: float, u_cents: float = 0.1, dof: float = math.inf) -> CurveEntry:
    return CurveEntry(60.0, 3.0, 261.63, cents, u_cents, dof)


def alone(entry: CurveEntry, common: float = 0.0, tolerance: float = 1.0) -> Any:
    return judge([entry], tolerance, CommonPart(common)).notes[0]


def test_degrees_of_freedom_add_up_as_the_gum_says() -> None:
    # GUM, eq. G.2b: nu_eff = u_c^4 / sum(u_i^4 / nu_i); by hand, u_c² = 0.02, nu = 3 and infinite:
    # 0.0004 / (0.0001 / 3) = 12. Student's t from scipy.stats, not from ours.
    result = alone(one(0.0, 0.1, 3.0), 0.1)
    assert result.u_cents == pytest.approx(math.sqrt(0.02))
    assert result.dof == pytest.approx(12.0)
    assert result.coverage == pytest.approx(student_t.ppf(0.5 + 0.954499736 / 2.0, 12.0), abs=1e-4)
    assert result.expanded_cents == pytest.approx(result.coverage * result.u_cents)


def test_a_common_part_of_few_degrees_of_freedom_counts_too() -> None:
    # By hand, equal parts of 2 and of 6 degrees of freedom: 4 / (1/2 + 1/6) = 6.
    judged = judge([one(0.0, 0.1, 2.0)], 1.0, CommonPart(0.1, 6.0))
    assert judged.notes[0].dof == pytest.approx(6.0)


@pytest.mark.parametrize(
    ("dof", "k"),
    # GUM, table G.2, 95.45 %.
    [(1.0, 13.97), (2.0, 4.53), (5.0, 2.65), (10.0, 2.28), (50.0, 2.05), (math.inf, 2.00)],
)
def test_the_coverage_factor_is_the_guides(dof: float, k: float) -> None:
    assert round(alone(one(0.0, 0.1, dof)).coverage, 2) == k


@pytest.mark.parametrize(
    ("cents", "standing"),
    [
        (0.79, Conformity.INSIDE),
        (-0.79, Conformity.INSIDE),
        (0.81, Conformity.UNDECIDED),
        (1.19, Conformity.UNDECIDED),
        (1.21, Conformity.OUTSIDE),
        (-1.21, Conformity.OUTSIDE),
    ],
)
def test_the_doubt_is_counted_against_both_verdicts(cents: float, standing: Conformity) -> None:
    assert alone(one(cents)).standing is standing


@given(
    cents=st.floats(-30, 30),
    u_cents=st.floats(0.0, 10.0),
    common=st.floats(0.0, 5.0),
    dof=st.floats(1.0, 1e6),
)
def test_more_clock_never_makes_a_note_surer(
    cents: float, u_cents: float, common: float, dof: float
) -> None:
    without = alone(one(cents, u_cents, dof))
    result = alone(one(cents, u_cents, dof), common)
    assert result.u_cents >= without.u_cents
    assert 1.99 <= result.coverage <= without.coverage + 1e-9
    if result.standing is Conformity.INSIDE:
        assert abs(result.cents) <= 1.0
    if result.standing is Conformity.OUTSIDE:
        assert abs(result.cents) > 1.0


def test_of_two_runs_the_one_that_spans_more_counts() -> None:
    notes = [24.0, 36.0, 48.0, 49.0, 50.0, 51.0]
    assert widest_run(notes, [True, True, False, True, True, True]) == (0, 1)
    assert widest_run(notes, [False] * 6) is None


def test_the_smallest_tolerance_that_holds_is_that_of_the_note_with_most_u() -> None:
    judged = judge([one(0.8, 0.2), CurveEntry(72.0, 4.0, 523.0, -0.9, 0.1)], 1.0)
    assert judged.holds_cents == pytest.approx(1.2)
    assert judged.worst.note == 60.0
    assert judged.farthest.note == 72.0
    assert judge(judged.notes, judged.holds_cents + 1e-9).inside is True


def test_the_risk_of_a_note_is_the_tail_beyond_the_tolerance() -> None:
    # JCGM 106:2012, clause 9: the probability of non-conformity of a normal result, from scipy.
    note = alone(one(0.8, 0.1))
    outside = norm.sf(1.0, 0.8, 0.1) + norm.cdf(-1.0, 0.8, 0.1)
    assert note.risk == pytest.approx(outside, rel=1e-4)


def test_all_notes_together_ask_for_more_than_each() -> None:
    """Five exact-centred notes: P(all inside) is the single one to the fifth power."""
    judged = judge([CurveEntry(60.0 + i, 3.0, 261.0, 0.0, 0.1) for i in range(5)], 1.0)
    wanted = norm.ppf(0.5 + 0.5 * K2**0.2) * 0.1
    assert judged.jointly_holds_cents == pytest.approx(wanted, abs=1e-5)


def test_a_common_part_moves_all_notes_together() -> None:
    """Only the common part is unsure: then all are inside as often as one is."""
    notes = [CurveEntry(60.0 + i, 3.0, 261.0, 0.0, 0.004) for i in range(40)]
    judged = judge(notes, 1.0, CommonPart(0.1))
    assert judged.jointly_holds_cents == pytest.approx(0.2, abs=0.025)


curves = st.lists(
    st.tuples(st.floats(-3.0, 3.0), st.floats(0.001, 1.0), st.sampled_from([1.0, 4.0, math.inf])),
    min_size=1,
    max_size=9,
)


@given(curve=curves, common=st.sampled_from([0.0, 0.0866, 0.5]), tolerance=st.floats(0.1, 4.0))
def test_everyone_gives_the_same_answer_from_the_same_readings(
    curve: list[tuple[float, float, float]], common: float, tolerance: float
) -> None:
    entries = tuple(
        CurveEntry(24.0 + 6.0 * i, 0.5 * i, 65.4 * 2.0 ** (0.5 * i), *figures)
        for i, figures in enumerate(curve)
    )
    judged = judge(entries, tolerance, CommonPart(common))
    run = judged.run
    ends = (judged.notes[run[0]].note, judged.notes[run[1]].note) if run else (None, None)

    # Reach, as the survey tells it.
    told = reach(judged)
    assert (told.low, told.high, told.whole) == (*ends, judged.inside)

    # The certificate.
    survey = cast(
        OscillatorSurvey,
        SimpleNamespace(
            curve=TrackingCurve(entries),
            judged=lambda at: judge(entries, at, CommonPart(common)),
        ),
    )
    paper = note_results(survey, tolerance)
    assert [r.standing for r in paper] == [note.standing for note in judged.notes]
    assert [r.expanded_cents for r in paper] == [note.expanded_cents for note in judged.notes]
    inside = widest_inside(paper)
    assert ((inside[0].note, inside[-1].note) if inside else (None, None)) == ends


@given(curve=curves, common=st.sampled_from([0.0, 0.0866, 0.5]), tolerance=st.floats(0.1, 4.0))
def test_a_trim_and_its_sheet_and_the_ensemble_answer_alike(
    curve: list[tuple[float, float, float]], common: float, tolerance: float
) -> None:
    notes = tuple(24.0 + 6.0 * i for i in range(len(curve)))
    cents, u = tuple(c for c, _, _ in curve), tuple(u for _, u, _ in curve)
    judged = judge(map(NoteError, notes, cents, u), tolerance, CommonPart(common))
    known = CurveKnown("Heron", notes, cents, u, 1, common)
    sheet = of_curves(known, None, tolerance)
    assert [dot.u_cents for dot in sheet.now] == [n.expanded_cents for n in judged.notes]
    run = judged.run
    ends = (judged.notes[run[0]].note, judged.notes[run[1]].note) if run else (None, None)
    assert (sheet.reaches[0].low, sheet.reaches[0].high) == ends

    # What feeds it, once base and scale have done what they can: judged by the same rule.
    entries = tuple(
        CurveEntry(n, (n - 24.0) / 12.0, 65.4, c, s)
        for n, c, s in zip(notes, cents, u, strict=True)
    )
    (feed,) = assign([Player("Heron", entries)], [], tolerance)
    after = _with(entries, feed.own_cents_per_oct + feed.output_cents_per_oct, feed.base_cents)
    assert feed.within is judge(after, tolerance).inside


def _with(entries: tuple[CurveEntry, ...], slope: float, base: float) -> list[NoteError]:
    return [NoteError(e.note, e.cents + slope * e.cv_v + base, e.u_cents) for e in entries]


def test_no_curve_is_not_judged() -> None:
    with pytest.raises(ValueError, match="without a note"):
        judge([], 1.0)


def test_a_curve_with_one_note_outside_is_outside() -> None:
    curve: JudgedCurve = judge([one(0.0), CurveEntry(72.0, 4.0, 523.0, 2.0, 0.1)], 1.0)
    assert curve.standing is Conformity.OUTSIDE
    assert np.isclose(curve.jointly_inside(2.0), 0.5, atol=1e-6)

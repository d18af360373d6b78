"""What a certificate is made of: uncertainty with the clock in it, and three verdicts."""

from __future__ import annotations

import math
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import t as student_t

from pitchwright.certificate.contents import (
    Contents,
    NoteResult,
    Standing,
    _result,
    widest_inside,
)
from pitchwright.errors import InputError
from pitchwright.tracking import CurveEntry


def entry(cents: float, u_cents: float = 0.1, dof: float = math.inf) -> CurveEntry:
    return CurveEntry(60.0, 3.0, 261.63, cents, u_cents, dof)


def test_degrees_of_freedom_add_up_as_the_gum_says() -> None:
    # GUM, eq. G.2b: nu_eff = u_c^4 / sum(u_i^4 / nu_i); by hand, u_c² = 0.02, nu = 3 and infinite:
    # 0.0004 / (0.0001 / 3) = 12. Student's t from scipy.stats, not from ours.
    result = _result(entry(0.0, 0.1, 3.0), 0.1, 1.0)
    assert result.u_cents == pytest.approx(math.sqrt(0.02))
    assert result.coverage == pytest.approx(student_t.ppf(0.5 + 0.954499736 / 2.0, 12.0), abs=1e-4)
    assert result.expanded_cents == pytest.approx(result.coverage * result.u_cents)


@pytest.mark.parametrize(
    ("dof", "k"),
    # GUM, table G.2, 95.45 %.
    [(1.0, 13.97), (2.0, 4.53), (5.0, 2.65), (10.0, 2.28), (50.0, 2.05), (math.inf, 2.00)],
)
def test_the_coverage_factor_is_the_guides(dof: float, k: float) -> None:
    assert round(_result(entry(0.0, 0.1, dof), 0.0, 1.0).coverage, 2) == k


@pytest.mark.parametrize(
    ("cents", "standing"),
    [
        (0.79, Standing.INSIDE),
        (-0.79, Standing.INSIDE),
        (0.81, Standing.UNDECIDED),
        (1.19, Standing.UNDECIDED),
        (1.21, Standing.OUTSIDE),
        (-1.21, Standing.OUTSIDE),
    ],
)
def test_the_doubt_is_counted_against_both_verdicts(cents: float, standing: Standing) -> None:
    assert _result(entry(cents), 0.0, 1.0).standing is standing


@given(
    cents=st.floats(-30, 30),
    u_cents=st.floats(0.0, 10.0),
    common=st.floats(0.0, 5.0),
    dof=st.floats(1.0, 1e6),
)
def test_more_clock_never_makes_a_note_surer(
    cents: float, u_cents: float, common: float, dof: float
) -> None:
    without = _result(entry(cents, u_cents, dof), 0.0, 1.0)
    result = _result(entry(cents, u_cents, dof), common, 1.0)
    assert result.u_cents >= without.u_cents
    assert 1.99 <= result.coverage <= without.coverage + 1e-9
    if result.standing is Standing.INSIDE:
        assert abs(result.cents) <= 1.0
    if result.standing is Standing.OUTSIDE:
        assert abs(result.cents) > 1.0


def results(*standings: Standing) -> list[NoteResult]:
    return [
        NoteResult(24.0 + 6.0 * i, 0.5 * i, 100.0, 0.0, 0.1, 2.0, standing, "")
        for i, standing in enumerate(standings)
    ]


def test_the_reach_is_the_widest_run_without_a_gap() -> None:
    inside, outside = Standing.INSIDE, Standing.OUTSIDE
    run = widest_inside(results(inside, outside, inside, inside, Standing.UNDECIDED, inside))
    assert [result.note for result in run] == [36.0, 42.0]
    assert widest_inside(results(outside, outside)) == ()


def test_a_certificate_of_nothing_is_refused() -> None:
    with pytest.raises(InputError, match="no survey to certify"):
        Contents("Heron", None, None, 1.0, date(2026, 11, 25))

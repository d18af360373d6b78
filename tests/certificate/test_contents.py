"""What a certificate is made of."""

from __future__ import annotations

from datetime import date

import pytest

from pitchwright.certificate.contents import (
    Contents,
    NoteResult,
    widest_inside,
)
from pitchwright.errors import InputError
from pitchwright.tracking import Conformity


def results(*standings: Conformity) -> list[NoteResult]:
    return [
        NoteResult(24.0 + 6.0 * i, 0.5 * i, 100.0, 0.0, 0.1, 2.0, standing, "")
        for i, standing in enumerate(standings)
    ]


def test_the_reach_is_the_widest_run_without_a_gap() -> None:
    inside, outside = Conformity.INSIDE, Conformity.OUTSIDE
    run = widest_inside(results(inside, outside, inside, inside, Conformity.UNDECIDED, inside))
    assert [result.note for result in run] == [36.0, 42.0]
    assert widest_inside(results(outside, outside)) == ()


def test_a_certificate_of_nothing_is_refused() -> None:
    with pytest.raises(InputError, match="no survey to certify"):
        Contents("Heron", None, None, 1.0, date(2026, 11, 25))

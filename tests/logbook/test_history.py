"""What years of surveys say."""

from __future__ import annotations

import pytest

from pitchwright.errors import InputError
from pitchwright.logbook.care import check
from pitchwright.logbook.facts import EntryWithdrawn, InstrumentDescribed
from pitchwright.logbook.history import (
    changes,
    due,
    find_instrument,
    history,
    instruments,
    rates,
)
from pitchwright.logbook.store import Logbook, new_uid


def test_instruments_as_last_described(logbook: Logbook) -> None:
    (heron,) = instruments(logbook)
    assert (heron.name, heron.fed_by, heron.surveys) == ("Heron", "output 2", 8)
    logbook.append(InstrumentDescribed("Heron II", fed_by="output 3"), instrument=heron.uid)
    assert find_instrument(logbook, "heron ii").fed_by == "output 3"
    with pytest.raises(InputError, match="There are: Heron II"):
        find_instrument(logbook, "Heron")


def test_the_drift_put_in_comes_out(logbook: Logbook) -> None:
    rate = rates(history(logbook, find_instrument(logbook, "Heron").uid))["scale"]
    assert rate.intervals == 3
    assert abs(rate.per_month - 0.12) <= rate.expanded
    assert rate.expanded < 0.01


def test_due_when_the_far_end_leaves_the_tolerance(logbook: Logbook) -> None:
    (heron,) = due(logbook, tolerance_cents=1.0, octaves=3.0)
    # By hand: (1/3 - 0.05) / 0.12 = 2.36 months after the last as-left of 1 March 2025.
    assert heron.expected is not None
    assert heron.earliest is not None
    assert heron.expected.isoformat()[:7] == "2025-05"
    assert heron.earliest <= heron.expected
    assert "+0.120" in heron.reason


def test_too_few_surveys_are_unknown(logbook: Logbook) -> None:
    logbook.append(InstrumentDescribed("Wren"), instrument=new_uid())
    wren = due(logbook)[-1]
    assert (wren.name, wren.expected, wren.earliest) == ("Wren", None, None)
    assert wren.reason == "Unknown: 0 of at least 3 surveys so far."


def test_changes_say_whether_they_are_more_than_uncertain(logbook: Logbook) -> None:
    surveys = history(logbook, find_instrument(logbook, "Heron").uid)
    by_figure = {change.figure: change for change in changes(surveys[1], surveys[2])}
    # E_n by hand: 1.44 / root(0.04² + 0.04²) = 25.5.
    assert by_figure["scale"].normalised == pytest.approx(25.46, abs=0.01)
    assert "more than the uncertainty explains" in by_figure["scale"].sentence
    assert by_figure["base"].normalised == 0.0


def test_a_withdrawn_survey_counts_no_longer(logbook: Logbook) -> None:
    heron = find_instrument(logbook, "Heron").uid
    wrong = history(logbook, heron)[2]
    logbook.append(
        EntryWithdrawn("another oscillator was patched"), instrument=heron, corrects=wrong.uid
    )
    assert wrong.uid not in [row.uid for row in history(logbook, heron)]
    assert len(history(logbook, heron)) == 7
    assert check(logbook) == ()

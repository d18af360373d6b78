"""Corrections: what they take out, what they leave, and when they are refused."""

import csv
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitchwright.certificate.corrections import corrections, write_corrections
from pitchwright.errors import InputError
from pitchwright.tracking import Point, TargetCurve
from pitchwright.units import cv_of_note, note_to_hz, ratio_of_cents

FLAT = TargetCurve.flat()


def points(
    cents: Mapping[float, float] | Mapping[int, float], u_cents: float = 0.02, t_s: float = 0.0
) -> list[Point]:
    return [
        Point(n, cv_of_note(n), note_to_hz(n) * ratio_of_cents(c), u_cents, t_s)
        for n, c in cents.items()
    ]


def test_what_was_measured_is_taken_out_to_half_a_step() -> None:
    table = corrections(points({48: 3.0, 60: -2.0, 72: 7.0}), FLAT)
    for note, error in ((48, 3.0), (60, -2.0), (72, 7.0)):
        one = table.notes[note]
        assert one.how == "measured"
        assert one.error_cents == pytest.approx(error)
        # The oscillator answers with its own octave, here 2 cents wider than 1200.
        assert one.correction_cents == pytest.approx(-error / (1.0 + 2.0 / 1200.0), abs=0.0031)
        assert one.correction_mv == pytest.approx(one.correction_cents / 1.2)
        assert one.predicted_cents == pytest.approx(0.0, abs=0.0031)
    assert table.worst_before_cents == pytest.approx(7.0)
    assert table.worst_after_cents < 0.0031


def test_the_prediction_holds_for_an_oscillator_with_a_wide_octave() -> None:
    """60 cents off at the top, its octave 15 cents wide: a correction of 60 would overdo it."""

    def plays(pitch: float) -> float:
        return float(note_to_hz(24.0) * ratio_of_cents((pitch - 24.0) * 100.0 * (1215.0 / 1200.0)))

    notes = list(range(24, 85, 6))
    before = [Point(n, cv_of_note(n), plays(n), 0.01) for n in notes]
    table = corrections(before, FLAT)
    for n in notes[1:]:
        after = 1200.0 * np.log2(plays(table.pitches[n]) / note_to_hz(n))
        assert after == pytest.approx(table.notes[n].predicted_cents or 0.0, abs=1e-6)
        assert abs(after) < 0.0032


def test_notes_between_are_filled_in_and_notes_beyond_are_not() -> None:
    table = corrections(points({48: 4.0, 60: 8.0, 72: 12.0}), FLAT)
    assert table.notes[54].how == "between"
    assert table.notes[54].error_cents == pytest.approx(6.0)
    assert table.notes[47].how == "left alone"
    assert table.notes[47].error_cents is None
    assert set(table.changed) == set(range(48, 73))
    assert table.pitches[73] == 73.0


def test_what_notes_between_may_hide_is_told_by_how_rough_the_curve_is() -> None:
    rng = np.random.default_rng(3)
    rough = {n: 10.0 + float(rng.normal(0.0, 2.0)) for n in range(24, 120, 2)}
    smooth = {n: 10.0 + 0.1 * n for n in range(24, 120, 2)}
    assert corrections(points(rough), FLAT).hidden_cents == pytest.approx(2.0, rel=0.35)
    assert corrections(points(smooth), FLAT).hidden_cents < 0.02


def test_a_coarse_source_leaves_its_own_step() -> None:
    table = corrections(points({48: 4.0, 60: 8.0, 72: 12.0}), FLAT, step_cents=2.93)
    assert table.worst_after_cents <= 2.93 / 2.0 + 0.05
    assert table.notes[60].correction_cents == pytest.approx(-3 * 2.93, abs=0.004)


def test_wander_is_found_from_repeats_and_counts_in_use() -> None:
    rng = np.random.default_rng(4)
    visits = [
        point
        for visit in range(12)
        for point in points(
            {n: 6.0 + float(rng.normal(0.0, 0.5)) for n in (36, 48, 60, 72)}, 0.01, 60.0 * visit
        )
    ]
    table = corrections(visits, FLAT)
    assert table.wander_cents == pytest.approx(0.5, rel=0.25)
    assert table.notes[60].u_predicted_cents == pytest.approx(0.52, rel=0.25)


def test_more_wander_than_error_is_refused_with_the_reason() -> None:
    rng = np.random.default_rng(5)
    visits = [
        point
        for visit in range(3)
        for point in points(
            {n: float(rng.normal(0.2, 2.0)) for n in (36, 48, 60, 72)}, 0.01, 60.0 * visit
        )
    ]
    with pytest.raises(InputError, match=r"gain nothing.*wanders by"):
        corrections(visits, FLAT)
    with pytest.raises(InputError, match=r"gain nothing.*only known to"):
        corrections(points({48: 0.5, 60: -0.5}, u_cents=1.0), FLAT)
    with pytest.raises(InputError, match=r"gain nothing.*wanders by 3.00"):
        corrections(points({48: 2.0, 60: -2.0}), FLAT, wander_cents=3.0)


def test_a_note_that_would_gain_nothing_is_left_alone() -> None:
    table = corrections(points({59: 5.0, 60: 0.05, 61: 5.0}, u_cents=0.1), FLAT)
    one = table.notes[60]
    assert one.how == "left alone"
    assert "not more than" in one.why
    assert one.correction_cents == 0.0
    assert any("Left alone" in sentence and "C4" in sentence for sentence in table.sentences)


def test_unknown_wander_is_said_to_be_unknown() -> None:
    table = corrections(points({48: 5.0, 60: 5.0}), FLAT)
    assert table.wander_cents is None
    assert any("not known" in sentence for sentence in table.sentences)


def test_the_lowest_note_stays_writable() -> None:
    table = corrections(points({0: 30.0, 12: 30.0, 127: -40.0}), FLAT)
    assert table.notes[0].correction_cents == 0.0
    assert table.notes[0].predicted_cents == pytest.approx(30.0)
    assert table.pitches[127] == pytest.approx(127.4, abs=0.01)


@pytest.mark.parametrize(
    ("step_cents", "wander_cents", "says"),
    [(0.0, None, "step of 0"), (float("nan"), None, "step of nan"), (1.0, -1.0, "wander of -1")],
)
def test_figures_that_cannot_be(step_cents: float, wander_cents: float | None, says: str) -> None:
    with pytest.raises(InputError, match=says):
        corrections(points({48: 5.0}), FLAT, wander_cents, step_cents)


def test_readings_between_keys_are_refused() -> None:
    with pytest.raises(InputError, match="between two of them"):
        corrections(points({48.5: 5.0, 60: 5.0}), FLAT)


def test_the_table_reads_back(tmp_path: Path) -> None:
    table = corrections(points({48: 5.0, 60: 5.0}), FLAT)
    write_corrections(tmp_path / "heron.csv", table)
    with (tmp_path / "heron.csv").open() as lines:
        rows = list(csv.DictReader(lines))
    assert len(rows) == 128
    assert rows[48]["name"] == "C3"
    assert float(rows[48]["correction_cents"]) == table.notes[48].correction_cents
    assert float(rows[48]["correction_mv"]) == table.notes[48].correction_mv
    assert rows[0]["error_cents"] == ""


@given(errors=st.dictionaries(st.integers(1, 126), st.floats(-90.0, 90.0), min_size=1, max_size=20))
def test_never_worse_where_it_was_measured(errors: dict[float, float]) -> None:
    try:
        table = corrections(points(errors, u_cents=0.05), FLAT)
    except InputError:
        assert max(map(abs, errors.values())) < 0.05 * (2.0 * len(errors)) ** 0.5
        return
    for note, error in errors.items():
        assert abs(table.notes[int(note)].predicted_cents or 0.0) <= abs(error) + 0.004

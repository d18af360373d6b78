"""Targets and voltages in tables: what is understood, and how what is not is said."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pitchwright.bench.target_file import read_target, read_voltages
from pitchwright.certificate.csv_table import write_csv
from pitchwright.certificate.survey_record import CURVE_HEADINGS, curve_rows
from pitchwright.errors import InputError
from pitchwright.tracking import Point, survey_oscillator
from pitchwright.units import cents_between, cv_of_note, note_to_hz, ratio_of_cents


def written(folder: Path, text: str) -> Path:
    path = folder / "target.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_table_of_cents(tmp_path: Path) -> None:
    target = read_target(written(tmp_path, "note,cents\nC2,1.5\nC4,-0,5\n".replace("-0,5", "-0.5")))
    assert target.cents_at(36.0) == 1.5
    assert target.cents_at(48.0) == 0.5
    assert target.absolute


def test_a_decimal_comma_and_a_real_minus_are_understood(tmp_path: Path) -> None:
    target = read_target(written(tmp_path, "note;cents\nC2;1,5\nC4;−0,5\n"))
    assert (target.cents_at(36.0), target.cents_at(60.0)) == (1.5, -0.5)


def test_a_plan_has_a_column_for_each(tmp_path: Path) -> None:
    plan = written(tmp_path, "note,Heron cents,Wren cents\nC2,0,3\nC4,0,2\n")
    assert read_target(plan, "Wren").cents_at(36.0) == 3.0
    assert "the plan for Wren" in read_target(plan, "wren").words.replace("wren", "Wren")
    with pytest.raises(InputError, match="no target for Plover"):
        read_target(plan, "Plover")


def test_the_curve_that_a_survey_wrote_is_followed(tmp_path: Path) -> None:
    surveys = [
        survey_oscillator(
            name,
            [
                Point(n, cv_of_note(n), note_to_hz(n) * ratio_of_cents(cents + n - 60.0), 0.05)
                for n in range(36, 85, 12)
            ],
        )
        for name, cents in (("Heron", 2.0), ("Wren", -7.0))
    ]
    path = tmp_path / "curves.csv"
    write_csv(path, CURVE_HEADINGS, curve_rows(surveys))
    target = read_target(path, "Plover", "wren")
    assert target.cents_at(72.0) == pytest.approx(5.0, abs=1e-6)
    assert target.u_at(72.0) > 0.0
    assert "wren" in target.words
    with pytest.raises(InputError, match="several curves"):
        read_target(path, "Plover")
    with pytest.raises(InputError, match="no curve of Robin"):
        read_target(path, "Plover", "Robin")


def test_plain_frequencies_are_followed(tmp_path: Path) -> None:
    path = written(tmp_path, "note,f_hz,u_cents\nC4,262.0,0.1\nC5,523.0,\nC5,523.5,\n")
    target = read_target(path)
    assert target.cents_at(60.0) == pytest.approx(cents_between(262.0, note_to_hz(60)))
    # Of a note that is there twice the last reading counts.
    assert target.cents_at(72.0) == pytest.approx(cents_between(523.5, note_to_hz(72)))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "The table is empty"),
        ("note,cents\n", "The table is empty"),
        ("note,hertz\nC4,262\n", "no target for anyone"),
        ("cents\n3\n", "no column of notes"),
        ("note,cents\nC4,much\n", "line 2, column cents: “much” is not a number"),
        ("note,cents\nC4,9e9\n", "9e9 cannot be"),
        ("note,cents\nH4,1\n", "line 2, column note"),
        ("note,cents\nC4,1\nC4,2\n", "C4 is there twice"),
        ("note,cents,cents\nC4,1,1\n", "The column cents is there twice"),
        ("note,cents\nC4,1,5\n", "There are 3 cells for 2 columns"),
        ("note,f_hz\nC4,\n", "The cell is empty"),
        ("note,f_hz\nC4,0.2\n", "A frequency of 0.2 Hz cannot be"),
        ("note,f_hz\nC4,nan\n", "is not a number"),
    ],
)
def test_what_is_no_target(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(InputError) as refused:
        read_target(written(tmp_path, text))
    assert said in refused.value.sentence


def test_voltages(tmp_path: Path) -> None:
    path = written(tmp_path, "note,cv_v\nC1,0.0012\nC6,5.004\nC2,\n")
    low, high = read_voltages(path, "Loft")
    assert (low.note, low.cv_v, low.source) == (24.0, 0.0012, "Loft")
    assert high.cents == pytest.approx(4.8)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("note,f_hz\nC4,262\n", "no column of voltages"),
        ("note,cv_v\nC4,3.0\nC4,3.1\n", "Voltages of two notes are the least"),
        ("note,cv_v\nC4,30\nC5,4\n", "30 cannot be"),
    ],
)
def test_what_are_no_voltages(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(InputError) as refused:
        read_voltages(written(tmp_path, text), "Loft")
    assert said in refused.value.sentence


@settings.get_profile("fuzz")
@given(st.text(max_size=200) | st.binary(max_size=200))
def test_anything_is_read_or_refused(
    tmp_path_factory: pytest.TempPathFactory, content: str | bytes
) -> None:
    path = tmp_path_factory.getbasetemp() / "any-target.csv"
    raw = content if isinstance(content, bytes) else content.encode("utf-8", "surrogatepass")
    path.write_bytes(b"note,cents,f_hz,cv_v\n" + raw)
    for read in (lambda: read_target(path), lambda: read_voltages(path, "Loft")):
        sentence = ""
        try:
            read()
        except InputError as refused:
            sentence = refused.sentence
        assert "\n" not in sentence

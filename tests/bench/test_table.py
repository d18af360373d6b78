"""Tables of voltages and frequencies: what is understood, and how what is not is said."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pitchwright.bench.table import Table, read_table
from pitchwright.certificate.csv_table import write_csv
from pitchwright.certificate.survey_record import CURVE_HEADINGS, curve_rows
from pitchwright.errors import InputError
from pitchwright.tracking import Point, survey_oscillator
from pitchwright.units import cents_between, cv_of_note, note_to_hz


def table(tmp_path: Path, content: str | bytes, note_at_0_v: float = 24) -> Table:
    path = tmp_path / "table.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return read_table(path, note_at_0_v=note_at_0_v)


def refused(tmp_path: Path, content: str | bytes) -> str:
    with pytest.raises(InputError) as refusal:
        table(tmp_path, content)
    return str(refusal.value)


@pytest.mark.parametrize(
    "content",
    [
        "cv_v,f_hz,u_cents\n0,32.703,0.1\n1,65.406,0.2\n",
        "\ufeffcv_v;f_hz;u_cents\r\n0,0;32,703;0,1\r\n1,0;65,406;0,2\r\n",
        "# a counter\nCV_V\tF_HZ\tU_CENTS\n\n0\t3.2703e1\t.1\n# then\n1\t65,406\t0.2\n",
        "note,f_hz,u_cents\nC1,32.703,0.1\n36,65.406,0.2\n",
        'cv_v , f_hz , u_cents\n"0", 32.703, 0.1\n+1, 65.406 ,0.2\n,,\n',
        "cv_v,f_hz,u_cents\r0,32.703,0.1\r1,65.406,0.2",
    ],
)
def test_one_table_in_many_dresses(tmp_path: Path, content: str) -> None:
    read = table(tmp_path, content)
    assert [(p.note, p.cv_v, p.f_hz, p.u_cents) for p in read.points] == [
        (24.0, 0.0, 32.703, 0.1),
        (36.0, 1.0, 65.406, 0.2),
    ]
    assert read.remarks == ()


def test_voltage_and_note_together_keep_the_measured_voltage(tmp_path: Path) -> None:
    (point,) = table(tmp_path, "note,cv_v,f_hz,u_cents\nC2,1.0021,65.4,0.1\n").points
    assert (point.note, point.cv_v) == (36.0, 1.0021)


def test_the_note_at_0_v_is_the_users(tmp_path: Path) -> None:
    (point,) = table(tmp_path, "cv_v,f_hz,u_cents\n2,65.4,0.1\n", note_at_0_v=12).points
    assert point.note == 36.0


def test_without_uncertainty_the_last_digit_is_taken(tmp_path: Path) -> None:
    # Half a digit, uniform: a / √3 (JCGM 100:2008, 4.3.7), turned into cents.
    read = table(tmp_path, "cv_v,f_hz\n0,32.7\n1,65.41\n2,131.0\n")
    wanted = [0.005, 0.005, 0.05]
    for point, half_hz in zip(read.points, wanted, strict=True):
        upper = 1200 * math.log2((point.f_hz + half_hz / math.sqrt(3)) / point.f_hz)
        assert point.u_cents == pytest.approx(upper, rel=1e-3)
    assert "last digit" in read.remarks[0]


def test_an_uncertainty_may_be_missing_in_some_rows(tmp_path: Path) -> None:
    read = table(tmp_path, "cv_v,f_hz,u_cents\n0,32.70,\n1,65.41,0.5\n")
    assert read.points[0].u_cents == pytest.approx(0.153, abs=0.001)
    assert read.points[1].u_cents == 0.5


def test_descending_voltages_are_put_in_order_and_said(tmp_path: Path) -> None:
    read = table(tmp_path, "cv_v,f_hz,u_cents\n2,131,1\n1,65,1\n0,33,1\n")
    assert [point.cv_v for point in read.points] == [0.0, 1.0, 2.0]
    assert "do not rise" in read.remarks[0]


def test_repeats_that_agree_are_kept_and_said(tmp_path: Path) -> None:
    read = table(tmp_path, "cv_v,f_hz,u_cents\n0,33,1\n1,65.0,1\n1,65.1,1\n")
    assert [point.f_hz for point in read.points] == [33.0, 65.0, 65.1]
    assert "1 row repeats a voltage" in read.remarks[0]


def test_columns_not_known_are_said(tmp_path: Path) -> None:
    read = table(tmp_path, "cv_v,who,f_hz,u_cents\n0,me,33,1\n")
    assert read.remarks == ("Columns not used: who.",)


@pytest.mark.parametrize(
    ("content", "where", "what"),
    [
        ("", "table.csv", "The table is empty"),
        ("# nothing\n\n", "table.csv", "The table is empty"),
        ("cv_v,f_hz\n", "table.csv", "no rows"),
        ("volts,hertz\n1,2\n", "line 1", "does not name the columns"),
        ("cv_v\n1\n", "line 1", "does not name the columns"),
        ("cv_v,f_hz,f_hz\n1,2,3\n", "line 1", "f_hz is there twice"),
        ("cv_v,f_hz\n0,33\n1,high\n", "line 3, column f_hz", "“high” is not a number"),
        ("cv_v,f_hz\n0,33 Hz\n", "line 2, column f_hz", "“33 Hz” is not a number"),
        ("cv_v,f_hz\none,33\n", "line 2, column cv_v", "“one” is not a number"),
        ("cv_v,f_hz\n0,nan\n", "line 2, column f_hz", "“nan” is not a number"),
        ("cv_v,f_hz\n0,inf\n", "line 2, column f_hz", "“inf” is not a number"),
        ("cv_v;f_hz\n0;1.234,5\n", "line 2, column f_hz", "is not a number"),
        ("cv_v,f_hz\n0,-33\n", "line 2, column f_hz", "A frequency of -33 Hz cannot be"),
        ("cv_v,f_hz\n0,0\n", "line 2, column f_hz", "A frequency of 0 Hz cannot be"),
        ("cv_v,f_hz\n0,1e300\n", "line 2, column f_hz", "outside 1 to 100000"),
        ("cv_v,f_hz\n1200,33\n", "line 2, column cv_v", "outside -20 to 20"),
        ("cv_v,f_hz\n0,\n", "line 2, column f_hz", "There is a gap"),
        ("cv_v,f_hz\n# note\n0\n", "line 3, column f_hz", "There is a gap"),
        ("cv_v,f_hz\n0,32,7\n", "line 2", "3 cells for 2 columns"),
        ('cv_v,f_hz\n"0,33\n', "line 2", "quotation marks"),
        ("cv_v,f_hz,u_cents\n0,33,0\n", "line 2, column u_cents", "cannot be"),
        ("cv_v,f_hz,u_cents\n0,33,-1\n", "line 2, column u_cents", "cannot be"),
        ("note,f_hz\nH2,33\n", "line 2, column note", "“H2” is not a note"),
        ("note,f_hz\n200,33\n", "line 2, column note", "outside"),
        ("cv_v,f_hz\n1,65\n0,33\n1,69\n", "lines 2 and 4", "there twice"),
        ("cv_v,f_hz\n0,65\n1,33\n", "lines 2 and 3", "falls while the voltage rises"),
        (b"cv_v,f_hz\n0,33\n1,\xe9\n", "line 3", "not UTF-8"),
        ("cv_v,f_hz\n0,33\n".encode("utf-16"), "table.csv", "UTF-16"),
        (b"cv_v,f_hz\n0,33\0\n", "table.csv", "not a table"),
        (b"1" * 10_000_001, "table.csv", "larger than 10 MB"),
        ("cv_v,f_hz\n" + "0,33\n" * 100_001, "table.csv", "more than 100000 rows"),
    ],
)
def test_faults_are_located_and_named(
    tmp_path: Path, content: str | bytes, where: str, what: str
) -> None:
    said = refused(tmp_path, content)
    assert f"{where}: " in said
    assert what in said


def test_missing_file(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="There is no such file"):
        read_table(tmp_path / "none.csv")


def test_folder(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="This is a folder"):
        read_table(tmp_path)


LINES = st.lists(
    st.lists(
        st.one_of(
            st.sampled_from(
                ["cv_v", "f_hz", "note", "u_cents", "C4", "1", "440", "1,5", "nan", ""]
            ),
            st.floats(width=32).map(str),
            st.text(max_size=6),
        ),
        max_size=4,
    ),
    max_size=6,
)


@settings.get_profile("fuzz")
@given(
    lines=LINES,
    separator=st.sampled_from([",", ";", "\t"]),
    heading=st.sampled_from(["", "cv_v,f_hz\n", "note;f_hz;u_cents\n", "cv_v\tf_hz\n"]),
    junk=st.binary(max_size=8),
)
def test_any_table_gives_points_or_a_sentence(
    tmp_path_factory: pytest.TempPathFactory,
    lines: list[list[str]],
    separator: str,
    heading: str,
    junk: bytes,
) -> None:
    path = tmp_path_factory.getbasetemp() / "fuzzed.csv"
    text = heading + "\n".join(separator.join(cells) for cells in lines)
    path.write_bytes(text.encode("utf-8", "surrogatepass") + junk)
    said = "."
    try:
        read = read_table(path)
        assert read.points
        for point in read.points:
            assert 1.0 <= point.f_hz <= 100_000.0
            assert 0.0 < point.u_cents <= 1200.0
    except InputError as refusal:
        said = refusal.sentence
    assert said.endswith(".")
    assert "\n" not in said


@settings.get_profile("fuzz")
@given(content=st.binary(max_size=200))
def test_any_bytes_give_a_sentence(
    tmp_path_factory: pytest.TempPathFactory, content: bytes
) -> None:
    path = tmp_path_factory.getbasetemp() / "bytes.csv"
    path.write_bytes(content)
    with pytest.raises(InputError):
        read_table(path)


def test_what_a_survey_wrote_is_a_table(tmp_path: Path) -> None:
    surveys = [
        survey_oscillator(
            name,
            [
                Point(n, cv_of_note(n), note_to_hz(n) * 2 ** (c / 1200), 0.05)
                for n in range(36, 85, 6)
            ],
        )
        for name, c in (("Heron", 2.0), ("Wren", -7.0))
    ]
    one, both = tmp_path / "one.csv", tmp_path / "both.csv"
    write_csv(one, CURVE_HEADINGS, curve_rows(surveys[:1]))
    write_csv(both, CURVE_HEADINGS, curve_rows(surveys))
    # Of one, whatever it is called here; nothing is said of columns that follow from the others.
    heron = read_table(one, oscillator="leader")
    assert heron.remarks == ()
    assert [point.note for point in heron.points] == list(range(36, 85, 6))
    assert heron.points[0].u_cents == pytest.approx(surveys[0].curve.entries[0].u_cents, rel=1e-3)
    wren = read_table(both, oscillator="wren")
    assert cents_between(wren.points[0].f_hz, heron.points[0].f_hz) == pytest.approx(-9.0)
    with pytest.raises(InputError, match=r"holds several oscillators.*Heron, Wren"):
        read_table(both)
    with pytest.raises(InputError, match="no oscillator called Robin"):
        read_table(both, oscillator="Robin")

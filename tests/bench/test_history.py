from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pitchwright.bench.history import parse_history, read_history
from pitchwright.errors import InputError

PLAIN = """t_s,Heron f_hz,wren_cents,temperature_c
0,261.0,1.5,21.0
5,261.1,,21.1
10,261.2,1.7,
"""


def test_plain_table() -> None:
    history = parse_history(PLAIN, "there")
    assert history.t_s.tolist() == [0.0, 5.0, 10.0]
    heron, wren = history.traces
    assert (heron.name, wren.name) == ("Heron", "wren")
    assert heron.f_hz is not None
    assert heron.f_hz.tolist() == [261.0, 261.1, 261.2]
    assert heron.cents[0] == 0.0
    assert heron.cents[2] == pytest.approx(1200.0 * math.log2(261.2 / 261.0))
    assert wren.f_hz is None
    assert wren.cents[0] == 1.5
    assert math.isnan(wren.cents[1])
    assert history.temperature_c is not None
    assert history.temperature_c[1] == 21.1
    assert math.isnan(history.temperature_c[2])
    assert history.note is None
    assert history.remarks == ()


def test_read_from_a_file_with_a_byte_order_mark(tmp_path: Path) -> None:
    file = tmp_path / "history.csv"
    file.write_text(PLAIN, encoding="utf-8-sig")
    assert read_history(file).traces[0].name == "Heron"


@pytest.mark.parametrize("separator", [";", "\t"])
def test_decimal_commas(separator: str) -> None:
    lines = ["t_s,f_hz,temperature_c", "0,261.5,21.0", "2.5,261.75,21.25", "5,261.5,-0.5"]
    text = "\n".join(line.replace(",", separator).replace(".", ",") for line in lines)
    history = parse_history(text, "there")
    assert history.t_s.tolist() == [0.0, 2.5, 5.0]
    assert history.traces[0].name == "oscillator"
    assert history.traces[0].f_hz is not None
    assert history.traces[0].f_hz.tolist() == [261.5, 261.75, 261.5]


def test_alternating_notes_are_measured_from_their_own_pitch() -> None:
    text = "t_s,note,Heron f_hz\n0,A4,440\n1,A5,880\n2,69,441\n"
    history = parse_history(text, "there")
    assert history.note is not None
    assert history.note.tolist() == [69.0, 81.0, 69.0]
    assert history.traces[0].cents == pytest.approx([0.0, 0.0, 1200.0 * math.log2(441 / 440)])
    flat = parse_history(text, "there", a4_hz=441.0)
    assert flat.traces[0].cents[2] == pytest.approx(0.0)


@pytest.mark.parametrize(
    ("times", "expected"),
    [
        (("19:30:00", "19:30:05", "19:31"), [0.0, 5.0, 60.0]),
        (("23:59:50", "23:59:55.5", "00:00:10"), [0.0, 5.5, 20.0]),
        (
            ("2026-11-25T19:30:00", "2026-11-25T19:30:05", "2026-11-26T19:30:00"),
            [0.0, 5.0, 86400.0],
        ),
        (("2026-11-25 19:30:00Z", "2026-11-25T20:30:05+01:00", "2026-11-25T19:31Z"), [0, 5, 60]),
    ],
)
def test_times(times: tuple[str, ...], expected: list[float]) -> None:
    text = "time,f_hz\n" + "".join(f"{time},261\n" for time in times)
    assert parse_history(text, "there").t_s.tolist() == pytest.approx(expected)


def test_comments_and_blank_lines_are_skipped_and_lines_still_counted() -> None:
    text = "# made up\n\nt_s,f_hz\n0,261\n\n# a pause\n5,oops\n6,261\n"
    with pytest.raises(InputError) as refused:
        parse_history(text, "there")
    assert refused.value.sentence == (
        "there, line 7, column f_hz: “oops” is not a number. Write a number, or leave the cell "
        "empty where there was no reading."
    )


def test_gaps_are_remarked_on() -> None:
    text = "t_s,f_hz\n" + "".join(f"{t},261\n" for t in [*range(20), 200, *range(201, 220)])
    (remark,) = parse_history(text, "there").remarks
    assert remark == "There is a gap of 3 minutes, 19 s after the start."
    text += "".join(f"{t},261\n" for t in range(1000, 1010))
    (remark,) = parse_history(text, "there").remarks
    assert remark == "There are 2 gaps; the longest is 13 minutes, 4 minutes after the start."


def test_columns_not_used_are_said() -> None:
    history = parse_history("t_s,f_hz,level,\n0,261,-3,\n1,261,-3,\n", "there")
    assert history.remarks == ("Not used: the columns level, without a name.",)


@pytest.mark.parametrize(
    ("text", "where", "what"),
    [
        ("", "there", "The table is empty"),
        ("\n\n# only a comment\n", "there", "The table is empty"),
        ("t_s,f_hz\n0,261\n", "there", "needs at least two readings"),
        ("f_hz\n261\n262\n", "there, first line", "no column of times"),
        ("t_s,level\n0,1\n1,1\n", "there, first line", "no column of an oscillator"),
        ("t_s,time,f_hz\n0,0,1\n1,1,1\n", "there, first line", "two columns for time"),
        ("t_s,a f_hz,a cents\n0,1,1\n1,1,1\n", "there, first line", "two columns for a"),
        ("t_s,f_hz\n0,261\n1\n", "there, line 3", "Columns named: 2; cells in this line: 1"),
        ("t_s,f_hz\n0,261\n1,261,3\n", "there, line 3", "cells in this line: 3"),
        ("t_s,f_hz\n0,261\n1,1,5\n", "there, line 3", "cells in this line: 3"),
        ('t_s,f_hz\n0,"261\n1,261\n', "there, line 3", "cannot be split into cells"),
        ("t_s,f_hz\n0,261\n,261\n", "there, line 3, column t_s", "The cell is empty"),
        ("t_s,f_hz\n0,261\n5,261\n3,261\n", "there, line 4, column t_s", "back, from 5 to 3"),
        (
            "time,f_hz\n12:00:00,261\n12:05:00,261\n11:10:00,261\n",
            "there, line 4, column time",
            "The clock jumps back, from 12:05:00 to 11:10:00",
        ),
        ("t_s,f_hz\n4,261\n4,261\n", "there, line 2, column t_s", "at the same time"),
        ("t_s,f_hz\n0,261\n9e9,261\n", "there, line 3, column t_s", "thirty years"),
        ("t_s,f_hz\n0,261\n1e99,261\n", "there, line 3, column t_s", "cannot be a time"),
        ("time,f_hz\n25:00:00,261\n1,261\n", "there, line 2, column time", "is not a time"),
        ("time,f_hz\nnoon,261\n1,261\n", "there, line 2, column time", "“noon” is not a time"),
        (
            "t_s,f_hz,temperature_c\n0,261,21\n1,261,warm\n",
            "there, line 3, column temperature_c",
            "“warm” is not a number",
        ),
        (
            "t_s,f_hz,temperature_c\n0,261,21\n1,261,2100\n",
            "there, line 3, column temperature_c",
            "2100 cannot be a room's temperature",
        ),
        ("t_s,f_hz\n0,0\n1,261\n", "there, line 2, column f_hz", "0 cannot be a pitch"),
        ("t_s,f_hz\n0,-5\n1,261\n", "there, line 2, column f_hz", "-5 cannot be a pitch"),
        ("t_s,f_hz\n0,inf\n1,261\n", "there, line 2, column f_hz", "“inf” is not a number"),
        ("t_s,f_hz\n0,1_0\n1,261\n", "there, line 2, column f_hz", "“1_0” is not a number"),
        ("t_s,cents\n0,1e9\n1,1\n", "there, line 2, column cents", "cannot be a departure"),
        ("t_s,f_hz\n0,\n1,\n", "there, line 2, column f_hz", "not one reading"),
        ("t_s,note,f_hz\n0,H4,1\n1,C4,1\n", "there, line 2, column note", "“H4” is not a note"),
        ("t_s,note,f_hz\n0,C4,1\n1,,1\n", "there, line 3, column note", "The cell is empty"),
    ],
)
def test_what_cannot_be_used(text: str, where: str, what: str) -> None:
    with pytest.raises(InputError) as refused:
        parse_history(text, "there")
    assert refused.value.where == where
    assert what in refused.value.what


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such file"):
        read_history(tmp_path / "nowhere.csv")
    with pytest.raises(InputError, match="folder"):
        read_history(tmp_path)
    other = tmp_path / "other.csv"
    other.write_bytes(b"t_s,f_hz\n0,261\n1,26\xff\n")
    with pytest.raises(InputError, match="line 3: This is not text in UTF-8"):
        read_history(other)


cells = st.one_of(
    st.sampled_from(
        ["", "0", "1", "261", "1e3", "nan", "-", "21,5", "C4", "19:30", "#", '"', "t_s"]
    ),
    st.floats().map(str),
    st.text(max_size=6),
)
headers = st.sampled_from(
    ["t_s", "time", "f_hz", "Heron cents", "wren_f_hz", "temperature_c", "note", "level", ""]
)


@settings.get_profile("fuzz")
@given(
    st.lists(headers, min_size=1, max_size=6),
    st.lists(st.lists(cells, min_size=1, max_size=6), max_size=8),
    st.sampled_from([",", ";", "\t"]),
)
def test_any_table_is_read_or_refused_in_a_sentence(
    header: list[str], rows: list[list[str]], separator: str
) -> None:
    text = "\n".join(separator.join(row) for row in [header, *rows])
    _read_or_refused(text)


@settings.get_profile("fuzz")
@given(st.text(max_size=300))
def test_any_text_is_read_or_refused_in_a_sentence(text: str) -> None:
    _read_or_refused(text)


@settings.get_profile("fuzz")
@given(st.binary(max_size=300))
def test_any_file_is_read_or_refused_in_a_sentence(
    tmp_path_factory: pytest.TempPathFactory, content: bytes
) -> None:
    file = tmp_path_factory.mktemp("fuzz") / "history.csv"
    file.write_bytes(b"t_s,f_hz\n0,261\n" + content)
    assert "\n" not in _refusal(lambda: read_history(file))


@settings.get_profile("fuzz")
@given(
    st.lists(st.floats(0.0, 1e4), min_size=2, max_size=30).filter(lambda steps: max(steps[1:]) > 0),
    st.data(),
)
def test_what_was_written_is_what_is_read(steps_s: list[float], data: st.DataObject) -> None:
    t_s = np.cumsum(steps_s)
    cents = data.draw(
        st.lists(st.floats(-1e4, 1e4), min_size=t_s.size, max_size=t_s.size), label="cents"
    )
    text = "t_s,Heron cents\n" + "".join(
        f"{float(t)!r},{c!r}\n" for t, c in zip(t_s, cents, strict=True)
    )
    if t_s[-1] > t_s[0]:
        history = parse_history(text, "there")
        assert history.traces[0].cents.tolist() == cents
        assert history.t_s.tolist() == (t_s - t_s[0]).tolist()


def _read_or_refused(text: str) -> None:
    sentence = _refusal(lambda: _checked(text))
    assert sentence == "" or sentence.startswith("there")
    assert "\n" not in sentence
    assert len(sentence) < 400


def _checked(text: str) -> None:
    history = parse_history(text, "there")
    assert np.all(np.diff(history.t_s) >= 0.0)
    assert all(trace.cents.shape == history.t_s.shape for trace in history.traces)


def _refusal(read: Callable[[], object]) -> str:
    """The sentence of the refusal; empty where it was read."""
    try:
        read()
    except InputError as refused:
        return refused.sentence
    return ""

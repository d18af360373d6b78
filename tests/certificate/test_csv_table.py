"""Tables that any reader reads back, and that no spreadsheet runs."""

import csv
import io
import math

from hypothesis import given
from hypothesis import strategies as st

from pitchwright.certificate.csv_table import csv_text


def read_back(text: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(text)))


@given(st.lists(st.floats(allow_nan=False, allow_infinity=False), min_size=1))
def test_figures_read_back_to_the_same_number(figures: list[float]) -> None:
    rows = read_back(csv_text(["f_hz"], [[figure] for figure in figures]))
    assert [float(row[0]) for row in rows[1:]] == figures


def test_what_is_unknown_is_an_empty_cell() -> None:
    text = csv_text(["a", "b", "c", "d"], [[None, math.nan, math.inf, 0.5]])
    assert read_back(text)[1] == ["", "", "", "0.5"]


@given(st.sampled_from("=+-@\t\r"), st.text())
def test_no_text_is_a_formula(start: str, rest: str) -> None:
    # The starts that spreadsheets run, from the OWASP page "CSV Injection" (from memory).
    cell = read_back(csv_text(["name", "n"], [[start + rest, 1]]))[1][0]
    assert cell.startswith("'")


@given(st.text(alphabet=st.characters(exclude_categories=["Cs"])))
def test_any_name_stays_one_cell(name: str) -> None:
    rows = read_back(csv_text(["name", "n"], [[name, 1]]))
    assert len(rows) == 2
    assert rows[1][1] == "1"
    assert len(rows[1]) == 2

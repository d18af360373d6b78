"""What is printed fits the terminal: figures are never folded, and none gets lost."""

from __future__ import annotations

import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.console import Console

from pitchwright.cli import console


@pytest.fixture
def narrow(monkeypatch: pytest.MonkeyPatch) -> Console:
    out = Console(highlight=False, width=40, record=True, file=io.StringIO())
    monkeypatch.setattr(console, "_out", out)
    return out


def test_a_wide_table_goes_on_below_with_its_text_repeated(narrow: Console) -> None:
    console.table(("", "C1", "C2", "C3", "C4"), [("Heron", *["−1234.56"] * 4)])
    lines = narrow.export_text().splitlines()
    assert max(map(len, lines)) <= 40
    assert [line.count("−1234.56") for line in lines if "Heron" in line] == [3, 1]


def test_a_heading_takes_two_lines_where_room_is_short(narrow: Console) -> None:
    console.table(("", "cents per octave"), [("Heron", "1.0")])
    assert narrow.export_text().splitlines()[0].strip() == "cents per octave"
    console.table(("", "cents per octave", "C1", "C2"), [("Heron", *["−1234.56"] * 3)])
    lines = [line.strip() for line in narrow.export_text().splitlines()]
    assert "cents per" in lines[0]
    assert "octave" in lines[1]
    assert len(lines) == 3


@settings(max_examples=60)
@given(
    st.lists(st.text("abcdefgh −+.0123456789", min_size=1, max_size=30), min_size=1, max_size=9),
    st.integers(20, 120),
)
def test_columns_are_all_there_in_order(cells: list[str], room: int) -> None:
    widths = [len(cell) for cell in ["name", *cells]]
    rows = console._beside(widths, 1, room)
    assert [place for row in rows for place in row] == list(range(1, len(widths)))
    for row in rows:
        if len(row) > 1:
            assert sum(widths[place] for place in row) <= room

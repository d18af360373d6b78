"""The sheet drawn for a screen: what is where, and what leaves the picture."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitchwright.web.sheet_data import Dot, Reached, SheetData
from pitchwright.web.sheet_drawing import (
    MIDDLE,
    NARROW,
    WIDE,
    Size,
    draw_sheet,
    draw_strip,
    nearest,
)

NOTES = tuple(float(note) for note in range(24, 85, 6))


def data(cents: float = 0.3, found: float | None = None, doubt: str = "") -> SheetData:
    now = tuple(Dot(note, cents, 0.2) for note in NOTES)
    if doubt:
        now = (*now[:3], Dot(NOTES[3], 40.0, 0.2, doubt=doubt), *now[4:])
    was = tuple(Dot(note, found + note, 0.2) for note in NOTES) if found is not None else ()
    return SheetData("Heron", now, was, reaches=(Reached(1.0, 24.0, 84.0),))


def marks(svg: str, name: str) -> list[ET.Element]:
    return [one for one in ET.fromstring(svg).iter() if one.get("class") == name]


@pytest.mark.parametrize("size", [NARROW, MIDDLE, WIDE])
def test_every_note_has_its_dot_and_its_bar(size: Size) -> None:
    svg = draw_sheet(data(), size)
    assert len(marks(svg, "sheet-dot")) == len(NOTES)
    assert len(marks(svg, "sheet-bar")) == len(NOTES)
    assert len(marks(svg, "sheet-reach")) == 3


@pytest.mark.parametrize("size", [NARROW, MIDDLE, WIDE])
def test_what_leaves_the_picture_gets_an_arrow_and_a_figure(size: Size) -> None:
    svg = draw_sheet(data(found=200.0), size)
    assert len(marks(svg, "sheet-beyond-found")) == len(NOTES)
    figures = [one.text or "" for one in marks(svg, "sheet-figure")]
    assert "+224" in figures


def test_a_doubted_note_is_marked_by_shape_and_sign() -> None:
    svg = draw_sheet(data(doubt="far off"), WIDE)
    assert len(marks(svg, "sheet-dot")) == len(NOTES) - 1
    # Far off: it would flatten the others, so it stands at the edge with its figure and a sign.
    assert "+40 ?" in [one.text for one in marks(svg, "sheet-figure")]
    near = SheetData("Heron", (Dot(60.0, 0.2, 0.1), Dot(66.0, 0.9, 0.1, doubt="far off")))
    svg = draw_sheet(near, WIDE)
    assert len(marks(svg, "sheet-doubt")) == 1
    assert [one.text for one in marks(svg, "sheet-doubt-word")] == ["?"]


def test_the_chosen_note_is_marked() -> None:
    assert len(marks(draw_sheet(data(), WIDE, 2), "sheet-chosen")) == 1
    assert not marks(draw_sheet(data(), WIDE), "sheet-chosen")


@given(st.integers(0, len(NOTES) - 1), st.sampled_from([NARROW, WIDE]))
def test_a_touch_finds_the_note_under_it(place: int, size: Size) -> None:
    sheet = data()
    (band,) = marks(draw_sheet(sheet, size, place), "sheet-chosen")
    middle = float(band.get("x") or 0.0) + float(band.get("width") or 0.0) / 2.0
    assert nearest(sheet, middle / size.width, size) == place


@given(
    st.lists(st.floats(-3000.0, 3000.0), min_size=1, max_size=60),
    st.floats(0.0, 500.0),
    st.floats(0.1, 50.0),
)
def test_nothing_is_drawn_outside(cents: list[float], u: float, tolerance: float) -> None:
    dots = tuple(Dot(30.0 + i, one, u) for i, one in enumerate(cents))
    svg = draw_sheet(SheetData("Wren", dots, tolerance_cents=tolerance), NARROW)
    for one in ET.fromstring(svg).iter():
        for name, most in (("cx", NARROW.width), ("cy", NARROW.height)):
            value = one.get(name)
            if value is not None:
                assert -0.1 <= float(value) <= most + 0.1


def test_words_cannot_break_the_picture() -> None:
    assert not re.search(
        r"<script", draw_sheet(SheetData("<script>", (Dot(60.0, 0.0, 0.1),)), WIDE)
    )


def test_a_strip_has_every_note() -> None:
    assert len(marks(draw_strip(data(), 24.0, 84.0, 5.0), "sheet-dot")) == len(NOTES)

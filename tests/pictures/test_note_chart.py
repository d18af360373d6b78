"""What the charts over a keyboard have in common."""

from __future__ import annotations

import re
from itertools import pairwise
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pitchwright.pictures.chart_paper import draw_head
from pitchwright.pictures.note_chart import (
    EndName,
    Frame,
    Style,
    draw_grid,
    draw_series,
    name_ends,
    styles,
)
from pitchwright.pictures.palette import ROLES
from pitchwright.pictures.pen import Pen, blank_canvas, finished_svg

FRAME = Frame(24.0, 96.0, -10.0, 30.0, 100.0, 300.0, 74.0, 800.0)


def test_a_frame_goes_from_notes_and_cents_to_pixels() -> None:
    assert (FRAME.x(24.0), FRAME.x(96.0)) == (74.0, 800.0)
    assert (FRAME.y(-10.0), FRAME.y(30.0), FRAME.y(0.0)) == (300.0, 100.0, 250.0)


def elements(pen: Pen) -> list[ElementTree.Element]:
    return list(ElementTree.fromstring(finished_svg(pen, "said", "more", "light")))


def texts(pen: Pen) -> list[ElementTree.Element]:
    return [element for element in elements(pen) if element.tag.endswith("text")]


@settings(max_examples=15)
@given(st.lists(st.floats(100.0, 300.0), min_size=1, max_size=9))
def test_names_at_the_ends_keep_apart_and_in_order(ends: list[float]) -> None:
    pen = blank_canvas(1000.0, 400.0)
    name_ends(pen, FRAME, [EndName(f"voice {n}", y, ROLES.ink) for n, y in enumerate(ends)])
    down = [float(text.attrib["y"]) for text in texts(pen)]
    assert down == sorted(down)
    assert all(b - a > 14.0 for a, b in pairwise(down))
    # Sorted by where their curves end.
    order = sorted(range(len(ends)), key=lambda n: ends[n])
    assert [text.text or "" for text in texts(pen)] == [f"voice {n}" for n in order]


def test_no_two_of_twenty_styles_are_alike() -> None:
    assert len(set(styles(ROLES, 20))) == 20


def test_a_curve_breaks_where_it_leaves_the_frame() -> None:
    pen = blank_canvas(1000.0, 400.0)
    draw_series(pen, FRAME, [24.0, 60.0, 96.0], [0.0, 100.0, 0.0], Style(ROLES.ink, "o"))
    (path,) = [e.attrib["d"] for e in elements(pen) if e.tag.endswith("path")]
    assert path.count("M") == 2
    assert min(float(part.split()[1]) for part in re.split("[ML]", path)[1:]) >= 100.0


@pytest.mark.parametrize("least", [-0.004, -1.0, -900.0])
def test_the_grid_names_zero_at_any_size(least: float) -> None:
    pen = blank_canvas(1000.0, 400.0)
    draw_grid(pen, Frame(24.0, 96.0, least, -least, 100.0, 300.0), "cents")
    words = [text.text or "" for text in texts(pen)]
    zero = [word for word in words if word.strip("0.") == "" and word]
    assert len(zero) == 1
    assert 4 <= len(words) <= 16


def test_small_print_ends_with_a_whole_sentence() -> None:
    pen = blank_canvas(1000.0, 400.0)
    more = "One sentence. " + "Another that goes on and on " * 12 + "to its end."
    draw_head(pen, "Heron", "", "Short.", more)
    words = [text.text or "" for text in texts(pen)]
    assert words[-1] == "One sentence."

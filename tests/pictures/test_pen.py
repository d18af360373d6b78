"""The pen: no word leaves the picture, what lies above comes later, colours are classes."""

from __future__ import annotations

from dataclasses import fields
from xml.etree import ElementTree

import pytest
from tests.pictures.inside import stays_inside

from pitchwright.pictures.palette import DARK, LIGHT, PAPER, ROLES, Palette, Theme, style
from pitchwright.pictures.pen import blank_canvas, finished_svg
from pitchwright.pictures.placing import Box

LONG = "a name that goes on and on, Übung à côté, −12.4 ± 0.3"


@pytest.mark.parametrize(("x", "across"), [(150.0, "left"), (60.0, "right"), (40.0, "center")])
def test_a_word_that_would_leave_the_picture_is_cut(x: float, across: str) -> None:
    pen = blank_canvas(200.0, 60.0)
    pen.text(x, 30.0, LONG, 12.0, "ink", across=across)
    svg = finished_svg(pen, "said", "more", "light")
    stays_inside(svg)
    assert "…" in svg
    assert LONG not in svg


def test_what_has_the_greater_z_lies_above() -> None:
    pen = blank_canvas(200.0, 60.0)
    pen.marks([10.0], [10.0], "o", 4.0, "strong", z=5.0)
    pen.box(Box(0.0, 0.0, 20.0, 20.0), "band", z=1.0)
    svg = finished_svg(pen, "said", "more", "light")
    assert svg.index("fill-paper", svg.index("</style>")) < svg.index('"fill-band"')
    assert svg.index('"fill-band"') < svg.index('"fill-strong"')


def test_a_line_breaks_where_nothing_is_known() -> None:
    pen = blank_canvas(200.0, 60.0)
    pen.line([1.0, 2.0, 3.0, 4.0, 5.0], [1.0, 2.0, float("nan"), 4.0, 5.0], "ink", 1.0)
    (line,) = ElementTree.fromstring(finished_svg(pen, "", "", "light")).iter(
        "{http://www.w3.org/2000/svg}path"
    )
    assert line.attrib["d"] == "M1 1L2 2M4 4L5 5"


@pytest.mark.parametrize(("theme", "palette"), [("light", LIGHT), ("dark", DARK), ("paper", PAPER)])
def test_every_role_has_its_colour(theme: Theme, palette: Palette) -> None:
    rules = style(theme)
    for one in fields(Palette):
        colour = getattr(palette, one.name)
        assert f".fill-{getattr(ROLES, one.name)}{{fill:{colour}}}" in rules
        assert f"stroke:{colour}}}" in rules


def test_the_system_decides_between_light_dark_print_and_its_own_colours() -> None:
    rules = style("system")
    order = [
        rules.index(part)
        for part in (LIGHT.ink, "scheme: dark", DARK.ink, "@media print", "forced-colors", "Canvas")
    ]
    assert order == sorted(order)

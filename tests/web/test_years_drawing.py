"""The years drawn for a phone: every survey has its marks, and nothing hangs out at the side."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

from pitchwright.logbook.history import SurveyRow
from pitchwright.procedures.circumstances import SurveyState
from pitchwright.web.years_drawing import draw_years


def row(day: int, state: SurveyState, scale: float | None, reach: bool = True) -> SurveyRow:
    low, high = (36.0, 84.0) if reach else (None, None)
    return SurveyRow(
        f"uid{day}", f"2026-03-{day:02d}T10:00:00Z", state, 1.0, 0.1, scale, 0.05, -0.4, 0.02,
        1.0, low, high, 21.0, None,
    )  # fmt: skip


ROWS = (
    row(1, SurveyState.AS_FOUND, 2.5, reach=False),
    row(1, SurveyState.AS_LEFT, 0.01),
    row(28, SurveyState.CHECK, 0.4),
)


def marks(svg: str, name: str) -> list[ET.Element]:
    return [one for one in ET.fromstring(svg).iter() if one.get("class") == name]


def test_as_found_is_a_cross_and_the_rest_are_dots_in_both_figures() -> None:
    svg = draw_years(ROWS)
    assert len(marks(svg, "sheet-cross")) == 2
    assert len(marks(svg, "sheet-dot")) == 4
    assert len(marks(svg, "sheet-bar")) == 6
    assert len(marks(svg, "sheet-reach")) == 2
    assert "2026-03-01" in svg
    assert "2026-03-28" in svg
    assert "C2" in svg
    assert "C6" in svg


def test_a_figure_that_no_survey_determined_has_no_panel() -> None:
    svg = draw_years([row(day, SurveyState.CHECK, None) for day in (3, 9)])
    assert "per octave" not in svg
    assert "per kHz" in svg


def test_one_survey_is_no_history() -> None:
    assert draw_years(ROWS[:1]) == ""
    assert draw_years(()) == ""


def test_nothing_lies_outside_the_picture() -> None:
    root = ET.fromstring(draw_years(ROWS))
    width = float(root.get("viewBox", "").split()[2])
    for one in root.iter():
        for name in ("x", "cx"):
            assert 0.0 <= float(one.get(name) or 0.0) <= width
        for x in re.findall(r"M([0-9.]+)", one.get("d") or ""):
            assert 0.0 <= float(x) <= width

"""The history chart: what it says, what it leaves no doubt about, and sound XML."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pitchwright.errors import InputError
from pitchwright.pictures.chart_paper import WIDTH
from pitchwright.pictures.history_chart import HEIGHT, history_svg
from pitchwright.pictures.palette import DARK, LIGHT
from pitchwright.stability.years import DriftRate

SVG = "{http://www.w3.org/2000/svg}"
START = datetime(2022, 3, 1, 18, 0, tzinfo=UTC)


@dataclass(frozen=True)
class Row:
    at_utc: str
    state: str
    scale_cents_per_oct: float | None = 0.05
    u_scale_cents_per_oct: float | None = 0.02
    base_cents: float | None = 0.2
    u_base_cents: float | None = 0.03
    high_cents_per_khz: float | None = -1.1
    u_high_cents_per_khz: float | None = 0.2
    tolerance_cents: float | None = 1.0
    reach_low: float | None = 24.0
    reach_high: float | None = 84.0


def years(count: int) -> list[Row]:
    rows = []
    for year in range(count):
        at = START + timedelta(days=365.25 * year)
        rows.append(Row(at.isoformat(), "as found", 1.44 if year else 0.05, reach_high=60.0))
        rows.append(Row((at + timedelta(hours=1)).isoformat(), "as left"))
    return rows


RATES = {"scale": DriftRate(0.12, 0.002, float("inf"), 3)}


def words_in(svg: str) -> list[str]:
    return [text.text or "" for text in ET.fromstring(svg).iter(f"{SVG}text")]


def test_it_says_what_the_years_did() -> None:
    svg = history_svg(
        "Heron",
        years(4),
        rates=RATES,
        due=date(2025, 5, 11),
        due_why="By then ±1 cent cannot be vouched for.",
        invented=True,
    )
    words = words_in(svg)
    for said in (
        "Heron",
        "Heron should be looked at again by 11 May 2025.",
        "8 surveys, 1 March 2022 to 1 March 2025",
        "By then ±1 cent cannot be vouched for.",
        "due 11 May 2025",
        "scale, cents per octave",
        "high end, cents per kHz",
        "base, cents",
        "reach within ±1 cent",
        "as found",
        "as left",
        "2023",
        "Invented data.",
    ):
        assert said in words, said
    description = ET.fromstring(svg)[1].text or ""
    assert "1 March 2022, as found: scale +0.05 ± 0.04, high end −1.10 ± 0.40" in description
    assert "reach C1 to C6" in description
    assert "Invented data." not in words_in(history_svg("Heron", years(4)))


def test_without_a_day_the_drift_is_the_headline() -> None:
    words = words_in(history_svg("Heron", years(4), rates=RATES))
    assert "Scale of Heron drifts by +0.120 ± 0.004 cents per octave a month." in words


def test_a_day_far_ahead_does_not_squeeze_the_years() -> None:
    words = words_in(history_svg("Heron", years(4), rates=RATES, due=date(2063, 1, 1)))
    assert "due 1 January 2063 ▶" in words
    assert {"2023", "2024", "2025"} <= set(words)


def test_an_unsure_drift_is_not_called_one() -> None:
    rates = {"scale": DriftRate(0.01, 0.02, float("inf"), 3)}
    (said,) = [
        word for word in words_in(history_svg("Heron", years(4), rates=rates)) if "Scale" in word
    ]
    assert said.startswith("Scale of Heron holds: no drift beyond what the readings can tell")


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        (years(1)[:1], "Heron was surveyed once: how fast it drifts cannot be told yet."),
        (years(1), "Heron was surveyed 2 times: how fast it drifts cannot be told yet."),
    ],
)
def test_too_few_surveys_say_so(rows: list[Row], said: str) -> None:
    assert said in words_in(history_svg("Heron", rows))


def test_no_survey_is_refused() -> None:
    with pytest.raises(InputError, match="no survey to draw"):
        history_svg("Heron", [])


def test_what_was_never_determined_says_so() -> None:
    rows = [Row(row.at_utc, row.state, high_cents_per_khz=None, reach_low=None) for row in years(2)]
    words = words_in(history_svg("Heron", rows))
    assert words.count("not determined in any survey") == 1
    assert "– : no note for certain" in words


def test_a_survey_far_off_gets_an_arrow_and_its_figure() -> None:
    rows = years(6)
    rows[0] = Row(rows[0].at_utc, "as found", 30.0)
    assert "+30.00" in words_in(history_svg("Heron", rows))


def test_base_outside_its_limits_carries_the_word() -> None:
    """Three-sigma limits of an individuals chart: 11 quiet years, then one jump."""
    rows = years(12)
    rows[10] = Row(rows[10].at_utc, "as found", base_cents=9.0)
    assert "outside" in words_in(history_svg("Heron", rows))
    assert "outside" not in words_in(history_svg("Heron", years(12)))


@pytest.mark.parametrize("count", [1, 2, 12, 40])
def test_every_word_stays_on_the_paper(count: int) -> None:
    svg = history_svg("Heron", years(count), rates=RATES, due=date(2063, 1, 1))
    for text in ET.fromstring(svg).iter(f"{SVG}text"):
        assert 0.0 <= float(text.attrib["x"]) <= WIDTH
        assert 0.0 <= float(text.attrib["y"]) <= HEIGHT


def test_themes_differ_in_colour_only_and_bytes_repeat() -> None:
    rows = years(3)
    light, dark = (history_svg("Heron", rows, theme=theme) for theme in ("light", "dark"))
    both = history_svg("Heron", rows)
    assert LIGHT.paper in light
    assert DARK.paper in dark
    assert LIGHT.paper not in dark
    assert "prefers-color-scheme: dark" in both
    assert words_in(light) == words_in(dark) == words_in(both)
    assert both == history_svg("Heron", rows)


@settings(max_examples=8)
@given(name=st.text(max_size=60))
def test_any_name_gives_sound_xml(name: str) -> None:
    ET.fromstring(history_svg(name, years(1), due_why=name).encode("utf-8"))

"""The sheet: sound XML, the same bytes each time, words for those who do not see it."""

from __future__ import annotations

import subprocess
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.pictures.inside import stays_inside

from pitchwright.pictures.palette import DARK, LIGHT, Palette
from pitchwright.pictures.placing import Box, Labels
from pitchwright.pictures.sheet import sheet_svg
from pitchwright.tracking import OscillatorSurvey, Point, survey_oscillator
from pitchwright.units import cv_of_note, note_to_hz, ratio_of_cents

SVG = "{http://www.w3.org/2000/svg}"


def survey_of(cents: dict[int, float], name: str = "Heron") -> OscillatorSurvey:
    return survey_oscillator(
        name,
        [
            Point(n, cv_of_note(n), note_to_hz(n) * ratio_of_cents(c), 0.05)
            for n, c in cents.items()
        ],
    )


def words_in(svg: str) -> list[str]:
    return [text.text or "" for text in ET.fromstring(svg).iter(f"{SVG}text")]


SLOPE = {n: (n - 60) / 3.0 for n in range(24, 85, 6)}


def test_it_says_what_it_shows() -> None:
    survey = survey_of(SLOPE)
    svg = sheet_svg(survey, conditions="25 November, 21.5 °C", invented=True)
    root = ET.fromstring(svg)
    assert root[0].tag == f"{SVG}title"
    assert root[0].text == survey.headline
    assert root[1].tag == f"{SVG}desc"
    assert f"-12.00 ± {survey.curve.entries[0].expanded_cents:.2f} at C1" in (root[1].text or "")
    words = " | ".join(words_in(svg))
    for said in (
        "Heron",
        survey.headline,
        "25 November, 21.5 °C",
        "Invented data.",
        "within ±1 cent: C4 only",
        "worst: C1 −12.0 ± 0.2",
        "C6",
        "+4.00",
    ):
        assert said in words
    assert "Invented" not in " ".join(words_in(sheet_svg(survey)))


def test_the_same_survey_gives_the_same_bytes() -> None:
    survey = survey_of(SLOPE)
    svg = sheet_svg(survey)
    assert svg == sheet_svg(survey)
    assert "date" not in svg.lower().split("<style>")[0]


@pytest.mark.parametrize(
    "cents",
    [
        {60: 4.0},
        {36: -3.0, 60: 0.0, 84: 5.0},
        dict.fromkeys(range(24, 85), 0.01),
        {n: (n - 60) * 10.0 for n in range(24, 85)},
        dict.fromkeys((24, 48, 60), 400.0),
        {0: -1.0, 127: 1.0},
    ],
    ids=["one note", "three", "tiny", "wide", "huge", "all of MIDI"],
)
def test_every_word_stays_on_the_paper(cents: dict[int, float]) -> None:
    svg = sheet_svg(survey_of(cents), before=survey_of(dict.fromkeys(cents, 40.0)))
    stays_inside(svg)


def test_points_outside_the_picture_get_an_arrow_and_their_figure() -> None:
    fine = dict.fromkeys(range(24, 85, 6), 0.1)
    svg = sheet_svg(survey_of(fine), before=survey_of({n: (n - 60) * 10.0 for n in fine}))
    assert {"+240", "−360", "as found", "as left"} <= set(words_in(svg))


def test_a_doubted_note_carries_the_word() -> None:
    cents = {n: 0.1 * (n % 3) for n in range(24, 85, 4)} | {48: 5.0}
    assert "C3 in doubt" in words_in(sheet_svg(survey_of(cents)))


def test_dark_and_light_differ_in_colour_only() -> None:
    survey = survey_of(SLOPE)
    light, dark = (sheet_svg(survey, theme=theme) for theme in ("light", "dark"))
    both = sheet_svg(survey)
    assert LIGHT.paper in light
    assert DARK.paper in dark
    assert LIGHT.paper not in dark
    assert "prefers-color-scheme" not in light
    assert "prefers-color-scheme: dark" in both
    assert words_in(light) == words_in(dark) == words_in(both)


def luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour (W3C, WCAG 2.1, from memory)."""
    parts = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("palette", [LIGHT, DARK])
def test_words_stand_out_from_the_paper(palette: Palette) -> None:
    # WCAG 2.1: 4.5 to 1 for text, 3 to 1 for marks (from memory).
    for role, least in (
        ("ink", 4.5),
        ("soft", 4.5),
        ("strong", 4.5),
        ("doubt", 4.5),
        ("within", 3.0),
        ("faint", 2.7),
    ):
        pair = sorted((luminance(getattr(palette, role)), luminance(palette.paper)))
        assert (pair[1] + 0.05) / (pair[0] + 0.05) >= least, role


@settings(max_examples=25)
@given(name=st.text(max_size=60))
def test_any_name_gives_sound_xml(name: str) -> None:
    svg = sheet_svg(survey_of({60: 1.0}, name or "?"), conditions=name, title=name)
    ET.fromstring(svg.encode("utf-8"))


@pytest.mark.needs("librsvg2-bin")
def test_a_reader_that_is_not_a_browser_draws_it(tmp_path: Path) -> None:
    path = tmp_path / "sheet.svg"
    path.write_text(sheet_svg(survey_of(SLOPE)), encoding="utf-8")
    subprocess.run(["rsvg-convert", path, "-o", tmp_path / "sheet.png"], check=True, timeout=60)
    assert (tmp_path / "sheet.png").read_bytes().startswith(b"\x89PNG")


def test_a_label_goes_where_there_is_room() -> None:
    labels = Labels(Box(0, 0, 200, 100))
    labels.block([Box(0, 0, 200, 48), Box(95, 45, 105, 55)])
    first = labels.place("a label", 10.0, 100.0, 50.0)
    second = labels.place("a label", 10.0, 100.0, 50.0)
    assert first.top >= 48.0
    assert first.overlap(second) == 0.0
    assert first.outside(labels.room) == second.outside(labels.room) == 0.0


def test_every_turn_stands_on_the_sheet_in_its_order() -> None:
    words = " ".join(
        words_in(sheet_svg(survey_of({n: 4.0 + (n - 60) / 3.0 for n in range(24, 97, 6)})))
    )
    turned = words[words.index("Turn ") :]
    assert turned.index("scale until") < turned.index("; then base until")

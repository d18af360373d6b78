"""The chart of a warm-up: sound XML, the same bytes each time, words for those who see it not."""

from __future__ import annotations

import math
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from numpy.typing import NDArray

from pitchwright.pictures.chart_paper import WIDTH
from pitchwright.pictures.warmup_chart import HEIGHT, warmup_svg
from pitchwright.stability import Forecast, Readiness, allan_deviation, forecast

Array = NDArray[np.float64]
SVG = "{http://www.w3.org/2000/svg}"


def words_in(svg: str) -> list[str]:
    return [text.text or "" for text in ET.fromstring(svg).iter(f"{SVG}text")]


def heard(minutes: float, wander_cents: float = 0.02) -> tuple[Array, Array, Forecast]:
    rng = np.random.default_rng(4)
    t_s = np.arange(0.0, 60.0 * minutes, 10.0)
    cents = 25.0 * np.exp(-t_s / 900.0) + wander_cents * rng.standard_normal(t_s.size)
    cents += wander_cents * np.cumsum(rng.standard_normal(t_s.size)) * 0.1
    return t_s, cents, forecast(t_s, cents)


@pytest.mark.parametrize(
    ("minutes", "wander", "readiness", "said"),
    [
        (1.0, 0.02, Readiness.TOO_EARLY, "ready: not known yet"),
        (15.0, 0.02, Readiness.WARMING, "ready from here, most likely"),
        (120.0, 0.02, Readiness.READY, "ready"),
        (400.0, 1.0, Readiness.NEVER_SETTLES, "warm, but it wanders more than is allowed"),
    ],
)
def test_each_state_says_itself_in_words(
    minutes: float, wander: float, readiness: Readiness, said: str
) -> None:
    t_s, cents, found = heard(minutes, wander)
    assert found.readiness is readiness
    svg = warmup_svg("Heron", t_s, cents, found, invented=True)
    words = words_in(svg)
    assert said in words
    assert "now" in words
    assert "Invented data." in words
    root = ET.fromstring(svg)
    assert root.find(f"{SVG}title").text == found.sentence  # type: ignore[union-attr]
    assert found.why in (root.find(f"{SVG}desc").text or "")  # type: ignore[union-attr]


def test_every_word_is_inside_the_picture() -> None:
    t_s, cents, found = heard(8.0)
    root = ET.fromstring(warmup_svg("Heron " * 30, t_s, cents, found, conditions="c" * 300))
    for text in root.iter(f"{SVG}text"):
        x, y = float(text.get("x", "nan")), float(text.get("y", "nan"))
        if not math.isnan(x):
            assert 0.0 <= x <= WIDTH
            assert 0.0 <= y <= HEIGHT


def test_same_history_same_bytes() -> None:
    t_s, cents, found = heard(20.0)
    steady = allan_deviation(t_s, cents)
    first = warmup_svg("Wren", t_s, cents, found, steadiness=steady)
    assert warmup_svg("Wren", t_s, cents, found, steadiness=steady) == first
    assert "best time for a reading" in words_in(first)
    assert steady.sentence in (ET.fromstring(first).find(f"{SVG}desc").text or "")  # type: ignore[union-attr]


def test_names_are_words_and_not_mark_up() -> None:
    t_s, cents, found = heard(8.0)
    name = "<b>$x^2$ & ♯</b>"
    assert name in words_in(warmup_svg(name, t_s, cents, found))


def test_what_the_room_did_is_taken_out() -> None:
    rng = np.random.default_rng(8)
    t_s = np.arange(0.0, 5400.0, 10.0)
    room_c = 21.0 + np.sin(t_s / 500.0)
    cents = 25.0 * np.exp(-t_s / 700.0) + 3.0 * room_c + 0.02 * rng.standard_normal(t_s.size)
    found = forecast(t_s, cents, room_c)
    assert found.knows_temperature
    svg = warmup_svg("Heron", t_s, cents, found, temperature_c=room_c)
    assert any("taken out of what is shown" in words for words in words_in(svg))
    assert not any("taken out" in words for words in words_in(warmup_svg("x", t_s, cents, found)))


@pytest.mark.parametrize("cents", [np.full(4, np.nan), np.empty(0)])
def test_nothing_heard_is_still_a_picture(cents: Array) -> None:
    t_s = np.arange(float(cents.size))
    svg = warmup_svg("Heron", t_s, cents, forecast(t_s, cents))
    assert "ready: not known yet" in words_in(svg)

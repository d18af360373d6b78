"""The page's colours: contrast as WCAG 2.2 defines it.

Source: W3C, Web Content Accessibility Guidelines (WCAG) 2.2, "relative luminance" and "contrast
ratio", and success criteria 1.4.3 (text, 4.5:1) and 1.4.11 (marks, 3:1).
"""

from __future__ import annotations

import pytest

from pitchwright.pictures.palette import DARK, LIGHT, Palette
from pitchwright.web.theme import head_html, palette_css


def luminance(colour: str) -> float:
    channels = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_the_formula_gives_the_published_extremes() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)  # WCAG 2.2: from 1 to 21
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)


@pytest.mark.parametrize("palette", [LIGHT, DARK])
def test_text_is_readable_on_paper_and_on_the_band(palette: Palette) -> None:
    for ink in (palette.ink, palette.soft, palette.strong, palette.doubt, palette.within):
        assert contrast(ink, palette.paper) >= 4.5
    for ink in (palette.ink, palette.soft, palette.strong):
        assert contrast(ink, palette.band) >= 4.5


@pytest.mark.parametrize("palette", [LIGHT, DARK])
def test_marks_stand_out(palette: Palette) -> None:
    for mark in (palette.strong, palette.within, palette.doubt, palette.ink):
        assert contrast(mark, palette.paper) >= 3.0


def test_both_themes_are_in_the_head_and_nothing_comes_from_elsewhere() -> None:
    head = head_html()
    assert LIGHT.paper in palette_css()
    assert DARK.paper in palette_css()
    assert "http" not in head
    assert 'href="/looks/page.css"' in head

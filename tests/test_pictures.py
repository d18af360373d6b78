"""The pictures in the docs are what the tool makes: each is drawn again by its example.

Compared by what is drawn, not byte by byte: words and marks are the same, numbers within a pixel.
"""

from __future__ import annotations

import re
import runpy
from pathlib import Path

import numpy as np
import pytest

ROOT = Path(__file__).parents[1]
PICTURES = ROOT / "docs" / "pictures"
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
_WORDS = re.compile(r">([^<]*)</text>")

THEATRE = {
    "theatre_1_is_it_warm": "warm-up",
    "theatre_2_pull_a_cable": "route",
    "theatre_3_whose_error": "whose-error",
    "theatre_4_at_a_glance": "ensemble",
    "theatre_5_plan_a_beat": "detune",
    "theatre_6_correct_note_by_note": "corrections",
}


@pytest.mark.parametrize(("example", "picture"), THEATRE.items())
def test_a_picture_is_what_the_tool_makes(example: str, picture: str, tmp_path: Path) -> None:
    path = ROOT / "examples" / f"{example}.py"
    runpy.run_path(str(path))["main"](tmp_path)
    made = (tmp_path / f"{picture}.svg").read_text(encoding="utf-8")
    shown = (PICTURES / f"{picture}.svg").read_text(encoding="utf-8")
    assert _WORDS.findall(made) == _WORDS.findall(shown)
    marks = [_NUMBER.sub("#", text) for text in (made, shown)]
    assert marks[0] == marks[1]
    numbers = [np.array(_NUMBER.findall(text), dtype=float) for text in (made, shown)]
    assert np.abs(numbers[0] - numbers[1]).max() < 1.0


def test_every_picture_is_shown_somewhere() -> None:
    pages = "".join(page.read_text(encoding="utf-8") for page in (ROOT / "docs").glob("*.md"))
    for name in THEATRE.values():
        assert f"pictures/{name}.svg" in pages

"""Every command that docs/symptoms.md names is one, and every option it gives there is, too."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

from pitchwright.cli import main

PAGE = (Path(__file__).parents[1] / "docs" / "symptoms.md").read_text(encoding="utf-8")
LINES = sorted(set(re.findall(r"^pitchwright .*$", PAGE, re.MULTILINE)))
GROUPS = {"log": 2}


@pytest.mark.parametrize("line", LINES)
def test_a_command_on_the_page_is_one(line: str, capsys: pytest.CaptureFixture[str]) -> None:
    words = shlex.split(line.partition(">")[0])[1:]
    name = words[: GROUPS.get(words[0], 1)]
    with pytest.raises(SystemExit) as ended:
        main([*name, "--help"])
    assert ended.value.code in (0, None)
    told = capsys.readouterr().out
    assert re.match(rf"Usage: \S+ {' '.join(name)} ", told)
    for option in (word for word in words if word.startswith("--")):
        assert re.search(rf"(?m)^ +{option}\b", told), option


def test_a_symptom_has_a_command_within_three() -> None:
    parts = PAGE.split("\n## ")[1:]
    assert len(parts) >= 12
    for part in parts:
        assert 1 <= len(re.findall(r"^pitchwright ", part, re.MULTILINE)) <= 3, part[:40]


def test_what_a_splitter_costs_is_ohms_law() -> None:
    """1 kΩ into 100 kΩ twice in parallel: a divider of 50 to 51; 1200 cents an octave of it."""
    lost = 1200.0 * (1.0 - 50.0 / 51.0)
    assert f"{lost:.1f} cents an octave" in PAGE

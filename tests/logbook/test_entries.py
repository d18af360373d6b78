"""Bodies of entries: what is one, what is not, and what is said about it."""

from __future__ import annotations

import json
import math
from typing import Any

import pytest

from pitchwright.errors import InputError
from pitchwright.logbook.entries import Body, body_text, check_body, parse_body
from pitchwright.logbook.facts import Figures, SurveyRecorded
from pitchwright.procedures.circumstances import Conditions, SurveyState
from pitchwright.procedures.events import Started
from pitchwright.procedures.requests import Heard, ReadingsTaken
from pitchwright.tracking import Point, TargetCurve

SURVEY = SurveyRecorded(
    SurveyState.AS_FOUND,
    (Point(24.0, 0.0, 32.703, 0.03, why="doubted"),),
    Figures(0.2, 0.03),
    Conditions(21.0, source="Loft"),
    TargetCurve.flat(),
)


@pytest.mark.parametrize(
    "body",
    [
        SURVEY,
        ReadingsTaken((Heard("Heron", 1.0, None, 0.0, ("No pitch.",)),)),
        ReadingsTaken((Heard("Heron", math.inf, math.nan, -math.inf),)),
        Started("survey", {"notes": [24.0, 36], "deep": {"er": [None, True, "♯"]}}),
    ],
)
def test_what_is_written_is_read_again(body: Body) -> None:
    text = body_text(body)
    check_body(body.kind, text)
    assert body_text(parse_body(body.kind, text)) == text


def test_what_may_be_left_out_has_its_default() -> None:
    text = '{"state":"as found","points":[]}'
    check_body("survey recorded", text)
    assert parse_body("survey recorded", text) == SurveyRecorded(SurveyState.AS_FOUND, ())


def changed(path: tuple[str | int, ...], to: Any) -> str:
    content = json.loads(body_text(SURVEY))
    inner = content
    for part in path[:-1]:
        inner = inner[part]
    inner[path[-1]] = to
    return json.dumps(content)


@pytest.mark.parametrize(
    ("path", "to", "where"),
    [
        (("state",), "as lost", "state"),
        (("points",), None, "points"),
        (("points", 0, "note"), "C4", r"points\[0\].note"),
        (("points", 0, "kept"), 1, r"points\[0\].kept"),
        (("points", 0, "colour"), "blue", r"points\[0\].colour"),
        (("figures", "reach_low"), [1], "figures.reach_low"),
        (("conditions", "source"), None, "conditions.source"),
        (("target", "notes"), 69.0, "target.notes"),
        (("clock_ppm",), True, "clock_ppm"),
    ],
)
def test_what_is_wrong_is_refused_by_its_field(
    path: tuple[str | int, ...], to: Any, where: str
) -> None:
    with pytest.raises(InputError, match=f"^survey recorded, field {where}: "):
        check_body("survey recorded", changed(path, to))


@pytest.mark.parametrize("text", ["", "[]", "5", '{"procedure":"x","settings":1e999}', "{" * 5000])
def test_what_is_no_body_at_all_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="field body: "):
        check_body("started", text)
    with pytest.raises(InputError, match="kind: “birds seen” is not a kind of entry"):
        check_body("birds seen", text)

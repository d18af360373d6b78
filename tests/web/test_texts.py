"""The page's words: every key used is there, none is idle, and numbers read as they should."""

from __future__ import annotations

import re
from pathlib import Path
from string import Formatter

import pytest

import pitchwright.web
from pitchwright.web import texts

SOURCES = sorted(Path(pitchwright.web.__file__).parent.rglob("*.py"))
MADE_UP = re.compile(r'f"([a-z -]+\.[a-z -]*)\{')
"""A key that is put together, such as f"bench.{kind}": its beginning."""


def source() -> str:
    return "\n".join(path.read_text(encoding="utf-8") for path in SOURCES)


def test_every_key_that_is_asked_for_has_a_text() -> None:
    asked = set(re.findall(r'say\(\s*"([^"{]+)"', source()))
    assert len(asked) > 80
    assert asked <= set(texts.ENGLISH)


def test_no_text_is_idle() -> None:
    code = source()
    listed = code.split("ENGLISH: Final")[1].split("\n}\n")[0]
    rest = code.replace(listed, "")
    begun = tuple(MADE_UP.findall(rest))
    idle = [
        key
        for key in texts.ENGLISH
        if f'"{key}"' not in rest
        and f"'{key}'" not in rest
        and not (key.startswith(begun) or f".{key}" in rest)
    ]
    # A switch's own text is asked for by the switch's name.
    assert [key for key in idle if not key.endswith(".name") and key not in ("speak", "tick")] == []


def test_every_refusal_has_its_text_and_none_is_idle_or_written_elsewhere() -> None:
    asked = set(re.findall(r'refused\(\s*"([^"]+)"', source())) | {"no sheet"}
    texts_of = {key.removeprefix("refused.") for key in texts.ENGLISH if key.startswith("refused.")}
    assert {key.removesuffix(" do") for key in texts_of} == asked
    spoken = {path.name for path in SOURCES if "InputError(" in path.read_text(encoding="utf-8")}
    assert spoken == {"refusing.py", "serving.py"}, "the latter speaks in the terminal"


def test_every_text_can_be_filled_in() -> None:
    for key, text in texts.ENGLISH.items():
        fields = {name: "x" for _, name, _, _ in Formatter().parse(text) if name}
        assert texts.say(key, **fields)
        assert "{" not in texts.say(key, **fields)


def test_stretched_texts_keep_their_fields() -> None:
    for key, long in texts.stretched(texts.ENGLISH).items():
        wanted = [name for _, name, _, _ in Formatter().parse(texts.ENGLISH[key]) if name]
        assert [name for _, name, _, _ in Formatter().parse(long) if name] == wanted
    both = [len("".join(one.values())) for one in (texts.ENGLISH, texts.stretched(texts.ENGLISH))]
    assert both[1] > 1.3 * both[0]


@pytest.mark.parametrize(
    ("amount", "digits", "words"),
    [
        (1.24, 1, "+1.2"),
        (-1.24, 1, "−1.2"),
        (0.04, 1, "0.0"),
        (-0.04, 1, "0.0"),
        (0.04, 2, "+0.04"),
    ],
)
def test_signed_numbers(amount: float, digits: int, words: str) -> None:
    assert texts.cents(amount, digits) == words


def test_the_large_figure_has_the_digits_it_is_worth() -> None:
    assert texts.count(-234.4, 0.1) == "234"
    assert texts.count(23.44, 0.1) == "23.4"
    assert texts.count(-0.444, 0.1) == "0.4"
    assert texts.count(-0.444, 0.03) == "0.44"
    assert texts.count(0.444, None) == "0.4"


def test_beats_in_words() -> None:
    assert texts.beats(3.24) == "3.2 beats a second"
    assert texts.beats(-3.24) == "3.2 beats a second"
    assert texts.beats(0.4) == "a beat in 2.5 s"
    assert texts.beats(0.05) == "a beat in 20 s"
    assert texts.beats(0.01) == texts.say("beats.none")
    assert texts.beats(40.0) == texts.say("beats.fast")


def test_sense_in_words() -> None:
    assert texts.sense(0.1) == "too sharp"
    assert texts.sense(-0.1) == "too flat"

"""``pitchwright page``: what it refuses before it serves anything."""

from __future__ import annotations

import pytest

from pitchwright.cli import main


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["--port", "70000"], "There is no port 70000"),
        (["--port", "-1"], "There is no port -1"),
        (["--speed", "0"], "A clock cannot run 0 times as fast"),
        (["--speed", "nan"], "A clock cannot run nan times as fast"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(
    arguments: list[str], sentence: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["page", "--no-open", *arguments])
    assert ended.value.code == 2
    assert sentence in capsys.readouterr().err

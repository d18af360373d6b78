"""The guided trim from the terminal: by a simulated hand, by the keyboard, and taken up again."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from pitchwright.cli import console, main
from pitchwright.cli.trimming import KeyboardTurner
from pitchwright.practice.hands import Turned


def run(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        main([str(argument) for argument in arguments])
    said = capsys.readouterr()
    assert isinstance(left.value.code, int)
    return left.value.code, said.out, said.err


def kinds(path: Path) -> list[str]:
    lines = path.read_text(encoding="utf-8").splitlines()
    return [json.loads(line)["what"]["kind"] for line in lines]


def test_a_simulated_hand_brings_heron_home(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    events = tmp_path / "heron.jsonl"
    code, out, err = run(capsys, "trim", "Heron", "--hand", "--events", events)
    assert (code, err) == (0, "")
    assert "Heron: in tune" in out
    assert out.index("As found") < out.index("Visit 1, probe") < out.index("in tune")
    assert kinds(events)[0] == "started"
    assert kinds(events)[-1] == "closed"
    assert "turning" not in kinds(events)


def test_a_wider_range_is_tried_and_what_must_stay_is_left(
    capsys: pytest.CaptureFixture[str],
) -> None:
    wishes = ("--low", "C2", "--high", "C5", "--extend", "C1..C6", "--leave", "Scale trimmer")
    code, out, _ = run(capsys, "trim", "Heron", "--hand", *wishes, "--tolerance", "15")
    assert code == 0
    said = " ".join(out.split())
    assert "now C1 to C6 is tried" in said
    # What is left is surveyed over all of it, the octaves that do not hold as well.
    assert "As left, surveyed afresh" in said
    assert "of 11 from C1 to C6" in said.partition("As left")[2]
    assert ": scale trimmer, at" not in out


def test_what_was_stopped_goes_on_from_its_events(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    whole = tmp_path / "whole.jsonl"
    run(capsys, "trim", "Heron", "--hand", "--events", whole)
    lines = whole.read_text(encoding="utf-8").splitlines(keepends=True)
    first_turn = next(i for i, kind in enumerate(kinds(whole)) if kind == "turn watched")
    stopped = tmp_path / "stopped.jsonl"
    # Stopped behind the first turn, in the middle of writing the next line.
    stopped.write_text("".join(lines[: first_turn + 3]) + lines[first_turn + 3][:20])
    code, out, _ = run(capsys, "trim", "Heron", "--hand", "--events", stopped)
    assert code == 0
    assert "Heron: in tune" in out
    assert "As found" not in out  # nothing is asked twice that is known
    assert kinds(stopped)[-1] == "closed"  # every line of it can be read


def test_who_turns_must_be_said_and_names_must_be_known(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    foreign = tmp_path / "foreign.jsonl"
    foreign.write_text("a shopping list\nmilk\n")
    for arguments, said in (
        (("trim", "Heron"), "There is no bench file yet"),
        (("trim", "Heron", "--hand", "--practice"), "Say who turns"),
        (("trim", "Gull", "--hand"), "no oscillator called Gull"),
        (
            ("trim", "Heron", "--hand", "--low", "C6", "--high", "C1"),
            "No notes lie from C6 up to C1",
        ),
        (("trim", "Heron", "--hand", "--tolerance", "0"), "above zero"),
        (("trim", "Heron", "--hand", "--leave", "wheel"), "no trimmer called “wheel”"),
        (("trim", "Heron", "--hand", "--extend", "C8"), "no range of notes"),
        (("trim", "Heron", "--hand", "--extend", "C3..C4"), "must hold the first one"),
        (("trim", "Heron", "--hand", "--events", str(foreign)), "no events to go on from"),
    ):
        code, _, err = run(capsys, *arguments)
        assert code == 2, arguments
        assert said in err, arguments


class Bench:
    """A trimmer that moves the reading by ten cents a turn."""

    cents = 12.0
    t_s = 0.0

    def turn(self, trimmer: str, turns: float) -> None:
        self.cents += 10.0 * turns

    def bump(self, cents: float) -> None:
        self.cents += cents

    def live_cents(self) -> float:
        return self.cents

    def wait(self, seconds: float) -> None:
        self.t_s += seconds

    def now_s(self) -> float:
        return self.t_s


def test_a_person_turns_until_content(monkeypatch: pytest.MonkeyPatch) -> None:
    typed = iter(["−1", "half", "-0,2", ""])
    monkeypatch.setattr(console, "ask", lambda _: next(typed))
    bench = Bench()
    turned = KeyboardTurner().turn(
        bench,
        asked="scale trimmer",
        start_cents=12.0,
        aim_cents=0.0,
        low_cents=-50.0,
        high_cents=50.0,
        most_turns=None,
        clockwise=None,
    )
    assert isinstance(turned, Turned)
    assert turned.turns == pytest.approx(-1.2)
    assert bench.cents == pytest.approx(0.0)
    assert [cents for _, cents in turned.track] == pytest.approx([12.0, 2.0, 2.0, 0.0])

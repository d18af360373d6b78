"""Ctrl-C and its like while a bench is open: nothing is thrown into it, it stops where it waits."""

from __future__ import annotations

import signal
from types import SimpleNamespace
from typing import Any

import pytest

from pitchwright.bench.live.bench_file import BenchFile
from pitchwright.bench.stop import Stop, StopAsked
from pitchwright.cli import live
from pitchwright.procedures.requests import Ask, Choice


class FakeBench:
    """Writes down how it was opened and that it was closed."""

    def __init__(self, **given: Any) -> None:
        self.stop: Stop = given["stop"]
        self.choose = given["choose_key"]
        self.closed = False

    def __enter__(self) -> FakeBench:
        return self

    def __exit__(self, *_: object) -> None:
        self.closed = True
        signal.raise_signal(signal.SIGINT)  # pressed once more while it closes

    def advance(self) -> None:
        """Nothing to end."""


@pytest.fixture
def described(monkeypatch: pytest.MonkeyPatch) -> BenchFile:
    monkeypatch.setattr(live, "connect", lambda _, **given: FakeBench(**given))
    return BenchFile.model_validate({"oscillator": {"Heron": {"channel": 1}}})


@pytest.mark.parametrize(
    "name", [name for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)]
)
def test_any_number_of_signals_is_one_wish_to_stop(described: BenchFile, name: str) -> None:
    before = signal.getsignal(signal.SIGINT)
    with live.connected(described, (), a4_hz=440.0) as bench:
        opened: Any = bench
        for _ in range(5):
            signal.raise_signal(getattr(signal, name))
        assert opened.stop.asked
        with pytest.raises(StopAsked):
            opened.stop.wait(60.0)
    assert opened.closed
    assert signal.getsignal(signal.SIGINT) is before


def test_a_question_can_be_stopped(described: BenchFile) -> None:
    with live.connected(described, (), a4_hz=440.0) as bench:
        opened: Any = bench
        opened.choose.__self__._listening = True
        signal.raise_signal(signal.SIGINT)
        with pytest.raises(StopAsked):
            opened.choose(Ask("go on", "Go on?", (Choice("yes", "Yes"),), "yes"))


def test_a_wish_that_nothing_looks_at_is_thrown_in_the_end(
    described: BenchFile, monkeypatch: pytest.MonkeyPatch
) -> None:
    now_s = [100.0]
    monkeypatch.setattr(live, "time", SimpleNamespace(monotonic=lambda: now_s[0]))
    with live.connected(described, (), a4_hz=440.0):
        signal.raise_signal(signal.SIGINT)
        now_s[0] += 9.0
        signal.raise_signal(signal.SIGINT)
        now_s[0] += 2.0
        with pytest.raises(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)
        now_s[0] = 100.0

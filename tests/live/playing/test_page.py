"""The page's conductor on a real live bench: survey, trim and warm-up, as a screen asks for them.

The stand-in's own truth says whether the trim brought the oscillator in tune.
"""

from __future__ import annotations

import json
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from pitchwright.units import cents_between, note_to_hz

pytestmark = pytest.mark.needs("pulseaudio", "pulseaudio-utils", "libportaudio2")

PATIENCE_S = 240.0


class Conducted:
    """The conductor in its own process."""

    def __init__(self, bench: Any) -> None:
        self.process = subprocess.Popen(
            [sys.executable, str(Path(__file__).with_name("conducted.py")), str(bench.file)],
            env=bench.env,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )

    def ask(self, *call: Any) -> dict[str, Any]:
        """Call it; what is shown then."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.write(json.dumps(call) + "\n")
        self.process.stdin.flush()
        seen: dict[str, Any] = json.loads(self.process.stdout.readline())
        assert seen["fault"] == seen["refused"] == "", seen
        return seen

    def until(
        self,
        wanted: Callable[[dict[str, Any]], bool],
        also: Callable[[dict[str, Any]], None] = lambda _: None,
    ) -> dict[str, Any]:
        """Look until it is as wanted."""
        until_s = time.monotonic() + PATIENCE_S
        while time.monotonic() < until_s:
            seen = self.ask("look")
            also(seen)
            if wanted(seen):
                return seen
            time.sleep(0.05)
        raise AssertionError(f"it never came to that: {seen}")

    def end(self) -> None:
        """End it as the end of the page does."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.close()
        assert self.process.wait(PATIENCE_S) == 0
        self.process.stdout.close()


@pytest.fixture
def conduct() -> Iterator[Callable[[Any], Conducted]]:
    started: list[Conducted] = []

    def start(bench: Any) -> Conducted:
        started.append(Conducted(bench))
        return started[-1]

    yield start
    for one in started:
        if one.process.poll() is None:
            one.process.kill()
        one.process.wait(30)
        for pipe in (one.process.stdin, one.process.stdout):
            if pipe is not None:
                pipe.close()


@pytest.mark.xfail(
    strict=False,
    reason="after a survey of two notes near each other a bench that is used again takes the note"
    " before for the one asked for, and the trim ends without readings: a known fault",
)
def test_survey_trim_and_warm_up_on_a_live_bench(
    make_bench: Callable[..., Any], conduct: Callable[[Any], Conducted]
) -> None:
    bench, _ = make_bench()
    heron = bench.stand_in("--voltage-in", "voltage_out")
    page = conduct(bench)
    page.until(lambda seen: seen["connected"])

    page.ask("survey", ["Heron"], 54.0, 60.0)
    surveyed = page.until(lambda seen: seen["phase"] == "ended")["surveyed"]["Heron"]
    assert [note for note, _, _ in surveyed] == [54, 60, 54, 60]
    truth_hz = dict(zip((54, 60), heron.f_hz(2.5, 3.0), strict=True))
    for note, f_hz, kept in surveyed:
        assert not kept or abs(cents_between(f_hz, truth_hz[note])) < 0.3
    assert any(kept for _, _, kept in surveyed)

    turned: list[Any] = []

    def turn(seen: dict[str, Any]) -> None:
        if seen["phase"] == "asking":  # the hand is away: a stand-in has none
            page.ask("choose", seen["answer"])
        elif seen["turn"] is not None and seen["turn"] not in turned:
            turned.append(seen["turn"])
            heron.tell(f'bring Heron "{seen["trimmer"]}" {seen["aim_hz"]}')
        elif seen["turn"] is None:
            heron.tell("bring Heron")

    page.ask("trim", "Heron", 48.0, 60.0)
    seen = page.until(lambda seen: seen["phase"] == "ended", turn)
    assert seen["verdict"] == "in tune"
    assert seen["live"] > 20, "live readings came while it was turned"
    for note, f_hz in zip((48, 54, 60), heron.f_hz(2.0, 2.5, 3.0), strict=True):
        assert abs(cents_between(f_hz, note_to_hz(note))) < 1.0

    page.ask("warm_up", ["Heron"])
    page.until(lambda seen: seen["procedure"] == "warm-up watch" and seen["readings"] >= 1)
    page.ask("end_watch")
    assert page.until(lambda seen: seen["phase"] == "ended")["forecasts"] == ["Heron"]
    page.end()
    assert abs(heron.tell("voltmeter")["volts"]) < 0.001, "no voltage is left standing"

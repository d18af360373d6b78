"""A warm-up watch and an ensemble check over a real sound server, against the stand-in's truth."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from pitchwright.bench.runner import run
from pitchwright.cli.kept_events import keeping
from pitchwright.procedures.requests import Heard, NotePlayed, ReadingsTaken, Waited
from pitchwright.procedures.warmup_watch import WatchSettings, warmup_watch
from pitchwright.units import cents_between

pytestmark = pytest.mark.needs("pulseaudio", "pulseaudio-utils", "libportaudio2")


def happened(tool: Any, kind: str) -> list[dict[str, Any]]:
    lines = tool.events.read_text(encoding="utf-8").splitlines()
    return [what for line in lines if (what := json.loads(line)["what"])["kind"] == kind]


OSCILLATORS = ("Heron", "Wren")


class Stopped:
    """A bench on which a watch took one reading before somebody pressed Ctrl-C."""

    def __init__(self, f_hz: tuple[float, ...]) -> None:
        self.f_hz = f_hz
        self.read = False

    def now_s(self) -> float:
        return 2.0

    def play(self, request: Any) -> NotePlayed:
        return NotePlayed(2.0)

    def pass_time(self, request: Any) -> Waited:
        if self.read:
            raise KeyboardInterrupt
        return Waited(2.0)

    def listen(self, request: Any) -> ReadingsTaken:
        self.read = True
        return ReadingsTaken(
            tuple(
                Heard(name, 2.0, f_hz, 0.02)
                for name, f_hz in zip(OSCILLATORS, self.f_hz, strict=True)
            )
        )

    def watch(self, request: Any, live: Any) -> Any:
        raise AssertionError

    def choose(self, request: Any) -> Any:
        raise AssertionError


def test_a_watch_goes_on_from_where_it_was_stopped(
    make_bench: Callable[..., Any], tmp_path: Path
) -> None:
    bench, _ = make_bench(oscillators=OSCILLATORS)
    rig = bench.stand_in("--voltage-in", "voltage_out", "--only", ", ".join(OSCILLATORS))
    table, kept = tmp_path / "readings.csv", tmp_path / "events.jsonl"
    truth = [rig.f_hz(3.0, name=name)[0] for name in OSCILLATORS]
    settings = WatchSettings(OSCILLATORS, every_s=0.5)
    with pytest.raises(KeyboardInterrupt):
        run(
            warmup_watch(settings),
            Stopped((truth[0], truth[1])),
            [keeping(kept)],
            name="warm-up watch",
            settings=settings,
        )
    before = len(kept.read_text(encoding="utf-8").splitlines())
    watch = bench.tool("warmup", "--no-chart", "--csv", str(table), keyboard=True)
    for _ in range(3):  # the first is that of before
        watch.until(lambda what: what["kind"] == "readings taken", lambda what: None)
    watch.press_enter()
    assert watch.wait() == 0, watch.said()
    assert len(kept.read_text(encoding="utf-8").splitlines()) > before
    read = happened(watch, "readings taken")
    assert len(read) >= 3
    assert happened(watch, "started")[1]["resumed"]
    assert {what["cv_v"] for what in happened(watch, "play note")} == {3.0}
    for name, true_hz in zip(OSCILLATORS, truth, strict=True):
        heard = [one["f_hz"] for what in read for one in what["heard"] if one["oscillator"] == name]
        assert max(abs(cents_between(f_hz, true_hz)) for f_hz in heard) < 0.3
    # The clock goes on, and all of it, before and after the interruption, is in the table.
    moments = [what["heard"][0]["t_s"] for what in read]
    assert moments == sorted(moments)
    lines = table.read_text(encoding="utf-8").splitlines()
    assert lines[0] == "t_s,Heron f_hz,Wren f_hz"
    assert len(lines) == 1 + len(read)
    assert "Too early to say" in watch.said()


def test_an_ensemble_is_heard_all_at_once(make_bench: Callable[..., Any]) -> None:
    bench, _ = make_bench(oscillators=OSCILLATORS)
    rig = bench.stand_in("--voltage-in", "voltage_out", "--only", ", ".join(OSCILLATORS))
    check = bench.tool("ensemble", "--notes", "C2, C4, C5")
    assert check.wait() == 0, check.said()
    pairs = happened(check, "pairs heard")
    assert {what["note"] for what in pairs} == {36.0, 60.0, 72.0}
    for what in pairs:
        (heron,), (wren,) = (
            rig.f_hz((what["note"] - 24.0) / 12.0, name=name) for name in ("Heron", "Wren")
        )
        (pair,) = what["pairs"]
        assert pair["cents"] == pytest.approx(cents_between(heron, wren), abs=0.3)
    assert "Farthest apart: Heron and Wren" in check.said()

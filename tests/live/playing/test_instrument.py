"""A warm-up watch and an ensemble check over a real sound server, against the stand-in's truth."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from pitchwright.units import cents_between

pytestmark = pytest.mark.needs("pulseaudio", "pulseaudio-utils", "libportaudio2")


def happened(run: Any, kind: str) -> list[dict[str, Any]]:
    lines = run.events.read_text(encoding="utf-8").splitlines()
    return [what for line in lines if (what := json.loads(line)["what"])["kind"] == kind]


def test_a_watch_goes_on_from_where_it_was_stopped(
    make_bench: Callable[..., Any], tmp_path: Path
) -> None:
    bench, _ = make_bench(oscillators=("Heron", "Wren"))
    rig = bench.stand_in("--voltage-in", "voltage_out", "--only", "Heron, Wren")
    table = tmp_path / "readings.csv"
    asked = ("warmup", "--longest", "0.15", "--every", "2", "--no-chart", "--csv", str(table))
    run = bench.tool(*asked)
    run.until(lambda what: what["kind"] == "readings taken", lambda what: None)
    assert run.interrupt() == 130
    run = bench.tool(*asked)
    assert run.wait() == 0, run.said()
    read = happened(run, "readings taken")
    assert len(read) >= 3
    (cv_v,) = {what["cv_v"] for what in happened(run, "play note")}
    for name in ("Heron", "Wren"):
        (truth,) = rig.f_hz(cv_v, name=name)
        heard = [one["f_hz"] for what in read for one in what["heard"] if one["oscillator"] == name]
        assert max(abs(cents_between(f_hz, truth)) for f_hz in heard) < 0.3
    # All of it, before and after the interruption, is in the table.
    lines = table.read_text(encoding="utf-8").splitlines()
    assert lines[0] == "t_s,Heron f_hz,Wren f_hz"
    assert len(lines) == 1 + len(read)
    assert "Too early to say" in run.said()


def test_an_ensemble_is_heard_all_at_once(make_bench: Callable[..., Any]) -> None:
    bench, _ = make_bench(oscillators=("Heron", "Wren"))
    rig = bench.stand_in("--voltage-in", "voltage_out", "--only", "Heron, Wren")
    run = bench.tool("ensemble", "--notes", "C2, C4, C5")
    assert run.wait() == 0, run.said()
    pairs = happened(run, "pairs heard")
    assert {what["note"] for what in pairs} == {36.0, 60.0, 72.0}
    for what in pairs:
        (heron,), (wren,) = (
            rig.f_hz((what["note"] - 24.0) / 12.0, name=name) for name in ("Heron", "Wren")
        )
        (pair,) = what["pairs"]
        assert pair["cents"] == pytest.approx(cents_between(heron, wren), abs=0.3)
    assert "Farthest apart: Heron and Wren" in run.said()

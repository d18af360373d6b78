"""The bench file made by answering questions, and calibrated with the stand-in as the voltmeter."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from typing import Any

import pytest

from pitchwright.bench.live.bench_file import read_bench

pytestmark = pytest.mark.needs("pulseaudio", "pulseaudio-utils", "libportaudio2")

MAIN = "from pitchwright.cli.app import main; main()"


def test_setup_and_calibration_make_a_bench_that_works(make_bench: Callable[..., Any]) -> None:
    bench, _ = make_bench()
    bench.file.unlink()
    heron = bench.stand_in("--voltage-in", "voltage_out", "--volts", "9.5")
    # Devices are listed as sound_in, sound_out, voltage_in, voltage_out.
    answers = ["2", "Heron", "3", "3", "1", "y", "cfsh"]
    made = subprocess.run(
        [sys.executable, "-c", MAIN, "bench", "setup", "--bench", str(bench.file)],
        env=bench.env,
        input="\n".join(answers) + "\n",
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert made.returncode == 0, made.stdout + made.stderr
    assert "DC-coupled" in made.stdout
    assert "ten volts peak to peak" in made.stdout
    described = read_bench(bench.file)
    assert described.notes == "voltage"
    assert list(described.oscillator) == ["Heron"]
    assert [one.kind for one in described.oscillator["Heron"].trimmer] == [
        *("base coarse", "base fine", "scale", "high end")
    ]
    refused = bench.tool("survey", "--notes", "C3, C4, C5")
    assert refused.wait() == 2
    assert "The control voltage output is not calibrated" in refused.said()
    calibrating = subprocess.Popen(
        [sys.executable, "-c", MAIN, "bench", "calibrate", "--bench", str(bench.file)],
        env=bench.env,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    with calibrating:
        assert calibrating.stdin is not None
        for level in (0.0, 0.2, 0.4, 0.6, 0.8):
            shown = _shown(heron, 9.5 * level)
            calibrating.stdin.write(f"{shown:.3f}\n")
            calibrating.stdin.flush()
        said, _ = calibrating.communicate("0.1\n", timeout=120)
    assert calibrating.returncode == 0, said
    described = read_bench(bench.file)
    assert described.voltage_out is not None
    assert described.voltage_out.calibration is not None
    line = described.voltage_out.calibration.calibration()
    assert abs(line.volts_per_unit - 9.5) < 0.002
    assert abs(line.offset_v) < 0.002
    assert 0.5 < line.u_scale_cents_per_oct < 1.0  # 0.1 % limits, 1.2 cents, over root three
    _shown(heron, 0.0)


def _shown(heron: Any, expected_v: float) -> float:
    """What the voltmeter shows once it stands still near what is expected."""
    until_s = time.monotonic() + 60.0
    while time.monotonic() < until_s:
        shown = float(heron.tell("voltmeter")["volts"])
        if abs(shown - expected_v) < 0.01:
            return shown
        time.sleep(0.1)
    raise AssertionError(f"the voltage never came near {expected_v} V")

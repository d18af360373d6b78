"""A program that ends without closing its voltage output, and what another one records of it."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest

pytestmark = pytest.mark.needs(
    "pulseaudio", "pulseaudio-utils", "libasound2-plugins", "libportaudio2"
)

RATE_HZ = 48_000
LEVEL = 0.5
PATIENCE_S = 120.0
PROGRAM = f"""
from pitchwright.bench.live.calibration import Measured, fit_calibration
from pitchwright.bench.live.notes_voltage import ControlVoltage, VoltageNotes

line = fit_calibration([Measured(level, 10.0 * level, 1e-3) for level in (0.0, 0.2, {LEVEL})])
output = ControlVoltage("aud_in", channel=1, rate_hz={RATE_HZ}, marked=True, latency_s=0.2)
notes = VoltageNotes(output, line, "line out")
notes.play(60.0, 10.0 * {LEVEL})
print("up", flush=True)
input()
raise RuntimeError("nobody closes anything")
"""


def test_the_voltage_goes_back_to_0_however_the_program_ends(
    make_pulse: Any, tmp_path: Path
) -> None:
    pulse = make_pulse("aud")
    pipe = subprocess.PIPE
    recorded = tmp_path / "voltage.raw"
    with recorded.open("wb") as file:
        words = ["parec", "--device=aud.monitor", "--format=float32le", f"--rate={RATE_HZ}"]
        recorder = subprocess.Popen([*words, "--channels=2"], env=pulse.env, stdout=file)
        try:
            words = [sys.executable, "-c", PROGRAM]
            program = subprocess.Popen(
                words, env=pulse.env, text=True, stdin=pipe, stdout=pipe, stderr=pipe
            )
            assert program.stdout is not None
            assert program.stdout.readline() == "up\n"
            wait_until(lambda: abs(last_level(recorded) - LEVEL) < 1e-3)
            _, said = program.communicate("\n", timeout=PATIENCE_S)
            wait_until(lambda: abs(last_level(recorded)) < 1e-3)
        finally:
            recorder.terminate()
            recorder.wait(30)
    assert "nobody closes anything" in said
    voltage = levels(recorded)
    fall = voltage[np.flatnonzero(voltage > 0.99 * LEVEL)[-1] + 1 :]
    # An output that is cut off falls in one sample; one that is brought down, slowly.
    assert np.count_nonzero(fall > 0.01 * LEVEL) > 300
    assert -np.diff(fall).min() < 0.01 * LEVEL


def levels(recorded: Path) -> np.ndarray[Any, np.dtype[np.float32]]:
    sound = np.fromfile(recorded, np.float32)
    return sound[: len(sound) // 2 * 2 : 2]


def last_level(recorded: Path) -> float:
    there = levels(recorded)
    return float(there[-1]) if len(there) else 0.0


def wait_until(true: Any) -> None:
    until_s = time.monotonic() + PATIENCE_S
    while not true():
        assert time.monotonic() < until_s
        time.sleep(0.05)

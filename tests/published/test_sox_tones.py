"""Tones made by an independent program: SoX, Sound eXchange (sox.sourceforge.net), effect synth.

Its triangle, saw and square are sampled as they are, without a limit to the band, so that their
corners alias; the frequency is exact all the same.
"""

import subprocess
from pathlib import Path

import pytest
import soundfile

from pitchwright.pitch import FlagKind, read
from pitchwright.units import cents_between

pytestmark = pytest.mark.needs("sox")


def made(folder: Path, *synth: str, rate_hz: int = 48_000) -> Path:
    out = folder / "tone.wav"
    subprocess.run(
        [
            "sox",
            "-R",
            "-n",
            "-r",
            str(rate_hz),
            "-b",
            "24",
            str(out),
            "synth",
            *synth,
            "gain",
            "-6",
        ],
        check=True,
        capture_output=True,
    )
    return out


@pytest.mark.parametrize("rate_hz", [44_100, 96_000])
@pytest.mark.parametrize("shape", ["sine", "triangle", "sawtooth", "square"])
@pytest.mark.parametrize("f_hz", [32.7032, 261.6256, 440.0, 3951.066])
def test_a_tone_of_sox_is_read(tmp_path: Path, shape: str, f_hz: float, rate_hz: int) -> None:
    samples, rate = soundfile.read(made(tmp_path, "1", shape, f"{f_hz}", rate_hz=rate_hz))
    reading = read(samples, rate)
    assert reading.f_hz is not None
    off_cents = cents_between(reading.f_hz, f_hz)
    # Edges that fall on whole samples only are as good as a clock that does.
    assert abs(off_cents) < (0.02 if shape in ("sawtooth", "square") else 5e-4)
    assert abs(off_cents) < max(4 * reading.u_cents, 1e-5)


@pytest.mark.parametrize("kind", ["whitenoise", "pinknoise", "brownnoise"])
def test_noise_of_sox_has_no_pitch(tmp_path: Path, kind: str) -> None:
    samples, rate = soundfile.read(made(tmp_path, "1", kind))
    assert read(samples, rate).has(FlagKind.NO_PITCH)


def test_a_sweep_of_sox_is_unsteady(tmp_path: Path) -> None:
    samples, rate = soundfile.read(made(tmp_path, "1", "sine", "440:450"))
    assert read(samples, rate).has(FlagKind.UNSTEADY)

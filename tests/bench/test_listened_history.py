from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile as sf
from numpy.typing import NDArray

from pitchwright.bench.listened_history import listen_history
from pitchwright.errors import InputError
from pitchwright.units import cents_between

RATE = 22050


def tone(f_hz: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(0.4 * np.sin(2.0 * np.pi * np.cumsum(f_hz) / RATE))


def recorded(tmp_path: Path, *channels: NDArray[np.float64]) -> Path:
    file = tmp_path / "held.wav"
    sf.write(file, np.column_stack(channels), RATE, subtype="PCM_24")
    return file


def test_a_drifting_tone_is_followed(tmp_path: Path) -> None:
    t_s = np.arange(RATE * 60) / RATE
    f_hz = 220.0 * np.exp2(10.0 * t_s / 60.0 / 1200.0)
    done: list[float] = []
    history = listen_history(recorded(tmp_path, tone(f_hz)), 5.0, ("Heron",), done.append)
    (heron,) = history.traces
    assert heron.name == "Heron"
    assert history.t_s == pytest.approx(np.arange(0.0, 60.0, 5.0))
    middle_s = history.t_s + 1.0
    expected = cents_between(220.0 * np.exp2(10.0 * middle_s / 60.0 / 1200.0), 220.0)
    assert heron.cents - heron.cents[0] == pytest.approx(expected - expected[0], abs=0.02)
    assert done[-1] == 1.0
    assert history.remarks == ()


def test_another_note_and_silence_are_left_out_and_said(tmp_path: Path) -> None:
    f_hz = np.full(RATE * 60, 220.0)
    f_hz[RATE * 20 : RATE * 30] = 330.0
    sound = tone(f_hz)
    sound[RATE * 40 : RATE * 50] = 0.0
    history = listen_history(recorded(tmp_path, sound, 0.0 * sound), 5.0)
    (heard,) = history.traces
    assert heard.name == "channel 1"
    assert np.isnan(heard.cents[[4, 5, 8, 9]]).all()
    assert np.isfinite(heard.cents).sum() == 8
    assert history.remarks == (
        "channel 1: 4 of 12 moments had no usable reading.",
        "channel 2: no steady note was heard, so it is left out.",
    )


def test_what_cannot_be_used(tmp_path: Path) -> None:
    file = recorded(tmp_path, np.zeros(RATE * 30))
    with pytest.raises(InputError, match="No channel holds a steady note"):
        listen_history(file)
    with pytest.raises(InputError, match="2 names for 1 channels"):
        listen_history(file, names=("a", "b"))
    with pytest.raises(InputError, match="every 0 s cannot be"):
        listen_history(file, 0.0)
    with pytest.raises(InputError, match="too short for a history"):
        listen_history(file, 40.0)

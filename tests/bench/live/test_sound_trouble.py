"""What is said of the sound while somebody turns, and for how long."""

from __future__ import annotations

import numpy as np
import pytest

from pitchwright.bench.live.sound_trouble import SoundTrouble, TroubleWatch
from pitchwright.pitch.live import LiveReading, LiveTracker

RATE_HZ = 48_000


def reading(level_dbfs: float = -12.0, *, clipped: bool = False) -> LiveReading:
    return LiveReading(0.0, 440.0, 0.1, level_dbfs, True, clipped, (), 0.2)


@pytest.fixture
def said() -> list[SoundTrouble | None]:
    return []


@pytest.mark.parametrize(
    ("bad", "kind"),
    [(reading(clipped=True), SoundTrouble.CLIPPED), (reading(-55.0), SoundTrouble.QUIET)],
)
def test_what_lasts_is_said_once_and_unsaid_some_seconds_after(
    said: list[SoundTrouble | None], bad: LiveReading, kind: SoundTrouble
) -> None:
    watch = TroubleWatch(said.append)
    for step in range(60):
        watch.saw(10.0 + 0.05 * step, bad)
    assert said == [kind]
    watch.saw(14.0, reading())
    assert said == [kind]
    watch.saw(17.0, reading())
    assert said == [kind, None]


def test_a_single_block_is_not_worth_a_word(said: list[SoundTrouble | None]) -> None:
    watch = TroubleWatch(said.append)
    for step in range(100):
        watch.saw(0.05 * step, reading(clipped=step % 10 == 0))
    assert said == []


def test_lost_samples_are_said_at_once_and_clipping_before_them(
    said: list[SoundTrouble | None],
) -> None:
    watch = TroubleWatch(said.append)
    watch.lost(0.0)
    assert said == [SoundTrouble.GAPS]
    for step in range(10):
        watch.saw(0.05 * step, reading(clipped=True))
    assert said == [SoundTrouble.GAPS, SoundTrouble.CLIPPED]
    watch.over()
    assert said[-1] is None


def test_the_tracker_says_it_of_real_sound(said: list[SoundTrouble | None]) -> None:
    turn = 2.0 * np.pi * 440.0 * np.arange(RATE_HZ) / RATE_HZ
    for gain, kind in ((3.0, SoundTrouble.CLIPPED), (0.001, SoundTrouble.QUIET)):
        tracker, watch = LiveTracker(RATE_HZ), TroubleWatch(said.append)
        for one in tracker.push(np.clip(gain * np.sin(turn), -1.0, 1.0)):
            watch.saw(one.end_s, one)
        assert said == [kind]
        said.clear()

"""Sound found again by the time it came; gaps are not read over."""

from __future__ import annotations

import time

import numpy as np

from pitchwright.bench.live.sample_clock import SampleClock
from pitchwright.bench.live.sound_in import Block, SoundState
from pitchwright.bench.live.sound_memory import SoundMemory

RATE_HZ = 1000.0


class Source:
    """Brings what it is given; sample n arrived at n milliseconds, some lateness besides."""

    rate_hz, channels, state = RATE_HZ, 1, SoundState.RUNNING

    def __init__(self) -> None:
        self.begin_s = time.monotonic() - 60.0
        self.blocks: list[Block] = []

    def bring(self, first: int, count: int, *, late_s: float = 0.0, missing: int = 0) -> None:
        samples = np.arange(first, first + count, dtype=np.float32)[:, None]
        arrived_s = self.begin_s + (first + count) / RATE_HZ + late_s
        self.blocks.append(Block(samples, first, missing, missing > 0, arrived_s))

    def read_new(self, wait_s: float = 0.0) -> list[Block]:
        del wait_s
        new, self.blocks = self.blocks, []
        return new

    def reopen(self) -> bool:
        return True

    def close(self) -> None:
        """Nothing to close."""


def test_a_span_is_found_however_late_callbacks_come() -> None:
    source = Source()
    memory = SoundMemory(source, keep_s=5.0)
    rng = np.random.default_rng(1)
    for place in range(40):
        late_s = 0.0 if place == 7 else float(rng.uniform(0.0, 0.08))
        source.bring(100 * place, 100, late_s=late_s)
    memory.pump()
    span = memory.span(0, source.begin_s + 2.0, source.begin_s + 2.5)
    assert span is not None
    assert span[0] in (1999.0, 2000.0, 2001.0)
    assert abs(len(span) - 500) <= 1
    assert np.all(np.diff(span) == 1.0)


def test_what_is_forgotten_or_not_here_yet_or_has_a_gap_is_no_span() -> None:
    source = Source()
    memory = SoundMemory(source, keep_s=2.0)
    source.bring(0, 3000)
    memory.pump()
    assert memory.span(0, source.begin_s + 0.1, source.begin_s + 0.4) is None
    assert memory.span(0, source.begin_s + 2.5, source.begin_s + 3.5) is None
    source.bring(3200, 800, missing=200)
    memory.pump()
    assert memory.gaps == 1
    assert memory.span(0, source.begin_s + 2.5, source.begin_s + 3.5) is None
    assert memory.span(0, source.begin_s + 3.3, source.begin_s + 3.9) is not None


def test_a_clock_follows_when_the_stream_and_the_computer_drift_apart() -> None:
    clock = SampleClock(48_000.0)
    for place in range(4000):  # 400 s at 100 ppm too slow
        clock.saw(4800 * place, 10.0 + 0.1 * place * 1.0001)
    newest = 4800 * 3999
    assert abs(clock.t_s(newest) - (10.0 + 0.1 * 3999 * 1.0001)) < 0.005
    assert abs(clock.sample(clock.t_s(newest)) - newest) < 1e-3
    clock.restart()
    assert np.isnan(clock.t_s(0))


def test_a_stream_that_stood_still_is_counted_from_anew_and_a_late_callback_is_not() -> None:
    clock = SampleClock(48_000.0)
    slips = [clock.saw(4800 * n, 5.0 + 0.1 * n) for n in range(50)]
    slips += [clock.saw(4800 * 50, 10.0 + 0.4)]  # one late callback
    slips += [clock.saw(4800 * n, 5.0 + 0.1 * n) for n in range(51, 80)]
    assert not any(slips)
    stood_s = 2.0
    slips = [clock.saw(4800 * n, 5.0 + stood_s + 0.1 * n) for n in range(80, 110)]
    assert slips.count(True) == 1
    assert abs(clock.t_s(4800 * 110) - (5.0 + stood_s + 11.0)) < 1e-6

"""Several channels at once, from blocks that come as a device would bring them."""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf
from numpy.typing import NDArray

from pitchwright.bench.live.hearing import Beside, HeardNow, Hearing
from pitchwright.bench.live.played import PlayedRecording
from pitchwright.bench.live.sound_in import Block, SoundState
from pitchwright.errors import InputError
from pitchwright.units import cents_between, ratio_of_cents

RATE_HZ = 48_000
Array = NDArray[np.float64]


def saw(f_hz: float, seconds: float) -> Array:
    turn = np.exp(2j * np.pi * f_hz * np.arange(round(seconds * RATE_HZ)) / RATE_HZ)
    x, power = np.zeros(len(turn)), np.ones_like(turn)
    for k in range(1, int(0.45 * RATE_HZ / f_hz) + 1):
        power *= turn
        x += 0.3 * power.imag / k
    return x


class Blocks:
    """A source that brings what it was given, one block a call, and may be gone for a while."""

    rate_hz = float(RATE_HZ)
    state = SoundState.RUNNING

    def __init__(self, *blocks: Block) -> None:
        self.blocks = list(blocks)
        self.channels = blocks[0].samples.shape[1] if blocks else 1
        self.reopened = 0

    def read_new(self, wait_s: float = 0.0) -> list[Block]:
        return [self.blocks.pop(0)] if self.blocks else []

    def reopen(self) -> bool:
        self.reopened += 1
        return False

    def close(self) -> None:
        pass


def block(*channels: Array, first: int = 0, missing: int = 0, gap: bool = False) -> Block:
    sound = np.stack(channels, axis=1).astype(np.float32)
    return Block(sound, first, missing, gap, time.monotonic())


def last(heard: list[HeardNow], name: str) -> HeardNow:
    return [one for one in heard if one.name == name][-1]


def test_beats_are_counted_against_the_nearest_octave() -> None:
    near = Beside.of(262.0, 261.0)
    assert near.beats_hz == pytest.approx(1.0)
    assert near.cents == pytest.approx(cents_between(262.0, 261.0))
    # An octave up, the reference's second harmonic beats; an octave down, the channel's own.
    assert Beside.of(523.0, 261.0).beats_hz == pytest.approx(1.0)
    assert Beside.of(131.0, 261.0).beats_hz == pytest.approx(1.0)
    assert Beside.of(261.0 * 2 ** (5 / 12), 261.0).beats_hz is None


def test_the_clock_is_in_the_uncertainty_unless_there_is_a_reference() -> None:
    one, other = saw(261.0, 1.0), saw(262.0, 1.0)
    alone = Hearing(Blocks(block(one, other)), ["Heron", "Wren"], clock_ppm=100.0).update()
    assert last(alone, "Wren").u_cents == pytest.approx(0.173, abs=0.002)
    assert last(alone, "Wren").beside is None
    source = Blocks(block(one, other))
    heard = Hearing(source, ["Heron", "Wren"], reference="Wren", clock_ppm=100.0).update()
    beside = last(heard, "Heron").beside
    assert beside is not None
    assert beside.ratio == pytest.approx(261.0 / 262.0, rel=1e-6)
    assert beside.beats_hz == pytest.approx(1.0, abs=1e-3)
    assert last(heard, "Heron").u_cents < 0.01
    assert last(heard, "Wren").beside is None


def test_a_clock_that_is_off_drops_out_beside_a_reference() -> None:
    off = ratio_of_cents(3.0)
    source = Blocks(block(saw(261.0 * off, 1.0), saw(330.0 * off, 1.0)))
    heard = Hearing(source, ["Heron", "Wren"], reference="Heron").update()
    beside = last(heard, "Wren").beside
    assert beside is not None
    assert beside.ratio == pytest.approx(330.0 / 261.0, rel=1e-6)


def test_a_gap_is_said_and_what_came_before_it_forgotten() -> None:
    said: list[str] = []
    whole = saw(261.0, 2.0)
    parts = [
        block(whole[:48_000]),
        block(whole[60_000:], first=60_000, missing=12_000, gap=True),
    ]
    hearing = Hearing(Blocks(*parts), ["Heron"], say=said.append)
    before = hearing.update()
    after = hearing.update()
    assert before[-1].reading.window_s > 0.9
    assert hearing.gaps == 1
    assert "lost" in said[0]
    told = [one.reading for one in after if one.reading.f_hz is not None]
    assert told[0].window_s < 0.1
    assert all(abs(cents_between(r.f_hz or 1.0, 261.0)) < 0.01 for r in told)
    assert after[-1].reading.end_s == pytest.approx(2.0, abs=0.06)


def test_a_source_that_is_gone_is_tried_again_and_its_return_told() -> None:
    said: list[str] = []
    source = Blocks(block(saw(261.0, 0.2)))
    hearing = Hearing(source, ["Heron"], say=said.append)
    hearing.update(0.0)
    source.state = SoundState.LOST
    hearing.update(0.0)
    hearing.update(0.0)
    assert source.reopened == 1
    source.state = SoundState.RUNNING
    hearing.update(0.0)
    assert said == [
        "The sound input is gone; it is tried again until it is back.",
        "The sound is back.",
    ]


def test_names_must_differ_and_the_reference_be_there() -> None:
    with pytest.raises(InputError, match="the same name"):
        Hearing(Blocks(), ["Heron", "Heron"])
    with pytest.raises(InputError, match="no channel called “Wren”"):
        Hearing(Blocks(), ["Heron"], reference="Wren")


@pytest.mark.parametrize("in_real_time", [False, True])
def test_a_recording_is_heard_as_if_it_came_now(tmp_path: Path, in_real_time: bool) -> None:
    path = tmp_path / "one.wav"
    sound = np.stack([saw(261.0, 0.9), saw(440.0, 0.9)], axis=1)
    sf.write(path, sound, RATE_HZ, subtype="FLOAT")
    began = time.monotonic()
    with PlayedRecording(path, channels=(2,), in_real_time=in_real_time) as source:
        taken = Hearing(source, ["Wren"]).take(wanted_u_cents=0.0, most_s=60.0)
    assert abs(cents_between(taken["Wren"].f_hz or 1.0, 440.0)) < 0.01
    assert (time.monotonic() - began > 0.85) or not in_real_time
    with pytest.raises(InputError, match="no channel 3"):
        PlayedRecording(path, channels=(3,))


def test_a_careful_take_ends_at_its_deadline_where_nothing_settles() -> None:
    sweep = np.sin(np.cumsum(np.linspace(0.02, 0.1, 48_000)))
    taken = Hearing(Blocks(block(sweep)), ["Heron"]).take(most_s=0.3)
    assert taken["Heron"].flags


def test_a_source_that_brings_nothing_is_an_error() -> None:
    with pytest.raises(InputError, match="not even silence"):
        Hearing(Blocks(), ["Heron"]).take(most_s=0.1)

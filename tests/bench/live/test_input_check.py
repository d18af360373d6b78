"""What an input check says of sounds made to be wrong in one way each."""

import numpy as np
import pytest
from numpy.typing import NDArray

from pitchwright.bench.live.input_check import ChannelCheck, FindingKind, check_inputs, one_note

RATE_HZ = 48_000
N = 2 * RATE_HZ
T_S = np.arange(N) / RATE_HZ
RNG = np.random.default_rng(11)
Array = NDArray[np.float64]


def saw(f_hz: float, size: float = 0.3) -> Array:
    turn = np.exp(2j * np.pi * f_hz * T_S)
    x, power = np.zeros(N), np.ones_like(turn)
    for k in range(1, int(0.45 * RATE_HZ / f_hz) + 1):
        power *= turn
        x += size * power.imag / k
    return x


def hiss(size: float, n: int = N) -> Array:
    return size * RNG.standard_normal(n)


def hum(f_hz: float, size: float) -> Array:
    return size * (np.sin(2 * np.pi * f_hz * T_S) + 0.4 * np.sin(6 * np.pi * f_hz * T_S))


def checked(x: Array) -> ChannelCheck:
    (one,) = check_inputs(np.clip(x + hiss(1e-5, len(x)), -1, 1)[:, None], RATE_HZ, ["Heron"])
    return one


def of_one_note(x: Array) -> ChannelCheck:
    return checked(x[one_note(x[:, None], RATE_HZ)])


def kinds(x: Array) -> list[FindingKind]:
    return [finding.kind for finding in checked(x).findings]


@pytest.mark.parametrize("f_hz", [32.7, 55.0, 110.0, 261.63, 4186.0])
def test_a_clean_tone_is_good(f_hz: float) -> None:
    one = checked(saw(f_hz))
    assert one.good, one.findings
    assert one.reading.f_hz == pytest.approx(f_hz, rel=1e-5)
    assert one.noise_dbfs == pytest.approx(20 * np.log10(1e-5 * np.sqrt(2)), abs=3.0)


@pytest.mark.parametrize(
    ("x", "kind"),
    [
        (np.zeros(N), FindingKind.NOTHING),
        (hum(50.0, 3e-3), FindingKind.HUM_ONLY),
        (hum(60.0, 3e-3), FindingKind.HUM_ONLY),
        (saw(261.63, 0.003), FindingKind.QUIET),
        (saw(261.63, 0.9), FindingKind.CLIPPED),
        (0.95 * saw(220.0) / np.abs(saw(220.0)).max(), FindingKind.NEARLY_FULL),
        (saw(110.0, 0.1) + hiss(0.02), FindingKind.NOISY),
        (saw(261.63) + hum(50.0, 0.01), FindingKind.HUM),
        (saw(110.0) + hum(60.0, 0.01), FindingKind.HUM),
        (saw(261.63, 0.2) + saw(329.2, 0.15), FindingKind.TWO),
        (saw(65.4, 0.2) + saw(97.3, 0.2), FindingKind.TWO),
        (saw(261.63, 0.2) + saw(263.4, 0.15), FindingKind.TWO),
        (hiss(0.1), FindingKind.NO_PITCH),
    ],
)
def test_each_fault_is_found_and_something_to_do_said(x: Array, kind: FindingKind) -> None:
    one = checked(x)
    assert kind in [finding.kind for finding in one.findings]
    assert all(finding.sentence and finding.do for finding in one.findings)
    if kind is not FindingKind.NO_PITCH:
        assert len(one.findings) == 1, one.findings


def test_both_oscillators_are_named_by_their_pitch() -> None:
    (finding,) = checked(saw(261.63, 0.2) + saw(329.2, 0.15)).findings
    assert "261.6 Hz (C4)" in finding.sentence
    assert "329.2 Hz (E4)" in finding.sentence


def test_what_clips_is_told_about_ten_volts() -> None:
    (finding,) = checked(saw(261.63, 0.9)).findings
    assert "ten volts peak to peak" in finding.do


def test_sound_on_a_channel_that_was_not_meant_is_pointed_out() -> None:
    sound = np.stack([np.zeros(N), saw(261.63)], axis=1)
    (one,) = check_inputs(sound, RATE_HZ, ["Heron"], others=["channel 2"])
    assert [f.kind for f in one.findings] == [FindingKind.WRONG_CHANNEL]
    assert "channel 2" in one.findings[0].sentence


def test_one_sound_in_two_channels_is_noticed() -> None:
    sound = np.stack([saw(261.63), 0.5 * saw(261.63)], axis=1)
    for one in check_inputs(sound, RATE_HZ, ["Heron", "Wren"]):
        assert [f.kind for f in one.findings] == [FindingKind.SAME_SOUND]
    apart = np.stack([saw(261.63), saw(262.0)], axis=1)
    assert all(one.good for one in check_inputs(apart, RATE_HZ, ["Heron", "Wren"]))


@pytest.mark.parametrize(
    ("before_hz", "after_hz"), [(32.703, 46.249), (110.0, 130.81), (415.3, 440.0)]
)
@pytest.mark.parametrize("change_s", [0.8, 1.2])
def test_notes_that_change_are_no_two_oscillators_and_no_hum(
    before_hz: float, after_hz: float, change_s: float
) -> None:
    """A good take holds one note after another."""
    one = of_one_note(np.where(change_s > T_S, saw(before_hz), saw(after_hz)))
    assert one.good, one.findings
    longer = before_hz if change_s > 1.0 else after_hz
    assert one.reading.f_hz == pytest.approx(longer, rel=1e-3)


def test_two_oscillators_are_no_good_take_though_the_notes_change() -> None:
    before, after = saw(261.63, 0.2) + saw(329.2, 0.15), saw(293.66, 0.2) + saw(369.5, 0.15)
    assert not of_one_note(np.where(T_S < 1.2, before, after)).good


def test_a_note_after_silence_and_before_another_is_good() -> None:
    """As a take begins: half a second of nothing, then C1, then F♯1."""
    x = np.where(T_S < 0.5, 0.0, np.where(T_S < 1.7, saw(32.703), saw(46.249)))
    one = of_one_note(x)
    assert one.good, one.findings

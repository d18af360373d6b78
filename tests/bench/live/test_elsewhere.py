import numpy as np
from numpy.typing import NDArray

from pitchwright.bench.live.elsewhere import Elsewhere

RATE_HZ = 8_000.0
Array = NDArray[np.float64]


def sound(*sizes: float, seconds: float = 2.0) -> Array:
    t_s = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    return np.stack([size * np.sin(2 * np.pi * 262 * t_s) + 0.1 for size in sizes], axis=1)


def test_sound_on_another_channel_is_said_once_until_it_came_where_it_should() -> None:
    elsewhere = Elsewhere(RATE_HZ, ["Heron"], ["channel 2", "channel 3"])
    (said,) = elsewhere.take(sound(0.0, 0.02, 0.3))
    assert said == (
        "Nothing arrives for Heron (silence), but there is sound on channel 3. "
        "Move the cable, or say that Heron is on channel 3."
    )
    assert elsewhere.take(sound(0.0, 0.02, 0.3)) == []
    assert elsewhere.take(sound(0.3, 0.0, 0.3)) == []
    assert len(elsewhere.take(sound(0.0, 0.3, 0.0))) == 1


def test_silence_everywhere_is_no_wrong_channel() -> None:
    elsewhere = Elsewhere(RATE_HZ, ["Heron", "Wren"], ["channel 3"])
    assert elsewhere.take(sound(0.0, 0.3, 0.001)) == []


def test_a_moment_is_too_short_to_tell() -> None:
    elsewhere = Elsewhere(RATE_HZ, ["Heron"], ["channel 2"])
    assert elsewhere.take(sound(0.0, 0.3, seconds=1.0)) == []
    elsewhere.start_again()
    assert elsewhere.take(sound(0.0, 0.3, seconds=1.0)) == []
    assert len(elsewhere.take(sound(0.0, 0.3, seconds=1.0))) == 1


def test_without_other_channels_nothing_is_said() -> None:
    assert Elsewhere(RATE_HZ, ["Heron"], []).take(sound(0.0)) == []

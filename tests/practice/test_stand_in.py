"""The stand-in: follows its voltage, stays in phase, is turned and told things while it sounds."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from pitchwright.errors import InputError
from pitchwright.pitch import read
from pitchwright.practice.stand_in import StandIn
from pitchwright.practice.stand_in_orders import answer
from pitchwright.practice.stand_in_rig import rig_of
from pitchwright.trim.kinds import TrimmerKind
from pitchwright.units import cents_between

RATE_HZ = 48_000.0


class Keys:
    """Remembers what was pressed."""

    def __init__(self) -> None:
        self.down: list[int] = []

    def press(self, note: int) -> None:
        self.down.append(note)

    def release(self) -> None:
        self.down.clear()

    def held(self) -> tuple[int, ...]:
        return tuple(self.down)


def stand_in(names: str = "Heron", *, calm: bool = True) -> StandIn:
    return StandIn(rig_of(names, calm=calm), RATE_HZ, np.random.default_rng(1))


def sound(there: StandIn, cv_v: float, blocks: int = 25) -> NDArray[np.float64]:
    return np.concatenate([there.block(np.full(1920, cv_v)) for _ in range(blocks)])


def test_it_sounds_at_its_own_truth_and_follows_the_voltage() -> None:
    there = stand_in()
    for cv_v in (1.0, 3.5, 0.25):
        sound(there, cv_v, 2)
        heard = read(sound(there, cv_v)[:, 0], RATE_HZ)
        (truth,) = there.truth()
        assert heard.f_hz is not None
        assert abs(cents_between(heard.f_hz, truth.f_hz[0])) < 0.02
        assert there.cv_v == pytest.approx(cv_v, abs=1e-9)


def test_the_phase_goes_on_through_a_step_of_the_voltage_and_from_block_to_block() -> None:
    there = stand_in("Bittern")
    sound(there, 2.0, 1)
    before, after = sound(there, 2.0, 3)[:, 0], sound(there, 3.0, 3)[:, 0]
    whole = np.concatenate((before, after))
    # A sine of amplitude 0.5 at 260 Hz moves by 0.017 a sample; a jump of phase would be a leap.
    assert np.abs(np.diff(whole)).max() < 0.03


def test_trimmers_are_turned_while_it_sounds() -> None:
    there = stand_in()
    sound(there, 4.0, 2)
    before = there.truth()[0].f_hz[0]
    there.turn("heron", TrimmerKind.SCALE, 1.0)
    now = there.truth()[0]
    assert cents_between(now.f_hz[0], before) == pytest.approx(16.0, abs=0.5)  # 4 a turn, 4 V
    assert now.turns["scale"] == pytest.approx(11.0)
    aim_hz = before * 2.0 ** (-5.0 / 1200.0)
    there.bring("Heron", TrimmerKind.SCALE, aim_hz, 12.0)
    sound(there, 4.0, 100)
    assert abs(cents_between(there.truth()[0].f_hz[0], aim_hz)) < 0.06


def test_a_hand_at_the_pivot_gives_up_after_its_turns_and_can_be_called_off() -> None:
    there = stand_in()
    sound(there, 0.0, 2)
    there.bring("Heron", TrimmerKind.SCALE, 100.0, 0.5)
    sound(there, 0.0, 60)
    assert abs(there.truth()[0].turns["scale"] - 10.0) < 0.6
    there.bring("Heron", TrimmerKind.BASE_FINE, 40.0, 12.0)
    there.hands_off("Heron")
    sound(there, 0.0, 5)
    assert there.truth()[0].turns["base fine"] == pytest.approx(5.0)


def test_faults_of_loudness_and_a_second_tone() -> None:
    there = stand_in("Heron, Wren")
    keys = Keys()
    assert tell(there, keys, "loud Heron 0 20 100") == {"done": "loud"}
    assert tell(there, keys, "loud Wren 4 20 100") == {"done": "loud"}
    low = sound(there, 0.5, 5)[1920:]
    assert not low[:, 0].any()
    assert np.abs(low[:, 1]).max() == 1.0
    assert sound(there, 3.0, 5)[1920:, 0].any()
    tell(there, keys, "loud Heron")
    assert sound(there, 0.5, 5)[1920:, 0].any()
    alone = float(np.std(sound(there, 3.0, 5)[:, 0]))
    tell(there, keys, "mix Heron 4")
    assert float(np.std(sound(there, 3.0, 5)[:, 0])) > 1.2 * alone


def tell(there: StandIn, keys: Keys, line: str) -> Any:
    return json.loads(answer(line, there, keys))


def test_orders_are_answered_and_nonsense_is_refused() -> None:
    there, keys = stand_in("Wren"), Keys()
    assert tell(there, keys, "play F#3") == {"done": "play"}
    truth = tell(there, keys, "truth 0 3")
    assert truth["held"] == ["F♯3"]
    assert len(truth["oscillators"][0]["f_hz"]) == 2
    assert tell(there, keys, "release") == {"done": "release"}
    assert tell(there, keys, "turn Wren 'scale trimmer' -0.5") == {"done": "turn"}
    assert tell(there, keys, "bump Wren 5") == {"done": "bump"}
    assert tell(there, keys, "bring Wren scale 100") == {"done": "bring"}
    assert tell(there, keys, "voltmeter") == {"volts": 0.0}
    assert tell(there, keys, "quit") == {"done": "quit"}
    for line, said in (
        ("", "Nothing was said"),
        ("sing", "does not know “sing”"),
        ("turn Gull scale 1", "no oscillator called Gull"),
        ("turn Wren volume 1", "no trimmer called “volume”"),
        ("turn Wren scale much", "not a number"),
        ("turn Wren 'scale", "cannot be read"),
        ("bump Wren", "Say it as: bump NAME CENTS"),
        ("play H2", "H2"),
    ):
        assert said in tell(there, keys, line)["refused"], line


def test_as_many_voices_as_are_wanted_each_with_its_own_name() -> None:
    names = [voice.oscillator.name for voice in rig_of(voices=8).voices]
    assert len(set(names)) == 8
    with pytest.raises(InputError, match="1 to 8 voices"):
        rig_of(voices=9)

"""What a control voltage is refused for, before any of it leaves the computer."""

from __future__ import annotations

from typing import Any, cast

import pytest

from pitchwright.bench.live.calibration import Measured, fit_calibration
from pitchwright.bench.live.notes_voltage import ControlVoltage, VoltageNotes
from pitchwright.errors import InputError

LINE = fit_calibration([Measured(level, 0.1 + 10.0 * level, 1e-3) for level in (0.0, 0.2, 0.5)])


class Output:
    """Writes down the levels it was given."""

    running, missed = True, 0

    def __init__(self) -> None:
        self.levels: list[float] = []
        self.closed = 0

    def send(self, level: float) -> float:
        self.levels.append(level)
        return 1.0

    def reopen(self) -> None:
        """Nothing to open."""

    def close(self) -> None:
        self.closed += 1


def notes(output: Output) -> VoltageNotes:
    return VoltageNotes(cast(Any, output), LINE, "line out")


def test_an_output_that_is_not_marked_is_refused_with_the_caution() -> None:
    # No such device is there: it is refused before anything is looked for.
    with pytest.raises(InputError) as refused:
        ControlVoltage("nowhere", channel=1, rate_hz=48_000, marked=False)
    assert "not marked as a control voltage" in refused.value.sentence
    assert "loudspeaker, headphones or a power amplifier" in refused.value.sentence
    assert "control_voltage = true" in refused.value.sentence


def test_a_note_is_the_level_that_gives_its_voltage_and_silence_is_0_v() -> None:
    output = Output()
    player = notes(output)
    player.play(48.0, 2.0)
    player.silence()
    player.close()
    assert output.levels == pytest.approx([0.19, -0.01], abs=1e-9)
    assert output.closed == 1


@pytest.mark.parametrize("cv_v", [-1.0, 5.9])
def test_no_voltage_beyond_what_was_calibrated(cv_v: float) -> None:
    output = Output()
    player = notes(output)
    with pytest.raises(InputError, match=r"beyond what was calibrated \(0.1 to 5.1 V\)"):
        player.play(30.0, cv_v)
    assert output.levels == []
    player.close()


def test_slightly_beyond_is_as_straight_as_within() -> None:
    output = Output()
    player = notes(output)
    player.play(86.0, 5.5)
    assert output.levels == pytest.approx([0.54])
    player.close()

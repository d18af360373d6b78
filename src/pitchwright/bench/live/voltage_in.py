"""The control voltage as it arrives: measured while an oscillator is read.

So the keyboard's error and the oscillator's part ways: one is volts that are not what the note
asks for, the other is pitch that is not what the volts ask for.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pitchwright.bench.live.calibration import Calibration
from pitchwright.bench.live.playing import Window
from pitchwright.bench.live.sound_memory import SoundMemory

__all__ = ["VoltageIn"]

_RIPPLE_V = 0.05
"""What swings by more than this is a note that changes, or no control voltage at all."""


@dataclass(frozen=True, slots=True)
class VoltageIn:
    """A DC-coupled input that a control voltage comes in on.

    Attributes
    ----------
    column
        Which channel of its source.
    calibration
        What its levels are in volts.
    memory
        What it brought, where it is another device than the sound's; None for the same one.
    """

    column: int
    calibration: Calibration
    memory: SoundMemory | None = None

    def volts(self, sound: SoundMemory, window: Window) -> float | None:
        """Mean voltage over a window; None where some is lost, or it did not hold still."""
        level = (self.memory or sound).span(self.column, window.from_s, window.until_s)
        if level is None or len(level) < 64:
            return None
        volts = self.calibration.volts_of(float(np.mean(level, dtype=np.float64)))
        swing_v = abs(self.calibration.volts_per_unit) * float(np.std(level, dtype=np.float64))
        return volts if swing_v < _RIPPLE_V else None

    def close(self) -> None:
        """Give the input back, where it is one of its own."""
        if self.memory is not None:
            self.memory.source.close()

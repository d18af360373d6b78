"""Notes by control voltage: a DC-coupled output that plays the volts themselves.

The voltage moves no faster than its slew, so that a step does not click, and goes back to 0 V when
the player is closed, when the program ends, and after Ctrl-C or an error. It never goes to an
output that the bench file does not mark as a control voltage: DC burns out loudspeakers.
"""

from __future__ import annotations

import atexit
import threading
import time

import numpy as np
from numpy.typing import NDArray

from pitchwright.bench.live.calibration import Calibration
from pitchwright.bench.live.out_stream import OutStream
from pitchwright.errors import InputError

__all__ = ["CAUTION_DC", "ControlVoltage", "VoltageNotes"]

Array = NDArray[np.float64]

CAUTION_DC = (
    "A control voltage is DC: never let this output feed a loudspeaker, headphones or a power"
    " amplifier."
)

_BEYOND = 0.1
"""How far beyond what was measured the line may be used, as a share of the measured span."""
_TAKEN_UP_S = 5.0


class ControlVoltage:
    """A steady level at one channel of an output, changed at a limited slew.

    Parameters
    ----------
    device, rate_hz, latency_s
        As for `OutStream`.
    channel
        Which channel, from 1; the others stay at 0.
    marked
        Whether the user has marked the output as a control voltage.
    device_channels
        How many channels to open, where that matters: a sound server spreads two channels over
        all that there are.
    slew_per_s
        Greatest change of the level in a second, full scale being 1.

    Raises
    ------
    InputError
        Where the output is not marked, or cannot be opened.
    """

    def __init__(
        self,
        device: str | int | None,
        *,
        channel: int,
        rate_hz: float,
        marked: bool,
        device_channels: int | None = None,
        slew_per_s: float = 40.0,
        latency_s: float = 0.5,
    ) -> None:
        where = str(device or "sound output")
        if not marked:
            raise InputError(
                f"This output is not marked as a control voltage. {CAUTION_DC.rstrip('.')}",
                where,
                "If it is DC-coupled and goes to a control voltage input only, write"
                " control_voltage = true for it in the bench file",
            )
        if channel < 1:
            raise InputError(f"There is no channel {channel}", where, "Channels count from 1")
        self._place = channel - 1
        self._channels = max(2, channel, device_channels or 0)
        self._slew = slew_per_s / rate_hz
        self._target = self._level = 0.0
        self._wanted = self._taken = 0
        self._began_sample = 0
        self._taken_up = threading.Condition()
        self._latency_s = latency_s
        self._device, self._rate_hz = device, rate_hz
        self._stream = self._opened()

    def send(self, level: float) -> float:
        """Move to a level and stay; when it began to move, in seconds of `time.monotonic`."""
        if not abs(level) <= 1.0:
            raise InputError(
                f"A level of {level:.3f} is beyond full scale",
                str(self._device or "sound output"),
                "Choose lower notes, or another output",
            )
        self._stream.check()
        with self._taken_up:
            self._target, self._wanted = level, self._wanted + 1
            wanted = self._wanted
            if not self._taken_up.wait_for(lambda: self._taken >= wanted, _TAKEN_UP_S):
                self._stream.check()
                raise InputError(
                    "The sound output takes no more samples",
                    str(self._device or "sound output"),
                    "Connect it again",
                )
            began = self._began_sample
        return self._stream.clock.t_s(began)

    @property
    def missed(self) -> int:
        """How often samples came too late: the voltage fell to 0 for a moment."""
        return self._stream.missed

    @property
    def running(self) -> bool:
        """Whether the output still takes samples."""
        return self._stream.running

    def reopen(self) -> None:
        """Open the output anew after it was gone."""
        self._stream.close()
        self._level = self._target = 0.0
        self._stream = self._opened()

    def close(self) -> None:
        """Go back to 0 and let go of the output; may be called more than once."""
        if self._stream.running:
            with self._taken_up:
                self._target, self._wanted = 0.0, self._wanted + 1
                # On the way out nothing may be raised that hides why it is the way out.
                self._taken_up.wait_for(lambda: self._level == 0.0, 2.0)
            # What is buffered still holds the voltage; the stream's end must not cut it off.
            until_s = time.monotonic() + self._latency_s + 0.1
            while self._stream.running and time.monotonic() < until_s:
                time.sleep(0.02)
        self._stream.close()

    def _opened(self) -> OutStream:
        stream = OutStream(
            self._device,
            rate_hz=self._rate_hz,
            channels=self._channels,
            fill=self._fill,
            latency_s=self._latency_s,
        )
        stream.start()
        return stream

    def _fill(self, frames: int, first: int) -> Array:
        samples = np.zeros((frames, self._channels))
        with self._taken_up:
            off = self._target - self._level
            steps = self._slew * np.arange(1, frames + 1)
            samples[:, self._place] = self._level + np.sign(off) * np.minimum(steps, abs(off))
            self._level = float(samples[-1, self._place]) if frames else self._level
            if self._taken != self._wanted:
                self._taken, self._began_sample = self._wanted, first
            self._taken_up.notify_all()
        return samples


class VoltageNotes:
    """Plays notes as control voltages.

    Parameters
    ----------
    output
        Where the voltage goes.
    calibration
        What its levels are in volts.
    name
        For a person.
    """

    def __init__(self, output: ControlVoltage, calibration: Calibration, name: str) -> None:
        self.name = name
        self._output, self._calibration = output, calibration
        atexit.register(self.close)

    @property
    def alive(self) -> bool:
        """Whether the output still takes samples."""
        return self._output.running

    @property
    def missed(self) -> int:
        """How often the voltage fell to 0 because the computer was too busy."""
        return self._output.missed

    def play(self, note: float, cv_v: float) -> float:
        """Move to the note's voltage; refused beyond what was calibrated."""
        del note
        line = self._calibration
        slack_v = _BEYOND * (line.high_v - line.low_v)
        if not line.low_v - slack_v <= cv_v <= line.high_v + slack_v:
            raise InputError(
                f"{cv_v:g} V lies beyond what was calibrated ({line.low_v:g} to {line.high_v:g} V)",
                self.name,
                "Choose other notes, or calibrate over more (pitchwright bench calibrate)",
            )
        return self._output.send(line.level_of(cv_v))

    def silence(self) -> None:
        """Go to 0 V."""
        self._output.send(self._calibration.level_of(0.0))

    def reopen(self) -> None:
        """Open the output anew."""
        self._output.reopen()

    def close(self) -> None:
        """Go back to 0 V and let go of the output."""
        atexit.unregister(self.close)
        self._output.close()

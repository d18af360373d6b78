"""A sound output whose samples are asked for as needed, and which tells when it is gone."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pitchwright.bench.live.port_audio import (
    find_device,
    port_audio,
    refused,
    stream_closed,
    stream_open,
)
from pitchwright.bench.live.sample_clock import SampleClock
from pitchwright.errors import InputError

__all__ = ["OutStream"]

Array = NDArray[np.float64]


class OutStream:
    """An output that calls ``fill`` for its samples; nothing plays before :meth:`start`.

    Parameters
    ----------
    device
        Its name, or a part of it that only one has; None for the system's own.
    rate_hz
        Sample rate.
    channels
        How many.
    fill
        Is given how many frames are wanted and the number of the first; returns them, shape
        (frames, channels). Runs in the sound system's thread.
    latency_s
        How much is buffered. Half a second survives a busy computer.

    Raises
    ------
    InputError
        Where there is no such device, or it refuses the rate or the channels.
    """

    def __init__(
        self,
        device: str | int | None,
        *,
        rate_hz: float,
        channels: int,
        fill: Callable[[int, int], Array],
        latency_s: float = 0.5,
    ) -> None:
        self.rate_hz = rate_hz
        self.device = device
        self.clock = SampleClock(rate_hz)
        self.latency_s = latency_s
        self.missed = 0
        """How often samples came too late, and silence went out instead."""
        self._fill = fill
        self._samples = 0
        self._fault: BaseException | None = None
        self._gone = threading.Event()
        audio = port_audio()
        found = find_device(device, "out")
        with stream_open():
            try:
                self._stream = audio.OutputStream(
                    device=found.number,
                    samplerate=rate_hz,
                    channels=channels,
                    dtype="float32",
                    latency=latency_s,
                    callback=self._callback,
                    finished_callback=self._gone.set,
                )
            except (audio.PortAudioError, ValueError) as fault:
                raise refused(fault, found.name, rate_hz=rate_hz) from fault

    def start(self) -> None:
        """Begin to play."""
        self._stream.start()

    @property
    def running(self) -> bool:
        """Whether samples are still taken."""
        return not self._gone.is_set()

    @property
    def samples(self) -> int:
        """How many were asked for so far."""
        return self._samples

    def check(self) -> None:
        """Raise what went wrong in the sound system's thread; InputError where it is gone."""
        if self._fault is not None:
            raise self._fault
        if self._gone.is_set():
            raise InputError(
                "The sound output is gone", str(self.device or "sound output"), "Connect it again"
            )

    def close(self) -> None:
        """Stop once what is buffered has been played; may be called more than once."""
        stream, self._stream = self._stream, None
        if stream is not None:
            stream.close(ignore_errors=True)
            stream_closed()

    def _callback(self, out: Any, frames: int, _: Any, status: Any) -> None:
        now_s = time.monotonic()
        if status.output_underflow:
            self.missed += 1
            self.clock.restart()
        if self.clock.saw(self._samples, now_s):
            self.missed += 1  # nobody said so, but it stood still
        try:
            out[:] = self._fill(frames, self._samples)
        except BaseException as fault:
            out[:] = 0.0  # and the fault must not be lost in the sound system's thread
            self._fault = fault
        self._samples += frames

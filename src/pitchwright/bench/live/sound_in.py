"""Sound in: blocks of samples from a device, each knowing whether something is missing before it.

The callback of the sound system only copies into a ring that was allocated beforehand and notes how
far it came and when; everything else happens in whoever calls :meth:`SoundIn.read_new`. That
samples are missing is seen in two ways: the sound system says so, or the sample clock falls behind
the wall clock and stays behind.
"""

from __future__ import annotations

import time
from collections import deque
from dataclasses import dataclass
from enum import StrEnum
from types import TracebackType
from typing import Any, Final, Protocol, Self

import numpy as np
from numpy.typing import NDArray

from pitchwright.bench.live.delivery import Delivery
from pitchwright.bench.live.port_audio import (
    find_device,
    port_audio,
    quiet,
    refused,
    stream_closed,
    stream_open,
)
from pitchwright.errors import InputError
from pitchwright.units import cents_between

__all__ = ["Block", "Samples", "SoundIn", "SoundSource", "SoundState"]

Samples = NDArray[np.float32]

_RING_S: Final = 8.0
_SILENT_S: Final = 1.5
_POLL_S: Final = 0.005
# A rate by the wall clock is good to a few per cent; two usual rates lie 8 per cent apart.
_WRONG_RATE: Final = 0.05


class SoundState(StrEnum):
    """What a source of sound is doing."""

    RUNNING = "running"
    DEAD = "no sound arrives"
    LOST = "lost"
    ENDED = "ended"


@dataclass(frozen=True, slots=True)
class Block:
    """Samples that belong together without a gap.

    Attributes
    ----------
    samples
        Shape (n, channels), full scale ±1.
    first
        Number of the first sample on the source's sample clock, lost samples counted.
    missing
        How many samples were lost just before it, as far as known.
    gap
        Whether something is missing just before it; then ``missing`` may still be 0, where the
        number is not known.
    arrived_s
        ``time.monotonic`` when its last sample had arrived.
    """

    samples: Samples
    first: int
    missing: int
    gap: bool
    arrived_s: float


class SoundSource(Protocol):
    """Where sound comes from: a device, or a recording played as one."""

    @property
    def rate_hz(self) -> float:
        """Sample rate."""

    @property
    def channels(self) -> int:
        """How many channels a block has."""

    @property
    def state(self) -> SoundState:
        """What it is doing."""

    def read_new(self, wait_s: float = 0.0) -> list[Block]:
        """What has come since the last call; wait at most this long for at least something."""

    def reopen(self) -> bool:
        """Try to get a lost source back; whether it runs again."""

    def close(self) -> None:
        """Let go of it."""


class SoundIn:
    """A sound input (a context manager).

    Parameters
    ----------
    device
        Name, part of a name, or number as ``pitchwright devices`` lists them; None for the
        system's default.
    rate_hz
        Sample rate to ask for; None for the device's own.
    channels
        Numbers of the channels wanted, from 1; empty for the first two, or the only one.
    device_channels
        How many channels to open, where that matters: a sound server mixes channels together
        when it is asked for fewer than there are. As many as needed where None.
    latency_s
        How much the sound system may buffer.

    Attributes
    ----------
    rate_hz
        Sample rate.
    channels
        How many channels a block has.
    device_name
        The device's full name.

    Raises
    ------
    InputError
        Without PortAudio or such a device, for a channel beyond the device, or a rate it refuses.
    """

    def __init__(
        self,
        device: str | int | None = None,
        *,
        rate_hz: float | None = None,
        channels: tuple[int, ...] = (),
        device_channels: int | None = None,
        latency_s: float = 0.2,
    ) -> None:
        found = find_device(device, "in")
        wanted = channels or tuple(range(1, min(found.inputs, 2) + 1))
        if min(wanted) < 1 or max(wanted) > found.inputs:
            wrong = min(wanted) if min(wanted) < 1 else max(wanted)
            raise InputError(
                f"There is no input channel {wrong}",
                found.name,
                f"It has channels 1 to {found.inputs}",
            )
        self._asked: str | int | None = device if device is None else found.name
        self._columns = np.array([number - 1 for number in wanted])
        self._wide = min(max(max(wanted), device_channels or 0), found.inputs)
        self._latency_s = latency_s
        self.device_name = found.name
        self.rate_hz = float(rate_hz or found.rate_hz)
        self.channels = len(wanted)
        self._ring: Samples = np.zeros((int(_RING_S * self.rate_hz), self._wide), np.float32)
        self._written = 0
        self._read = 0
        self._lost = 0
        self._came_s = time.monotonic()
        self._flagged: deque[int] = deque()
        self._arrivals: deque[tuple[int, float]] = deque(maxlen=4096)
        self._gap_next = False
        self._missing_next = 0
        self._finished = False
        self._closed = False
        self._stream: Any = None
        self._delivery = Delivery(self.rate_hz)
        self._open(found.number)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        fault: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    @property
    def state(self) -> SoundState:
        """What the device is doing."""
        if self._closed:
            return SoundState.ENDED
        if self._stream is None or self._finished:
            return SoundState.LOST
        if time.monotonic() - self._came_s > _SILENT_S + self._latency_s:
            return SoundState.DEAD
        return SoundState.RUNNING

    def read_new(self, wait_s: float = 0.0) -> list[Block]:
        """What has come since the last call; wait at most this long for at least something.

        Raises
        ------
        InputError
            Where the device runs at another rate than it says: every pitch would be off.
        """
        until = time.monotonic() + wait_s
        while self._written == self._read and not self._finished:
            left = until - time.monotonic()
            if left <= 0:
                break
            time.sleep(min(_POLL_S, left))
        return self._collect()

    def reopen(self) -> bool:
        """Try to get a lost device back; whether it runs again.

        The sample clock goes on by the wall clock; the next block says that something is missing.
        """
        if self._closed:
            return False
        self._drop_stream()
        away_s = time.monotonic() - self._came_s
        try:
            found = find_device(self._asked, "in")
            if found.inputs < self._wide:
                return False
            self._open(found.number)
        except InputError:
            return False
        self._expect_gap(max(0, round(away_s * self.rate_hz)))
        self._delivery = Delivery(self.rate_hz)
        return True

    def close(self) -> None:
        """Stop and let go of the device."""
        self._drop_stream()
        self._closed = True

    def _open(self, number: int) -> None:
        library = port_audio()
        self._finished = False
        try:
            with stream_open(), quiet():
                self._stream = library.InputStream(
                    device=number,
                    samplerate=self.rate_hz,
                    channels=self._wide,
                    dtype="float32",
                    latency=self._latency_s,
                    callback=self._take,
                    finished_callback=self._finish,
                )
        except (library.PortAudioError, ValueError) as fault:
            self._stream = None
            raise refused(fault, self.device_name, rate_hz=self.rate_hz) from fault
        try:
            self._came_s = time.monotonic()
            with quiet():
                self._stream.start()
        except library.PortAudioError as fault:
            self._drop_stream()
            raise refused(fault, self.device_name, rate_hz=self.rate_hz) from fault
        actual_hz = float(self._stream.samplerate)
        if abs(actual_hz / self.rate_hz - 1.0) > 1e-3:
            self._drop_stream()
            raise InputError(
                f"The device runs at {actual_hz:g} Hz although {self.rate_hz:g} Hz was asked for",
                self.device_name,
                f"Ask for {actual_hz:g} Hz",
            )

    def _drop_stream(self) -> None:
        stream, self._stream = self._stream, None
        if stream is not None:
            # A device that is gone may refuse even to be closed.
            stream.close(ignore_errors=True)
            stream_closed()

    def _take(self, sound: Samples, frames: int, _: Any, status: Any) -> None:
        ring, written = self._ring, self._written
        at = written % len(ring)
        head = min(frames, len(ring) - at)
        ring[at : at + head] = sound[:head]
        if head < frames:
            ring[: frames - head] = sound[head:]
        now_s = time.monotonic()
        if status:
            self._flagged.append(written)
        self._arrivals.append((written + frames, now_s))
        self._came_s = now_s
        self._written = written + frames

    def _finish(self) -> None:
        self._finished = True

    def _collect(self) -> list[Block]:
        written = self._written
        if written - self._read > len(self._ring) * 3 // 4:
            # Whoever reads was away for longer than the ring lasts: what it holds may be written
            # over while it is read.
            skipped = written - self._read - len(self._ring) // 4
            self._read += skipped
            self._expect_gap(skipped)
        cuts = dict.fromkeys(self._flagged_until(written), 0)
        arrived_s = self._came_s
        while self._arrivals and self._arrivals[0][0] <= written:
            count, arrived_s = self._arrivals.popleft()
            if missing := self._delivery.came(count, arrived_s):
                cuts[count] = missing
        self._check_rate()
        blocks = []
        for at, missing in sorted(cuts.items()):
            if at > self._read:
                blocks.append(self._block(at, arrived_s))
            self._expect_gap(missing)
        if written > self._read:
            blocks.append(self._block(written, arrived_s))
        return blocks

    def _flagged_until(self, written: int) -> list[int]:
        flagged = []
        while self._flagged and self._flagged[0] < written:
            flagged.append(self._flagged.popleft())
        return flagged

    def _expect_gap(self, missing: int) -> None:
        self._gap_next = True
        self._missing_next += missing

    def _check_rate(self) -> None:
        rate_hz = self._delivery.rate_hz
        if rate_hz is None or abs(rate_hz / self.rate_hz - 1.0) < _WRONG_RATE:
            return
        off_cents = cents_between(self.rate_hz, rate_hz)
        raise InputError(
            f"About {rate_hz:.0f} samples a second arrive where the device says "
            f"{self.rate_hz:.0f}: every pitch would be read {abs(off_cents):.0f} cents off",
            self.device_name,
            "Set the same sample rate in the interface's own settings and here",
        )

    def _block(self, end: int, arrived_s: float) -> Block:
        start, self._read = self._read, end
        ring = self._ring
        gap, missing = self._gap_next, self._missing_next
        self._gap_next, self._missing_next = False, 0
        self._lost += missing
        samples = ring[np.arange(start, end) % len(ring)][:, self._columns]
        return Block(samples, start + self._lost, missing, gap, arrived_s)

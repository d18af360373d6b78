"""Sound in: blocks of samples from a device, each knowing whether something is missing before it.

The callback of the sound system only copies into a ring that was allocated beforehand; everything
else happens in whoever calls :meth:`SoundIn.read_new`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from types import TracebackType
from typing import Protocol, Self

import numpy as np
from numpy.typing import NDArray

__all__ = ["Block", "SoundIn", "SoundSource", "SoundState"]

Samples = NDArray[np.float32]


class SoundState(StrEnum):
    """What a source of sound is doing."""

    RUNNING = "running"
    SILENT = "no sound arrives"
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
        How many samples were lost just before it, as far as known; 0 with ``gap`` where the
        number is not known.
    gap
        Whether something is missing just before it.
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
        Numbers of the channels wanted, from 1; empty for all.
    latency_s
        How much the sound system may buffer.

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
        latency_s: float = 0.1,
    ) -> None:
        raise NotImplementedError

    rate_hz: float
    channels: int
    state: SoundState

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        fault: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def read_new(self, wait_s: float = 0.0) -> list[Block]:
        """What has come since the last call; wait at most this long for at least something."""
        raise NotImplementedError

    def reopen(self) -> bool:
        """Try to get a lost device back; whether it runs again."""
        raise NotImplementedError

    def close(self) -> None:
        """Stop and let go of the device."""

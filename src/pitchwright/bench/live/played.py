"""A recording, heard as if it arrived now: for trying things out without an interface."""

from __future__ import annotations

import os
import time
from types import TracebackType
from typing import Self

import numpy as np

from pitchwright.bench.live.sound_in import Block, Samples, SoundState
from pitchwright.bench.recording import Recording
from pitchwright.errors import InputError

__all__ = ["PlayedRecording"]

_BLOCK_S = 0.05


class PlayedRecording:
    """A recording as a source of sound (a context manager).

    Parameters
    ----------
    path
        The recording.
    channels
        Numbers of the channels wanted, from 1; empty for all.
    in_real_time
        Whether it takes as long as it lasts; else it comes as fast as it is read.

    Raises
    ------
    InputError
        Where it is no recording, or has no such channel.
    """

    def __init__(
        self,
        path: str | os.PathLike[str],
        *,
        channels: tuple[int, ...] = (),
        in_real_time: bool = True,
    ) -> None:
        self._recording = Recording(path)
        there = self._recording.channels
        wanted = channels or tuple(range(1, there + 1))
        if min(wanted) < 1 or max(wanted) > there:
            self._recording.close()
            wrong = min(wanted) if min(wanted) < 1 else max(wanted)
            raise InputError(
                f"There is no channel {wrong}", str(path), f"It has channels 1 to {there}"
            )
        self._columns = [number - 1 for number in wanted]
        self._blocks = self._recording.blocks(_BLOCK_S)
        self._began_s = time.monotonic()
        self._in_real_time = in_real_time
        self._count = 0
        self.rate_hz = float(self._recording.rate_hz)
        self.channels = len(wanted)
        self.state = SoundState.RUNNING

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
        """What is due since the last call; wait at most this long for it."""
        if self._in_real_time:
            due_s = self._began_s + (self._count / self.rate_hz) + _BLOCK_S
            late_s = due_s - time.monotonic()
            if late_s > 0:
                time.sleep(min(late_s, wait_s))
            if late_s > wait_s:
                return []
        sound: Samples | None = next(self._blocks, None)
        if sound is None:
            self.state = SoundState.ENDED
            return []
        first, self._count = self._count, self._count + len(sound)
        samples = np.ascontiguousarray(sound[:, self._columns])
        return [Block(samples, first, 0, False, time.monotonic())]

    def reopen(self) -> bool:
        """A recording that has ended does not come back."""
        return False

    def close(self) -> None:
        """Let go of the file."""
        self.state = SoundState.ENDED
        self._recording.close()

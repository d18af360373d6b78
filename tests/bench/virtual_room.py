"""A live bench's sound and time without devices: two oscillators, heard as fast as they are made.

Time stands still but for the sound that comes, so a minute of listening takes a second and gives
the same each time.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from types import SimpleNamespace

import numpy as np
import pytest

from pitchwright.bench.live import by_tool, live_bench, sound_memory
from pitchwright.bench.live.sound_in import Block, SoundState
from pitchwright.units import note_to_hz, parse_note

RATE_HZ, BLOCK_S = 12000.0, 0.05
OFF_CENTS = {"Heron": 7.0, "Wren": -5.0}
"""By how much the two oscillators are off; invented."""


class VirtualRoom:
    """Two oscillators that play what was sent to them, a delay ago.

    Parameters
    ----------
    monkeypatch
        Puts its clock where the live bench looks at the time.
    delay_s
        From sending a note until it is heard.
    """

    channels, rate_hz = 2, RATE_HZ

    def __init__(self, monkeypatch: pytest.MonkeyPatch, delay_s: float = 0.3) -> None:
        self.t_s, self.delay_s = 1000.0, delay_s
        self.sent: list[tuple[float, float]] = []
        self.said: list[str] = []
        self.off_cents: Callable[[float, str], float] = lambda _, name: OFF_CENTS[name]
        self.plays_instead: dict[float, float] = {}
        """What a person plays where another note was asked for, once each."""
        self.every_block: Callable[[], None] = lambda: None
        self.state = SoundState.RUNNING
        self._count, self._phase = 0, np.zeros(2)
        clock = SimpleNamespace(monotonic=lambda: self.t_s, sleep=self._sleep)
        for module in (by_tool, live_bench, sound_memory):
            monkeypatch.setattr(module, "time", clock)

    def close(self) -> None:
        """Nothing to give back."""

    def say(self, sentence: str) -> None:
        """What a person does who is told to play a note."""
        self.said.append(sentence)
        asked = re.match(r"Play (\S+) and hold it", sentence)
        if asked:
            note = float(parse_note(asked[1]))
            self.sent.append((self.t_s + 0.7, self.plays_instead.pop(note, note)))

    def read_new(self, wait_s: float = 0.0) -> list[Block]:
        if wait_s <= 0.0:
            return []
        self.every_block()
        count = round(BLOCK_S * RATE_HZ)
        at_s = self.t_s + np.arange(1, count + 1) / RATE_HZ
        sound = np.zeros((count, 2), np.float32)
        for column, name in enumerate(OFF_CENTS):
            f_hz = np.zeros(count)
            for sent_s, note in self.sent:
                off = self.off_cents(note, name)
                f_hz[at_s >= sent_s + self.delay_s] = note_to_hz(note) * 2.0 ** (off / 1200.0)
            phase = self._phase[column] + np.cumsum(2.0 * np.pi * f_hz / RATE_HZ)
            wave = sum(
                np.where(k * f_hz < 0.45 * RATE_HZ, np.sin(k * phase) / k, 0.0) for k in range(1, 7)
            )
            sound[:, column] = np.where(f_hz > 0.0, 0.2 * wave, 0.0)
            self._phase[column] = phase[-1] % (2.0 * np.pi)
        self.t_s += BLOCK_S
        first, self._count = self._count, self._count + count
        return [Block(sound, first, 0, False, self.t_s)]

    def reopen(self) -> bool:
        return True

    def _sleep(self, seconds: float) -> None:
        self.t_s += seconds


class VirtualPlayer:
    """What the tool plays notes with in a virtual room."""

    name, alive = "an invented player", True

    def __init__(self, room: VirtualRoom) -> None:
        self._room = room

    def play(self, note: float, cv_v: float) -> float:
        del cv_v
        self._room.sent.append((self._room.t_s, note))
        return self._room.t_s

    def silence(self) -> None:
        """Nothing to let go of."""

    def reopen(self) -> None:
        """It is never gone."""

    def close(self) -> None:
        """Nothing to give back."""

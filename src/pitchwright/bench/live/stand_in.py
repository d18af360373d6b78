"""A stand-in instrument on real devices: voltage or MIDI in, sound out, a line to talk to it.

It runs in a process of its own, so that whoever surveys it has nothing but sound, voltage and MIDI
to go by. What it sounds like, and what it may be told, is the business of ``practice``.
"""

from __future__ import annotations

import threading
from collections import deque
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pitchwright.bench.live.out_stream import OutStream
from pitchwright.bench.live.sound_in import SoundSource, SoundState
from pitchwright.errors import InputError, PitchwrightError
from pitchwright.practice.render import CONTROL_SAMPLES
from pitchwright.practice.source import CvSource
from pitchwright.practice.stand_in import StandIn

__all__ = ["KeysDown", "StandInOnDevices"]

Array = NDArray[np.float64]

_CUSHION_S = 0.2
"""So much is made before any of it is played, again after it ran dry."""
_MOST_S = 1.5


class KeysDown:
    """The keys of the stand-in's source: the last one plays, but a hand on a key before MIDI.

    Parameters
    ----------
    source
        What makes volts of notes.
    """

    def __init__(self, source: CvSource) -> None:
        self._source = source
        self._by_hand: int | None = None
        self._by_midi: list[int] = []
        self._cv_v: float | None = None
        self._lock = threading.Lock()

    def press(self, note: int) -> None:
        """Somebody presses a key, and the one before goes up."""
        with self._lock:
            self._by_hand = note
            self._sound()

    def release(self) -> None:
        """The key goes up; the voltage stays, as keyboards hold it, unless MIDI holds a note."""
        with self._lock:
            self._by_hand = None
            self._sound()

    def held(self) -> tuple[int, ...]:
        """Notes that are down now."""
        with self._lock:
            return (*self._by_midi, *([] if self._by_hand is None else [self._by_hand]))

    def cv_v(self) -> float | None:
        """What the source puts out; None before the first key."""
        return self._cv_v

    def message(self, message: Any) -> None:
        """What comes by MIDI."""
        with self._lock:
            if message.type == "control_change" and message.control in (120, 123):
                self._by_midi.clear()
            elif message.type in ("note_on", "note_off"):
                if message.note in self._by_midi:
                    self._by_midi.remove(message.note)
                if message.type == "note_on" and message.velocity > 0:
                    self._by_midi.append(message.note)
            self._sound()

    def _sound(self) -> None:
        down = self._by_midi if self._by_hand is None else [self._by_hand]
        if down:
            self._cv_v = self._source.cv_v(down[-1])


class StandInOnDevices:
    """Joins a stand-in to an output, and to a voltage input or its own keys.

    Parameters
    ----------
    stand_in
        What sounds.
    keys
        Its source; plays where no voltage comes in, or while a key is down.
    output
        Name of the output; None for the system's own.
    voltage_in
        Where the voltage comes from, None for none.
    voltage_channel
        Which channel of it, from 1.
    volts_full_scale
        Volts of a full-scale input.
    rate_hz, latency_s
        Of the output.
    """

    def __init__(
        self,
        stand_in: StandIn,
        keys: KeysDown,
        output: str | None,
        *,
        voltage_in: SoundSource | None,
        voltage_channel: int = 1,
        volts_full_scale: float = 10.0,
        rate_hz: float = 48000.0,
        latency_s: float = 0.5,
    ) -> None:
        self._stand_in, self._keys = stand_in, keys
        self._voltage_in = voltage_in
        self._place, self._full_v = voltage_channel - 1, volts_full_scale
        self._channels = len(stand_in.rig.voices)
        self._rate_hz = rate_hz
        self._made: deque[Array] = deque()
        self._waiting = 0
        self._dry = True
        self._lock = threading.Lock()
        self._ended = threading.Event()
        self._fault: BaseException | None = None
        self._stream = OutStream(
            output,
            rate_hz=rate_hz,
            channels=max(2, self._channels),
            fill=self._fill,
            latency_s=latency_s,
        )
        self._thread = threading.Thread(target=self._run, name="stand-in", daemon=True)

    def start(self) -> None:
        """Begin to sound."""
        # The first block loads a filter routine, which takes a second: before anybody waits for it.
        self._make(np.zeros(CONTROL_SAMPLES))
        self._stream.start()
        self._thread.start()

    @property
    def running(self) -> bool:
        """Whether it still sounds."""
        return self._thread.is_alive() and self._stream.running

    def check(self) -> None:
        """Raise what ended it; InputError where a device is gone."""
        if self._fault is not None:
            raise self._fault
        self._stream.check()

    def close(self) -> None:
        """Stop sounding and let go of the devices."""
        self._ended.set()
        if self._thread.is_alive():
            self._thread.join(5.0)
        self._stream.close()
        if self._voltage_in is not None:
            self._voltage_in.close()

    def _run(self) -> None:
        try:
            if self._voltage_in is None:
                self._by_keys()
            else:
                self._by_voltage(self._voltage_in)
        except PitchwrightError as fault:
            self._fault = fault

    def _by_keys(self) -> None:
        block = int(0.02 * self._rate_hz / CONTROL_SAMPLES) * CONTROL_SAMPLES
        while not self._ended.is_set():
            if self._waiting < _CUSHION_S * self._rate_hz + block:
                self._make(np.full(block, self._keys.cv_v() or 0.0))
            else:
                self._ended.wait(0.005)

    def _by_voltage(self, voltage_in: SoundSource) -> None:
        left = np.zeros(0)
        voltage_in.read_new()  # what came before it sounded would only make it late
        while not self._ended.is_set():
            for block in voltage_in.read_new(0.05):
                came = self._full_v * block.samples[:, self._place].astype(np.float64)
                if self._keys.held():
                    came[:] = self._keys.cv_v() or 0.0
                came = np.concatenate((left, came))
                whole = came.size - came.size % CONTROL_SAMPLES
                left = came[whole:]
                if whole:
                    self._make(came[:whole])
            if voltage_in.state in (SoundState.LOST, SoundState.ENDED):
                raise InputError("The voltage input is gone", do="Connect it again")

    def _make(self, cv_v: Array) -> None:
        sound = self._stand_in.block(cv_v)
        with self._lock:
            if self._waiting < _MOST_S * self._rate_hz:
                self._made.append(sound)
                self._waiting += len(sound)

    def _fill(self, frames: int, first: int) -> Array:
        del first
        samples = np.zeros((frames, max(2, self._channels)))
        with self._lock:
            if self._dry and self._waiting < _CUSHION_S * self._rate_hz:
                return samples
            self._dry = False
            filled = 0
            while filled < frames and self._made:
                sound = self._made[0]
                count = min(len(sound), frames - filled)
                samples[filled : filled + count, : self._channels] = sound[:count]
                filled += count
                if count == len(sound):
                    self._made.popleft()
                else:
                    self._made[0] = sound[count:]
            self._waiting -= filled
            self._dry = filled < frames
        return samples

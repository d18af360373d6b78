"""Notes by MIDI: to a converter that makes a control voltage of them.

Whatever happens, no note stays on: the note before is let go at every new one, and all are when
the player is closed, when the program ends and after an error.
"""

from __future__ import annotations

import atexit
import contextlib
import time

from pitchwright.bench.live.midi_ports import GONE, MidiOut, midi_outputs, open_midi_out
from pitchwright.errors import InputError
from pitchwright.units import note_name

__all__ = ["MidiNotes"]

_ALL_NOTES_OFF = 123


class MidiNotes:
    """Plays notes through a MIDI port.

    Parameters
    ----------
    port
        Its name, or a part of it that only one port has.
    channel
        1 to 16.
    velocity
        1 to 127.
    transpose
        Semitones added to every note before it is sent.
    """

    def __init__(
        self, port: str, *, channel: int = 1, velocity: int = 100, transpose: int = 0
    ) -> None:
        if not 1 <= channel <= 16:
            raise InputError(f"There is no MIDI channel {channel}", "MIDI", "Choose 1 to 16")
        self.name = f"MIDI, {port}"
        self._wanted = port
        self._channel, self._velocity, self._transpose = channel - 1, velocity, transpose
        self._port: MidiOut | None = None
        self._on: int | None = None
        self.reopen()
        atexit.register(self.close)

    @property
    def alive(self) -> bool:
        """Whether the port is open and the system still lists it."""
        if self._port is None or self._port.closed:
            return False
        try:
            return self._port.name in midi_outputs()
        except InputError:
            return False

    def play(self, note: float, cv_v: float) -> float:
        """Send the note, then let go of the one before: the voltage never falls between."""
        del cv_v
        key = round(note) + self._transpose
        if abs(note - round(note)) > 1e-6:
            raise InputError(f"{note_name(note)} lies between keys", "MIDI", "Play whole semitones")
        if not 0 <= key <= 127:
            raise InputError(
                f"{note_name(note)} with a transposition of {self._transpose:+d} is no MIDI note",
                "MIDI",
                "Choose another range or transposition",
            )
        if not self.alive:
            # The system takes messages for a port that is gone without a word.
            raise InputError(f"The MIDI port {self._wanted} is gone", "MIDI", "Connect it again")
        before = self._on
        self._send("note_on", note=key, velocity=self._velocity)
        sent_s = time.monotonic()
        self._on = key
        if before is not None and before != key:
            self._send("note_off", note=before)
        return sent_s

    def silence(self) -> None:
        """Let go of the note, and of all that may hang."""
        if self._port is None or self._port.closed:
            return
        if self._on is not None:
            self._send("note_off", note=self._on)
            self._on = None
        self._send("control_change", control=_ALL_NOTES_OFF, value=0)

    def reopen(self) -> None:
        """Open the port; InputError where it is not there."""
        with contextlib.suppress(Exception):
            self._close_port()
        self._on = None
        self._port = open_midi_out(self._wanted)

    def close(self) -> None:
        """Silence, and close the port."""
        atexit.unregister(self.close)
        # On the way out a port that is gone is no more trouble: nothing can sound through it.
        with contextlib.suppress(InputError):
            self.silence()
        self._close_port()

    def _close_port(self) -> None:
        if self._port is not None:
            port, self._port = self._port, None
            port.close()

    def _send(self, kind: str, **figures: int) -> None:
        from mido import Message

        if self._port is None:
            raise InputError(f"The MIDI port {self._wanted} is closed", "MIDI", "Connect it again")
        try:
            self._port.send(bytes(Message(kind, channel=self._channel, **figures).bytes()))
        except (*GONE, ValueError) as fault:
            raise InputError(
                f"The MIDI port {self._wanted} is gone: {fault}", "MIDI", "Connect it again"
            ) from fault

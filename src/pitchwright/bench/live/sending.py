"""SysEx messages sent to a MIDI port, no faster than a MIDI cable carries them."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence

from pitchwright.bench.live.midi_ports import GONE, open_midi_out
from pitchwright.errors import InputError

__all__ = ["send_sysex"]

_S_PER_BYTE = 10.0 / 31_250.0
"""A byte is ten bits on a MIDI cable (MIDI 1.0: 31,250 bits per second)."""
_BETWEEN_S = 0.05
"""Time for the instrument to take a message in before the next one begins."""


def send_sysex(
    port: str, messages: Sequence[bytes], wait: Callable[[float], None] = time.sleep
) -> str:
    """Send whole SysEx messages, F0 and F7 included; the port's full name.

    Parameters
    ----------
    port
        The port's name, or a part of it that only one has.
    messages
        In order.
    wait
        Is called with the seconds that each takes.

    Raises
    ------
    InputError
        Where there is no MIDI system, no such port, or it goes away meanwhile.
    """
    out = open_midi_out(port)
    try:
        for place, message in enumerate(messages):
            try:
                out.send(message)
            except GONE as fault:
                raise InputError(
                    f"The MIDI port went away: {fault}",
                    out.name,
                    f"{place} of {len(messages)} messages were sent; send them again",
                ) from fault
            wait(len(message) * _S_PER_BYTE + _BETWEEN_S)
        return out.name
    finally:
        out.close()

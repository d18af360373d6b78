"""MIDI ports: what there is, and opening one; a missing MIDI system becomes one sentence."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from pitchwright.errors import InputError

__all__ = ["GONE", "load_mido", "midi_inputs", "midi_outputs", "open_midi_in", "open_midi_out"]

GONE = (SystemError, OSError, RuntimeError)
"""What the port library raises where there is no MIDI system, or a port is gone."""

_INSTALL = (
    "Install and start a MIDI system (on Linux: ALSA's sequencer, or JACK with its MIDI), then try"
    " again"
)


def load_mido() -> Any:
    """Return the MIDI library; InputError where it cannot be used."""
    try:
        import mido

        mido.backend.load()
    except (ImportError, OSError) as fault:
        raise InputError(f"MIDI cannot be used: {fault}", "MIDI", _INSTALL) from fault
    return mido


def midi_outputs() -> list[str]:
    """Names of the MIDI ports that notes can be sent to; InputError without a MIDI system."""
    return _names("output")


def midi_inputs() -> list[str]:
    """Names of the MIDI ports that notes can come from; InputError without a MIDI system."""
    return _names("input")


def _names(way: str) -> list[str]:
    """Names without those that the system lists twice."""
    mido = load_mido()
    try:
        names = mido.get_output_names() if way == "output" else mido.get_input_names()
    except GONE as fault:
        # rtmidi says so where there is no sequencer device and no JACK server.
        raise InputError("This computer has no MIDI system", "MIDI", _INSTALL) from fault
    return list(dict.fromkeys(names))


def _port_named(wanted: str, names: Sequence[str], way: str) -> str:
    """The port that is meant: its whole name, or a part of it that only one has.

    Raises
    ------
    InputError
        Where none or several are meant; with the list of what there is.
    """
    if wanted in names:
        return wanted
    meant = [name for name in names if wanted.casefold() in name.casefold()]
    if len(meant) == 1:
        return meant[0]
    what = (
        f"Several MIDI {way}s match “{wanted}”" if meant else f"There is no MIDI {way} “{wanted}”"
    )
    there = "; ".join(meant or names)
    raise InputError(what, "MIDI", f"There are: {there}" if there else "There are none at all")


def open_midi_out(wanted: str) -> Any:
    """Open the port that notes go to: its whole name, or a part that only one has.

    Raises
    ------
    InputError
        Where there is none, or it cannot be opened.
    """
    return _opened("output", wanted, None)


def open_midi_in(wanted: str, callback: Callable[[Any], None]) -> Any:
    """Open the port that notes come from; each message goes to ``callback``, in a thread."""
    return _opened("input", wanted, callback)


def _opened(way: str, wanted: str, callback: Callable[[Any], None] | None) -> Any:
    mido = load_mido()
    name = _port_named(wanted, _names(way), way)
    try:
        if callback is None:
            return mido.open_output(name)
        return mido.open_input(name, callback=callback)
    except GONE as fault:
        raise InputError(
            f"The MIDI {way} {name} cannot be opened: {fault}", "MIDI", _INSTALL
        ) from fault

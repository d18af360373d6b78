"""MIDI ports: what there is, and opening one; a missing MIDI system becomes one sentence."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from pitchwright.errors import InputError

__all__ = ["GONE", "load_mido", "make_midi_in", "midi_inputs", "midi_outputs", "open_midi_out"]

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
    return _names("get_output_names")


def midi_inputs() -> list[str]:
    """Names of the MIDI ports that notes can come from; InputError without a MIDI system."""
    return _names("get_input_names")


def _names(asked: str) -> list[str]:
    mido = load_mido()
    try:
        names = getattr(mido, asked)()
    except GONE as fault:
        # rtmidi says so where there is no sequencer device and no JACK server.
        raise InputError("This computer has no MIDI system", "MIDI", _INSTALL) from fault
    return list(dict.fromkeys(names))


def _port_named(wanted: str, names: Sequence[str]) -> str:
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
    what = f"Several MIDI ports match “{wanted}”" if meant else f"There is no MIDI port “{wanted}”"
    there = "; ".join(meant or names)
    raise InputError(what, "MIDI", f"There are: {there}" if there else "There are none at all")


def open_midi_out(wanted: str) -> Any:
    """Open the port that notes go to: its whole name, or a part that only one has.

    Raises
    ------
    InputError
        Where there is none, or it cannot be opened.
    """
    mido = load_mido()
    name = _port_named(wanted, midi_outputs())
    try:
        return mido.open_output(name)
    except GONE as fault:
        raise InputError(
            f"The MIDI port {name} cannot be opened: {fault}", "MIDI", _INSTALL
        ) from fault


def make_midi_in(name: str, callback: Callable[[Any], None]) -> Any:
    """Make a port of our own that others can send to; each message goes to ``callback``.

    Raises
    ------
    InputError
        Where there is no MIDI system, or it has no such ports (Windows).
    """
    mido = load_mido()
    try:
        return mido.open_input(name, virtual=True, callback=callback)
    except (*GONE, NotImplementedError) as fault:
        raise InputError(f"The MIDI port {name} cannot be made: {fault}", "MIDI", _INSTALL) from (
            fault
        )

"""MIDI ports: what there is, and opening one; a missing MIDI system becomes one sentence.

There are two ways to a port. The system's own (ALSA's sequencer on Linux, CoreMIDI, Windows) goes
through a compiled library (`midi_system`). JACK goes through the system's own JACK library
(`midi_jack`), since one that a package brings along does not understand a newer server. Ports of
both stand in one list. Messages are bytes here; mido builds and reads them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Protocol

from pitchwright.errors import InputError

__all__ = [
    "GONE",
    "NO_MIDI",
    "MidiIn",
    "MidiOut",
    "make_midi_in",
    "midi_inputs",
    "midi_outputs",
    "open_midi_out",
]

GONE = (SystemError, OSError, RuntimeError)
"""What a port raises that is gone, and a way where its system is missing."""

NO_MIDI = (
    "Install and start a MIDI system (on Linux: ALSA's sequencer, or JACK with its MIDI), then try"
    " again; everything that needs no MIDI works without"
)


class MidiOut(Protocol):
    """A port that messages go to."""

    name: str
    closed: bool

    def send(self, message: bytes) -> None:
        """Send one whole message; one of `GONE` where the port is gone."""

    def close(self) -> None:
        """Close it once all is sent."""


class MidiIn(Protocol):
    """A port of our own that others send to."""

    def close(self) -> None:
        """Take it away."""


class _Way(Protocol):
    """A way to ports; each call raises one of `GONE` or ImportError where its system is missing."""

    @staticmethod
    def names(direction: str) -> list[str]:
        """Ports to send to (``out``) or to hear from (``in``)."""

    @staticmethod
    def open_out(name: str) -> MidiOut:
        """Open the port of this name."""

    @staticmethod
    def make_in(name: str, receive: Callable[[bytes], None]) -> MidiIn:
        """Make a port; ``receive`` is given each message, in a thread of its own."""


def _ways() -> list[_Way]:
    from pitchwright.bench.live.midi_jack import JackMidi
    from pitchwright.bench.live.midi_system import SystemMidi

    return [SystemMidi, JackMidi]


def midi_outputs() -> list[str]:
    """Names of the MIDI ports that notes can be sent to; InputError without a MIDI system."""
    return list(_listed("out"))


def midi_inputs() -> list[str]:
    """Names of the MIDI ports that notes can come from; InputError without a MIDI system."""
    return list(_listed("in"))


def _listed(direction: str) -> dict[str, _Way]:
    """Every port with the way to it."""
    found: dict[str, _Way] = {}
    missing: list[BaseException] = []
    ways = _ways()
    for way in ways:
        try:
            names = way.names(direction)
        except (ImportError, *GONE) as fault:
            missing.append(fault)
            continue
        for name in names:
            found.setdefault(name, way)
    if len(missing) == len(ways):
        broken = next((fault for fault in missing if isinstance(fault, ImportError)), None)
        if broken is not None:
            raise InputError(f"MIDI cannot be used: {broken}", "MIDI", NO_MIDI) from broken
        raise InputError("This computer has no MIDI system", "MIDI", NO_MIDI)
    return found


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


def open_midi_out(wanted: str) -> MidiOut:
    """Open the port that notes go to: its whole name, or a part that only one has.

    Raises
    ------
    InputError
        Where there is none, or it cannot be opened.
    """
    ports = _listed("out")
    name = _port_named(wanted, list(ports))
    try:
        return ports[name].open_out(name)
    except GONE as fault:
        raise InputError(
            f"The MIDI port {name} cannot be opened: {fault}", "MIDI", NO_MIDI
        ) from fault


def make_midi_in(name: str, receive: Callable[[Any], None]) -> MidiIn:
    """Make a port of our own that others can send to; each message, as mido's, goes to ``receive``.

    Raises
    ------
    InputError
        Where there is no MIDI system, or it has no such ports (Windows).
    """
    import mido

    parser = mido.Parser()

    def take(message: bytes) -> None:
        parser.feed(message)
        for whole in parser:
            receive(whole)

    refused: BaseException | None = None
    for way in _ways():
        try:
            return way.make_in(name, take)
        except (ImportError, NotImplementedError, *GONE) as fault:
            refused = refused or fault
    raise InputError(
        f"The MIDI port {name} cannot be made: {refused}", "MIDI", NO_MIDI
    ) from refused

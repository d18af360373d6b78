"""MIDI by the computer's own system: ALSA's sequencer on Linux, CoreMIDI, Windows."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import Any

from pitchwright.bench.live.port_audio import quiet

__all__ = ["SystemMidi"]

_CLIENT = "pitchwright"


def _made(kind: str) -> Any:
    """A client of the library, and the exceptions of its own made one of ours."""
    import supriya_midi

    api = supriya_midi.RtMidiAPI
    system = {"linux": api.LINUX_ALSA, "darwin": api.MACOSX_CORE, "win32": api.WINDOWS_MM}.get(
        sys.platform
    )
    if system is None:
        raise OSError(f"MIDI on {sys.platform} is not known here")
    try:
        with quiet():
            return getattr(supriya_midi, kind)(system, client_name=_CLIENT)
    except supriya_midi.RtMidiError as fault:
        raise OSError(str(fault)) from fault


class SystemMidi:
    """The way to the system's ports."""

    @staticmethod
    def names(direction: str) -> list[str]:
        """As the ports' protocol says."""
        client = _made("MidiOut" if direction == "out" else "MidiIn")
        try:
            return list(client.get_ports())
        finally:
            client.delete()

    @staticmethod
    def open_out(name: str) -> _Out:
        """As the ports' protocol says."""
        return _Out(name)

    @staticmethod
    def make_in(name: str, receive: Callable[[bytes], None]) -> _In:
        """As the ports' protocol says."""
        if sys.platform == "win32":
            raise NotImplementedError("Windows has no ports of a program's own")
        return _In(name, receive)


class _Out:
    def __init__(self, name: str) -> None:
        import supriya_midi

        self.name, self.closed = name, False
        self._fault = supriya_midi.RtMidiError
        self._client = _made("MidiOut")
        try:
            self._client.open_port(self._client.get_ports().index(name))
        except (ValueError, self._fault) as fault:
            self.close()
            raise OSError(str(fault)) from fault

    def send(self, message: bytes) -> None:
        try:
            self._client.send_message(list(message))
        except self._fault as fault:
            raise OSError(str(fault)) from fault

    def close(self) -> None:
        if not self.closed:
            self.closed = True
            self._client.close_port()
            self._client.delete()


class _In:
    def __init__(self, name: str, receive: Callable[[bytes], None]) -> None:
        self._client = _made("MidiIn")
        self._client.ignore_types(sysex=False)
        self._client.set_callback(lambda message, *_: receive(bytes(message)))
        self._client.open_virtual_port(name)

    def close(self) -> None:
        self._client.cancel_callback()
        self._client.delete()

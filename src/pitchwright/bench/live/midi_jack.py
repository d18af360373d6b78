"""MIDI by JACK, through the JACK library that the system itself has."""

from __future__ import annotations

import contextlib
import queue
import threading
import time
from collections import deque
from collections.abc import Callable
from typing import Any

from pitchwright.bench.live.port_audio import quiet

__all__ = ["JackMidi"]

_CLIENT = "pitchwright"
_FLUSH_S = 0.5
"""So long a port that is closed waits for its last messages to be taken."""


def _client(name: str) -> Any:
    """A client of a server that runs already; OSError where there is none."""
    import jack

    try:
        with quiet():
            return jack.Client(name, no_start_server=True)
    except jack.JackOpenError as fault:
        raise OSError("no JACK server runs") from fault


class JackMidi:
    """The way to JACK's ports."""

    @staticmethod
    def names(direction: str) -> list[str]:
        """As the ports' protocol says."""
        client = _client(_CLIENT)
        try:
            # What goes out of here goes into the port of another.
            ports = client.get_ports(is_midi=True, **{f"is_{_THERE[direction]}put": True})
            return [port.name for port in ports]
        finally:
            client.close()

    @staticmethod
    def open_out(name: str) -> _Out:
        """As the ports' protocol says."""
        return _Out(name)

    @staticmethod
    def make_in(name: str, receive: Callable[[bytes], None]) -> _In:
        """As the ports' protocol says."""
        return _In(name, receive)


_THERE = {"out": "in", "in": "out"}


class _Out:
    def __init__(self, name: str) -> None:
        import jack

        self.name, self.closed = name, False
        self._waiting: deque[bytes] = deque()
        self._alive = True
        self._client = client = _client(_CLIENT)
        port = client.midi_outports.register("notes")

        def process(frames: int) -> None:
            del frames
            port.clear_buffer()
            while self._waiting:
                try:
                    port.write_midi_event(0, self._waiting[0])
                except jack.JackError:  # no room left in this cycle
                    return
                self._waiting.popleft()

        def shutdown(status: Any, reason: str) -> None:
            del status, reason
            self._alive = False

        client.set_process_callback(process)
        client.set_shutdown_callback(shutdown)
        try:
            client.activate()
            client.connect(port, name)
        except jack.JackError as fault:
            self.close()
            raise OSError(str(fault)) from fault

    def send(self, message: bytes) -> None:
        if self.closed or not self._alive:
            raise OSError("the JACK server has ended")
        self._waiting.append(message)

    def close(self) -> None:
        if self.closed:
            return
        self.closed = True
        until_s = time.monotonic() + _FLUSH_S
        while self._waiting and self._alive and time.monotonic() < until_s:
            time.sleep(0.002)
        if self._alive:
            time.sleep(0.01)  # what was taken last is on its way for one more cycle
        with contextlib.suppress(Exception), quiet():
            self._client.close()


class _In:
    def __init__(self, name: str, receive: Callable[[bytes], None]) -> None:
        self._client = client = _client(name)
        port = client.midi_inports.register("notes")
        heard: queue.SimpleQueue[bytes | None] = queue.SimpleQueue()
        self._heard = heard

        def process(frames: int) -> None:
            del frames
            for _, message in port.incoming_midi_events():
                heard.put(bytes(message))

        client.set_process_callback(process)

        def hand_on() -> None:
            while (message := heard.get()) is not None:
                receive(message)

        threading.Thread(target=hand_on, daemon=True, name="MIDI in").start()
        client.activate()

    def close(self) -> None:
        self._heard.put(None)
        with contextlib.suppress(Exception), quiet():
            self._client.close()

"""A bench whose waiting can be broken off from another thread, and nothing but its waiting.

A live bench waits for sound, devices and people, and ends on Ctrl-C in good order wherever it
waits. Here the same exception is put into its thread. It must never meet that thread elsewhere, in
the middle of what keeps scene and events; so it is only let go while the bench is inside a call,
and what the bench calls back counts as outside.
"""

from __future__ import annotations

import ctypes
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TypeVar

from pitchwright.bench.live.live_bench import LiveBench
from pitchwright.procedures.requests import (
    Ask,
    Chosen,
    NotePlayed,
    PlayNote,
    ReadingsTaken,
    TakeReadings,
    TrackPoint,
    TurnWatched,
    Wait,
    Waited,
    WatchTurn,
)
from pitchwright.web.people import Stopped

__all__ = ["Gate", "Stoppable"]

Given = TypeVar("Given")
_PATIENCE_S = 1.0


class Gate:
    """Knows whether its thread is inside a call that may be broken off."""

    def __init__(self) -> None:
        self._thread = threading.get_ident()
        self._lock = threading.Lock()
        self._inside = self._stop = False

    @contextmanager
    def inside(self) -> Iterator[None]:
        """In here the thread may be broken off; Stopped at once where it was to be before."""
        self._set(True)
        try:
            yield
        finally:
            self._set(False)

    def outside(self, call: Callable[[Given], None]) -> Callable[[Given], None]:
        """A call back that is not broken off; Stopped after it where that was asked meanwhile."""

        def guarded(given: Given) -> None:
            was_inside = self._inside
            self._set(False)
            call(given)
            if was_inside:
                self._set(True)

        return guarded

    def stop(self) -> None:
        """Break the thread off where it waits, or as soon as it is about to; from any thread."""
        # The exception can meet the thread with the lock just taken: then it is not given back.
        if not self._lock.acquire(timeout=_PATIENCE_S):
            return
        try:
            if self._inside and not self._stop:
                ctypes.pythonapi.PyThreadState_SetAsyncExc(
                    ctypes.c_ulong(self._thread), ctypes.py_object(Stopped)
                )
                self._inside = False
            self._stop = True
        finally:
            self._lock.release()

    def _set(self, inside: bool) -> None:
        if not self._lock.acquire(timeout=_PATIENCE_S):
            return
        try:
            self._inside = inside
            stop = self._stop
        finally:
            self._lock.release()
        if stop and inside:
            raise Stopped


class Stoppable:
    """A live bench behind a gate.

    Parameters
    ----------
    bench, gate
        Both.
    enough
        Whether the person has had enough of a watch, also where that came between two waits.
    """

    def __init__(self, bench: LiveBench, gate: Gate, enough: Callable[[], bool]) -> None:
        self.bench, self._gate, self._enough = bench, gate, enough

    def now_s(self) -> float:
        """Return the clock in seconds."""
        return self.bench.now_s()

    def play(self, request: PlayNote) -> NotePlayed:
        """Have the note sound and stay."""
        with self._gate.inside():
            return self.bench.play(request)

    def listen(self, request: TakeReadings) -> ReadingsTaken:
        """Read the note that sounds."""
        with self._gate.inside():
            return self.bench.listen(request)

    def watch(self, request: WatchTurn, live: Callable[[TrackPoint], None]) -> TurnWatched:
        """Have the trimmer turned."""
        with self._gate.inside():
            return self.bench.watch(request, self._gate.outside(live))

    def choose(self, request: Ask) -> Chosen:
        """Have the person choose; that wait can be stopped by itself."""
        return self.bench.choose(request)

    def pass_time(self, request: Wait) -> Waited:
        """Let time pass."""
        if self._enough():
            return Waited(self.now_s(), enough=True)
        with self._gate.inside():
            return self.bench.pass_time(request)

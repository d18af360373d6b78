"""What the commands that measure live have in common: the bench, its keys, its one moving line."""

from __future__ import annotations

import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from pitchwright.bench.live.bench_file import BenchFile, bench_path, read_bench
from pitchwright.bench.live.connecting import connect
from pitchwright.bench.live.live_bench import LiveBench
from pitchwright.bench.live.notes_voltage import CAUTION_DC
from pitchwright.bench.stop import Stop
from pitchwright.cli import console
from pitchwright.cli.console import number
from pitchwright.procedures.events import Event, Turning
from pitchwright.procedures.requests import Ask, TurnWatched, WatchTurn
from pitchwright.units import cv_of_note

__all__ = ["LiveLine", "connected", "described_bench", "expect_notes"]


def described_bench(given: Path | None) -> BenchFile:
    """The bench file that is meant, read."""
    return read_bench(bench_path(given))


@contextmanager
def connected(
    bench: BenchFile,
    only: Sequence[str],
    *,
    a4_hz: float,
    start_s: float = 0.0,
    say: Callable[[str], None] = console.sentence,
) -> Iterator[LiveBench]:
    """Open the bench; voltage to 0 and notes off however the block ends, a signal included."""
    stop = Stop()
    keyboard = _Keyboard(stop)
    ending = _Ending(stop)
    if bench.notes == "voltage":
        say(CAUTION_DC)
    before = {one: signal.getsignal(one) for one in _ENDINGS}
    for one in _ENDINGS:
        signal.signal(one, ending)
    try:
        with connect(
            bench,
            only=tuple(only),
            say=say,
            choose_key=keyboard.choose,
            a4_hz=a4_hz,
            start_s=start_s,
            stop=stop,
        ) as live:
            keyboard.listen(live.advance)
            yield live
    finally:
        for one, handler in before.items():
            signal.signal(one, handler)


def expect_notes(live: LiveBench, bench: BenchFile, notes: Sequence[float]) -> None:
    """Tell the bench the order of the notes to come."""
    live.expect([(note, cv_of_note(note, bench.note_at_0_v)) for note in notes])


_PATIENCE_S = 10.0
_ENDINGS = tuple(
    getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)
)


class _Ending:
    """What Ctrl-C and its like do: the bench stops where it waits, however often they come.

    Thrown into whatever runs, an interrupt could meet the sound system in the middle of opening or
    closing a device. Where nothing looks at the wish for long, the next one is thrown all the same.
    """

    def __init__(self, stop: Stop) -> None:
        self._stop, self._first_s = stop, 0.0

    def __call__(self, *_: object) -> None:
        if self._stop.asked and time.monotonic() - self._first_s > _PATIENCE_S:
            raise KeyboardInterrupt
        if not self._stop.asked:
            self._first_s = time.monotonic()
        self._stop.ask()


class _Keyboard:
    """Enter ends a turn; a question takes the line instead."""

    def __init__(self, stop: Stop) -> None:
        self._stop = stop
        self._asking: Ask | None = None
        self._line = ""
        self._answered = threading.Event()

    def listen(self, pressed: Callable[[], None]) -> None:
        """Begin to listen, where a person is at the keyboard."""
        if sys.stdin is None or not sys.stdin.isatty():
            return
        threading.Thread(target=self._run, args=(pressed,), daemon=True).start()
        self._listening = True

    def choose(self, request: Ask) -> str:
        """What the person chooses; the default where nobody is there."""
        keys = [choice.key for choice in request.choices]
        if not getattr(self, "_listening", False):
            return request.default
        for place, choice in enumerate(request.choices, start=1):
            console.sentence(f"{place}: {choice.words}", indent=2)
        while True:
            self._asking = request
            self._answered.clear()
            while not self._answered.wait(0.2):
                self._stop.look()
            if not self._line:
                return request.default
            if self._line.isdigit() and 1 <= int(self._line) <= len(keys):
                return keys[int(self._line) - 1]
            console.sentence(f"Type a number from 1 to {len(keys)}, or nothing.")

    def _run(self, pressed: Callable[[], None]) -> None:
        for line in sys.stdin:
            if self._asking is not None:
                self._asking, self._line = None, line.strip()
                self._answered.set()
            else:
                pressed()


class LiveLine:
    """One line that shows the reading while a trimmer is turned; only where somebody looks."""

    def __init__(self) -> None:
        self._aim = 0.0
        self._window = 0.0
        self._shown = False
        self._next_s = 0.0

    def __call__(self, event: Event) -> None:
        """Show a reading, or end the line."""
        what = event.what
        if isinstance(what, WatchTurn):
            self._aim, self._window = what.aim_cents, what.window_cents
        if not sys.stdout.isatty():
            return
        if isinstance(what, Turning) and event.t_s >= self._next_s:
            off = what.point.cents - self._aim
            inside = abs(off) <= self._window
            way = "stop here" if inside else ("too sharp" if off > 0 else "too flat")
            sys.stdout.write(
                f"\r  {number(what.point.cents, 2, sign=True):>9} cents, aim "
                f"{number(self._aim, 2, sign=True)}: {number(abs(off), 2)} {way}".ljust(64)
            )
            sys.stdout.flush()
            self._shown, self._next_s = True, event.t_s + 0.1
        elif isinstance(what, TurnWatched) and self._shown:
            sys.stdout.write("\n")
            self._shown = False

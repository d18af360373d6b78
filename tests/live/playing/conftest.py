"""An instrument that stands in for a real one, a bench to survey it with, and JACK for MIDI.

Each is a process of its own, joined to the tool by nothing but sound, voltage and MIDI through real
servers: the tool is ``pitchwright`` as a person calls it.
"""

from __future__ import annotations

import contextlib
import json
import os
import pty
import queue
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

PATIENCE_S = 120.0
"""A computer that runs other tests may need so long for anything."""
TRIMMERS = {
    "coarse base trimmer": "base coarse",
    "fine base trimmer": "base fine",
    "scale trimmer": "scale",
    "high-frequency trimmer": "high end",
}


@dataclass
class StandIn:
    """The instrument: ``pitchwright practice run``, spoken to line by line."""

    process: subprocess.Popen[str]
    answers: queue.Queue[str] = field(default_factory=queue.Queue)

    def __post_init__(self) -> None:
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()
        self._ready: Any = None

    def tell(self, line: str) -> Any:
        """Say a line; what it answers."""
        self._ready = self._ready or self._answer()
        assert self._ready.get("ready"), self._ready
        assert self.process.stdin is not None
        self.process.stdin.write(f"{line}\n")
        self.process.stdin.flush()
        return self._answer()

    def f_hz(self, *cv_v: float, name: str = "Heron") -> list[float]:
        """True frequencies of an oscillator at these voltages."""
        truth = self.tell(f"truth {' '.join(str(one) for one in cv_v)}")
        (one,) = [one for one in truth["oscillators"] if one["name"] == name]
        return list(one["f_hz"])

    def end(self) -> None:
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait(30)
        self._reader.join(30)
        for pipe in (self.process.stdin, self.process.stdout):
            if pipe is not None:
                with contextlib.suppress(BrokenPipeError):
                    pipe.close()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.answers.put(line)

    def _answer(self) -> Any:
        until = time.monotonic() + PATIENCE_S
        while time.monotonic() < until:
            try:
                return json.loads(self.answers.get(timeout=0.5))
            except queue.Empty:
                assert self.process.poll() is None, "the stand-in ended"
        raise AssertionError("the stand-in does not answer")


@dataclass
class Run:
    """The tool at work, its events read as they are written."""

    process: subprocess.Popen[str]
    events: Path
    out: Path
    keyboard: int | None = None
    _seen: int = 0

    def next_event(self) -> dict[str, Any] | None:
        """What happened next, None where nothing has yet."""
        if not self.events.exists():
            return None
        written = self.events.read_text(encoding="utf-8")
        lines = written[: written.rfind("\n") + 1].splitlines()
        if self._seen == len(lines):
            return None
        self._seen += 1
        what: dict[str, Any] = json.loads(lines[self._seen - 1])["what"]
        return what

    def until(
        self, wanted: Callable[[dict[str, Any]], bool], also: Callable[[dict[str, Any]], None]
    ) -> dict[str, Any]:
        """Wait for an event, giving each one on the way to ``also``."""
        until_s = time.monotonic() + PATIENCE_S
        while time.monotonic() < until_s:
            ended = self.process.poll() is not None
            while (what := self.next_event()) is not None:
                also(what)
                if wanted(what):
                    return what
            assert not ended, f"the tool ended: {self.said()}"
            time.sleep(0.03)
        raise AssertionError(f"it did not come to that: {self.said()}")

    def until_note(self, note: float) -> None:
        """Wait until a note plays."""
        playing: list[float] = []

        def follow(what: dict[str, Any]) -> None:
            if what["kind"] == "play note":
                playing.append(what["note"])

        self.until(lambda what: what["kind"] == "note played" and playing[-1:] == [note], follow)

    def until_said(self, words: str, times: int = 1) -> None:
        """Wait until the tool has said something so many times."""
        until_s = time.monotonic() + PATIENCE_S
        while self.said().count(words) < times:
            assert time.monotonic() < until_s, f"“{words}” was not said: {self.said()}"
            assert self.process.poll() is None, f"the tool ended: {self.said()}"
            time.sleep(0.05)

    def press_enter(self) -> None:
        """Press Enter, as a person at the keyboard."""
        assert self.keyboard is not None
        os.write(self.keyboard, b"\n")

    def wait(self) -> int:
        """Wait for its end; its exit code."""
        return self.process.wait(PATIENCE_S)

    def interrupt(self) -> int:
        """Press Ctrl-C; the exit code."""
        self.process.send_signal(signal.SIGINT)
        return self.wait()

    def said(self) -> str:
        """What it has printed so far, on one line."""
        return " ".join(self.out.read_text(encoding="utf-8").split())

    def points(self, name: str = "Heron") -> list[dict[str, Any]]:
        """The readings of a survey that was closed."""
        for line in self.events.read_text(encoding="utf-8").splitlines():
            what = json.loads(line)["what"]
            if what["kind"] == "survey closed" and what["oscillator"] == name:
                return list(what["points"])
        raise AssertionError(f"no survey of {name} was closed: {self.said()}")


@dataclass
class Bench:
    """Servers, the instrument and the bench file that go together."""

    folder: Path
    env: dict[str, str]
    file: Path
    started: list[subprocess.Popen[str]] = field(default_factory=list)
    instruments: list[StandIn] = field(default_factory=list)
    terminals: list[int] = field(default_factory=list)

    def stand_in(self, *options: str) -> StandIn:
        """Start the instrument."""
        process = self._start(
            ("practice", "run", "--sound-out", "sound_in", "--latency", "0.5", *options),
            self.folder / f"stand-in-{len(self.started)}.txt",
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
        )
        self.instruments.append(StandIn(process))
        return self.instruments[-1]

    def end(self) -> None:
        for process in self.started:
            if process.poll() is None:
                process.kill()
            process.wait(30)
        for instrument in self.instruments:
            instrument.end()
        for end in self.terminals:
            os.close(end)

    def tool(self, *arguments: str, events: str = "events.jsonl", keyboard: bool = False) -> Run:
        """Call the tool; with a keyboard, as a person at a terminal does."""
        kept = self.folder / events
        out = self.folder / f"tool-{len(self.started)}.txt"
        ends = pty.openpty() if keyboard else ()
        self.terminals += ends
        process = self._start(
            (*arguments, "--bench", str(self.file), "--events", str(kept), "--logbook", "none"),
            out,
            stdin=ends[1] if ends else subprocess.DEVNULL,
        )
        return Run(process, kept, out, ends[0] if ends else None)

    def _start(
        self, arguments: tuple[str, ...], out: Path, *, stdin: int, stdout: int | None = None
    ) -> subprocess.Popen[str]:
        with out.open("w", encoding="utf-8") as file:
            process = subprocess.Popen(
                [sys.executable, "-c", _MAIN, *arguments],
                env=self.env,
                cwd=self.folder,
                stdin=stdin,
                stdout=stdout or file,
                stderr=file,
                text=True,
            )
        self.started.append(process)
        return process


_MAIN = "from pitchwright.cli.app import main; main()"


def describe(
    *,
    notes: str = "voltage",
    rate_hz: int = 48_000,
    oscillators: tuple[str, ...] = ("Heron",),
    heard_at: str = "sound_out",
) -> str:
    """A bench file for the stand-in on the cables ``sound`` and ``voltage``."""
    lines = [
        "invented = true",
        f'notes = "{notes}"',
        "[sound_in]",
        f'device = "{heard_at}"',
        f"rate_hz = {rate_hz}",
        "latency_s = 0.2",
        "device_channels = 2",
        "[voltage_out]",
        'device = "voltage_in"',
        "channel = 1",
        "control_voltage = true",
        "latency_s = 0.5",
        "[voltage_out.calibration]",
        "levels = [0.0, 0.2, 0.4, 0.8]",
        'read_v = ["0.0000", "2.0000", "4.0000", "8.0000"]',
        "[midi]",
        'port = "Loft"',
    ]
    for channel, name in enumerate(oscillators, start=1):
        lines += [f"[oscillator.{name}]", f"channel = {channel}"]
        for trimmer, kind in TRIMMERS.items():
            lines += [f"[[oscillator.{name}.trimmer]]", f'name = "{trimmer}"', f'kind = "{kind}"']
    return "\n".join(lines) + "\n"


class Ear:
    """An input of the tool's own, which can be taken away without the instrument's output."""

    def __init__(self, pulse: Any) -> None:
        self._pulse = pulse
        with (pulse.folder / "asound.conf").open("a", encoding="utf-8") as devices:
            devices.write(
                'pcm.ear { type pulse device "ear" hint { show on description "ear" } }\n'
            )

    def __getattr__(self, name: str) -> Any:
        return getattr(self._pulse, name)

    def add_ear(self) -> str:
        """Plug it in; the number to pull it out with."""
        asked = self._pulse.pactl(
            *("load-module", "module-remap-source", "master=sound.monitor", "source_name=ear"),
            *("channels=2", "channel_map=front-left,front-right"),
            *("master_channel_map=front-left,front-right", "remix=no"),
        )
        return str(asked.stdout.strip())

    def pull_out_ear(self, number: str) -> None:
        """Pull it out, and end the stream that the server would move to another input."""
        console = self._pulse.folder / "console.socket"
        self._pulse.pactl("load-module", "module-cli-protocol-unix", f"socket={console}")
        (source,) = [row[0] for row in self._rows("sources") if row[1] == "ear"]
        streams = [row[0] for row in self._rows("source-outputs") if row[1] == source]
        self._pulse.remove_cable(number)
        with socket.socket(socket.AF_UNIX) as spoken:
            spoken.connect(str(console))
            for stream in streams:
                spoken.sendall(f"kill-source-output {stream}\n".encode())
            time.sleep(0.3)

    def _rows(self, of: str) -> list[list[str]]:
        said = self._pulse.pactl("list", "short", of).stdout
        return [line.split() for line in said.splitlines()]


@pytest.fixture
def make_bench(
    make_pulse: Callable[..., Any], tmp_path: Path
) -> Iterator[Callable[..., tuple[Bench, Any]]]:
    """Make a bench and its sound server: ``bench, pulse = make_bench(notes="voltage")``."""
    made: list[Bench] = []

    def make(env: dict[str, str] | None = None, **described: Any) -> tuple[Bench, Any]:
        pulse = Ear(make_pulse("sound", "voltage"))
        file = tmp_path / "bench.toml"
        file.write_text(describe(**described), encoding="utf-8")
        for_all = {**pulse.env, **(env or {}), "OMP_NUM_THREADS": "1", "COLUMNS": "200"}
        bench = Bench(tmp_path, for_all, file)
        made.append(bench)
        return bench, pulse

    yield make
    for bench in made:
        bench.end()


@dataclass
class Jack:
    """A private JACK server with a driver that needs no hardware."""

    name: str
    process: subprocess.Popen[bytes] | None = None

    @property
    def env(self) -> dict[str, str]:
        """Environment for programs that shall see its MIDI ports."""
        return {"JACK_DEFAULT_SERVER": self.name, "JACK_NO_START_SERVER": "1"}

    def start(self) -> None:
        """Start it and wait until it answers."""
        self.process = subprocess.Popen(
            [
                *("jackd", "-r", "-n", self.name, "-d", "dummy"),
                *("-r", "48000", "-p", "512", "-C", "2", "-P", "2"),
            ],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        until_s = time.monotonic() + PATIENCE_S
        ask = "import jack; jack.Client('ask', no_start_server=True).close()"
        while time.monotonic() < until_s:
            asked = subprocess.run(
                [sys.executable, "-c", ask], env={**os.environ, **self.env}, capture_output=True
            )
            if asked.returncode == 0:
                return
            time.sleep(0.2)
        raise AssertionError("JACK does not start")

    def stop(self) -> None:
        """End it in peace: one that is killed leaves its place taken, and there are only eight."""
        if self.process is not None:
            self.process.terminate()
            try:
                self.process.wait(30)
            except subprocess.TimeoutExpired:
                self.process.kill()
                self.process.wait(30)
            self.process = None


@pytest.fixture
def jack() -> Iterator[Jack]:
    """A JACK server for MIDI."""
    server = Jack(f"pw{os.getpid()}")
    server.start()
    yield server
    server.stop()

"""Sound servers for the live tests: private ones, started and stopped by the tests themselves.

Programs under test run in processes of their own, because PortAudio looks for devices once, when
it starts.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

_STARTS_S = 60.0


@dataclass
class Pulse:
    """A private PulseAudio server whose null sinks are virtual sound cables.

    A program plays into ``NAME_in`` and another one records from ``NAME_out``: these are the
    devices that PortAudio sees in a process started with ``env``.
    """

    folder: Path
    cables: tuple[str, ...]
    rate_hz: int
    channels: int
    _process: subprocess.Popen[bytes] | None = field(default=None, repr=False)

    @property
    def socket(self) -> Path:
        return self.folder / "pulse.socket"

    @property
    def env(self) -> dict[str, str]:
        """Environment for a program that shall see the cables as its sound devices."""
        return {
            **os.environ,
            "PULSE_SERVER": f"unix:{self.socket}",
            "PULSE_COOKIE": str(self.folder / "cookie"),
            "ALSA_CONFIG_PATH": str(self.folder / "asound.conf"),
            "XDG_RUNTIME_DIR": str(self.folder),
            "HOME": str(self.folder),
            "JACK_NO_START_SERVER": "1",
        }

    def start(self) -> None:
        """Start the server and wait until it answers."""
        self.socket.unlink(missing_ok=True)
        log = (self.folder / "pulse.log").open("ab")
        self._process = subprocess.Popen(
            [
                *("pulseaudio", "-n", "--daemonize=no", "--exit-idle-time=-1"),
                *("--use-pid-file=no", "--disable-shm=yes", "--realtime=no"),
                *("--high-priority=no", "-F", str(self.folder / "start.pa")),
            ],
            env=self.env,
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=log,
        )
        log.close()
        until = time.monotonic() + _STARTS_S
        while time.monotonic() < until:
            if self._process.poll() is not None:
                break
            asked = self.pactl("info", check=False)
            if asked.returncode == 0:
                return
            time.sleep(0.1)
        said = (self.folder / "pulse.log").read_text(errors="replace")
        raise RuntimeError(f"PulseAudio does not start: {said[-2000:]}")

    def stop(self) -> None:
        """Kill the server, as a crash would."""
        if self._process is not None:
            self._process.kill()
            self._process.wait(30)
            self._process = None

    def pause(self) -> None:
        """Have the server stand still: it neither answers nor goes away."""
        assert self._process is not None
        self._process.send_signal(19)  # SIGSTOP

    def resume(self) -> None:
        """Let a server that stands still go on."""
        assert self._process is not None
        self._process.send_signal(18)  # SIGCONT

    def pactl(self, *words: str, check: bool = True) -> subprocess.CompletedProcess[str]:
        """Ask the server something, or tell it."""
        return subprocess.run(
            ["pactl", *words], env=self.env, check=check, capture_output=True, text=True, timeout=60
        )

    def add_cable(self, name: str) -> str:
        """Make a cable while the server runs; the number to take it away with."""
        return self.pactl("load-module", *self._cable(name).split()).stdout.strip()

    def remove_cable(self, number: str) -> None:
        """Take a cable away, as pulling a plug would."""
        self.pactl("unload-module", number)

    def _cable(self, name: str) -> str:
        places = "front-left,front-right,rear-left,rear-right,front-center,lfe,side-left,side-right"
        spots = ",".join(places.split(",")[: self.channels]) if self.channels > 1 else "mono"
        return (
            f"module-null-sink sink_name={name} rate={self.rate_hz} channels={self.channels} "
            f"channel_map={spots} format=float32le norewinds=1"
        )

    def write_files(self) -> None:
        """Write what server and clients read when they start."""
        lines = [f"load-module module-native-protocol-unix socket={self.socket} auth-anonymous=1"]
        lines += [f"load-module {self._cable(name)}" for name in self.cables]
        (self.folder / "start.pa").write_text("\n".join(lines) + "\n")
        names = ["</usr/share/alsa/alsa.conf>"]
        for name in self.cables:
            for end, device in (("in", name), ("out", f"{name}.monitor")):
                names.append(
                    f'pcm.{name}_{end} {{ type pulse device "{device}" '
                    f'hint {{ show on description "{name} {end}" }} }}'
                )
        (self.folder / "asound.conf").write_text("\n".join(names) + "\n")


@pytest.fixture
def make_pulse() -> Iterator[Callable[..., Pulse]]:
    """Make servers: ``make_pulse("aud", "cv", rate_hz=48000, channels=2)``."""
    made: list[Pulse] = []

    def make(*cables: str, rate_hz: int = 48_000, channels: int = 2) -> Pulse:
        # A socket's path may be 107 bytes long at most, which tmp_path can exceed.
        pulse = Pulse(Path(tempfile.mkdtemp(prefix="pw-")), cables, rate_hz, channels)
        made.append(pulse)
        pulse.write_files()
        pulse.start()
        return pulse

    yield make
    for pulse in made:
        pulse.stop()
        shutil.rmtree(pulse.folder, ignore_errors=True)

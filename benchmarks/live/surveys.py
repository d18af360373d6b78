"""Surveys and a guided trim over real sound and MIDI servers, against the stand-in's own truth.

``python -m benchmarks.live.surveys`` starts a PulseAudio server with null sinks and a JACK server
of its own, and writes RESULTS-survey.md beside itself; ``--dry`` only prints. It runs in real time,
so nothing else should keep the machine busy.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any

from benchmarks.live.outcome import Outcome, table

from pitchwright.practice.scenario import theatre_rig
from pitchwright.units import cents_between, note_to_hz, ratio_of_cents

HERE = Path(__file__).parent
NOTES = "C1..C7 step 6"
SURVEY_S, U_CENTS, TRUTH_CENTS = 20.0, 0.05, 0.1
MAIN = "from pitchwright.cli.app import main; main()"
_PLACES = "front-left,front-right,rear-left,rear-right,front-center,lfe,side-left,side-right"
_TRIMMERS = {
    "coarse base trimmer": "base coarse",
    "fine base trimmer": "base fine",
    "scale trimmer": "scale",
    "high-frequency trimmer": "high end",
}


@contextmanager
def running(words: list[str], env: dict[str, str], **more: Any) -> Iterator[subprocess.Popen[str]]:
    """A program for as long as the block lasts."""
    process = subprocess.Popen(words, env=env, text=True, **more)
    try:
        yield process
    finally:
        # JACK leaves its place taken where it is killed, and there are only eight.
        process.terminate()
        process.wait(30)


@contextmanager
def servers(folder: Path) -> Iterator[dict[str, str]]:
    """PulseAudio with two virtual cables and JACK for MIDI; the environment to see them."""
    socket = folder / "pulse.socket"
    lines = [f"load-module module-native-protocol-unix socket={socket} auth-anonymous=1"]
    devices = ["</usr/share/alsa/alsa.conf>"]
    for cable, channels in (("sound", 8), ("voltage", 2)):
        spots = ",".join(_PLACES.split(",")[:channels])
        lines.append(
            f"load-module module-null-sink sink_name={cable} rate=48000 channels={channels} "
            f"channel_map={spots} format=float32le norewinds=1"
        )
        for end, device in (("in", cable), ("out", f"{cable}.monitor")):
            hint = f'hint {{ show on description "{cable} {end}" }}'
            devices.append(f'pcm.{cable}_{end} {{ type pulse device "{device}" {hint} }}')
    (folder / "start.pa").write_text("\n".join(lines) + "\n")
    (folder / "asound.conf").write_text("\n".join(devices) + "\n")
    env = {
        **os.environ,
        "PULSE_SERVER": f"unix:{socket}",
        "PULSE_COOKIE": str(folder / "cookie"),
        "ALSA_CONFIG_PATH": str(folder / "asound.conf"),
        "XDG_RUNTIME_DIR": str(folder),
        "HOME": str(folder),
        "JACK_DEFAULT_SERVER": f"pwbench{os.getpid()}",
        "JACK_NO_START_SERVER": "1",
        "OMP_NUM_THREADS": "1",
        "OPENBLAS_NUM_THREADS": "1",
    }
    pulse = [
        *("pulseaudio", "-n", "--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no"),
        *("--disable-shm=yes", "--realtime=no", "--high-priority=no"),
        *("-F", str(folder / "start.pa")),
    ]
    jack = ["jackd", "-r", "-n", env["JACK_DEFAULT_SERVER"], "-d", "dummy"]
    jack += ["-r", "48000", "-p", "512", "-C", "2", "-P", "2"]
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    with running(pulse, env, **quiet), running(jack, env, **quiet):
        for _ in range(100):
            asked = subprocess.run(["pactl", "info"], env=env, capture_output=True)
            if asked.returncode == 0:
                break
            time.sleep(0.1)
        time.sleep(1.0)
        yield env


class Instrument:
    """The stand-in, spoken to line by line."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self._process = process
        self.names = list(self._heard()["oscillators"])

    def tell(self, line: str) -> Any:
        """Say a line; what it answers."""
        assert self._process.stdin is not None
        self._process.stdin.write(f"{line}\n")
        self._process.stdin.flush()
        return self._heard()

    def _heard(self) -> Any:
        assert self._process.stdout is not None
        return json.loads(self._process.stdout.readline())


@contextmanager
def instrument(env: dict[str, str], *options: str) -> Iterator[Instrument]:
    """The stand-in in a process of its own."""
    words = [sys.executable, "-c", MAIN, "practice", "run", "--sound-out", "sound_in", *options]
    with running(words, env, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as process:
        yield Instrument(process)


def described(folder: Path, notes: str, names: list[str]) -> Path:
    """A bench file for the stand-in."""
    lines = [
        *("invented = true", f'notes = "{notes}"'),
        *("[sound_in]", 'device = "sound_out"', "latency_s = 0.5", "device_channels = 8"),
        *("[voltage_out]", 'device = "voltage_in"', "channel = 1", "control_voltage = true"),
        "latency_s = 0.5",
        *("[voltage_out.calibration]", "levels = [0.0, 0.2, 0.4, 0.8]"),
        'read_v = ["0.00000", "2.00000", "4.00000", "8.00000"]',
        *("[midi]", 'port = "Loft"'),
    ]
    for channel, name in enumerate(names, start=1):
        lines += [f'[oscillator."{name}"]', f"channel = {channel}"]
        for trimmer, kind in _TRIMMERS.items():
            lines += [f'[[oscillator."{name}".trimmer]]', f'name = "{trimmer}"', f'kind = "{kind}"']
    path = folder / f"bench-{notes}-{len(names)}.toml"
    path.write_text("\n".join(lines) + "\n")
    return path


def happened(events: Path) -> list[dict[str, Any]]:
    """The events that a run has kept."""
    return [json.loads(line) for line in events.read_text().splitlines()]


def seconds(events: list[dict[str, Any]]) -> float:
    """From the first event to the last."""
    first, last = (datetime.fromisoformat(events[place]["at"]) for place in (0, -1))
    return (last - first).total_seconds()


def survey(
    folder: Path, env: dict[str, str], title: str, notes: str, *options: str
) -> list[Outcome]:
    """One survey of 13 notes, held against the truth of every oscillator."""
    with instrument(env, "--calm", *options) as there:
        bench = described(folder, notes, there.names)
        events = folder / f"{bench.stem}.jsonl"
        words = [sys.executable, "-c", MAIN, "survey", "--bench", str(bench), "--notes", NOTES]
        words += ["--events", str(events), "--no-sheet", "--logbook", "none"]
        begun_s = time.monotonic()
        subprocess.run(words, env=env, check=True, stdout=subprocess.DEVNULL, timeout=300)
        whole_s = time.monotonic() - begun_s
        kept = happened(events)
        source = theatre_rig().source("Loft")
        worst, u_most, again = 0.0, 0.0, 0
        for event in kept:
            what = event["what"]
            again += what["kind"] == "tell"
            if what["kind"] != "survey closed":
                continue
            points = what["points"]
            volts = [p["cv_v"] if notes == "voltage" else source.cv_v(p["note"]) for p in points]
            said = there.tell("truth " + " ".join(repr(v) for v in volts))
            (true,) = [one for one in said["oscillators"] if one["name"] == what["oscillator"]]
            for point, f_hz in zip(points, true["f_hz"], strict=True):
                worst = max(worst, abs(cents_between(point["f_hz"], f_hz)))
                u_most = max(u_most, point["u_cents"])
    took = seconds(kept)
    return [
        Outcome(
            f"{title}: 13 notes, from first to last event",
            f"≤ {SURVEY_S:g} s",
            f"{took:.1f} s ({whole_s:.1f} s with the program's start; read again: {again})",
            took <= SURVEY_S,
        ),
        Outcome(
            f"{title}: greatest uncertainty of a reading",
            f"≤ {U_CENTS:g} cent",
            f"{u_most:.4f} cent",
            u_most <= U_CENTS,
        ),
        Outcome(
            f"{title}: greatest distance from the truth",
            f"≤ {TRUTH_CENTS:g} cent",
            f"{worst:.4f} cent",
            worst <= TRUTH_CENTS,
        ),
    ]


def trim(folder: Path, env: dict[str, str]) -> list[Outcome]:
    """A guided trim from as found to as left, a hand turning the stand-in's trimmers."""
    with instrument(env, "--voltage-in", "voltage_out", "--latency", "0.2") as there:
        bench = described(folder, "voltage", ["Heron"])
        bench.write_text(bench.read_text().replace("latency_s = 0.5", "latency_s = 0.2"))
        events = folder / "trim.jsonl"
        words = [sys.executable, "-c", MAIN, "trim", "Heron", "--bench", str(bench)]
        words += ["--events", str(events), "--logbook", "none"]
        seen = visits = 0
        with running(words, env, stdout=subprocess.DEVNULL) as process:
            while process.poll() is None:
                time.sleep(0.05)
                lines = events.read_text().splitlines() if events.exists() else []
                if lines and not events.read_text().endswith("\n"):
                    lines = lines[:-1]
                for line in lines[seen:]:
                    what = json.loads(line)["what"]
                    if what["kind"] == "watch turn":
                        visits = max(visits, what["visit"])
                        aim_hz = what["tuned_hz"] * ratio_of_cents(what["aim_cents"])
                        there.tell(f'bring Heron "{what["trimmer"]}" {aim_hz}')
                    elif what["kind"] == "turn watched":
                        there.tell("bring Heron")
                seen = len(lines)
        kept = happened(events)
        notes = range(24, 85, 6)
        said = there.tell("truth " + " ".join(str((note - 24) / 12) for note in notes))
        f_hz = said["oscillators"][0]["f_hz"]
        left = max(
            abs(cents_between(one, note_to_hz(note))) for one, note in zip(f_hz, notes, strict=True)
        )
    (verdict,) = [e["what"]["verdict"] for e in kept if e["what"]["kind"] == "verdict given"]
    return [
        Outcome(
            "guided trim of Heron, ±1 cent from C1 to C6: verdict",
            "in tune",
            f"{verdict['standing']}, {visits} visits, {seconds(kept):.0f} s",
            verdict["standing"] == "in tune",
        ),
        Outcome(
            "guided trim: greatest error that is true as left",
            "≤ 1 cent",
            f"{left:.2f} cent",
            left <= 1.0,
        ),
    ]


def main() -> None:
    """Measure, print, and write RESULTS-survey.md."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--dry", action="store_true", help="write nothing")
    dry = parser.parse_args().dry
    found: list[Outcome] = []
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="pw-")))
        env = stack.enter_context(servers(folder))
        by_voltage = ("--voltage-in", "voltage_out")
        found += survey(folder, env, "by voltage", "voltage", *by_voltage)
        found += survey(folder, env, "by MIDI", "midi", "--midi-in", "Loft")
        eight = ("--voices", "8", *by_voltage)
        found += survey(folder, env, "eight oscillators at once", "voltage", *eight)
        found += trim(folder, env)
    results = table(found)
    print(results)
    if not dry:
        machine = f"{platform.system()} {platform.machine()}, {os.cpu_count()} cores"
        (HERE / "RESULTS-survey.md").write_text(
            "# Live surveys and a guided trim\n\n"
            "Made by `python -m benchmarks.live.surveys`: tool and stand-in are processes of their "
            "own, joined by PulseAudio null sinks (48 kHz, half a second of buffer each way; a "
            "fifth for the trim) and JACK MIDI. For the surveys the stand-in is calm, so that what "
            f"is off is the tool's doing.\n\nMachine: {machine}.\n\n{results}\n",
            encoding="utf-8",
        )
    sys.exit(0 if all(outcome.met for outcome in found) else 1)


if __name__ == "__main__":
    main()

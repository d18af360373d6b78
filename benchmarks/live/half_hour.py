"""Half an hour of listening: to sound made here, and in real time over a virtual cable."""

from __future__ import annotations

import json
import math
import resource
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import dataclass, field
from pathlib import Path
from statistics import median
from typing import Any

import numpy as np
from benchmarks.live.made_sound import WRONG_CENTS, error, tone
from benchmarks.live.outcome import Outcome
from benchmarks.live.surveys import MAIN, Instrument, instrument, running, servers

from pitchwright.pitch.live import LiveTracker
from pitchwright.units import cents_between, note_name, ratio_of_cents

__all__ = ["in_real_time", "made_here"]

_LONG_S = 30 * 60.0
_NOTES = (24, 97)
_RATE = 48_000
_ANOTHER_NOTE_S, _ANOTHER_CENTS = 1.5, 50.0
_SHOWN = 20


def made_here(seed: int) -> list[Outcome]:
    """Half an hour through the tracker, as fast as it goes: notes, silence, hum, noise, hands."""
    rng = np.random.default_rng(seed)
    tracker = LiveTracker(_RATE)
    wrong, readings, told, hours_s = 0, 0, 0, 0.0
    before_kb = 0
    while hours_s < _LONG_S:
        kind = str(rng.choice(["note", "note", "note", "turned", "silence", "hum", "noise"]))
        length = float(rng.uniform(2.0, 8.0))
        n = round(length * _RATE / 2400) * 2400
        t_s = np.arange(n) / _RATE
        f_hz = 27.5 * float(2.0 ** rng.uniform(0.0, 7.0))
        cents = np.zeros(n)
        if kind == "turned":
            cents = rng.uniform(-60, 60) * np.clip((t_s - 1.0) / 1.5, 0.0, 1.0)
        x = 1e-4 * rng.standard_normal(n)
        if kind in ("note", "turned"):
            x += tone(f_hz, cents, _RATE, rng, 30)
        elif kind == "hum":
            x += 3e-3 * np.sin(2 * np.pi * 50.0 * t_s) + 1e-3 * np.sin(2 * np.pi * 150.0 * t_s)
        elif kind == "noise":
            x += 0.1 * rng.standard_normal(n)
        begin_s = tracker.now_s
        for at in range(0, n, 2400):
            for r in tracker.push(x[at : at + 2400]):
                readings += 1
                # Whatever is heard of the sound before is not this one's.
                if r.f_hz is None or r.t_s - r.window_s / 2 < begin_s:
                    continue
                told += 1
                place = r.t_s - begin_s
                truth = f_hz * ratio_of_cents(float(np.interp(place, t_s, cents)))
                off = abs(error(r, truth)) if kind in ("note", "turned") else float("inf")
                wrong += off > max(WRONG_CENTS, 3 * r.u_cents)
        hours_s += n / _RATE
        if before_kb == 0 and hours_s > 120.0:
            before_kb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    grown = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before_kb) / 1024
    return [
        Outcome(
            f"half an hour, made here, faster than real time: wrong readings of {told} "
            f"({readings - told} moments rightly without one)",
            "0",
            f"{wrong}",
            wrong == 0,
        ),
        Outcome(
            "memory, from the second minute to the end",
            "≤ 20 MB more",
            f"{grown:.1f} MB",
            grown <= 20.0,
        ),
    ]


@dataclass
class _Played:
    """What the stand-in plays now and what it played before, each from where it was to where it is.

    A wandering oscillator is asked when a note has begun and again when it ends.
    """

    now: tuple[float, float] = (1.0, 1.0)
    before: tuple[float, float] = (1.0, 1.0)
    notes: int = 0
    lock: threading.Lock = field(default_factory=threading.Lock)

    def off_cents(self, f_hz: float) -> float:
        """How far a frequency is from what may sound."""
        with self.lock:
            return min(_outside(f_hz, *self.now), _outside(f_hz, *self.before))


def _outside(f_hz: float, one_hz: float, other_hz: float) -> float:
    low, high = min(one_hz, other_hz), max(one_hz, other_hz)
    return max(cents_between(low, f_hz), cents_between(f_hz, high), 0.0)


@dataclass
class _Tally:
    """What the listener told."""

    told: int = 0
    silent: int = 0
    settled: int = 0
    wrong: list[str] = field(default_factory=list)
    memory_kb: list[int] = field(default_factory=list)

    def take(self, one: dict[str, Any], played: _Played) -> None:
        """Count one reading."""
        if one["f_hz"] is None:
            self.silent += 1
            return
        self.told += 1
        self.settled += one["settled"]
        off = played.off_cents(one["f_hz"])
        if off > max(WRONG_CENTS, 3 * one["u_cents"]):
            self.wrong.append(
                f"{one['end_s']:.2f} s: {one['f_hz']:.3f} Hz ± {one['u_cents']:.2f} cents over "
                f"{one['window_s']:.3f} s, {off:.2f} cents off {played.before}, {played.now}"
            )


def in_real_time(seed: int, seconds_s: float = _LONG_S) -> list[Outcome]:
    """The command itself over a virtual cable, the stand-in playing notes for so long."""
    rng = np.random.default_rng(seed)
    with tempfile.TemporaryDirectory(prefix="pw-") as made, servers(Path(made)) as env:
        words = [sys.executable, "-c", MAIN, "listen", "--in", "sound_out", "--rate", str(_RATE)]
        words += ["--device-channels", "8", "Heron=1", "--json", "--seconds", str(seconds_s)]
        played, tally = _Played(), _Tally()
        with instrument(env, "--seed", str(seed)) as there:
            _play(there, played, rng)
            pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE}
            with running(words, env, **pipes) as listener:
                began_s = time.monotonic()
                hears = threading.Thread(target=_hear, args=(listener, played, tally))
                hears.start()
                while listener.poll() is None:
                    time.sleep(float(rng.uniform(1.5, 5.0)))
                    _play(there, played, rng)
                    if time.monotonic() - began_s > 60.0 and listener.poll() is None:
                        tally.memory_kb.append(_memory_kb(listener.pid))
                assert listener.stderr is not None
                gaps = listener.stderr.read().count("sound was lost")
                hears.join(60)
    for line in tally.wrong[:_SHOWN]:
        print(line)
    # What it holds goes up and down by what one reading takes: the middle of many is compared.
    tenth = max(1, len(tally.memory_kb) // 10)
    before_kb, after_kb = tally.memory_kb[:tenth], tally.memory_kb[-tenth:]
    grown = (median(after_kb) - median(before_kb)) / 1024 if tally.memory_kb else math.nan
    return [
        Outcome(
            f"{seconds_s / 60:g} minutes in real time, the command over a null sink, the stand-in "
            f"in its own process playing {played.notes} notes: wrong readings of {tally.told} "
            f"({tally.settled} settled, {tally.silent} moments without one, {gaps} gaps)",
            "0",
            f"{len(tally.wrong)}",
            not tally.wrong and tally.told > 0,
        ),
        Outcome(
            "its memory, the last tenth of the time beside the first (after a minute)",
            "≤ 5 MB more",
            f"{grown:.1f} MB",
            grown <= 5.0,
        ),
    ]


def _play(there: Instrument, played: _Played, rng: np.random.Generator) -> None:
    """Another note; the one before may still be heard for a while."""
    ended_hz = f_hz = _true_hz(there)
    there.tell(f"play {note_name(int(rng.integers(*_NOTES)))}")
    # It makes sound ahead, as much at once as its device takes.
    until_s = time.monotonic() + _ANOTHER_NOTE_S
    while abs(cents_between(f_hz, ended_hz)) < _ANOTHER_CENTS and time.monotonic() < until_s:
        time.sleep(0.01)
        f_hz = _true_hz(there)
    with played.lock:
        played.before = (played.now[0], ended_hz)
        played.now = (f_hz, f_hz)
        played.notes += 1


def _true_hz(there: Instrument) -> float:
    return float(there.tell("truth")["oscillators"][0]["f_hz"][0])


def _hear(listener: subprocess.Popen[str], played: _Played, tally: _Tally) -> None:
    assert listener.stdout is not None
    for line in listener.stdout:
        tally.take(json.loads(line), played)


def _memory_kb(pid: int) -> int:
    text = Path(f"/proc/{pid}/status").read_text(encoding="ascii")
    return next(int(line.split()[1]) for line in text.splitlines() if line.startswith("VmRSS"))

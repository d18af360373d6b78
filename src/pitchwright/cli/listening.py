"""Listening from the terminal: which channels, and how what is heard is shown."""

from __future__ import annotations

import json
import math
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import numpy as np
from rich.console import Console
from rich.live import Live
from rich.table import Table
from rich.text import Text

from pitchwright.bench.live.bench_file import bench_path, read_bench
from pitchwright.bench.live.hearing import HeardNow, Hearing
from pitchwright.bench.live.input_check import ChannelCheck, check_inputs, one_note
from pitchwright.bench.live.played import PlayedRecording
from pitchwright.bench.live.sound_in import SoundIn, SoundSource, SoundState
from pitchwright.certificate.survey_record import finite
from pitchwright.cli import console
from pitchwright.errors import InputError
from pitchwright.pitch import Reading
from pitchwright.units import cents_between, cents_from_ppm, note_name, note_of_hz, note_to_hz

__all__ = ["Plan", "View", "planned", "show_check", "show_live", "show_once"]

_LINE_EVERY_S: Final = 0.5
_CHECK_S: Final = 2.0
_ONCE_S: Final = 5.0
_CHECK_WAIT_S: Final = 10.0
_MOST_CHANNELS: Final = 32
ATTENUATE: Final = (
    "Modular outputs are about ten volts peak to peak: attenuate before a line input. Ctrl-C stops."
)


@dataclass(frozen=True, slots=True)
class Plan:
    """What to listen to.

    Attributes
    ----------
    names, numbers
        The channels' names and numbers, from 1.
    others, other_names
        Numbers of the other channels there are, on which nothing is meant to sound, and how to
        call them.
    device, rate_hz, device_channels, latency_s
        As for `SoundIn`.
    recording
        A recording to take instead of a device.
    mains_hz
        50, 60, or None where not known.
    """

    names: tuple[str, ...]
    numbers: tuple[int, ...]
    others: tuple[int, ...]
    other_names: tuple[str, ...]
    device: str | int | None
    rate_hz: float | None
    device_channels: int | None
    latency_s: float
    recording: Path | None
    mains_hz: float | None

    def opened(self) -> SoundIn | PlayedRecording:
        """The source: its channels in the plan's order, then the others."""
        numbers = (*self.numbers, *self.others)
        if self.recording is not None:
            return PlayedRecording(self.recording, channels=numbers)
        return SoundIn(
            self.device,
            rate_hz=self.rate_hz,
            channels=numbers,
            device_channels=self.device_channels,
            latency_s=self.latency_s,
        )


@dataclass(frozen=True, slots=True)
class View:
    """How to show it: pitch of A4, JSON or not, for how long (None: until stopped)."""

    a4_hz: float
    as_json: bool
    seconds: float | None


def planned(
    channels: Sequence[str],
    device: str | None,
    rate_hz: float | None,
    device_channels: int | None,
    recording: Path | None,
    bench: Path | None,
    mains_hz: float | None,
) -> Plan:
    """What the options and the bench file, if there is one, say together."""
    if mains_hz not in (None, 50.0, 60.0):
        raise InputError(f"Mains at {mains_hz:g} Hz", "--mains", "Write 50 or 60")
    path = bench_path(bench)
    latency_s = 0.2
    wanted: str | int | None = device
    named: dict[str, int] = {}
    if recording is None and device is None and (bench is not None or path.exists()):
        there = read_bench(path)
        wanted, latency_s = there.sound_in.device, there.sound_in.latency_s
        rate_hz = rate_hz or there.sound_in.rate_hz
        device_channels = device_channels or there.sound_in.device_channels
        mains_hz = mains_hz or there.sound_in.mains_hz
        named = {name: one.channel for name, one in there.oscillator.items()}
    chosen = [_channel(text, named) for text in channels]
    if not chosen:
        chosen = list(named.items()) or _all_of(recording)
    if len(chosen) > _MOST_CHANNELS:
        raise InputError(f"{len(chosen)} channels are too many", do=f"{_MOST_CHANNELS} at most")
    names = tuple(name for name, _ in chosen)
    numbers = tuple(number for _, number in chosen)
    if len(set(names)) < len(names) or len(set(numbers)) < len(numbers):
        raise InputError("A channel is given twice", "channels", "Give each once")
    last = _channels_of(recording) if recording is not None else device_channels or 0
    others = tuple(number for number in range(1, last + 1) if number not in numbers)
    owners = {number: f" ({name})" for name, number in named.items()}
    return Plan(
        names,
        numbers,
        others,
        tuple(f"channel {number}{owners.get(number, '')}" for number in others),
        wanted,
        rate_hz,
        device_channels,
        latency_s,
        recording,
        mains_hz,
    )


def _all_of(recording: Path | None) -> list[tuple[str, int]]:
    there = 2 if recording is None else _channels_of(recording)
    return [(f"channel {number}", number) for number in range(1, there + 1)]


def _channels_of(recording: Path) -> int:
    with PlayedRecording(recording, in_real_time=False) as source:
        return source.channels


def _channel(text: str, named: dict[str, int]) -> tuple[str, int]:
    name, equals, number = text.rpartition("=")
    name, number = name.strip(), number.strip()
    if number.isascii() and number.isdigit() and int(number) > 0 and (name or not equals):
        return name or f"channel {number}", int(number)
    for known, place in named.items():
        if not equals and known.casefold() == number.casefold():
            return known, place
    raise InputError(
        f"“{text[:40]}” is no channel",
        do="Write a number from 1, or NAME=NUMBER as Heron=1"
        + (f", or one of {', '.join(named)}" if named else ""),
    )


def show_live(
    plan: Plan, source: SoundSource, view: View, reference: str | None, clock_ppm: float
) -> None:
    """Listen and show, until the time is over or the person stops."""
    if not 0.0 <= clock_ppm <= 1000.0:
        raise InputError(
            f"A clock tolerance of {clock_ppm:g} parts per million", "--clock-ppm", "0 to 1000"
        )
    hearing = Hearing(
        source,
        plan.names,
        others=plan.other_names,
        reference=_reference(plan, reference),
        clock_ppm=clock_ppm,
        mains_hz=plan.mains_hz,
        say=console.warning,
    )
    if view.as_json:
        show: _Shown = _JsonLines()
    elif sys.stdout.isatty():
        show = _Screen(plan.names, view.a4_hz)
    else:
        show = _Lines(view.a4_hz)
    if not view.as_json and plan.recording is None:
        console.sentence(ATTENUATE)
    until = time.monotonic() + view.seconds if view.seconds is not None else math.inf
    with show:
        while time.monotonic() < until:
            heard = hearing.update(min(0.1, max(0.0, until - time.monotonic())))
            show.take(heard)
            if source.state is SoundState.ENDED:
                break
    if view.seconds is not None and source.state in (SoundState.LOST, SoundState.DEAD):
        raise InputError(
            "The sound input did not come back", plan_name(plan), "Connect it, then listen again"
        )


def plan_name(plan: Plan) -> str:
    """What is listened to, in words."""
    return str(plan.recording or plan.device or "the system's sound input")


def _reference(plan: Plan, wanted: str | None) -> str | None:
    if wanted is None:
        return None
    for name, number in zip(plan.names, plan.numbers, strict=True):
        if wanted.strip().casefold() in (name.casefold(), str(number)):
            return name
    raise InputError(
        f"No channel that is listened to is called “{wanted[:40]}”",
        "--reference",
        f"There are: {', '.join(plan.names)}",
    )


class _Shown:
    """A way of showing what is heard (a context manager)."""

    def __enter__(self) -> _Shown:
        return self

    def __exit__(self, *_: object) -> None:
        return None

    def take(self, heard: list[HeardNow]) -> None:
        raise NotImplementedError


class _JsonLines(_Shown):
    """One JSON object a line for every reading."""

    def take(self, heard: list[HeardNow]) -> None:
        for one in heard:
            sys.stdout.write(json.dumps(_record(one), ensure_ascii=False, allow_nan=False) + "\n")
        sys.stdout.flush()


@dataclass
class _Lines(_Shown):
    """Plain lines, two a second for each channel, for where nobody's eyes are on a screen."""

    a4_hz: float
    _next_s: dict[str, float] = field(default_factory=dict)

    def take(self, heard: list[HeardNow]) -> None:
        for one in heard:
            end_s = one.reading.end_s
            if end_s < self._next_s.get(one.name, 0.0):
                continue
            self._next_s[one.name] = end_s + _LINE_EVERY_S - 0.03
            cells = [cell for cell in _cells(one, self.a4_hz) if cell]
            console.sentence(f"{end_s:8.2f} s  {one.name}: {', '.join(cells)}")
        sys.stdout.flush()


class _Screen(_Shown):
    """A table that is drawn again and again in place."""

    def __init__(self, names: Sequence[str], a4_hz: float) -> None:
        self._a4_hz = a4_hz
        self._latest: dict[str, HeardNow] = {}
        self._names = names
        self._live = Live(console=Console(highlight=False), refresh_per_second=10)

    def __enter__(self) -> _Shown:
        self._live.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._live.stop()

    def take(self, heard: list[HeardNow]) -> None:
        if not heard:
            return
        self._latest.update({one.name: one for one in heard})
        grid = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim")
        headings = ("", "pitch, Hz", "note", "± cents (k = 2)", "level, dBFS", "beside", "")
        for place, title in enumerate(headings):
            grid.add_column(Text(title), justify="left" if place in (0, 6) else "right")
        for name in self._names:
            if name in self._latest:
                cells = _cells(self._latest[name], self._a4_hz, units=False)
                grid.add_row(Text(name), *(Text(cell) for cell in cells))
        self._live.update(grid)


def _cells(one: HeardNow, a4_hz: float, *, units: bool = True) -> tuple[str, ...]:
    """Pitch, note, uncertainty, level, beside the reference, and the state in words."""
    from pitchwright.tracking.coverage import expanded_u

    reading = one.reading
    unit: Callable[[str], str] = (lambda word: f" {word}") if units else (lambda _: "")
    level = "silent"
    if math.isfinite(reading.level_dbfs):
        level = console.number(reading.level_dbfs, 1) + unit("dBFS")
    if reading.f_hz is None:
        return ("no pitch", "", "", level, "", " ".join(reading.doubts))
    nearest = round(note_of_hz(reading.f_hz, a4_hz))
    off = cents_between(reading.f_hz, note_to_hz(nearest, a4_hz))
    expanded = expanded_u(one.u_cents)
    digits = 3 if expanded < 0.1 else 2 if expanded < 10.0 else 0
    beside = ""
    if one.beside is not None:
        beside = f"{console.number(one.beside.cents, digits, sign=True)} cents"
        if one.beside.beats_hz is not None:
            beside += f", {one.beside.beats_hz:.2f} beats a second"
    state = "settled" if reading.settled else "not at rest"
    return (
        f"{reading.f_hz:.4f}{unit('Hz')}",
        f"{note_name(nearest)} {console.number(off, digits, sign=True)}{unit('cents')}",
        ("± " if units else "") + console.number(expanded, digits),
        level,
        beside,
        " ".join([state, *(f"{doubt}." for doubt in reading.doubts)]),
    )


def _record(one: HeardNow) -> dict[str, Any]:
    reading, beside = one.reading, one.beside
    return {
        "channel": one.name,
        "t_s": round(reading.t_s, 6),
        "end_s": round(reading.end_s, 6),
        "f_hz": reading.f_hz,
        "u_cents": finite(one.u_cents),
        "level_dbfs": finite(reading.level_dbfs),
        "settled": reading.settled,
        "clipped": reading.clipped,
        "window_s": round(reading.window_s, 6),
        "ratio": None if beside is None else beside.ratio,
        "cents_beside": None if beside is None else beside.cents,
        "beats_hz": None if beside is None else beside.beats_hz,
        "doubts": list(reading.doubts),
    }


def show_once(plan: Plan, source: SoundSource, view: View, clock_ppm: float) -> None:
    """Read each channel once, as soon as it is at rest and well known."""
    hearing = Hearing(
        source,
        plan.names,
        others=plan.other_names,
        mains_hz=plan.mains_hz,
        say=console.warning,
    )
    taken = hearing.take(most_s=view.seconds or _ONCE_S)
    clock = cents_from_ppm(clock_ppm)
    if view.as_json:
        readings = [_read_once(name, reading, clock) for name, reading in taken.items()]
        console.print_json({"schema": "pitchwright live readings 1", "readings": readings})
        return
    rows = []
    for name in plan.names:
        reading = taken[name]
        if reading.f_hz is None:
            rows.append((name, "no pitch", "", ""))
            continue
        nearest = round(note_of_hz(reading.f_hz, view.a4_hz))
        off = cents_between(reading.f_hz, note_to_hz(nearest, view.a4_hz))
        expanded = 2.0 * math.hypot(reading.u_cents, clock)
        rows.append(
            (
                name,
                f"{reading.f_hz:.4f}",
                f"{note_name(nearest)} {console.number(off, 3, sign=True)}",
                console.number(expanded, 3),
            )
        )
    console.table(("channel", "pitch, Hz", "note", "± cents (k = 2)"), rows)
    for name in plan.names:
        for flag in taken[name].flags:
            console.sentence(f"{name}: {flag.reason}.")


def _read_once(name: str, reading: Reading, clock_cents: float) -> dict[str, Any]:
    return {
        "channel": name,
        "f_hz": reading.f_hz,
        "u_cents": finite(math.hypot(reading.u_cents, clock_cents)),
        "level_dbfs": finite(reading.level_dbfs),
        "flags": [flag.reason for flag in reading.flags],
    }


def show_check(plan: Plan, source: SoundSource, view: View) -> None:
    """Take in two seconds, and say what is wrong with any channel and what to do."""
    sound = _some_sound(plan, source)
    sound = sound[one_note(sound[:, : len(plan.names)], source.rate_hz)]
    checked = check_inputs(
        sound, source.rate_hz, plan.names, others=plan.other_names, mains_hz=plan.mains_hz
    )
    if view.as_json:
        console.print_json(
            {"schema": "pitchwright input check 1", "channels": [_checked(c) for c in checked]}
        )
        return
    console.table(
        ("channel", "level, dBFS", "peak, dBFS", "noise, dBFS", "hum, dBFS", "pitch, Hz"),
        [_row(one) for one in checked],
    )
    for one in checked:
        for finding in one.findings:
            console.sentence(f"{one.name}: {finding.sentence}. {finding.do}.")
        if one.good:
            console.sentence(f"{one.name}: good to read.")


def _some_sound(plan: Plan, source: SoundSource) -> np.ndarray[Any, np.dtype[np.float32]]:
    """Two seconds without a gap."""
    wanted = round(_CHECK_S * source.rate_hz)
    parts: list[np.ndarray[Any, np.dtype[np.float32]]] = []
    until = time.monotonic() + _CHECK_WAIT_S
    while sum(map(len, parts)) < wanted:
        for block in source.read_new(0.1):
            if block.gap:
                parts.clear()
            parts.append(block.samples)
        over = source.state in (SoundState.LOST, SoundState.ENDED)
        if over or time.monotonic() > until:
            break
    if sum(map(len, parts)) < round(0.5 * source.rate_hz):
        raise InputError(
            "No sound arrives, not even silence",
            plan_name(plan),
            "Check that the interface is connected and the sound server runs",
        )
    return np.concatenate(parts)[-wanted:]


def _row(one: ChannelCheck) -> tuple[str, ...]:
    figures = (one.level_dbfs, one.peak_dbfs, one.noise_dbfs, one.hum_dbfs)
    shown = ("none" if not math.isfinite(f) else console.number(f, 0) for f in figures)
    pitch = "" if one.reading.f_hz is None else f"{one.reading.f_hz:.2f}"
    return (one.name, *shown, pitch)


def _checked(one: ChannelCheck) -> dict[str, Any]:
    return {
        "channel": one.name,
        "level_dbfs": finite(one.level_dbfs),
        "peak_dbfs": finite(one.peak_dbfs),
        "noise_dbfs": finite(one.noise_dbfs),
        "hum_dbfs": finite(one.hum_dbfs),
        "mains_hz": one.mains_hz,
        "f_hz": one.reading.f_hz,
        "u_cents": finite(one.reading.u_cents),
        "findings": [
            {"kind": f.kind.value, "sentence": f.sentence, "do": f.do} for f in one.findings
        ],
    }

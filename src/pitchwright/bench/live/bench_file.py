"""The bench file: what is connected, described once in TOML, in the user's configuration folder.

Devices, channels, oscillators with their trimmers and routes, how notes are played, and what a
voltmeter showed. The readings of the voltmeter are kept, not the line through them, so that what
the line is worth is worked out anew each time.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Field, ValidationError, model_validator

from pitchwright.bench.described import Described, NoteName, read_description
from pitchwright.bench.live.calibration import Calibration, Measured, fit_calibration
from pitchwright.errors import InputError
from pitchwright.procedures.circumstances import Conditions
from pitchwright.trim.kinds import KINDS, TrimmerKind
from pitchwright.trim.trimmer import Trimmer
from pitchwright.units import NOTE_AT_0_V, note_name
from pitchwright.writing import write_whole

__all__ = [
    "BenchFile",
    "Midi",
    "OscillatorThere",
    "ReferenceThere",
    "SoundInput",
    "TrimmerThere",
    "VoltageInput",
    "VoltageOutput",
    "Voltmeter",
    "bench_path",
    "checked",
    "read_bench",
    "write_bench",
]

_VARIABLE = "PITCHWRIGHT_BENCH"
_HEADING = (
    "# What is connected to pitchwright. Made by “pitchwright bench setup”; docs/connect.md says\n"
    "# what may stand here. Change it by hand as you like: every fault is told with its line.\n"
)


class SoundInput(Described):
    """Where the oscillators are heard."""

    device: str | int | None = None
    rate_hz: float = Field(48000.0, ge=8000.0, le=384_000.0)
    latency_s: float = Field(0.2, ge=0.0, le=5.0)
    device_channels: int | None = Field(None, ge=1, le=256)
    mains_hz: Literal[50, 60] | None = None


def _of_the_table(word: str) -> str:
    if word not in KINDS:
        raise ValueError(f"“{word[:60]}” is no kind of trimmer; kinds are {', '.join(KINDS)}")
    return word


class TrimmerThere(Described):
    """One trimmer of an oscillator."""

    name: str = Field(min_length=1, max_length=200)
    kind: Annotated[str, AfterValidator(_of_the_table)]
    may_touch: bool = True
    inside: bool = False
    resolution_cents: float = Field(0.0, ge=0.0, lt=1200.0)

    def trimmer(self) -> Trimmer:
        """As a guided trim takes it."""
        return Trimmer(
            self.name, TrimmerKind(self.kind), self.may_touch, self.inside, self.resolution_cents
        )


class OscillatorThere(Described):
    """One oscillator: which channel it is heard on, its trimmers, the way of its voltage."""

    channel: int = Field(ge=1, le=256)
    what: str = ""
    route: str = ""
    trimmer: list[TrimmerThere] = Field(default_factory=list)


class Voltmeter(Described):
    """What a voltmeter showed at some levels; figures as they were read, in quotation marks."""

    levels: list[float] = Field(min_length=3)
    read_v: list[str] = Field(min_length=3)
    u_gain_percent: float = Field(0.0, ge=0.0, le=10.0)
    at: str = ""

    @model_validator(mode="after")
    def _as_many(self) -> Voltmeter:
        if len(self.levels) != len(self.read_v):
            raise ValueError(
                f"{len(self.levels)} levels and {len(self.read_v)} readings: there must be one"
                " reading for each level"
            )
        for written in self.read_v:
            Measured.read(0.0, written)
        return self

    def calibration(self) -> Calibration:
        """The line through them; InputError where they do not lie on one."""
        measured = [
            Measured.read(level, written)
            for level, written in zip(self.levels, self.read_v, strict=True)
        ]
        return fit_calibration(measured, u_gain=self.u_gain_percent / 100.0)


class VoltageOutput(Described):
    """A DC-coupled output that plays notes as voltages."""

    device: str | int
    channel: int = Field(ge=1, le=256)
    rate_hz: float = Field(48000.0, ge=8000.0, le=384_000.0)
    latency_s: float = Field(0.2, ge=0.0, le=5.0)
    device_channels: int | None = Field(None, ge=1, le=256)
    control_voltage: bool = False
    calibration: Voltmeter | None = None


class Midi(Described):
    """A MIDI port that leads to a converter."""

    port: str = Field(min_length=1)
    channel: int = Field(1, ge=1, le=16)
    velocity: int = Field(100, ge=1, le=127)
    transpose: int = Field(0, ge=-60, le=60)


class VoltageInput(Described):
    """A DC-coupled input that hears the control voltage; of the sound input where no device."""

    device: str | int | None = None
    channel: int = Field(ge=1, le=256)
    rate_hz: float = Field(48000.0, ge=8000.0, le=384_000.0)
    latency_s: float = Field(0.2, ge=0.0, le=5.0)
    device_channels: int | None = Field(None, ge=1, le=256)
    calibration: Voltmeter | None = None


class ReferenceThere(Described):
    """A channel that holds an oscillator left alone, or a tone of known frequency."""

    channel: int = Field(ge=1, le=256)
    f_hz: float | None = Field(None, gt=1.0, lt=20_000.0)


class BenchFile(Described):
    """What is connected."""

    name: str = ""
    invented: bool = False
    source: str = ""
    notes: Literal["voltage", "midi", "person"] = "person"
    note_at_0_v: NoteName = float(NOTE_AT_0_V)
    clock_ppm: float = Field(50.0, ge=0.0, le=1000.0)
    sound_in: SoundInput = Field(default_factory=lambda: SoundInput.model_validate({}))
    oscillator: dict[str, OscillatorThere] = Field(min_length=1)
    voltage_out: VoltageOutput | None = None
    midi: Midi | None = None
    voltage_in: VoltageInput | None = None
    reference: ReferenceThere | None = None

    @property
    def u_clock_ppm(self) -> float:
        """Standard uncertainty of the clock behind the pitches, ppm; 0 where it cancels."""
        cancels = self.reference is not None and self.reference.f_hz is not None
        return 0.0 if cancels else self.clock_ppm

    def conditions(self, names: Iterable[str], clock_ppm: float | None = None) -> Conditions:
        """What these oscillators are heard under, as far as the file says.

        Parameters
        ----------
        names
            Oscillators of the bench; their route is said where all have the same.
        clock_ppm
            What the clock is taken to be right within; as the file says where None.
        """
        routes = {self.oscillator[name].route for name in names} - {""}
        right = self.clock_ppm if clock_ppm is None else clock_ppm
        reference = f"the computer's clock, taken to be right within {right:g} parts per million"
        if self.reference is not None:
            tone = f"the reference on channel {self.reference.channel}"
            known_hz = self.reference.f_hz
            reference = (
                f"{tone}; its pitch by {reference}"
                if known_hz is None
                else f"{tone}, {known_hz:g} Hz"
            )
        return Conditions(
            source=self.source,
            route=routes.pop() if len(routes) == 1 else "",
            reference=reference,
        )

    @model_validator(mode="after")
    def _complete(self) -> BenchFile:
        if self.notes == "voltage" and self.voltage_out is None:
            raise ValueError("notes are played by voltage, but there is no [voltage_out]")
        if self.notes == "midi" and self.midi is None:
            raise ValueError("notes are played by MIDI, but there is no [midi]")
        by_channel: dict[int, str] = {}
        for name, one in self.oscillator.items():
            if one.channel in by_channel:
                raise ValueError(
                    f"{name} and {by_channel[one.channel]} are both on channel {one.channel}"
                )
            by_channel[one.channel] = name
            names = [trimmer.name.casefold() for trimmer in one.trimmer]
            if len(set(names)) < len(names):
                raise ValueError(f"two trimmers of {name} have the same name")
        if self.reference is not None and self.reference.channel in by_channel:
            channel = self.reference.channel
            raise ValueError(
                f"channel {channel} cannot be both the reference and {by_channel[channel]}"
            )
        inside = self.voltage_in
        if inside is not None and inside.device is None and inside.channel in by_channel:
            raise ValueError(
                f"channel {inside.channel} cannot be both the voltage and"
                f" {by_channel[inside.channel]}"
            )
        return self

    def trimmers(self, oscillator: str) -> tuple[Trimmer, ...]:
        """The trimmers of an oscillator; InputError where there is none of that name."""
        return tuple(one.trimmer() for one in self.oscillator[self.named(oscillator)].trimmer)

    def named(self, oscillator: str) -> str:
        """An oscillator's name as it is written; InputError where there is none of that name."""
        for name in self.oscillator:
            if name.casefold() == oscillator.casefold():
                return name
        raise InputError(
            f"There is no oscillator called {oscillator} on this bench",
            "bench file",
            f"There are: {', '.join(self.oscillator)}",
        )


def bench_path(given: Path | None = None) -> Path:
    """The bench file: the one given, else of ``PITCHWRIGHT_BENCH``, else the user's own."""
    if given is not None:
        return given
    if named := os.environ.get(_VARIABLE):
        return Path(named)
    from platformdirs import user_config_path

    return user_config_path("pitchwright") / "bench.toml"


def read_bench(path: Path) -> BenchFile:
    """Read a bench file.

    Raises
    ------
    InputError
        Where there is none, or a field is not what it should be; with its line.
    """
    if not path.exists():
        raise InputError(
            "There is no bench file yet",
            str(path),
            "“pitchwright bench setup” makes one; a recording or the practice rig needs none",
        )
    return read_description(path, BenchFile)


def checked(content: dict[str, Any]) -> BenchFile:
    """A bench file from plain values; InputError where they do not go together."""
    try:
        return BenchFile.model_validate(content)
    except ValidationError as fault:
        first = fault.errors()[0]
        where = ".".join(str(part) for part in first["loc"])
        raise InputError(str(first["msg"]), where) from fault


def write_bench(path: Path, bench: BenchFile) -> None:
    """Write a bench file whole or not at all, its folder made where it is missing."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise InputError(
            f"The folder cannot be made: {fault.strerror}", str(path.parent), "Name another"
        ) from fault
    content = bench.model_dump(exclude_defaults=True)
    if "note_at_0_v" in content:
        content["note_at_0_v"] = note_name(bench.note_at_0_v)
    content["notes"] = bench.notes
    write_whole(path, _HEADING + _toml(content))


def _toml(content: dict[str, Any], within: tuple[str, ...] = ()) -> str:
    """Plain values as TOML: first what is simple, then tables and arrays of tables."""
    simple = {k: v for k, v in content.items() if not _is_table(v) and v is not None}
    lines = [f"{_key(k)} = {_written(v)}" for k, v in simple.items()]
    for key, part in content.items():
        here = (*within, key)
        title = ".".join(_key(one) for one in here)
        if isinstance(part, dict):
            inner = _toml(part, here)
            bare = not inner or inner.lstrip().startswith("[")
            lines.append(inner if bare and part else f"\n[{title}]\n{inner}".rstrip("\n"))
        elif _is_table(part):
            lines += [f"\n[[{title}]]\n{_toml(one, here)}".rstrip("\n") for one in part]
    return "\n".join(lines) + "\n"


def _is_table(part: Any) -> bool:
    return isinstance(part, dict) or (
        isinstance(part, list) and bool(part) and isinstance(part[0], dict)
    )


_PLAIN: dict[type, Callable[[Any], str]] = {
    bool: lambda flag: "true" if flag else "false",
    int: str,
    float: repr,
}


def _written(part: Any) -> str:
    if isinstance(part, list):
        return f"[{', '.join(_written(one) for one in part)}]"
    if (write := _PLAIN.get(type(part))) is not None:
        return write(part)
    escaped = str(part).replace("\\", "\\\\").replace('"', '\\"')
    return (
        '"' + "".join(c if c >= " " and c != "\x7f" else f"\\u{ord(c):04x}" for c in escaped) + '"'
    )


def _key(name: str) -> str:
    plain = name and all(c.isascii() and (c.isalnum() or c in "-_") for c in name)
    return name if plain else _written(name)

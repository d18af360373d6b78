"""A whole instrument described in TOML: surveys and where they are, voltages, what is known, trims.

Surveys are tables of frequencies or recordings in which notes were played; their files are found
from where the description is.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from pydantic import Field

from pitchwright.bench.described import Described, NoteName, read_description
from pitchwright.bench.table import read_table
from pitchwright.bench.take import hear_take
from pitchwright.ensemble import Evidence, Known, Meter, Output, Sweep, Voltage
from pitchwright.errors import InputError
from pitchwright.tracking.align import parse_notes
from pitchwright.units import A4_HZ

__all__ = ["EXAMPLE", "Instrument", "read_instrument"]

EXAMPLE = """\
# An instrument: surveys, and what else is known. All of this is invented; name your own files.
name = "the pit instrument"
invented = true
tolerance_cents = 1.0

[[survey]]                    # a table (note,f_hz,u_cents) of one oscillator
source = "Loft"
oscillator = "Heron"
table = "heron.csv"

[[survey]]
source = "Loft"
oscillator = "Wren"
table = "wren.csv"

# [[survey]]                  # or a recording: one oscillator a channel
# source = "Stairs"
# take = "stairs.wav"
# oscillators = ["Heron", "Wren"]
# notes = "C4, C1..C7 step 12, C4"

# [source.Loft]
# straight = true             # cannot droop by itself: two voltages are enough

# [meter]                     # how good the voltmeter is
# u_mv = 1.0
# u_gain_percent = 0.05

# [[voltage]]                 # a voltage measured; one for each note
# source = "Loft"
# note = "C1"
# cv_v = 0.0012

# [known.Wren]                # a scale known beforehand
# scale_cents_per_oct = 1.2
# u_scale_cents_per_oct = 0.1

# [output.A]                  # a trimmable output: what it can add
# low_cents_per_oct = -25.0
# high_cents_per_oct = 25.0

# [trimmer.Wren]              # what an oscillator's own scale trimmer can add
# low_cents_per_oct = -10.0
# high_cents_per_oct = 10.0
"""
"""An instrument file to begin with."""


class _Survey(Described):
    source: str
    table: str = ""
    take: str = ""
    oscillator: str = ""
    oscillators: list[str] = Field(default_factory=list)
    notes: str = ""
    reference: int | None = None
    reference_hz: float | None = None


class _Meter(Described):
    u_mv: float = 1.0
    u_gain_percent: float | None = None


class _Voltage(Described):
    source: str
    note: NoteName
    cv_v: float


class _Known(Described):
    scale_cents_per_oct: float
    u_scale_cents_per_oct: float
    high_cents_per_khz: float | None = None
    u_high_cents_per_khz: float | None = None


class _Source(Described):
    straight: bool = False


class _Trim(Described):
    low_cents_per_oct: float
    high_cents_per_oct: float


class _Output(_Trim):
    feeds: list[str] = Field(default_factory=list)


class _Instrument(Described):
    name: str = ""
    invented: bool = False
    a4_hz: float = Field(A4_HZ, ge=380.0, le=500.0)
    tolerance_cents: float = Field(1.0, gt=0.0, le=1200.0)
    survey: list[_Survey] = Field(min_length=1)
    meter: _Meter = _Meter()
    voltage: list[_Voltage] = Field(default_factory=list)
    known: dict[str, _Known] = Field(default_factory=dict)
    source: dict[str, _Source] = Field(default_factory=dict)
    output: dict[str, _Output] = Field(default_factory=dict)
    trimmer: dict[str, _Trim] = Field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Instrument:
    """An instrument as described.

    Attributes
    ----------
    name
        What it is called; may be empty.
    invented
        Whether its data are invented.
    a4_hz, tolerance_cents
        Pitch of A4, and the greatest error wanted.
    evidence
        Surveys, voltages and what is known.
    outputs
        Trimmable outputs.
    own_trims
        Lowest and highest cents per octave that an oscillator's own scale trimmer can add.
    remarks
        What a person should know about how the files were read.
    """

    name: str
    invented: bool
    a4_hz: float
    tolerance_cents: float
    evidence: Evidence
    outputs: tuple[Output, ...]
    own_trims: dict[str, tuple[float, float]]
    remarks: tuple[str, ...]


def read_instrument(
    path: str | os.PathLike[str], progress: Callable[[float], None] | None = None
) -> Instrument:
    """Read an instrument and the surveys it names; docs/ensemble.md says what may stand in it.

    Parameters
    ----------
    path
        The TOML file.
    progress
        Is given the share done, 0 to 1.

    Raises
    ------
    InputError
        Where a file or a field cannot be used.
    """
    where = os.fspath(path)
    described = read_description(path, _Instrument)
    sweeps: list[Sweep] = []
    remarks: list[str] = []
    for place, survey in enumerate(described.survey):
        at = f"{where}, survey.{place + 1}"
        found, said = _sweeps(survey, Path(path).parent, at, described.a4_hz)
        sweeps += found
        remarks += said
        if progress is not None:
            progress((place + 1) / len(described.survey))
    heard = {sweep.oscillator for sweep in sweeps}
    for name in described.trimmer:
        if name not in heard:
            raise InputError(
                f"No survey has an oscillator called {name}",
                f"{where}, trimmer.{name}",
                f"Name one of {', '.join(sorted(heard))}",
            )
    gain = described.meter.u_gain_percent
    try:
        evidence = Evidence(
            sweeps=tuple(sweeps),
            voltages=tuple(Voltage(v.source, v.note, v.cv_v) for v in described.voltage),
            meter=Meter(described.meter.u_mv / 1000.0, None if gain is None else gain / 100.0),
            known=tuple(
                Known(
                    name,
                    known.scale_cents_per_oct,
                    known.u_scale_cents_per_oct,
                    known.high_cents_per_khz,
                    known.u_high_cents_per_khz,
                )
                for name, known in described.known.items()
            ),
            straight=tuple(name for name, one in described.source.items() if one.straight),
        )
        outputs = tuple(
            Output(name, one.low_cents_per_oct, one.high_cents_per_oct, tuple(one.feeds))
            for name, one in described.output.items()
        )
    except InputError as fault:
        raise InputError(fault.what, f"{where}, {fault.where}", fault.do) from fault
    return Instrument(
        name=described.name,
        invented=described.invented,
        a4_hz=described.a4_hz,
        tolerance_cents=described.tolerance_cents,
        evidence=evidence,
        outputs=outputs,
        own_trims={
            name: (one.low_cents_per_oct, one.high_cents_per_oct)
            for name, one in described.trimmer.items()
        },
        remarks=tuple(remarks),
    )


def _sweeps(survey: _Survey, folder: Path, at: str, a4_hz: float) -> tuple[list[Sweep], list[str]]:
    if bool(survey.table) == bool(survey.take):
        raise InputError("A survey is either a table or a take", at, "Give one of the two")
    if survey.table:
        if not survey.oscillator:
            raise InputError("A table does not say whose it is", at, "Add oscillator and its name")
        read = read_table(folder / survey.table, oscillator=survey.oscillator)
        said = [f"{survey.table}: {remark.rstrip('.')}." for remark in read.remarks]
        return [Sweep(survey.oscillator, survey.source, read.points)], said
    take = hear_take(
        folder / survey.take,
        notes=parse_notes(survey.notes) if survey.notes else None,
        reference=survey.reference,
        reference_hz=survey.reference_hz,
        names=survey.oscillators or ([survey.oscillator] if survey.oscillator else None),
        a4_hz=a4_hz,
    )
    said = [
        f"{survey.take}, {channel.name}: {doubt.rstrip('.')}."
        for channel in take.channels
        for doubt in channel.doubts
    ]
    return [
        Sweep(channel.name, survey.source, channel.points())
        for channel in take.channels
        if any(point.kept for point in channel.points())
    ], said

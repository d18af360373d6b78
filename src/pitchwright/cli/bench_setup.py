"""The questions of ``pitchwright bench setup``: as few as can be, each with what there is."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from pitchwright.bench.live.bench_file import BenchFile, checked, write_bench
from pitchwright.bench.live.midi_ports import midi_outputs
from pitchwright.bench.live.notes_voltage import CAUTION_DC
from pitchwright.bench.live.port_audio import SoundDevice, sound_devices
from pitchwright.cli import console
from pitchwright.errors import InputError
from pitchwright.trim.kinds import KINDS

__all__ = ["ask_and_write"]

_RATE_HZ = 48000.0


def ask_and_write(path: Path) -> BenchFile:
    """Ask, and write the file; nothing is written where the questions are left early.

    Raises
    ------
    InputError
        Where there is no sound input, or the answers end too soon.
    """
    try:
        if path.exists() and not _yes(f"{path} is there already. Replace it? [y/N] "):
            raise InputError("The bench file stays as it is", str(path))
        bench = checked(_asked())
    except EOFError:
        raise InputError(
            "The questions were not answered to the end: nothing is written",
            do="Run it at a terminal",
        ) from None
    write_bench(path, bench)
    console.sentence(f"Written: {path}.")
    if bench.notes == "voltage":
        console.sentence("Now calibrate the output: pitchwright bench calibrate.")
    else:
        console.sentence("Now try it: pitchwright survey.")
    return bench


def _asked() -> dict[str, Any]:
    devices = sound_devices(afresh=True)
    heard_at = _device(devices, "in", "On which input are the oscillators heard?")
    most = heard_at.inputs
    console.sentence(
        "A modular's output is about ten volts peak to peak: turn it down before a line input."
    )
    names = _names(most)
    content: dict[str, Any] = {
        "sound_in": {"device": heard_at.name, "rate_hz": _RATE_HZ},
        "oscillator": {name: {"channel": channel} for channel, name in names},
    }
    content |= _notes(devices)
    for _, name in names:
        if trimmers := _trimmers(name):
            content["oscillator"][name]["trimmer"] = trimmers
    return content


def _names(most: int) -> list[tuple[int, str]]:
    while True:
        answer = console.ask(
            "Which oscillators, channel 1 first, with commas (a dash leaves a channel out)? "
        )
        parts = [part.strip() for part in answer.split(",")]
        names = [(n, name) for n, name in enumerate(parts, start=1) if name not in ("", "-", "–")]
        folded = [name.casefold() for _, name in names]
        if not names:
            console.sentence("Name at least one, such as: Heron, Wren")
        elif len(set(folded)) < len(folded):
            console.sentence("Two of them have the same name.")
        elif names[-1][0] > most:
            console.sentence(f"That input has {most} channels.")
        else:
            return names


def _notes(devices: Sequence[SoundDevice]) -> dict[str, Any]:
    how = _choice(
        "How are notes played?",
        [
            "by a person, who is told which",
            "by MIDI, through a converter",
            "by a control voltage, from a DC-coupled output",
        ],
    )
    if how == 0:
        return {"notes": "person"}
    if how == 1:
        ports = midi_outputs()
        if not ports:
            raise InputError(
                "There is no MIDI port to send notes to", "MIDI", "Connect the converter first"
            )
        port = ports[0] if len(ports) == 1 else ports[_choice("Which MIDI port?", ports)]
        if len(ports) == 1:
            console.sentence(f"Notes go to the only MIDI port there is: {port}.")
        return {"notes": "midi", "midi": {"port": port}}
    out = _device(devices, "out", "Which output?")
    while True:
        answer = console.ask(f"Which channel of it, 1 to {out.outputs}? [1] ") or "1"
        if answer.isdigit() and 1 <= int(answer) <= out.outputs:
            break
    console.sentence(CAUTION_DC)
    marked = _yes(
        f"Is channel {answer} of {out.name} DC-coupled, and does it go to a control voltage input"
        " and nowhere else? [y/N] "
    )
    if not marked:
        raise InputError(
            "Then no voltage is sent there",
            out.name,
            "Choose MIDI or a person instead, or another output",
        )
    channel = {"device": out.name, "channel": int(answer), "rate_hz": _RATE_HZ}
    return {"notes": "voltage", "voltage_out": {**channel, "control_voltage": True}}


def _trimmers(name: str) -> list[dict[str, str]]:
    words = ", ".join(f"{entry.letter} {entry.called}" for entry in KINDS.values())
    known = {entry.letter for entry in KINDS.values()}
    while True:
        answer = console.ask(f"Which trimmers has {name}: {words}? Letters, or Enter for none: ")
        letters = {letter for letter in answer.casefold() if not letter.isspace() and letter != ","}
        if letters <= known:
            chosen = [(kind, entry) for kind, entry in KINDS.items() if entry.letter in letters]
            return [{"name": entry.called, "kind": kind} for kind, entry in chosen]
        console.sentence(f"Letters out of {', '.join(sorted(known))}, such as: cfs")


def _device(devices: Sequence[SoundDevice], way: str, question: str) -> SoundDevice:
    usable = [d for d in devices if (d.inputs if way == "in" else d.outputs) > 0]
    word = "input" if way == "in" else "output"
    if not usable:
        raise InputError(
            f"This computer has no sound {word}", do="Connect an interface, and run it again"
        )
    if len(usable) == 1:
        console.sentence(f"The only sound {word} there is: {usable[0].name}.")
        return usable[0]
    lines = [f"{d.name}, {d.inputs if way == 'in' else d.outputs} channels" for d in usable]
    return usable[_choice(question, lines)]


def _choice(question: str, lines: Sequence[str]) -> int:
    console.sentence(question)
    for place, line in enumerate(lines, start=1):
        console.sentence(f"{place}  {line}", indent=2)
    while True:
        answer = console.ask(f"A number from 1 to {len(lines)}: ")
        if answer.isdigit() and 1 <= int(answer) <= len(lines):
            return int(answer) - 1


def _yes(question: str) -> bool:
    return console.ask(question).casefold() in ("y", "yes")

"""``pitchwright devices``: what there is to hear with and to play through."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pitchwright.cli.options import JsonOption

if TYPE_CHECKING:
    from pitchwright.bench.live.devices import Found

__all__ = ["devices"]


def devices(
    as_json: JsonOption = False,
) -> None:
    """List sound inputs, outputs and MIDI ports, with what each can do.

    A device is named by its number, its name or a part of its name. “Default” is what the system
    takes where none is named. Sound servers often claim more channels than there are.
    """
    from pitchwright.bench.live.devices import look_around
    from pitchwright.cli import console

    found = look_around()
    if as_json:
        console.print_json(_record(found))
        return
    for direction, title in (("in", "Sound inputs"), ("out", "Sound outputs")):
        console.heading(title)
        rows = _rows(found, direction)
        if rows:
            console.table(
                ("number", "name", "system", "channels", "own, kHz", "opens at, kHz", ""),
                rows,
                left=3,
            )
        else:
            console.sentence("None.")
    for title, ports in (("MIDI inputs", found.midi_in), ("MIDI outputs", found.midi_out)):
        console.heading(title)
        for port in ports or ("None.",):
            console.sentence(port)
    console.gap()
    for sentence in found.missing:
        console.sentence(sentence)
    if not found.missing and not found.sound:
        console.sentence("Connect an audio interface to hear with, then try again.")
    if not found.missing and not (found.midi_in or found.midi_out):
        console.sentence("Connect a MIDI interface to have notes played by MIDI, then try again.")
    if found.missing or not found.sound:
        console.sentence(
            "Recordings, tables, the practice rig and the page on it work without any of these."
        )


def _rows(found: Found, direction: str) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = []
    for one in found.sound:
        device = one.device
        channels = device.inputs if direction == "in" else device.outputs
        rates = one.in_rates_hz if direction == "in" else one.out_rates_hz
        default = device.default_in if direction == "in" else device.default_out
        if channels:
            rows.append(
                (
                    str(device.number),
                    device.name,
                    device.system,
                    str(channels),
                    f"{device.rate_hz / 1000:g}",
                    " ".join(f"{rate / 1000:g}" for rate in rates) or "none",
                    "default" if default else "",
                )
            )
    return rows


def _record(found: Found) -> dict[str, object]:
    return {
        "schema": "pitchwright devices 1",
        "sound": [
            {
                "number": one.device.number,
                "name": one.device.name,
                "system": one.device.system,
                "inputs": one.device.inputs,
                "outputs": one.device.outputs,
                "rate_hz": one.device.rate_hz,
                "in_rates_hz": one.in_rates_hz,
                "out_rates_hz": one.out_rates_hz,
                "default_in": one.device.default_in,
                "default_out": one.device.default_out,
            }
            for one in found.sound
        ],
        "midi_in": found.midi_in,
        "midi_out": found.midi_out,
        "missing": found.missing,
    }

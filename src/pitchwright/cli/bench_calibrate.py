"""``pitchwright bench calibrate``: levels out, a voltmeter's figures in, the line kept."""

from __future__ import annotations

import math
from datetime import date
from pathlib import Path

import numpy as np

from pitchwright.bench.live.bench_file import BenchFile, Voltmeter, read_bench, write_bench
from pitchwright.bench.live.calibration import Measured
from pitchwright.bench.live.connecting import control_voltage, voltage_source
from pitchwright.bench.live.notes_voltage import CAUTION_DC
from pitchwright.bench.live.sound_memory import SoundMemory
from pitchwright.cli import console
from pitchwright.errors import InputError

__all__ = ["calibrate"]

_USUAL_GAIN_PERCENT = 0.5
_LISTEN_S, _PATIENCE_S = 1.0, 10.0


def calibrate(path: Path, *, levels: str, inside: bool) -> None:
    """Calibrate the output for control voltages, or the voltage input patched to it.

    Parameters
    ----------
    path
        Of the bench file; it is written anew with the readings.
    levels
        Three or more, with commas, full scale being 1.
    inside
        The input instead of the output.

    Raises
    ------
    InputError
        Where an output or input is missing, or the readings do not lie on a line; the file then
        stays as it was.
    """
    bench = read_bench(path)
    wanted = _levels(levels)
    console.sentence(CAUTION_DC)
    console.sentence("Put a voltmeter, set to DC volts, on that output.")
    heard: SoundMemory | None = None
    output = control_voltage(bench)
    try:
        if inside:
            heard = SoundMemory(voltage_source(bench))
        read = []
        for level in wanted:
            output.send(level)
            written = _ask_volts(level)
            read.append((level if heard is None else _heard_level(heard), written))
        gain = _ask_gain()
    except EOFError:
        raise InputError("The questions were not answered to the end: nothing is kept") from None
    finally:
        output.close()
        if heard is not None:
            heard.source.close()
    measured = Voltmeter(
        levels=[level for level, _ in read],
        read_v=[written for _, written in read],
        u_gain_percent=gain,
        at=date.today().isoformat(),
    )
    line = measured.calibration()
    write_bench(path, _with(bench, measured, inside=inside))
    console.sentence(line.sentence())
    console.sentence(f"Kept in {path}.")


def _with(bench: BenchFile, measured: Voltmeter, *, inside: bool) -> BenchFile:
    if inside:
        assert bench.voltage_in is not None
        changed = bench.voltage_in.model_copy(update={"calibration": measured})
        return bench.model_copy(update={"voltage_in": changed})
    assert bench.voltage_out is not None
    return bench.model_copy(
        update={"voltage_out": bench.voltage_out.model_copy(update={"calibration": measured})}
    )


def _levels(text: str) -> list[float]:
    try:
        levels = [float(part) for part in text.split(",")]
    except ValueError:
        levels = []
    if len(set(levels)) < 3 or not all(abs(level) <= 1.0 for level in levels):
        raise InputError(
            "Three different levels from -1 to 1 are the least", "--levels", "Write 0, 0.4, 0.8"
        )
    return levels


def _ask_volts(level: float) -> str:
    while True:
        answer = console.ask(
            f"Level {level:g} goes out. What does the voltmeter show, in volts, all digits? "
        )
        try:
            Measured.read(level, answer)
        except ValueError as fault:
            console.sentence(f"{fault}.")
            continue
        return answer


def _ask_gain() -> float:
    while True:
        answer = console.ask(
            "How exact is the voltmeter, in percent of the reading (its sheet says)? "
            f"[{_USUAL_GAIN_PERCENT}] "
        )
        try:
            percent = float(answer.replace(",", ".")) if answer else _USUAL_GAIN_PERCENT
        except ValueError:
            continue
        if 0.0 <= percent <= 10.0:
            # A maker's limit is taken as evenly spread.
            return round(percent / math.sqrt(3.0), 6)


def _heard_level(heard: SoundMemory) -> float:
    """The level that comes in now, once it stands still."""
    heard.pump(0.2)
    from_s = heard.newest_s + _LISTEN_S
    for _ in range(10):
        if not heard.wait_until(from_s + 0.5, _PATIENCE_S):
            raise InputError("Nothing comes from the voltage input", "voltage_in", "Connect it")
        level = heard.span(0, from_s, from_s + 0.5)
        if level is not None and float(np.std(level)) < 2e-3:
            mean: float = np.mean(level, dtype=np.float64).item()
            return round(mean, 9)
        from_s = heard.newest_s
    raise InputError(
        "What comes from the voltage input does not stand still",
        "voltage_in",
        "Patch it to the output that is calibrated",
    )

"""Kill guided trims that write to a logbook, at random moments, and look at what is left.

Run as a program with a number of kills and a folder; prints what was found as JSON. Every child
says after each entry that it is on the disk, so that after a kill it is known how many must be
there: all of these, and one more at the most, which was written but not yet said.
"""

from __future__ import annotations

import json
import os
import random
import signal
import sys
import time
import traceback
from pathlib import Path

import numpy as np

from pitchwright.bench.practice import PracticeBench, trimmers_of
from pitchwright.bench.runner import run
from pitchwright.logbook import Logbook
from pitchwright.logbook.care import check
from pitchwright.logbook.tables import entry
from pitchwright.practice.hands import Hand
from pitchwright.practice.scenario import theatre_rig
from pitchwright.procedures.guided_trim import guided_trim
from pitchwright.procedures.settings import TrimSettings
from pitchwright.upkeep import Recorder, Stopped, stopped_trims


def trim(path: Path, said: int, stopped: Stopped[TrimSettings] | None = None) -> None:
    """Trim Heron into a logbook; a byte to ``said`` for each entry that is on the disk."""
    rig = theatre_rig()
    (voice,) = rig.only("Heron").voices
    rng = np.random.default_rng(1)
    earlier = () if stopped is None else stopped.events
    bench = PracticeBench(
        voice.oscillator,
        rig.source("Loft"),
        Hand(rng),
        rng,
        t_s=earlier[-1].t_s if earlier else 0.0,
    )
    settings = TrimSettings("Heron", trimmers_of(voice.oscillator))
    with Recorder(str(path), aside=path.parent) as recorder:
        write = recorder.write

        def written(*given: object, **named: object) -> object:
            kept = write(*given, **named)  # type: ignore[arg-type]
            os.write(said, b".")
            return kept

        recorder.write = written  # type: ignore[method-assign, assignment]
        record = recorder.follow(["Heron"], run="" if stopped is None else stopped.run)
        run(
            guided_trim(settings),
            bench,
            (record,),
            name="guided trim",
            settings=settings,
            earlier=earlier,
        )


def killed_after(path: Path, entries: int, wait_s: float) -> tuple[bool, int]:
    """Kill a trim a moment after so many entries are said to be on the disk.

    Returns whether that was before its end, and how many were said to be there. The moment goes by
    what was written and not by the clock alone, so that a busy computer is hit just as anywhere.
    """
    hear, say = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(hear)
        try:
            trim(path, say)
        except BaseException:
            traceback.print_exc()
            os._exit(1)
        os._exit(0)
    os.close(say)
    said = 0
    while said < entries and (part := os.read(hear, entries - said)):
        said += len(part)
    time.sleep(wait_s)
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    while part := os.read(hear, 65536):
        said += len(part)
    os.close(hear)
    if os.WIFEXITED(status) and os.WEXITSTATUS(status):
        raise RuntimeError("A trim failed by itself, not by the kill.")
    return os.WIFSIGNALED(status), said


def look(path: Path, said: int) -> list[str]:
    """What is wrong with what a kill left behind."""
    with Logbook(str(path)) as logbook:
        wrong = list(check(logbook))
        with logbook.reading() as connection:
            there = len(connection.execute(entry.select()).all())
        if not said <= there <= said + 1:
            wrong.append(f"{said} entries were said to be on the disk, {there} are there.")
    return wrong


def go_on(path: Path) -> list[str]:
    """Resume what was killed, if it had begun, and say what is wrong at its end."""
    with Logbook(str(path)) as logbook:
        stopped = stopped_trims(logbook)
    if stopped:
        trim(path, os.open(os.devnull, os.O_WRONLY), stopped[0])
    with Logbook(str(path)) as logbook:
        wrong = list(check(logbook))
        if stopped_trims(logbook):
            wrong.append("A trim that was gone on with is still unfinished.")
    return wrong


def main(kills: int, folder: Path, seed: int = 1) -> dict[str, object]:
    """Kill so many trims; how many were killed, gone on with, and what was wrong."""
    chance = random.Random(seed)
    hear, say = os.pipe()
    os.set_blocking(say, False)
    trim(folder / "first.sqlite", say)  # what is loaded on the way takes longer than the trim
    entries = len(os.read(hear, 65536))
    begun = time.monotonic()
    trim(folder / "whole.sqlite", say)
    whole_s = time.monotonic() - begun
    wrong: list[str] = []
    killed = resumed = 0
    while killed < kills and len(wrong) < 5:
        path = folder / f"{killed}.sqlite"
        # One in five before the first entry, while the file is made; the rest all along.
        after = 0 if chance.random() < 0.2 else chance.randint(1, entries)
        wait_s = chance.uniform(0.0, 0.5 * whole_s if after == 0 else 2.0 * whole_s / entries)
        was_killed, said = killed_after(path, after, wait_s)
        wrong += [f"Kill {killed}: {sentence}" for sentence in look(path, said)]
        if was_killed and said > 2 and resumed <= killed // 10:
            wrong += [f"Resumed {killed}: {sentence}" for sentence in go_on(path)]
            resumed += 1
        killed += was_killed
        for left in folder.glob(f"{path.name}*"):
            left.unlink()
    return {"killed": killed, "resumed": resumed, "entries": entries, "wrong": wrong}


if __name__ == "__main__":
    print(json.dumps(main(int(sys.argv[1]), Path(sys.argv[2]))))  # noqa: T201

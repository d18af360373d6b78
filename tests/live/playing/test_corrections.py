"""Corrections sent by MIDI arrive byte for byte at another program, through a real MIDI system."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from pitchwright.units import cv_of_note, note_to_hz, ratio_of_cents

pytestmark = pytest.mark.needs("jackd2")

_MAIN = "from pitchwright.cli.app import main; main()"
# JACK's own library, and nothing of ours.
_RECEIVER = """
import jack, queue
heard = queue.SimpleQueue()
client = jack.Client("corrections", no_start_server=True)
port = client.midi_inports.register("in")
@client.set_process_callback
def process(frames):
    for _, message in port.incoming_midi_events():
        heard.put(bytes(message))
client.activate()
print("ready", flush=True)
while True:
    print(heard.get().hex().upper(), flush=True)
"""
_PATIENCE_S = 120.0


def test_what_is_sent_is_what_arrives(jack: Any, tmp_path: Path) -> None:
    rows = [f"{n},{note_to_hz(n) * ratio_of_cents(6.0 * cv_of_note(n)):.6f}" for n in range(24, 85)]
    table = tmp_path / "heron.csv"
    table.write_text("\n".join(["note,f_hz", *rows]))
    env = {**os.environ, **jack.env}
    receiver = subprocess.Popen(
        [sys.executable, "-c", _RECEIVER], env=env, stdout=subprocess.PIPE, text=True
    )
    assert receiver.stdout is not None
    try:
        assert receiver.stdout.readline().strip() == "ready"
        for more in ([], ["--single"]):
            syx = tmp_path / f"heron{''.join(more)}.syx"
            tool = _call(
                [
                    "correct",
                    str(table),
                    "--send",
                    "--port",
                    "corrections",
                    "--syx",
                    str(syx),
                    *more,
                ],
                env,
            )
            assert tool.returncode == 0, tool.stderr
            assert "Sent to" in tool.stdout
            wanted = syx.read_bytes().hex().upper()
            arrived = ""
            until_s = time.monotonic() + _PATIENCE_S
            while len(arrived) < len(wanted) and time.monotonic() < until_s:
                arrived += receiver.stdout.readline().strip()
            assert arrived == wanted
    finally:
        receiver.kill()
        receiver.wait(30)
        receiver.stdout.close()


def test_a_port_that_is_not_there_is_one_sentence(jack: Any, tmp_path: Path) -> None:
    table = tmp_path / "heron.csv"
    rows = [f"{n},{note_to_hz(n) * ratio_of_cents(9.0):.6f}" for n in range(24, 85, 12)]
    table.write_text("\n".join(["note,f_hz", *rows]))
    env = {**os.environ, **jack.env}
    tool = _call(["correct", str(table), "--send", "--port", "corrections"], env)
    assert tool.returncode == 2
    assert "“corrections”" in tool.stderr
    assert len(tool.stderr.splitlines()) == 1


def _call(arguments: list[str], env: dict[str, str]) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", _MAIN, *arguments],
        env=env,
        capture_output=True,
        text=True,
        timeout=_PATIENCE_S,
    )

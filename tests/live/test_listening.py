"""Sound in over real virtual cables: another program plays, the tool listens, things go wrong."""

from __future__ import annotations

import contextlib
import json
import os
import queue
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile as sf
from numpy.typing import NDArray

from pitchwright.pitch import read
from pitchwright.units import cents_between, note_to_hz

pytestmark = pytest.mark.needs(
    "pulseaudio", "pulseaudio-utils", "libasound2-plugins", "libportaudio2"
)

RATE_HZ = 48_000
PATIENCE_S = 120.0
TOOL = (sys.executable, "-c", "from pitchwright.cli import main; main()")
Array = NDArray[np.float64]


def second(f_hz: int, level: float = 0.3) -> Array:
    """One second of a saw; a whole number of hertz, so that it can be repeated for ever."""
    t_s = np.arange(RATE_HZ) / RATE_HZ
    turn = np.exp(2j * np.pi * f_hz * t_s)
    x, power = np.zeros(RATE_HZ), np.ones_like(turn)
    for k in range(1, int(0.45 * RATE_HZ / f_hz) + 1):
        power *= turn
        x += level * power.imag / k
    return x


@contextlib.contextmanager
def playing(pulse: Any, path: Path, *channels: Array, seconds: int = 240) -> Iterator[None]:
    """Play these channels, repeated, into the cable “aud”: with a player that is not ours."""
    sf.write(path, np.tile(np.stack(channels, axis=1), (seconds, 1)), RATE_HZ, subtype="FLOAT")
    player = subprocess.Popen(["paplay", "--device=aud", str(path)], env=pulse.env)
    try:
        yield
    finally:
        player.kill()
        player.wait(30)


class Listening:
    """``pitchwright listen --json`` in a process of its own."""

    def __init__(self, pulse: Any, *options: str) -> None:
        self.process = subprocess.Popen(
            [*TOOL, "listen", "--in", "aud_out", "--rate", str(RATE_HZ), "--json", *options],
            env=pulse.env,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        self._lines: queue.Queue[str] = queue.Queue()
        self.said = ""
        self._readers = [
            threading.Thread(target=target, daemon=True) for target in (self._read, self._hear_said)
        ]
        for reader in self._readers:
            reader.start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self._lines.put(line)

    def _hear_said(self) -> None:
        assert self.process.stderr is not None
        for line in self.process.stderr:
            self.said += line

    def until(self, wanted: Callable[[dict[str, Any]], bool]) -> list[dict[str, Any]]:
        """Readings up to the first that is wanted."""
        found: list[dict[str, Any]] = []
        end = time.monotonic() + PATIENCE_S
        while time.monotonic() < end:
            try:
                found.append(json.loads(self._lines.get(timeout=1.0)))
            except queue.Empty:
                assert self.process.poll() is None, self.said
                continue
            if wanted(found[-1]):
                return found
        raise AssertionError(f"waited in vain; {self.said!r}, last {found[-3:]}")

    def until_said(self, words: str) -> None:
        end = time.monotonic() + PATIENCE_S
        while words not in " ".join(self.said.split()):
            assert time.monotonic() < end, f"waited in vain for {words!r}: {self.said!r}"
            assert self.process.poll() is None, self.said
            time.sleep(0.05)

    def stop(self) -> None:
        self.process.kill()
        self.process.wait(30)
        for reader, pipe in zip(
            self._readers, (self.process.stdout, self.process.stderr), strict=True
        ):
            reader.join(30)
            assert pipe is not None
            pipe.close()


@pytest.fixture
def listening() -> Iterator[Callable[..., Listening]]:
    begun: list[Listening] = []

    def begin(pulse: Any, *options: str) -> Listening:
        begun.append(Listening(pulse, *options))
        return begun[-1]

    yield begin
    for one in begun:
        one.stop()


def tool(pulse: Any, *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [*TOOL, *words], env=pulse.env, capture_output=True, text=True, timeout=PATIENCE_S
    )


def settled(reading: dict[str, Any]) -> bool:
    return bool(reading["settled"])


def wrong(readings: list[dict[str, Any]], *f_hz: float) -> list[dict[str, Any]]:
    """Readings that are none of these pitches within their uncertainty."""
    return [
        r
        for r in readings
        if r["f_hz"] is not None
        and min(abs(cents_between(r["f_hz"], f)) for f in f_hz) > max(3 * r["u_cents"], 0.05)
    ]


def test_what_there_is_is_listed(make_pulse: Any) -> None:
    pulse = make_pulse("aud")
    found = json.loads(tool(pulse, "devices", "--json").stdout)
    there = {one["name"]: one for one in found["sound"]}
    assert {"aud_in", "aud_out"} <= set(there)
    assert {44_100, 48_000, 96_000} <= set(there["aud_out"]["in_rates_hz"])
    shown = tool(pulse, "devices")
    assert shown.returncode == 0
    assert "aud_out" in shown.stdout


def test_two_channels_are_heard_at_once_and_compared(
    make_pulse: Any, listening: Callable[..., Listening], tmp_path: Path
) -> None:
    pulse = make_pulse("aud")
    with playing(pulse, tmp_path / "two.wav", second(262), second(525)):
        heard = listening(pulse, "Heron=1", "Wren=2", "--reference", "Heron").until(
            lambda r: settled(r) and r["channel"] == "Wren" and r["window_s"] > 1.0
        )
    last = {name: [r for r in heard if r["channel"] == name][-1] for name in ("Heron", "Wren")}
    assert abs(cents_between(last["Heron"]["f_hz"], 262)) < 0.01
    assert abs(cents_between(last["Wren"]["f_hz"], 525)) < 0.01
    assert last["Heron"]["u_cents"] < 0.02
    assert last["Wren"]["u_cents"] < 0.02  # the clock drops out
    assert last["Wren"]["ratio"] == pytest.approx(525 / 262, rel=1e-6)
    assert last["Wren"]["beats_hz"] == pytest.approx(1.0, abs=1e-3)
    assert not wrong(heard, 262, 525)
    times = [r["end_s"] for r in heard if r["channel"] == "Wren"]
    assert 0.03 < float(np.median(np.diff(times))) < 0.07


def test_one_careful_reading_and_the_input_check(make_pulse: Any, tmp_path: Path) -> None:
    pulse = make_pulse("aud")
    with playing(pulse, tmp_path / "one.wav", second(262), np.zeros(RATE_HZ)):
        options = ("listen", "--in", "aud_out", "--rate", str(RATE_HZ), "Heron=1")
        (reading,) = json.loads(tool(pulse, *options, "--once", "--json").stdout)["readings"]
        assert abs(cents_between(reading["f_hz"], 262)) < 0.01
        # Without a reference, the computer's clock is in it: 50 parts per million.
        assert reading["u_cents"] == pytest.approx(0.0866, abs=0.003)
        checked = tool(pulse, *options, "Wren=2", "--check")
        assert "Heron: good to read" in checked.stdout
        assert "Nothing arrives for Wren" in " ".join(checked.stdout.split())


def test_the_reference_tone_begins_silent_and_stays_quiet(make_pulse: Any, tmp_path: Path) -> None:
    pulse = make_pulse("aud")
    recorded = tmp_path / "tone.wav"
    recorder = subprocess.Popen(
        ["parec", "--device=aud.monitor", "--file-format=wav", "--format=float32le", str(recorded)],
        env=pulse.env,
    )
    try:
        out = ("--out", "aud_in", "--rate", str(RATE_HZ), "--seconds", "4")
        sounded = tool(pulse, "tone", "A4", *out)
        time.sleep(0.5)
    finally:
        recorder.terminate()
        recorder.wait(30)
    assert sounded.returncode == 0, sounded.stderr
    assert "harms hearing" in " ".join(sounded.stdout.split())
    sound, rate_hz = sf.read(recorded)
    x = sound[:, 0]
    loud = np.flatnonzero(np.abs(x) > 1e-4)
    begin, end = int(loud[0]), int(loud[-1])
    assert 20 * np.log10(np.abs(x).max()) == pytest.approx(-30.0, abs=0.3)
    assert np.abs(x[begin : begin + rate_hz // 10]).max() < 10 ** (-30 / 20) / 20
    assert np.abs(x[end - rate_hz // 100 : end + 1]).max() < 10 ** (-30 / 20) / 20
    middle = read(x[end - 2 * rate_hz : end - rate_hz], rate_hz)
    assert middle.f_hz is not None
    assert abs(cents_between(middle.f_hz, note_to_hz(69))) < 0.01


def test_clipping_at_one_note_is_said_while_it_lasts(
    make_pulse: Any, listening: Callable[..., Listening], tmp_path: Path
) -> None:
    pulse = make_pulse("aud")
    fine, hot = second(262), np.clip(second(330, 0.9), -1.0, 1.0)
    with playing(pulse, tmp_path / "hot.wav", np.concatenate((fine, fine, hot, hot)), seconds=60):
        one = listening(pulse, "Heron=1")
        heard = one.until(lambda r: settled(r) and r["clipped"])
        heard += one.until(lambda r: settled(r) and not r["clipped"])
    at_rest = [r for r in heard if settled(r)]
    hot_ones = [abs(cents_between(r["f_hz"], 330)) < 50 for r in at_rest]
    # Clipping is of the newest sound: as a note changes, it is seen a reading before the pitch is.
    unlike = [r for r, is_hot in zip(at_rest, hot_ones, strict=True) if r["clipped"] != is_hot]
    assert len(unlike) <= max(2, len(at_rest) // 5)
    assert all(r["clipped"] == any("clipped" in one for one in r["doubts"]) for r in heard)
    assert not wrong(heard, 262, 330)


def test_a_killed_sound_server_is_waited_for(
    make_pulse: Any, listening: Callable[..., Listening], tmp_path: Path
) -> None:
    pulse = make_pulse("aud")
    one = listening(pulse, "Heron=1")
    with playing(pulse, tmp_path / "one.wav", second(262), second(262)):
        heard = one.until(settled)
        pulse.stop()
        one.until_said("The sound input is gone")
    pulse.start()
    with playing(pulse, tmp_path / "one.wav", second(262), second(262)):
        one.until_said("The sound is back")
        heard += one.until(settled)
    assert not wrong(heard, 262)
    assert heard[-1]["end_s"] > heard[0]["end_s"]


def test_a_cable_that_is_pulled_and_put_back(
    make_pulse: Any, listening: Callable[..., Listening], tmp_path: Path
) -> None:
    # Only where there is no other cable that the server could move the stream to, unasked.
    pulse = make_pulse()
    pulse.cables = ("aud",)
    pulse.write_files()
    number = pulse.add_cable("aud")
    one = listening(pulse, "Heron=1")
    with playing(pulse, tmp_path / "one.wav", second(262), second(262)):
        heard = one.until(settled)
        pulse.remove_cable(number)
        one.until_said("The sound input is gone")
    pulse.add_cable("aud")
    with playing(pulse, tmp_path / "one.wav", second(330), second(330)):
        one.until_said("The sound is back")
        heard += one.until(lambda r: settled(r) and abs(cents_between(r["f_hz"], 330)) < 1)
    assert not wrong(heard, 262, 330)


def test_a_stream_that_dies_without_a_word_is_noticed(
    make_pulse: Any, listening: Callable[..., Listening], tmp_path: Path
) -> None:
    pulse = make_pulse("aud")
    one = listening(pulse, "Heron=1")
    with playing(pulse, tmp_path / "one.wav", second(262), second(262)):
        heard = one.until(settled)
        pulse.pause()
        try:
            one.until_said("No sound arrives any more")
        finally:
            pulse.resume()
        one.until_said("The sound is back")
        heard += one.until(settled)
    assert not wrong(heard, 262)


def test_sound_lost_on_the_way_never_becomes_a_wrong_reading(
    make_pulse: Any, listening: Callable[..., Listening], tmp_path: Path
) -> None:
    """The server stands still for moments, and other programs take the processor."""
    pulse = make_pulse("aud")
    one = listening(pulse, "Heron=1")
    busy = [subprocess.Popen([sys.executable, "-c", "while True: pass"]) for _ in range(3)]
    try:
        with playing(pulse, tmp_path / "one.wav", second(262), second(262)):
            heard = one.until(settled)
            for _ in range(4):
                pulse.pause()
                time.sleep(0.3)
                pulse.resume()
                late = heard[-1]["end_s"] + 1.0
                heard += one.until(lambda r, late=late: r["end_s"] > late)  # type: ignore[misc]
            heard += one.until(settled)
    finally:
        for process in busy:
            process.kill()
            process.wait(30)
    assert not wrong([r for r in heard if settled(r)], 262)


def test_another_rate_than_the_device_says_is_refused(make_pulse: Any, tmp_path: Path) -> None:
    """A source says 48,000 samples a second and brings 44,100."""
    pulse = make_pulse("aud")
    pipe = pulse.folder / "pipe"
    pulse.pactl(
        *("load-module", "module-pipe-source", "source_name=slow", f"file={pipe}"),
        *("format=float32le", f"rate={RATE_HZ}", "channels=1"),
    )
    names = (pulse.folder / "asound.conf").read_text()
    names += 'pcm.slow { type pulse device "slow" hint { show on description "slow" } }\n'
    (pulse.folder / "asound.conf").write_text(names)
    stop = threading.Event()
    sound = second(262).astype(np.float32)

    def feed() -> None:
        out = os.open(pipe, os.O_WRONLY)
        began, sent = time.monotonic(), 0
        with contextlib.suppress(BrokenPipeError):
            while not stop.is_set():
                due = int((time.monotonic() - began) * 44_100)
                number = np.arange(sent, due) % len(sound)
                os.write(out, sound[number].tobytes())
                sent = due
                time.sleep(0.01)
        os.close(out)

    feeder = threading.Thread(target=feed, daemon=True)
    feeder.start()
    try:
        options = ("--in", "slow", "--rate", str(RATE_HZ), "Heron=1", "--seconds", "100", "--json")
        listened = tool(pulse, "listen", *options)
    finally:
        stop.set()
        pulse.stop()  # or the feeder waits for ever for somebody to read
        feeder.join(30)
    assert listened.returncode == 2, listened.stderr
    assert "samples a second arrive where the device says 48000" in listened.stderr


WHAT_CANNOT_BE = {
    ("--in", "nowhere"): "There is no sound input called “nowhere”. There are: ",
    ("--in", "aud_out", "Heron=99"): "There is no input channel 99. It has channels 1 to 32",
    ("--in", "aud_out", "--rate", "7"): "sample rate of 7 Hz is refused",
    ("--in", "aud"): "fits several sound inputs",
    (
        "--in",
        "aud_out",
        "--reference",
        "Dunlin",
    ): "No channel that is listened to is called “Dunlin”",
    ("--in", "gone_out"): "Check that it is connected",
}


def test_what_cannot_be_is_one_sentence(make_pulse: Any) -> None:
    pulse = make_pulse("aud")
    names = (pulse.folder / "asound.conf").read_text()
    names += 'pcm.gone_out { type pulse device "gone" hint { show on description "gone" } }\n'
    (pulse.folder / "asound.conf").write_text(names)
    for words, sentence in WHAT_CANNOT_BE.items():
        refused = tool(pulse, "listen", *words, "--seconds", "1")
        assert refused.returncode == 2, words
        assert sentence in refused.stderr
        assert len(refused.stderr.strip().splitlines()) == 1, refused.stderr


def test_without_a_sound_server_there_is_a_sentence(make_pulse: Any) -> None:
    pulse = make_pulse("aud")
    pulse.stop()
    refused = tool(pulse, "listen", "--in", "aud_out", "--rate", "48000", "--seconds", "1")
    assert refused.returncode == 2
    assert "start the sound server" in refused.stderr

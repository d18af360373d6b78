"""Write a long take to a temporary file, hear it in a fresh process, write RESULTS.md.

``python -m benchmarks.take`` takes an hour of eight channels at 96 kHz, 24 bit (8.3 GB of
temporary disk); ``--minutes 2`` tries it out and writes nothing.
"""

from __future__ import annotations

import argparse
import json
import platform
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import soundfile as sf

from pitchwright.bench.take import hear_take
from pitchwright.units import cents_between, note_to_hz

HERE = Path(__file__).parent
RATE_HZ, CHANNELS = 96_000, 8
LENGTH_S, GAP_S = 5.0, 1.0
NOTES = tuple(range(24, 97, 6))
MEMORY_MB, CPU_S = 400.0, 240.0


def write_long_take(path: Path, minutes: float) -> int:
    """Notes of five seconds with gaps of one, each channel a few cents off; how many notes."""
    rng = np.random.default_rng(7)
    count = int(minutes * 60.0 / (LENGTH_S + GAP_S))
    t_s = np.arange(int(LENGTH_S * RATE_HZ)) / RATE_HZ
    gap = np.zeros((int(GAP_S * RATE_HZ), CHANNELS), np.float32)
    # The rising edge of a note, so that it does not click.
    fade = np.minimum(1.0, np.minimum(t_s, t_s[::-1]) / 0.005).astype(np.float32)
    with sf.SoundFile(path, "w", RATE_HZ, CHANNELS, "PCM_24", format="RF64") as file:
        clean = []
        for place in range(len(NOTES)):
            sound = np.empty((len(t_s), CHANNELS), np.float32)
            for channel in range(CHANNELS):
                f_hz = true_hz(place, channel)
                wave = np.zeros(len(t_s), np.float32)
                turn = 2.0 * np.pi * ((f_hz * t_s) % 1.0).astype(np.float32)
                for k in range(1, max(2, min(20, int(30_000 / f_hz))) + 1):
                    wave += np.sin(np.float32(k) * turn) / np.float32(k)
                sound[:, channel] = 0.3 * wave * fade
            clean.append(sound)
        for place in range(count):
            noise = 1e-4 * rng.standard_normal(clean[0].shape, dtype=np.float32)
            file.write(clean[place % len(NOTES)] + noise)
            file.write(gap)
    return count


def true_hz(place: int, channel: int) -> float:
    """What a channel plays as its note number ``place``."""
    return note_to_hz(NOTES[place % len(NOTES)] + 0.02 * channel)


def measure(path: Path) -> None:
    """Hear the take in this process and print what it cost, as JSON."""
    # Importing is not hearing, but its memory counts.
    cpu_s, wall_s = time.process_time(), time.perf_counter()
    take = hear_take(path)
    cpu_s, wall_s = time.process_time() - cpu_s, time.perf_counter() - wall_s
    errors, kept = [], 0
    for channel in take.channels:
        for heard in channel.notes:
            place = int(heard.begin_s / (LENGTH_S + GAP_S))
            errors.append(abs(cents_between(heard.f_hz, true_hz(place, channel.channel - 1))))
            kept += heard.kept
    print(
        json.dumps(
            {
                "cpu_s": cpu_s,
                "wall_s": wall_s,
                "memory_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000.0,
                "heard": len(errors),
                "kept": kept,
                "worst_cents": max(errors),
            }
        )
    )


def main() -> None:
    """Write, hear, report."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=60.0)
    parser.add_argument("--measure", type=Path, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.measure:
        measure(options.measure)
        return
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "long.wav"
        notes = write_long_take(path, options.minutes)
        size_gb = path.stat().st_size / 1e9
        command = [sys.executable, "-m", "benchmarks.take", "--measure", str(path)]
        said = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    found = json.loads(said)
    text = report(options.minutes, notes, size_gb, found)
    print(text)
    if options.minutes >= 60.0:
        (HERE / "RESULTS.md").write_text(text, encoding="utf-8")


def report(minutes: float, notes: int, size_gb: float, found: dict[str, float]) -> str:
    """The figures as a page."""
    scale = minutes / 60.0
    rows = [
        (
            "peak memory of the process, MB",
            f"{found['memory_mb']:.0f}",
            f"< {MEMORY_MB:.0f}",
            found["memory_mb"] < MEMORY_MB,
        ),
        (
            "CPU, s",
            f"{found['cpu_s']:.0f}",
            f"< {CPU_S * scale:.0f}",
            found["cpu_s"] < CPU_S * scale,
        ),
        (
            "notes heard of those played",
            f"{found['kept']:.0f} of {notes * CHANNELS}",
            "all",
            found["kept"] == notes * CHANNELS and found["heard"] == found["kept"],
        ),
        (
            "greatest error, cents",
            f"{found['worst_cents']:.4f}",
            "< 0.01",
            found["worst_cents"] < 0.01,
        ),
    ]
    lines = [
        "# A long take",
        "",
        f"{minutes:g} minutes, {CHANNELS} channels, {RATE_HZ / 1000:g} kHz, 24 bit "
        f"({size_gb:.1f} GB), notes of {LENGTH_S:g} s with gaps of {GAP_S:g} s; heard in a fresh "
        f"process on {platform.machine()}, Python {platform.python_version()}, "
        f"NumPy {np.__version__}; {found['wall_s']:.0f} s by the clock on the wall.",
        "",
        "| figure | measured | asked | |",
        "| --- | --- | --- | --- |",
        *(
            f"| {name} | {measured} | {asked} | {'met' if met else '**missed**'} |"
            for name, measured, asked, met in rows
        ),
        "",
    ]
    return "\n".join(lines)


if __name__ == "__main__":
    main()

"""Hearing live: latency, a turning hand, rest, honesty, processor time, and hours of listening.

``python -m benchmarks.live.hearing`` writes RESULTS-hearing.md beside itself; ``--dry`` only
prints, ``--part`` runs one part, ``--rows`` keeps what the parts found, for a page that is written
once all are there. Most of it is sound made here and pushed through the tracker as fast as it goes;
the last part listens for half an hour in real time, over a PulseAudio null sink.
"""

from __future__ import annotations

import argparse
import json
import platform
import time
from collections.abc import Callable
from dataclasses import asdict
from functools import partial
from pathlib import Path

import numpy as np
from benchmarks.live.half_hour import in_real_time, made_here
from benchmarks.live.made_sound import BLOCK_S, error, heard, tone
from benchmarks.live.outcome import Outcome, table
from benchmarks.pitch.cases import cases

from pitchwright.pitch.live import READINGS_PER_S, LiveReading, LiveTracker
from pitchwright.units import ratio_of_cents

HERE = Path(__file__).parent
SEED = 20_261_125
_RESTING_CASES = 0.6
_ONSETS = 120


def resting(seed: int) -> list[Outcome]:
    """Tones of the reading's own benchmark, two seconds each: error, uncertainty, coverage."""
    by_group: dict[str, list[tuple[float, float, float, float]]] = {}
    last: dict[str, list[float]] = {}
    shown: dict[str, list[float]] = {}
    missed = 0
    for case in cases(seed, _RESTING_CASES):
        if case.duration_s < 2.0 or "sub-octave" in case.group or "drift" in case.group:
            continue
        group = case.impairment
        readings = [r for _, r in heard(case.samples, case.rate_hz)]
        told = [r for r in readings if r.f_hz is not None]
        if not told or abs(error(told[-1], case.settled_hz)) > 50.0:
            missed += 1
            continue
        last.setdefault(group, []).append(abs(error(told[-1], case.settled_hz)))
        shown.setdefault(group, []).append(told[-1].u_cents)
        # Windows that hardly overlap, so that each is a try of its own.
        ages: dict[float, LiveReading] = {}
        for r in told:
            ages.setdefault(float(np.exp2(np.floor(np.log2(r.window_s)))), r)
        for r in [*ages.values(), told[-1]]:
            off = error(r, case.settled_hz)
            by_group.setdefault(group, []).append((off, r.u_cents, r.window_s, case.f_hz))
    out = []
    everything = [one for group in by_group.values() for one in group]
    ordinary = [e for g, es in last.items() for e in es if g not in ("15 dB", "30 dB")]
    p95 = float(np.percentile(ordinary, 95))
    out.append(
        Outcome(
            "at rest for 2 s: error, 95 % below (30 and 15 dB of noise aside)",
            "≤ 0.02 cent",
            f"{p95:.4f} cent",
            p95 <= 0.02,
        )
    )
    for group, errors in last.items():
        u = float(np.median(shown[group]))
        out.append(
            Outcome(
                f"at rest, {group}: error, 95 % below; median u",
                "",
                f"{np.percentile(errors, 95):.4f}; {u:.4f} cent",
                None,
            )
        )
    for group, ones in by_group.items():
        share = float(np.mean([abs(off) <= 2 * u for off, u, *_ in ones]))
        out.append(
            Outcome(
                f"errors within 2u, {group}",
                "≥ 93 %",
                f"{100 * share:.1f} % of {len(ones)}",
                share >= 0.93,
            )
        )
    share = float(np.mean([abs(off) <= 2 * u for off, u, *_ in everything]))
    out.append(Outcome("errors within 2u, all", "≥ 93 %", f"{100 * share:.1f} %", share >= 0.93))
    out.append(
        Outcome("tones not read, or more than a quarter tone off", "0", f"{missed}", missed == 0)
    )
    return out


def latency(seed: int) -> list[Outcome]:
    """From a sound's beginning, and from a step, to the first reading that is right."""
    rng = np.random.default_rng(seed)
    high: list[float] = []
    low: list[float] = []
    steps_high: list[float] = []
    steps_low: list[float] = []
    for number in range(_ONSETS):
        f_hz = 16.0 * (8000.0 / 16.0) ** ((number + rng.random()) / _ONSETS)
        rate_hz = float(rng.choice([44_100.0, 48_000.0, 96_000.0]))
        allowed = 0.15 if f_hz >= 100.0 else 6 / f_hz + 0.08
        begins = 0.3 + rng.uniform(0.0, 0.05)
        n = round((begins + 2 * allowed + 0.2) * rate_hz)
        x = tone(f_hz, np.zeros(n), rate_hz, rng)
        x[: round(begins * rate_hz)] = 0.0
        took = _took(heard(x, rate_hz), begins, f_hz)
        (high if f_hz >= 100.0 else low).append(took if f_hz >= 100.0 else took - 6 / f_hz)
        begins = 1.0 + rng.uniform(0.0, 0.05)
        n = round((begins + 2 * allowed + 0.2) * rate_hz)
        cents = np.zeros(n)
        step = float(rng.choice([-1, 1]) * np.exp(rng.uniform(np.log(2.0), np.log(1200.0))))
        cents[round(begins * rate_hz) :] = step
        if f_hz * ratio_of_cents(step) < 16.5:
            step = -step
            cents = -cents
        after_hz = f_hz * ratio_of_cents(step)
        took = _took(heard(tone(f_hz, cents, rate_hz, rng), rate_hz), begins, after_hz)
        lower = min(f_hz, after_hz)
        (steps_high if lower >= 100.0 else steps_low).append(
            took if lower >= 100.0 else took - 6 / lower
        )
    rows = [
        ("sound begins, 100 Hz and above: to the first right reading", high, 0.15, ""),
        ("sound begins, below 100 Hz: the same, less six periods", low, 0.08, " beyond 6 periods"),
        ("pitch steps by 2 to 1200 cents, 100 Hz and above", steps_high, 0.15, ""),
        ("pitch steps, below 100 Hz, less six periods", steps_low, 0.08, " beyond 6 periods"),
    ]
    return [
        Outcome(
            what,
            f"≤ {1000 * bar:.0f} ms{more}",
            f"{1000 * max(times):.0f} ms at most, {1000 * float(np.median(times)):.0f} ms"
            " in the middle",
            max(times) <= bar,
        )
        for what, times, bar, more in rows
    ]


def _took(readings: list[tuple[float, LiveReading]], begins: float, f_hz: float) -> float:
    """Until the first reading from which on all are right (a cent, or their own uncertainty)."""
    right_since = None
    for came_s, reading in readings:
        if came_s <= begins:
            continue
        right = abs(error(reading, f_hz)) < 1.0
        right_since = (right_since or came_s) if right else None
    return float("inf") if right_since is None else right_since - begins


def turning(seed: int) -> list[Outcome]:
    """How far off readings are while a hand turns at a steady speed for half a second."""
    rng = np.random.default_rng(seed + 1)
    out = []
    for cents_per_s in (1.0, 5.0, 20.0, 80.0):
        errors, lags, covered = [], [], []
        for f_hz in (65.4, 130.8, 261.6, 523.3, 1046.5, 2093.0):
            rate_hz = 48_000.0
            t_s = np.arange(round(2.2 * rate_hz)) / rate_hz
            cents = cents_per_s * np.clip(t_s - 0.8, 0.0, 0.5)
            for came_s, r in heard(tone(f_hz, cents, rate_hz, rng), rate_hz):
                if 0.85 < r.t_s < 1.25 and r.f_hz is not None:
                    off = error(r, f_hz) - float(np.interp(r.t_s, t_s, cents))
                    errors.append(abs(off))
                    lags.append(came_s - r.t_s)
                    covered.append(abs(off) <= 2 * r.u_cents)
        out.append(
            Outcome(
                f"turning at {cents_per_s:g} cents a second: error at the reading's own moment",
                "",
                f"{max(errors):.3f} cent at most, {np.median(errors):.4f} in the middle; "
                f"that moment lies {1000 * float(np.median(lags)):.0f} ms back; "
                f"{100 * float(np.mean(covered)):.0f} % within 2u",
                None,
            )
        )
    return out


def processor(seed: int) -> list[Outcome]:
    """Eight channels at 96 kHz: processor time over time."""
    rng = np.random.default_rng(seed + 2)
    rate_hz, seconds = 96_000.0, 8.0
    n = round(seconds * rate_hz)
    notes = (32.7, 65.4, 130.8, 261.6, 523.3, 1046.5, 2093.0, 4186.0)
    t_s = np.arange(n) / rate_hz
    kinds = {
        "at rest": np.zeros(n),
        "all turning at 10 cents a second": 10.0 * t_s,
        "a new note every second": 100.0 * np.floor(t_s),
    }
    out = []
    for kind, cents in kinds.items():
        sounds = [tone(f_hz, cents, rate_hz, rng) for f_hz in notes]
        trackers = [LiveTracker(rate_hz) for _ in sounds]
        block = round(BLOCK_S * rate_hz)
        began = time.process_time()
        for at in range(0, n, block):
            for x, tracker in zip(sounds, trackers, strict=True):
                tracker.push(x[at : at + block])
        share = (time.process_time() - began) / seconds
        met = share < 0.35 if kind == "at rest" else None
        out.append(
            Outcome(
                f"eight channels at 96 kHz, {kind}: of one core",
                "< 35 %" if met is not None else "",
                f"{100 * share:.0f} %",
                met,
            )
        )
    return out


PARTS: dict[str, Callable[[int], list[Outcome]]] = {
    "latency": latency,
    "turning": turning,
    "resting": resting,
    "processor": processor,
    "long": made_here,
    "real": in_real_time,
}


def main() -> None:
    """Measure, print, and write it down."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.live.hearing", description=__doc__)
    parser.add_argument("--part", choices=list(PARTS), action="append")
    parser.add_argument("--dry", action="store_true")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--rows", type=Path, help="keep parts here, to write the page from later")
    parser.add_argument("--real-seconds", type=float, help="listen in real time for so long")
    options = parser.parse_args()
    parts = dict(PARTS)
    if options.real_seconds is not None:
        parts["real"] = partial(in_real_time, seconds_s=options.real_seconds)
    kept: dict[str, list[Outcome]] = {}
    if options.rows is not None and options.rows.exists():
        written = json.loads(options.rows.read_text(encoding="utf-8"))
        kept = {name: [Outcome(**row) for row in rows] for name, rows in written.items()}
    for name in options.part or parts:
        kept[name] = parts[name](options.seed)
        for one in kept[name]:
            print(f"{one.what}: {one.found} (wanted {one.wanted or 'nothing'}; {one.met})")
    if options.rows is not None:
        rows = {name: [asdict(row) for row in found] for name, found in kept.items()}
        options.rows.write_text(json.dumps(rows), encoding="utf-8")
    if not options.dry and set(kept) == set(PARTS):
        every = [row for name in PARTS for row in kept[name]]
        (HERE / "RESULTS-hearing.md").write_text(page(every, options.seed), encoding="utf-8")


def page(rows: list[Outcome], seed: int) -> str:
    """The table, and what it is worth."""
    bars = [row for row in rows if row.met is not None]
    missed = [row for row in bars if not row.met]
    lines = [
        "# Hearing live",
        "",
        f"Made by `python -m benchmarks.live.hearing` (seed {seed}). Latency is counted on the"
        " sample clock, from the first sample of the new sound to the block that completes the"
        f" first right reading, blocks being {1000 * BLOCK_S:.0f} ms: the device's own buffer"
        f" comes on top. There are {READINGS_PER_S} readings a second. Unless said otherwise sound"
        " is made here and pushed through the tracker; the last part is the command itself in real"
        " time, over a PulseAudio null sink.",
        "",
        f"Machine: {platform.system()} {platform.machine()}, shared with other work while it ran;"
        " processor time is the process's own.",
        "",
        f"**{len(bars) - len(missed)} of {len(bars)} bars met.**",
        "",
        table(rows),
    ]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    main()

"""Spans of standing notes, found in any order, with gaps or legato, whatever the waveform."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray

from pitchwright.pitch.spans import HELD_EVERY_S, LONGEST_S, Skipped, Span, SpanFinder
from pitchwright.units import note_to_hz

Sound = NDArray[np.float32]

RATE_HZ = 48_000
EDGE_S = 0.05


@dataclass(frozen=True)
class Played:
    """What was played: the sound, and per note when it stood still."""

    sound: Sound
    notes: list[tuple[float, float]]


def partials(kind: str, phase: NDArray[np.float64], most: int) -> NDArray[np.float64]:
    """One of our waveforms, additively, from the phase in turns."""
    k = np.arange(1, most + 1)[:, None]
    match kind:
        case "saw":
            size = 1.0 / k
        case "square":
            size = np.where(k % 2, 1.0 / k, 0.0)
        case "pulse":
            size = np.sin(0.03 * np.pi * k) / k
        case "sine":
            size = np.where(k == 1, 1.0, 0.0)
        case "half":  # with a square an octave below, as a divider makes it
            low = partials("square", phase / 2, 2 * most)
            return 0.6 * partials("saw", phase, most) + 0.5 * low
        case _:
            raise ValueError(kind)
    used = size[:, 0] != 0.0
    return np.asarray((size[used] * np.sin(2 * np.pi * k[used] * phase)).sum(axis=0))


def play(
    notes: list[tuple[float, float]],
    kind: str = "saw",
    *,
    rate_hz: int = RATE_HZ,
    gap_s: float = 0.0,
    glide_s: float = 0.0,
    noise: float = 1e-3,
) -> Played:
    """Notes one after another, as (note, seconds), in phase throughout."""
    rng = np.random.default_rng(1)
    pieces, marks, turn, at, before = [], [], 0.0, 0, 0.0
    for note, length_s in notes:
        f_hz = note_to_hz(note)
        stretches = [(np.full(round(length_s * rate_hz), f_hz), 1.0, True)]
        if glide_s and before:
            path = before * (f_hz / before) ** np.linspace(0, 1, round(glide_s * rate_hz))
            stretches.insert(0, (path, 1.0, False))
        if gap_s:
            stretches.append((np.full(round(gap_s * rate_hz), f_hz), 0.0, False))
        for path, loud, stands in stretches:
            phase = turn + np.cumsum(path) / rate_hz
            most = max(1, min(60, int(0.45 * rate_hz / path.max())))
            pieces.append(0.3 * loud * partials(kind, phase, most))
            if stands:
                marks.append((at / rate_hz, (at + len(path)) / rate_hz))
            turn, at, before = float(phase[-1]), at + len(path), f_hz
    sound = np.concatenate(pieces)
    sound += noise * rng.normal(size=len(sound))
    return Played(sound.astype(np.float32), marks)


def found(sound: Sound, rate_hz: int = RATE_HZ, block: int = 96_000) -> list[Span | Skipped]:
    finder = SpanFinder(rate_hz)
    given: list[Span | Skipped] = []
    for first in range(0, len(sound), block):
        given += finder.feed(sound[first : first + block])
    return given + finder.finish()


def times(given: list[Span | Skipped], rate_hz: int = RATE_HZ) -> list[tuple[float, float]]:
    return [(one.first / rate_hz, one.last / rate_hz) for one in given if isinstance(one, Span)]


def assert_one_span_a_note(
    spans: list[tuple[float, float]], notes: list[tuple[float, float]]
) -> None:
    assert len(spans) == len(notes)
    for (first_s, last_s), (begin_s, end_s) in zip(spans, notes, strict=True):
        assert begin_s - EDGE_S <= first_s < last_s <= end_s + EDGE_S
        assert last_s - first_s >= 0.3 * (end_s - begin_s)


LOW = [(12.0, 1.0), (18.0, 1.0), (24.0, 1.0), (36.0, 1.0)]
HIGH = [(48.0, 0.5), (60.0, 0.5), (61.0, 0.5), (84.0, 0.5), (72.0, 0.5), (108.0, 0.5), (114.0, 0.5)]


@pytest.mark.parametrize("kind", ["saw", "square", "pulse", "sine", "half"])
@pytest.mark.parametrize(
    ("gap_s", "glide_s"), [(0.2, 0.0), (0.0, 0.0), (0.0, 0.25)], ids=["gaps", "legato", "glides"]
)
def test_one_span_for_each_note(kind: str, gap_s: float, glide_s: float) -> None:
    noise = 0.01 if kind == "sine" else 1e-3
    played = play(LOW + HIGH, kind, gap_s=gap_s, glide_s=glide_s, noise=noise)
    assert_one_span_a_note(times(found(played.sound)), played.notes)


@pytest.mark.parametrize("rate_hz", [22_050, 32_000, 44_100, 96_000, 192_000])
def test_at_every_sample_rate(rate_hz: int) -> None:
    played = play([(12.0, 1.2), (36.0, 0.8), (48.0, 0.8), (60.0, 0.5)], rate_hz=rate_hz)
    assert_one_span_a_note(times(found(played.sound, rate_hz), rate_hz), played.notes)


def test_the_size_of_the_blocks_does_not_matter() -> None:
    played = play(LOW[2:] + HIGH, gap_s=0.1)
    whole = found(played.sound, block=len(played.sound))
    for block in (1_000, 4_096, 100_001):
        assert found(played.sound, block=block) == whole


def test_repeats_are_told_apart_by_the_gap() -> None:
    played = play([(60.0, 0.5)] * 4, gap_s=0.12)
    assert_one_span_a_note(times(found(played.sound)), played.notes)


@pytest.mark.parametrize("note", [36.0, 60.0, 84.0])
def test_an_octave_legato_is_a_change(note: float) -> None:
    # Every partial of the upper note is one of the lower.
    played = play([(note, 1.0), (note + 12.0, 1.0), (note, 1.0)], "pulse")
    assert_one_span_a_note(times(found(played.sound)), played.notes)


def test_glides_are_left_out_and_said() -> None:
    played = play([(48.0, 1.0), (55.0, 1.0)], glide_s=0.8)
    given = found(played.sound)
    assert_one_span_a_note(times(given), played.notes)
    (glide,) = [one for one in given if isinstance(one, Skipped) and "glide" in one.why]
    assert glide.first / RATE_HZ == pytest.approx(1.0, abs=0.15)
    assert glide.last / RATE_HZ == pytest.approx(1.8, abs=0.15)


def test_a_short_slip_is_left_out() -> None:
    played = play([(48.0, 1.0), (49.0, 0.08), (50.0, 1.0)])
    spans = times(found(played.sound))
    assert_one_span_a_note(spans, [played.notes[0], played.notes[2]])


def test_every_moment_that_sounds_is_either_heard_or_left_out() -> None:
    played = play(HIGH, glide_s=0.2)
    given = found(played.sound)
    assert len(given) > len(HIGH)
    for early, late in itertools.pairwise(given):
        assert early.last == late.first


def test_silence_gives_nothing() -> None:
    assert found(np.zeros(3 * RATE_HZ, np.float32)) == []


def test_a_direct_voltage_is_silence() -> None:
    assert found(np.full(3 * RATE_HZ, 0.4, np.float32)) == []


def test_noise_is_no_note() -> None:
    sound = np.random.default_rng(3).normal(0.0, 0.1, 5 * RATE_HZ).astype(np.float32)
    given = found(sound)
    assert times(given) == []
    assert any(isinstance(one, Skipped) for one in given)


def test_less_than_a_frame_gives_nothing() -> None:
    assert found(np.ones(100, np.float32)) == []


def test_a_note_held_for_minutes_is_heard_now_and_then() -> None:
    t_s = np.arange(int(100 * RATE_HZ)) / RATE_HZ
    sound = (0.3 * np.sin(2 * np.pi * 220.0 * t_s)).astype(np.float32)
    spans = [one for one in found(sound) if isinstance(one, Span)]
    assert [one.held for one in spans] == [False, True, True, True]
    for one in spans:
        assert (one.last - one.first) / RATE_HZ == pytest.approx(LONGEST_S, abs=0.1)
    begins = [one.first / RATE_HZ for one in spans]
    assert np.diff(begins) == pytest.approx(HELD_EVERY_S, abs=0.1)


def test_the_level_is_the_mean_square() -> None:
    played = play([(60.0, 1.0)], "sine", noise=0.0)
    (span,) = [one for one in found(played.sound) if isinstance(one, Span)]
    assert span.level == pytest.approx(0.3**2 / 2, rel=0.02)


def test_spans_are_given_while_their_sound_is_worth_keeping() -> None:
    played = play([*HIGH, (60.0, 8.0), *HIGH])
    finder, block = SpanFinder(RATE_HZ), 24_000
    for first in range(0, len(played.sound), block):
        for given in finder.feed(played.sound[first : first + block]):
            if isinstance(given, Span):
                assert given.first >= first - finder.reach_s * RATE_HZ

"""The live tracker on tones whose pitch is exact at every sample."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from pitchwright.pitch.live import READINGS_PER_S, LiveReading, LiveTracker
from pitchwright.units import cents_between, note_to_hz, ratio_of_cents

Array = NDArray[np.float64]
RATE_HZ = 48_000.0


def sounding(f_hz: float, cents: Array, *, shape: str = "saw", seed: int = 1) -> Array:
    """A tone that is so many cents above ``f_hz`` at each sample, with DC and a little noise."""
    pitch = f_hz * np.exp2(cents / 1200)
    turn = np.exp(2j * np.pi * np.concatenate(([0.0], np.cumsum(pitch[:-1]))) / RATE_HZ)
    top = max(1, min(300, int(0.45 * RATE_HZ / float(pitch.max()))))
    size = {"saw": lambda k: 1 / k, "square": lambda k: (k % 2) / k, "sine": lambda k: k == 1}
    x, power = np.zeros(len(cents)), np.ones_like(turn)
    for k in range(1, top + 1):
        power *= turn
        x += 0.3 * size[shape](k) * power.imag
    return x + 0.05 + 3e-4 * np.random.default_rng(seed).standard_normal(len(cents))


def still(seconds: float) -> Array:
    return np.zeros(round(seconds * RATE_HZ))


def heard(x: Array, block: int = 2400) -> list[LiveReading]:
    tracker = LiveTracker(RATE_HZ)
    return [r for at in range(0, len(x), block) for r in tracker.push(x[at : at + block])]


def off_cents(reading: LiveReading, f_hz: float) -> float:
    assert reading.f_hz is not None, reading.doubts
    return float(cents_between(reading.f_hz, f_hz))


def latest(f_hz: float) -> float:
    """How long after a change of the sound its reading may come, seconds."""
    return 0.15 if f_hz >= 100.0 else 6 / f_hz + 0.08


@pytest.mark.parametrize("shape", ["saw", "square", "sine"])
@pytest.mark.parametrize("f_hz", [16.35, 61.7, 130.8, 1046.5, 8372.0])
def test_a_resting_pitch_settles_and_is_read_to_a_fiftieth_of_a_cent(
    f_hz: float, shape: str
) -> None:
    readings = heard(sounding(f_hz, still(1.6), shape=shape))
    assert len(readings) == round(1.6 * READINGS_PER_S)
    last = readings[-1]
    assert last.settled
    assert last.u_cents < 0.02
    assert abs(off_cents(last, f_hz)) < 0.02
    assert last.window_s > 1.0
    told = [r for r in readings if r.f_hz is not None]
    assert all(abs(off_cents(r, f_hz)) < max(4 * r.u_cents, 0.002) for r in told)
    assert told[0].window_s < told[-1].window_s


@pytest.mark.parametrize("f_hz", [16.35, 30.0, 61.7, 100.0, 110.0, 261.63, 1046.5, 8372.0])
def test_a_sound_is_read_soon_after_it_begins(f_hz: float) -> None:
    for begins in (0.301, 0.313, 0.327, 0.3499):
        x = sounding(f_hz, still(0.4 + latest(f_hz)))
        x[: round(begins * RATE_HZ)] *= 0.0
        readings = heard(x)
        first = next(n for n, r in enumerate(readings) if r.f_hz is not None)
        assert (first + 1) / READINGS_PER_S - begins <= latest(f_hz)
        assert abs(off_cents(readings[first], f_hz)) < 0.5


@pytest.mark.parametrize("step_cents", [0.5, 4.0, 37.0, -300.0, 1200.0, -1200.0, 1902.0])
@pytest.mark.parametrize("f_hz", [32.7, 110.0, 261.63, 2093.0])
def test_a_step_is_followed_at_once_and_never_misread(f_hz: float, step_cents: float) -> None:
    begins = 1.013
    cents = still(1.6)
    cents[round(begins * RATE_HZ) :] = step_cents
    after_hz = f_hz * ratio_of_cents(step_cents)
    readings = heard(sounding(f_hz, cents))
    for number, reading in enumerate(readings, start=1):
        if reading.f_hz is None:
            continue
        came_s = number / READINGS_PER_S
        nearest = min(abs(off_cents(reading, f_hz)), abs(off_cents(reading, after_hz)))
        if came_s <= begins or came_s > begins + latest(min(f_hz, after_hz)):
            right = f_hz if came_s <= begins else after_hz
            assert abs(off_cents(reading, right)) < max(0.05, 4 * reading.u_cents), came_s
        else:
            # In between it may be either, or between the two and say so.
            assert nearest < max(0.05, 3 * reading.u_cents), came_s
    assert abs(off_cents(readings[-1], after_hz)) < 0.01


@pytest.mark.parametrize("cents_per_s", [3.0, 25.0, -80.0])
@pytest.mark.parametrize("f_hz", [130.8, 523.25, 2093.0])
def test_a_turning_hand_is_followed(f_hz: float, cents_per_s: float) -> None:
    t_s = np.arange(round(1.5 * RATE_HZ)) / RATE_HZ
    cents = cents_per_s * np.clip(t_s - 0.6, 0.0, 0.4)
    for reading in heard(sounding(f_hz, cents)):
        if reading.f_hz is None:
            assert reading.t_s < 0.1
            continue
        truth = float(np.interp(reading.t_s, t_s, cents))
        assert abs(off_cents(reading, f_hz) - truth) < max(0.1, 2 * reading.u_cents)
        if 0.75 < reading.t_s < 0.95:
            assert reading.window_s < 0.1
            assert not reading.settled


def test_a_warming_oscillator_settles_though_it_drifts() -> None:
    t_s = np.arange(round(2.0 * RATE_HZ)) / RATE_HZ
    last = heard(sounding(261.63, 0.1 * t_s))[-1]
    assert last.settled
    assert abs(off_cents(last, 261.63) - 0.1 * last.t_s) < 0.01


def test_the_octave_of_a_sound_with_a_weak_fundamental_is_right() -> None:
    t_s = np.arange(round(1.2 * RATE_HZ)) / RATE_HZ
    sizes = (0.02, 0.3, 0.2, 0.25, 0.1, 0.12)
    x = sum(a * np.sin(2 * np.pi * 110.0 * k * t_s + k) for k, a in enumerate(sizes, start=1))
    told = [r for r in heard(np.asarray(x)) if r.f_hz is not None]
    assert all(abs(off_cents(r, 110.0)) < 0.1 for r in told)
    assert told[-1].settled


def test_an_octave_that_only_shows_later_is_put_right() -> None:
    """The sub-octave comes in a little after the tone: nothing tells before it sounds."""
    x = sounding(220.0, still(1.5))
    below = sounding(110.0, still(1.5), seed=2)
    below[: round(0.5 * RATE_HZ)] = 0.0
    readings = heard(x + below)
    assert abs(off_cents(readings[8], 220.0)) < 0.01
    assert abs(off_cents(readings[-1], 110.0)) < 0.01


@pytest.mark.parametrize("kind", ["silence", "noise", "hum", "two tones"])
def test_what_has_no_pitch_is_not_read(kind: str) -> None:
    n = round(4.0 * RATE_HZ)
    t_s = np.arange(n) / RATE_HZ
    hiss = 1e-5 * np.random.default_rng(3).standard_normal(n)
    if kind == "silence":
        x = hiss
    elif kind == "noise":
        x = 1e4 * hiss
    elif kind == "hum":
        x = hiss + 2e-3 * np.sin(2 * np.pi * 50 * t_s) + 5e-4 * np.sin(2 * np.pi * 150 * t_s)
    else:
        x = sounding(261.6, still(4.0)) + sounding(339.1, still(4.0))
    for reading in heard(x):
        assert reading.f_hz is None
        assert reading.u_cents == np.inf
        assert not reading.settled
        assert all(reading.doubts)


def test_hum_that_is_left_when_a_tone_ends_is_no_lower_tone() -> None:
    """Found in half an hour of listening: hum at 50 and 150 Hz read as 16.67 for a moment."""
    ends = round(0.64 * RATE_HZ)
    x = sounding(523.25, still(1.2))
    t_s = np.arange(len(x) - ends) / RATE_HZ
    hum = 3e-3 * np.sin(2 * np.pi * 50 * t_s) + 1e-3 * np.sin(2 * np.pi * 150 * t_s)
    x[ends:] = hum + 1e-4 * np.random.default_rng(1).standard_normal(len(x))[ends:]
    for reading in heard(x):
        assert reading.f_hz is None or reading.f_hz > 500.0


@pytest.mark.parametrize(
    ("before_hz", "shape", "f_hz"), [(440.0, "sine", 261.63), (30.09, "saw", 121.35)]
)
def test_a_new_note_is_not_taken_for_a_part_of_its_frequency(
    before_hz: float, shape: str, f_hz: float
) -> None:
    """Sought with the end of another note before it, it seems to repeat only every few periods."""
    ends = round(0.637 * RATE_HZ)
    x = sounding(before_hz, still(1.0), shape=shape)
    x[ends:] = sounding(f_hz, still(1.0), shape="sine")[ends:]
    after = [r for r in heard(x) if r.f_hz is not None and r.t_s - r.window_s / 2 > 0.637]
    assert after
    assert all(abs(off_cents(r, f_hz)) < 0.1 for r in after)


def test_hum_beside_a_tone_does_not_look_like_a_hand() -> None:
    """Hum six hertz below rocks the pitch a few times a second, by less than a tenth of a cent."""
    t_s = np.arange(round(2.0 * RATE_HZ)) / RATE_HZ
    x = sounding(126.05, still(2.0), shape="sine") + 3e-3 * np.sin(2 * np.pi * 120.0 * t_s)
    last = heard(x)[-1]
    assert last.settled
    assert last.window_s > 1.0
    assert abs(off_cents(last, 126.05)) < 0.01


@pytest.mark.parametrize(
    ("before_hz", "f_hz", "begins"),
    [(73.4, 49.35, 0.5157), (83.27, 49.35, 0.5333), (93.53, 49.35, 0.5113), (93.53, 55.45, 0.535)],
)
def test_a_low_note_is_not_read_from_bites_cut_for_the_one_before(
    before_hz: float, f_hz: float, begins: float
) -> None:
    """Found in half an hour of real time, twice in five hundred notes."""
    cents = still(0.75)
    cents[: round(begins * RATE_HZ)] = cents_between(before_hz, f_hz)
    told = [r for r in heard(sounding(f_hz, cents)) if r.f_hz is not None]
    assert abs(off_cents(told[-1], f_hz)) < 0.1
    for reading in told:
        off = min(abs(off_cents(reading, may_be)) for may_be in (f_hz, before_hz))
        assert off < max(0.5, 3 * reading.u_cents)


def test_a_gap_throws_the_window_away_and_the_clock_goes_on() -> None:
    x = sounding(261.63, still(2.0))
    tracker = LiveTracker(RATE_HZ)
    before = tracker.push(x[:48_000])[-1]
    tracker.gap(12_345)
    after = [r for r in tracker.push(x[60_345:]) if r.f_hz is not None]
    assert before.window_s > 0.9
    assert after[0].window_s < 0.1
    assert after[0].t_s > 60_345 / RATE_HZ
    assert all(abs(off_cents(r, 261.63)) < 0.01 for r in after)
    assert tracker.now_s == pytest.approx(2.0)


def test_clipping_is_said() -> None:
    readings = heard(np.clip(3.2 * sounding(261.63, still(0.5)), -1.0, 1.0))
    assert all(r.clipped for r in readings)
    assert "clipped" in readings[-1].doubts[0]
    assert abs(off_cents(readings[-1], 261.63)) < 0.05


def test_the_level_is_that_of_the_newest_sound() -> None:
    x = sounding(261.63, still(1.0), shape="sine")
    assert heard(x)[-1].level_dbfs == pytest.approx(20 * np.log10(0.3), abs=0.05)


def test_a_pitch_near_the_mains_is_read_with_a_doubt() -> None:
    last = heard(sounding(100.2, still(1.0)))[-1]
    assert abs(off_cents(last, 100.2)) < 0.02
    assert any("mains hum" in doubt for doubt in last.doubts)


def test_a_careful_reading_takes_the_resting_part_only() -> None:
    cents = still(2.0)
    cents[: round(0.8 * RATE_HZ)] = -40.0
    tracker = LiveTracker(RATE_HZ)
    tracker.push(sounding(261.63, cents))
    reading = tracker.careful()
    assert reading.f_hz is not None
    assert abs(float(cents_between(reading.f_hz, 261.63))) < 0.005
    assert reading.u_cents < 0.005


@given(blocks=st.lists(st.integers(1, 5000), min_size=1, max_size=12))
def test_how_the_sound_is_cut_up_does_not_matter(blocks: list[int]) -> None:
    x = WHOLE
    tracker = LiveTracker(RATE_HZ)
    readings, at, turn = [], 0, 0
    while at < len(x):
        size = blocks[turn % len(blocks)] if turn < 40 else len(x)
        readings += tracker.push(x[at : at + size])
        at, turn = at + size, turn + 1
    assert readings == EXPECTED


WHOLE = sounding(note_to_hz(57), still(0.35))
EXPECTED = heard(WHOLE)


def test_nonsense_from_the_converter_is_no_pitch_and_no_crash() -> None:
    rng = np.random.default_rng(9)
    x = np.concatenate(
        (
            sounding(440.0, still(0.4)),
            np.ones(9_600),
            rng.uniform(-1, 1, 9_600),
            np.tile([1.0, -1.0], 4_800),
            np.zeros(9_600),
            sounding(440.0, still(0.4)),
        )
    )
    readings = heard(x)
    assert abs(off_cents(readings[-1], 440.0)) < 0.01
    for reading in readings:
        assert reading.f_hz is None or abs(off_cents(reading, 440.0)) < max(
            0.1, 3 * reading.u_cents
        )

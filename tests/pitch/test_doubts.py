import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import signal

from pitchwright.pitch import FlagKind, Reading, read
from pitchwright.units import cents_between

Array = NDArray[np.float64]
RATE_HZ = 48_000


def saw(f_hz: float | Array, duration_s: float = 1.0, phase: float = 0.0) -> Array:
    n = round(duration_s * RATE_HZ)
    turns = np.cumsum(np.broadcast_to(f_hz, n)) / RATE_HZ
    x = np.zeros(n)
    for k in range(1, int(0.45 * RATE_HZ / np.max(f_hz)) + 1):
        x += 0.3 * np.sin(k * (2 * np.pi * turns + phase)) / k
    return x


def reason(reading: Reading, kind: FlagKind) -> str:
    return next(flag.reason for flag in reading.flags if flag.kind is kind)


def no_pitch(x: Array) -> str:
    reading = read(x, RATE_HZ)
    assert reading.f_hz is None
    assert reading.u_cents == np.inf
    assert reading.periods == 0
    return reason(reading, FlagKind.NO_PITCH)


def test_a_clean_tone_has_no_doubts() -> None:
    assert read(saw(440.0), RATE_HZ).flags == ()


@pytest.mark.parametrize("size", [0.0, 0.5])
def test_silence_has_no_pitch(size: float) -> None:
    assert "no sound at all" in no_pitch(np.full(4800, size))


def test_a_very_quiet_sound_counts_as_silent() -> None:
    assert "silent" in no_pitch(1e-6 * saw(440.0))


def test_a_handful_of_samples_has_no_pitch() -> None:
    assert "too few" in no_pitch(np.ones(10))


@pytest.mark.parametrize("duration_s", [0.1, 0.5, 2.0])
@pytest.mark.parametrize("seed", range(4))
def test_noise_has_no_pitch(duration_s: float, seed: int) -> None:
    rng = np.random.default_rng(seed)
    x = 0.1 * rng.standard_normal(round(duration_s * RATE_HZ))
    assert "noise" in no_pitch(x)
    assert "noise" in no_pitch(0.01 * np.cumsum(x))


@pytest.mark.parametrize("duration_s", [0.25, 0.5, 1.0, 2.0])
@pytest.mark.parametrize(
    "tones_hz", [(261.63, 329.63, 392.0), (220.0, 277.18, 329.63), (110.0, 116.54)]
)
def test_a_chord_has_no_pitch(tones_hz: tuple[float, ...], duration_s: float) -> None:
    x = np.zeros(round(duration_s * RATE_HZ))
    for i, f_hz in enumerate(tones_hz):
        x += saw(f_hz, duration_s, 1.3 * i) / len(tones_hz)
    assert "several tones" in no_pitch(x)


def speech(seed: int, duration_s: float) -> Array:
    """Syllables: pulses of moving pitch through three resonances, hisses, gaps."""
    rng = np.random.default_rng(seed)
    parts: list[Array] = []
    while sum(map(len, parts)) < duration_s * RATE_HZ:
        n = int(rng.uniform(0.08, 0.25) * RATE_HZ)
        kind = rng.random()
        if kind < 0.6:
            turns = np.cumsum(np.linspace(rng.uniform(90, 160), rng.uniform(90, 160), n)) / RATE_HZ
            y = np.diff(np.floor(turns), prepend=0.0) + 0.01 * rng.standard_normal(n)
            for centre_hz, width_hz in (
                (rng.uniform(300, 800), 80.0),
                (rng.uniform(900, 2300), 120.0),
                (2600.0, 200.0),
            ):
                r = np.exp(-np.pi * width_hz / RATE_HZ)
                poles = [1.0, -2 * r * np.cos(2 * np.pi * centre_hz / RATE_HZ), r * r]
                y = np.asarray(signal.lfilter([1.0], poles, y))
            parts.append(0.4 * y / np.abs(y).max() * np.hanning(n))
        elif kind < 0.85:
            parts.append(0.05 * rng.standard_normal(n) * np.hanning(n))
        else:
            parts.append(np.zeros(n // 2))
    x = np.concatenate(parts)[: round(duration_s * RATE_HZ)]
    return np.asarray(x + 1e-4 * rng.standard_normal(len(x)))


@pytest.mark.parametrize("seed", range(12))
def test_speech_has_no_pitch(seed: int) -> None:
    assert "noise" in no_pitch(speech(seed, 1.0 + 0.1 * seed))


@pytest.mark.parametrize("mains_hz", [50.0, 60.0])
def test_hum_alone_has_no_pitch(mains_hz: float) -> None:
    t_s = np.arange(RATE_HZ) / RATE_HZ
    x = np.zeros(RATE_HZ)
    for k, size in ((1, 1.0), (2, 0.3), (3, 0.5), (5, 0.2)):
        x += 0.003 * size * np.sin(2 * np.pi * 1.0003 * k * mains_hz * t_s + k)
    assert f"mains hum at {mains_hz:.0f} Hz" in no_pitch(x)


def test_a_loud_tone_at_the_mains_frequency_is_doubted_and_read() -> None:
    reading = read(saw(50.1), RATE_HZ)
    assert reading.f_hz is not None
    assert "50 Hz" in reason(reading, FlagKind.MAINS_NEARBY)
    assert not read(saw(50.1), RATE_HZ, mains_hz=60.0).flags
    assert not read(saw(54.0), RATE_HZ).flags


def test_few_periods_are_doubted() -> None:
    assert "4.0 periods" in reason(read(saw(40.0, 0.1), RATE_HZ), FlagKind.TOO_SHORT)
    assert not read(saw(65.0, 0.1), RATE_HZ).has(FlagKind.TOO_SHORT)


def test_clipping_is_doubted_and_a_square_below_full_scale_is_not() -> None:
    clipped = read(np.clip(4 * saw(440.0), -1, 1), RATE_HZ)
    assert "stick at full scale" in reason(clipped, FlagKind.CLIPPED)
    square = np.where(np.arange(RATE_HZ) % 100 < 50, 0.5, -0.5)
    assert not read(square, RATE_HZ).has(FlagKind.CLIPPED)


@pytest.mark.parametrize("attack_s", [0.1, 0.3])
def test_an_attack_is_unsteady(attack_s: float) -> None:
    swell = np.minimum(1.0, np.arange(RATE_HZ) / (attack_s * RATE_HZ))
    reading = read(saw(440.0) * swell, RATE_HZ)
    assert "level changes" in reason(reading, FlagKind.UNSTEADY)


def test_a_note_that_starts_within_the_span_is_unsteady() -> None:
    x = saw(440.0)
    x[: RATE_HZ // 5] = 0.0
    assert read(x, RATE_HZ).has(FlagKind.UNSTEADY)


@pytest.mark.parametrize("duration_s", [0.3, 1.0])
@pytest.mark.parametrize("glide_cents", [6.0, 50.0, 100.0, 1200.0])
def test_a_glide_is_unsteady(glide_cents: float, duration_s: float) -> None:
    n = round(duration_s * RATE_HZ)
    reading = read(saw(220.0 * 2 ** (np.arange(n) / n * glide_cents / 1200), duration_s), RATE_HZ)
    assert reading.has(FlagKind.UNSTEADY)
    if reading.f_hz is not None:
        # It may be anywhere along the glide.
        assert reading.u_cents > 0.15 * glide_cents


def test_two_notes_in_one_span_are_unsteady() -> None:
    reading = read(np.concatenate((saw(220.0, 0.5), saw(247.0, 0.5))), RATE_HZ)
    assert "more than one note" in reason(reading, FlagKind.UNSTEADY)


@pytest.mark.parametrize("seed", range(5))
def test_noise_does_not_look_unsteady(seed: int) -> None:
    x = saw(110.0 * (1 + seed))
    x += 0.17 * np.std(x) * np.random.default_rng(seed).standard_normal(len(x))
    assert not read(x, RATE_HZ).has(FlagKind.UNSTEADY)


@pytest.mark.parametrize("level_db", [-12.0, -6.0, -3.0])
def test_a_sub_octave_names_the_other_candidate(level_db: float) -> None:
    lower = np.zeros(RATE_HZ)
    t_s = np.arange(RATE_HZ) / RATE_HZ
    for k in range(1, 190, 2):
        lower += np.sin(2 * np.pi * k * 110.0 * t_s + 0.4 * k) / k
    upper = saw(220.0)
    x = upper + lower * np.std(upper) / np.std(lower) * 10 ** (level_db / 20)
    reading = read(x, RATE_HZ)
    flag = next(f for f in reading.flags if f.kind is FlagKind.OCTAVE_AMBIGUOUS)
    assert reading.f_hz is not None
    assert flag.other_hz is not None
    read_and_other = sorted((reading.f_hz, flag.other_hz))
    assert cents_between(read_and_other[0], 110.0) == pytest.approx(0.0, abs=0.1)
    assert cents_between(read_and_other[1], 220.0) == pytest.approx(0.0, abs=0.1)


def test_a_leak_50_db_below_and_an_octave_down_does_not_move_the_octave() -> None:
    reading = read(saw(220.0) + 0.003 * saw(110.3), RATE_HZ)
    assert reading.f_hz is not None
    assert cents_between(reading.f_hz, 220.0) == pytest.approx(0.0, abs=0.05)
    assert not reading.has(FlagKind.OCTAVE_AMBIGUOUS)


def _partials(f_hz: float, stiffness: float) -> np.ndarray:
    t_s = np.arange(int(0.6 * RATE_HZ)) / RATE_HZ
    x = np.zeros(len(t_s))
    for k in range(1, 17):
        x += np.sin(2 * np.pi * k * f_hz * np.sqrt(1 + stiffness * k * k) * t_s + 0.7 * k * k) / k
    return 0.3 * x + 1e-4 * np.random.default_rng(4).standard_normal(len(x))


@pytest.mark.parametrize("f_hz", [65.0, 220.0, 880.0])
@pytest.mark.parametrize("stiffness", [1e-6, 3e-6, 1e-5, 3e-5])
def test_stretched_partials_raise_a_doubt_and_widen_the_uncertainty(
    f_hz: float, stiffness: float
) -> None:
    """Partial k of a stiff string lies at k f √(1 + B k²): Fletcher 1964, from memory."""
    reading = read(_partials(f_hz, stiffness), RATE_HZ)
    assert reading.f_hz is not None
    lowest_hz = f_hz * np.sqrt(1 + stiffness)
    assert abs(cents_between(reading.f_hz, lowest_hz)) <= 2 * reading.u_cents
    assert reading.has(FlagKind.PARTIALS_DISAGREE)


@pytest.mark.parametrize("f_hz", [65.0, 220.0, 880.0])
def test_exact_harmonics_do_not_disagree(f_hz: float) -> None:
    reading = read(_partials(f_hz, 0.0), RATE_HZ)
    assert reading.flags == ()
    assert reading.u_cents < 0.001


@pytest.mark.parametrize("per_s", [4.0, 6.0])
@pytest.mark.parametrize("cents", [5.0, 20.0])
def test_vibrato_is_called_by_its_name(per_s: float, cents: float) -> None:
    t_s = np.arange(RATE_HZ) / RATE_HZ
    f_hz = 220.0 * 2 ** (cents / 1200 * np.sin(2 * np.pi * per_s * t_s))
    x = 0.4 * np.sin(2 * np.pi * np.cumsum(f_hz) / RATE_HZ)
    assert "to and fro" in reason(read(x, RATE_HZ), FlagKind.UNSTEADY)


def _pulse_of_moving_width(f_hz: float, depth: float) -> np.ndarray:
    t_s = np.arange(RATE_HZ) / RATE_HZ
    width = 0.35 + depth * np.sin(2 * np.pi * 2.0 * t_s)
    x = np.zeros(len(t_s))
    for k in range(1, int(15_000 / f_hz)):
        x += np.sin(np.pi * k * width) / k * np.cos(2 * np.pi * k * f_hz * t_s)
    return 0.3 * x + 1e-4 * np.random.default_rng(1).standard_normal(len(x))


def test_pulse_width_modulation_is_said() -> None:
    assert read(_pulse_of_moving_width(110.0, 0.08), RATE_HZ).has(FlagKind.WAVEFORM_CHANGES)
    assert read(_pulse_of_moving_width(110.0, 0.0), RATE_HZ).flags == ()


@pytest.mark.parametrize("f_hz", [45.0, 110.0, 440.0])
def test_a_ramp_of_direct_voltage_under_a_sine_does_no_harm(f_hz: float) -> None:
    n = RATE_HZ // 2
    t_s = np.arange(n) / RATE_HZ
    noise = 1e-3 * np.random.default_rng(2).standard_normal(n)
    sine = 0.3 * np.sin(2 * np.pi * f_hz * t_s + 1.0) + noise
    ramp = read(sine + 0.6 * t_s, RATE_HZ)
    assert ramp.f_hz is not None
    assert abs(cents_between(ramp.f_hz, f_hz)) <= 3 * ramp.u_cents
    assert ramp.u_cents < 1.3 * read(sine, RATE_HZ).u_cents

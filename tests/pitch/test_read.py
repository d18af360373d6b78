import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.typing import NDArray

from pitchwright.errors import InputError
from pitchwright.pitch import FlagKind, Reading, read
from pitchwright.units import cents_between

Array = NDArray[np.float64]
RATE_HZ = 48_000.0


def saw(f_hz: float, duration_s: float, rate_hz: float = RATE_HZ, phase: float = 0.0) -> Array:
    """Harmonics 1/k up to nine tenths of the band, summed as powers of one turning phasor."""
    t_s = np.arange(round(duration_s * rate_hz)) / rate_hz
    turn = np.exp(1j * (2 * np.pi * f_hz * t_s + phase))
    x, power = np.zeros_like(t_s), np.ones_like(turn)
    for k in range(1, int(0.45 * rate_hz / f_hz) + 1):
        power *= turn
        x += 0.4 * power.imag / k
    return x


def noise(n: int, size: float, seed: int = 7) -> Array:
    return size * np.random.default_rng(seed).standard_normal(n)


def error_cents(reading: Reading, f_hz: float) -> float:
    assert reading.f_hz is not None, reading.flags
    return float(cents_between(reading.f_hz, f_hz))


@pytest.mark.parametrize("rate_hz", [22_050.0, 44_100.0, 96_000.0, 192_000.0])
@pytest.mark.parametrize("f_hz", [16.35, 61.3, 440.0, 3000.7, 8000.1])
def test_a_saw_in_noise_is_read_within_its_uncertainty(f_hz: float, rate_hz: float) -> None:
    x = saw(f_hz, 0.4, rate_hz)
    reading = read(x + noise(len(x), 1e-3), rate_hz)
    assert abs(error_cents(reading, f_hz)) < 5 * reading.u_cents
    assert reading.u_cents < 0.01
    assert reading.periods == pytest.approx(0.4 * f_hz, rel=1e-4)


def test_the_highest_pitch_is_read() -> None:
    x = saw(12_400.0, 0.25)
    assert abs(error_cents(read(x + noise(len(x), 1e-3), RATE_HZ), 12_400.0)) < 0.01


@pytest.mark.parametrize("width", [0.01, 0.03, 0.1, 0.37])
@pytest.mark.parametrize("f_hz", [31.7, 97.0, 523.3])
def test_a_narrow_pulse_in_noise_keeps_its_octave(width: float, f_hz: float) -> None:
    t_s = np.arange(24_000) / RATE_HZ
    x = np.zeros_like(t_s)
    for k in range(1, int(0.45 * RATE_HZ / f_hz) + 1):
        x += np.sin(np.pi * k * width) / k * np.cos(2 * np.pi * k * f_hz * t_s)
    x += noise(len(x), 0.17 * float(np.std(x)))
    assert abs(error_cents(read(x, RATE_HZ), f_hz)) < 0.1


def test_the_level_is_relative_to_a_full_scale_sine() -> None:
    t_s = np.arange(48_000) / RATE_HZ
    sine = np.sin(2 * np.pi * 1000 * t_s)
    assert read(sine, RATE_HZ).level_dbfs == pytest.approx(0.0, abs=1e-6)
    assert read(0.1 * sine + 0.5, RATE_HZ).level_dbfs == pytest.approx(-20.0, abs=1e-6)


def test_a_steady_glide_reads_as_its_mean_frequency() -> None:
    t_s = (np.arange(48_000) - 23_999.5) / RATE_HZ
    rate = 0.5 * np.log(2) / 1200
    cycles = 220.0 * np.expm1(rate * t_s) / rate
    x = sum((np.sin(2 * np.pi * k * cycles) / k for k in range(1, 90)), np.zeros_like(t_s))
    exact_hz = (cycles[-1] - cycles[0]) / (t_s[-1] - t_s[0])
    assert abs(error_cents(read(0.3 * x + noise(48_000, 1e-4), RATE_HZ), exact_hz)) < 1e-4


def test_jitter_widens_the_uncertainty_to_what_it_does() -> None:
    f_hz, jitter = 440.0, 1e-4
    off, stated = [], []
    for seed in range(40):
        rng = np.random.default_rng(seed)
        lengths = (1 + jitter * rng.standard_normal(500)) / f_hz
        ends = np.concatenate(([0.0], np.cumsum(lengths)))
        cycles = np.interp(np.arange(24_000) / RATE_HZ, ends, np.arange(501.0))
        x = np.zeros(24_000)
        for k in range(1, 40):
            x += 0.4 * np.sin(2 * np.pi * k * cycles) / k
        reading = read(x + noise(24_000, 1e-5, seed), RATE_HZ)
        off.append(error_cents(reading, f_hz))
        stated.append(reading.u_cents)
    # 0.01 % a cycle over 220 cycles: 1731 cents · 1e-4 / sqrt(220) = 0.0117 cent.
    expected = 1200 / np.log(2) * jitter / np.sqrt(220)
    assert np.sqrt(np.mean(np.square(off))) == pytest.approx(expected, rel=0.3)
    assert np.median(stated) == pytest.approx(expected, rel=0.3)


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_what_is_not_a_number_is_refused(bad: float) -> None:
    x = saw(440.0, 0.1)
    x[100] = bad
    with pytest.raises(InputError, match="not finite"):
        read(x, RATE_HZ)


def test_two_channels_at_once_are_refused() -> None:
    with pytest.raises(InputError, match="one channel"):
        read(np.zeros((100, 2)), RATE_HZ)


@pytest.mark.parametrize("rate_hz", [0.0, -1.0, np.nan])
def test_a_rate_that_cannot_be_is_refused(rate_hz: float) -> None:
    with pytest.raises(InputError, match="sample rate"):
        read(np.zeros(100), rate_hz)


def test_a_search_upside_down_is_refused() -> None:
    with pytest.raises(InputError, match="search"):
        read(np.zeros(100), RATE_HZ, low_hz=200.0, high_hz=100.0)


tones = st.fixed_dictionaries(
    {
        "f_hz": st.floats(130.0, 9000.0),
        "phase": st.floats(0.0, 6.28),
        "seed": st.integers(0, 2**31),
    }
)


def _tone(f_hz: float, phase: float, seed: int) -> Array:
    x = saw(f_hz, 0.15, phase=phase)
    return x + noise(len(x), 1e-3, seed)


@given(tone=tones, size=st.floats(0.01, 2.0))
def test_loudness_does_not_move_the_pitch(tone: dict[str, float], size: float) -> None:
    x = _tone(**tone)  # type: ignore[arg-type]
    as_it_is, scaled = read(x, RATE_HZ), read(size * x, RATE_HZ)
    assert scaled.f_hz == pytest.approx(as_it_is.f_hz, rel=1e-9)
    assert scaled.u_cents == pytest.approx(as_it_is.u_cents, rel=1e-2)


@given(tone=tones)
def test_turning_the_sign_does_not_move_the_pitch(tone: dict[str, float]) -> None:
    x = _tone(**tone)  # type: ignore[arg-type]
    as_it_is, turned = read(x, RATE_HZ), read(-x, RATE_HZ)
    assert turned.f_hz == pytest.approx(as_it_is.f_hz, rel=1e-9)


@given(tone=tones)
def test_backwards_reads_the_same_within_the_uncertainty(tone: dict[str, float]) -> None:
    x = _tone(**tone)  # type: ignore[arg-type]
    forwards, backwards = read(x, RATE_HZ), read(x[::-1], RATE_HZ)
    assert forwards.f_hz is not None
    assert abs(error_cents(backwards, forwards.f_hz)) < forwards.u_cents


@given(
    x=arrays(np.float64, st.integers(0, 3000), elements=st.floats(-1e3, 1e3)),
    rate_hz=st.sampled_from([8_000.0, 44_100.0, 192_000.0]),
)
def test_any_finite_numbers_get_a_reading(x: Array, rate_hz: float) -> None:
    reading = read(x, rate_hz)
    if reading.f_hz is None:
        assert reading.has(FlagKind.NO_PITCH)
        assert reading.u_cents == np.inf
        assert reading.periods == 0
    else:
        assert reading.f_hz > 0
        assert np.isfinite(reading.u_cents)


@example(n=510, seed=2783, kind="steps")  # the fit wanders off upwards
@given(
    n=st.integers(0, 3000),
    seed=st.integers(0, 2**31),
    kind=st.sampled_from(["spikes", "steps", "ramp", "alternating", "tiny", "huge", "constant"]),
)
def test_odd_sounds_get_a_reading(n: int, seed: int, kind: str) -> None:
    rng = np.random.default_rng(seed)
    x = {
        "spikes": (rng.random(n) < 0.01) * 1.0,
        "steps": np.repeat(rng.standard_normal(n // 50 + 1), 50)[:n],
        "ramp": np.linspace(-1, 1, n),
        "alternating": np.resize([1.0, -1.0], n),
        "tiny": rng.standard_normal(n) * 1e-300,
        "huge": rng.standard_normal(n) * 1e100,
        "constant": np.full(n, rng.standard_normal()),
    }[kind]
    reading = read(x, 44_100.0)
    assert (reading.f_hz is None) == reading.has(FlagKind.NO_PITCH)


@pytest.mark.parametrize("bandwidth_hz", [0.5, 2.0])
def test_a_filter_of_three_lines_is_as_sure_as_it_says(bandwidth_hz: float) -> None:
    """A sine with a weak second and third harmonic, in noise through a resonance about it."""
    rng = np.random.default_rng(11)
    n, rate_hz, trials = 28_800, 48_000, 40
    t_s, hz = np.arange(n) / rate_hz, np.fft.rfftfreq(n, 1 / rate_hz)
    covered = 0
    for _ in range(trials):
        f_hz = 43.0 * 2 ** rng.uniform(-0.08, 0.08)
        shape = 1 / np.sqrt(1 + ((hz - f_hz) / bandwidth_hz) ** 2)
        noise = np.fft.irfft(np.fft.rfft(rng.standard_normal(n)) * shape, n)
        lines = ((1, 1.0), (2, 0.02), (3, 0.03))
        x = sum(a * np.sin(2 * np.pi * k * f_hz * t_s + rng.uniform(0, 6)) for k, a in lines)
        reading = read(0.5 * (x + noise / noise.std() * 2.2e-3), rate_hz)
        assert reading.f_hz is not None
        covered += abs(cents_between(reading.f_hz, f_hz)) <= 2 * reading.u_cents
    assert covered >= 0.87 * trials  # 95 % of 40 come to fewer once in 50 times

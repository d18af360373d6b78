import numpy as np
import pytest

from pitchwright.bench.live.tone import LOUDEST_DBFS, Tone
from pitchwright.errors import InputError
from pitchwright.pitch import read
from pitchwright.units import cents_between

RATE_HZ = 48_000.0


@pytest.mark.parametrize("shape", ["saw", "sine"])
@pytest.mark.parametrize("f_hz", [32.7, 440.0, 4186.0])
def test_the_tone_has_its_pitch_however_it_is_cut_up(f_hz: float, shape: str) -> None:
    tone = Tone(f_hz, RATE_HZ, shape="saw" if shape == "saw" else "sine")
    first, parts = 200_000, []
    for count in (100, 2400, 24_000, 7, 21_000):
        parts.append(tone.samples(first, count))
        first += count
    reading = read(np.concatenate(parts), RATE_HZ)
    assert reading.f_hz is not None
    assert abs(cents_between(reading.f_hz, f_hz)) < 1e-3


def test_a_saw_holds_nothing_between_its_harmonics() -> None:
    tone = Tone(1000.0, RATE_HZ, level_dbfs=-20.0)
    power = np.abs(np.fft.rfft(tone.samples(200_000, 48_000) * np.hanning(48_000))) ** 2
    harmonic = np.zeros(len(power), dtype=bool)
    for k in range(1, 22):
        harmonic[k * 1000 - 3 : k * 1000 + 4] = True
    assert power[~harmonic].sum() / power.sum() < 1e-6


def test_it_fades_in_from_silence_to_its_level_and_out_to_silence() -> None:
    tone = Tone(440.0, RATE_HZ, level_dbfs=-30.0)
    x = tone.samples(0, 144_000)
    loudest = np.abs(x).reshape(-1, 4800).max(axis=1)
    assert x[0] == 0.0
    assert loudest[0] < 0.01 * loudest[-1]
    assert np.all(np.diff(loudest[:20]) > 0)
    assert 20 * np.log10(loudest[-1]) == pytest.approx(-30.0, abs=0.1)
    tone.stop()
    assert not tone.silent
    last = tone.samples(144_000, 24_000)
    assert tone.silent
    assert np.abs(last[-4800:]).max() < 1e-12
    assert np.abs(np.diff(last)).max() <= np.abs(np.diff(x)).max()


@pytest.mark.parametrize(("f_hz", "level"), [(5.0, -30.0), (23_000.0, -30.0), (440.0, -3.0)])
def test_what_cannot_or_must_not_sound_is_refused(f_hz: float, level: float) -> None:
    with pytest.raises(InputError):
        Tone(f_hz, RATE_HZ, level_dbfs=level)
    Tone(440.0, RATE_HZ, level_dbfs=LOUDEST_DBFS)

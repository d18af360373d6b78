"""Takes: from a recording to the notes heard, the notes meant, and what was left out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf
from numpy.typing import NDArray

from pitchwright.bench.take import Take, TakeChannel, hear_take, read_file
from pitchwright.errors import InputError
from pitchwright.pitch import FlagKind
from pitchwright.practice import (
    PlayedNote,
    Recorder,
    TakeTruth,
    one_after_another,
    theatre_rig,
    write_take,
)
from pitchwright.tracking.align import parse_notes
from pitchwright.units import cents_between, cents_from_ppm, note_to_hz

Sound = NDArray[np.float64]

RATE_HZ = 48_000
NOTES = (36, 48, 60, 72, 84)


def tone(f_hz: float, length_s: float, size: float = 0.3) -> Sound:
    """A sawtooth of few partials; zero long where no time is left."""
    t_s = np.arange(round(length_s * RATE_HZ)) / RATE_HZ
    most = max(1, min(12, int(20_000 / f_hz)))
    return np.asarray(
        size * sum(np.sin(2 * np.pi * k * f_hz * t_s) / k for k in range(1, most + 1)), dtype=float
    )


def melody(notes: Sequence[float], length_s: float = 1.0, gap_s: float = 0.2) -> Sound:
    gap = np.zeros(round(gap_s * RATE_HZ))
    return np.concatenate([np.r_[tone(note_to_hz(note), length_s), gap] for note in notes])


@pytest.fixture
def record(tmp_path: Path) -> Callable[..., Path]:
    """Write channels of sound as one recording with a little noise."""

    def write(*channels: Sound, noise: float = 1e-5) -> Path:
        path = tmp_path / "take.wav"
        length = max(len(channel) for channel in channels)
        sound = np.stack([np.pad(one, (0, length - len(one))) for one in channels], axis=1)
        sound = sound + noise * np.random.default_rng(5).normal(size=sound.shape)
        sf.write(path, sound, RATE_HZ, "FLOAT")
        return path

    return write


def assert_true_to(channel: TakeChannel, truth: TakeTruth) -> None:
    """Each note of the channel lies in one that was played, is it, and has its pitch."""
    played = [one for one in truth.notes if one.channel == channel.channel and not one.mistake]
    kept = [one for one in channel.notes if one.kept]
    assert [one.note for one in kept] == [one.note for one in played]
    for heard, true in zip(kept, played, strict=True):
        assert true.start_s - 0.02 <= heard.begin_s < heard.end_s <= true.end_s + 0.02
        assert true.f_hz is not None
        # A tenth of a cent is far above the reading's own error and far below any wrong window.
        assert abs(cents_between(heard.f_hz, true.f_hz)) < 0.1 + 5 * heard.reading.u_cents


@pytest.mark.parametrize("gap_s", [0.0, 0.25], ids=["legato", "gaps"])
def test_a_take_of_the_practice_rig_is_heard_as_it_was_played(tmp_path: Path, gap_s: float) -> None:
    path, notes = tmp_path / "rig.wav", parse_notes("C1..C7 step 12")
    truth = write_take(
        path,
        theatre_rig(),
        one_after_another(notes, length_s=1.0, gap_s=gap_s),
        recorder=Recorder(hum_dbfs=-75.0, crosstalk_db=-60.0),
        seed=11,
    )
    take = hear_take(path, notes=notes)
    assert [channel.channel for channel in take.channels] == [1, 2, 3, 4, 5]
    for channel in take.channels:
        assert_true_to(channel, truth)
        assert channel.doubts == ()


def test_glides_and_mistakes_of_the_practice_rig_are_left_out(tmp_path: Path) -> None:
    path = tmp_path / "rig.flac"
    played = [
        PlayedNote(36, 0.5, 1.2),
        PlayedNote(48, 2.0, 1.5, glide_s=0.5),
        PlayedNote(49, 3.7, 1.0, mistake=True),
        PlayedNote(60, 5.0, 1.2),
        PlayedNote(72, 6.2, 1.2),
    ]
    truth = write_take(path, theatre_rig(), played, seed=2)
    for channel in hear_take(path, notes=(36, 48, 60, 72)).channels:
        assert_true_to(channel, truth)
        (mistake,) = [one for one in channel.notes if not one.kept]
        assert "mistake" in mistake.why
        assert mistake.note is None
        assert all(point.kept for point in channel.points())
        assert any(one.begin_s < 2.5 and one.end_s > 2.0 for one in channel.passed_over)


def test_points_have_note_voltage_and_time(record: Callable[..., Path]) -> None:
    (channel,) = hear_take(record(melody(NOTES)), names=["Heron"]).channels
    points = channel.points()
    assert channel.name == "Heron"
    assert [point.note for point in points] == list(NOTES)
    assert [point.cv_v for point in points] == [1.0, 2.0, 3.0, 4.0, 5.0]
    assert [point.t_s for point in points] == pytest.approx([0.5, 1.7, 2.9, 4.1, 5.3], abs=0.15)
    for point in points:
        assert cents_between(point.f_hz, note_to_hz(point.note)) == pytest.approx(0.0, abs=0.01)
    assert channel.points(note_at_0_v=36)[0].cv_v == 0.0


def test_an_octave_below_is_surveyed_where_it_plays(record: Callable[..., Path]) -> None:
    path = record(melody([note - 12.0 for note in NOTES]))
    (channel,) = hear_take(path, notes=NOTES).channels
    assert [point.note for point in channel.points()] == [note - 12 for note in NOTES]
    assert [point.cv_v for point in channel.points()] == [1.0, 2.0, 3.0, 4.0, 5.0]
    assert "1 octave below" in channel.doubts[0]


def test_two_semitones_off_is_an_error_not_another_note(record: Callable[..., Path]) -> None:
    (channel,) = hear_take(record(melody([n - 2.0 for n in NOTES])), notes=NOTES).channels
    assert [point.note for point in channel.points()] == list(NOTES)
    assert channel.alignment.offset_semitones == pytest.approx(-2.0, abs=0.01)


def test_a4_moves_the_nearest_notes(record: Callable[..., Path]) -> None:
    sharp = melody([note + 12 * np.log2(466.0 / 440.0) for note in NOTES])
    (channel,) = hear_take(record(sharp), a4_hz=466.0).channels
    assert [point.note for point in channel.points()] == list(NOTES)


def test_one_and_two_notes_are_heard(record: Callable[..., Path]) -> None:
    assert len(hear_take(record(melody([60]))).channels[0].points()) == 1
    assert len(hear_take(record(melody([60, 72]))).channels[0].points()) == 2


def reference_take(record: Callable[..., Path], ppm: float, drift_ppm: float = 0.0) -> Path:
    """A melody beside a tone of 1000 Hz, recorded by a clock that is off."""
    count = round(1.2 * len(NOTES) * RATE_HZ)
    clock = 1.0 - 1e-6 * (ppm + drift_ppm * np.arange(count) / count)
    beside = 0.3 * np.sin(2 * np.pi * np.cumsum(1000.0 * clock) / RATE_HZ)
    turn, pieces = 0.0, []
    for place, note in enumerate(NOTES):
        stretch = clock[place * count // len(NOTES) : (place + 1) * count // len(NOTES)]
        phase = turn + np.cumsum(note_to_hz(float(note)) * stretch) / RATE_HZ
        pieces.append(0.3 * np.sin(2 * np.pi * phase) + 0.1 * np.sin(4 * np.pi * phase))
        turn = float(phase[-1])
    return record(np.concatenate(pieces), beside)


def test_a_known_reference_takes_the_clock_out(record: Callable[..., Path]) -> None:
    path = reference_take(record, ppm=200.0)
    off = {}
    for reference_hz in (None, 1000.0):
        take = hear_take(path, reference=2, reference_hz=reference_hz)
        (channel,) = take.channels
        assert take.clock_cancels is (reference_hz is not None)
        off[reference_hz] = [
            cents_between(point.f_hz, note_to_hz(point.note)) for point in channel.points()
        ]
    assert off[1000.0] == pytest.approx([0.0] * len(NOTES), abs=0.01)
    assert off[None] == pytest.approx([cents_from_ppm(-200.0)] * len(NOTES), abs=0.01)


def test_an_unknown_reference_takes_the_clocks_wandering_out(record: Callable[..., Path]) -> None:
    path = reference_take(record, ppm=0.0, drift_ppm=2000.0)
    without = hear_take(path).channels[0].points()
    beside = hear_take(path, reference=2).channels[0].points()

    def spread(points: Sequence[object]) -> float:
        off = [cents_between(p.f_hz, note_to_hz(p.note)) for p in points]  # type: ignore[attr-defined]
        return max(off) - min(off)

    assert spread(without) > 2.0
    assert spread(beside) < 0.02


def test_the_references_uncertainty_is_added(record: Callable[..., Path]) -> None:
    path = reference_take(record, ppm=0.0)
    alone = hear_take(path).channels[0].notes
    beside = hear_take(path, reference=2).channels[0].notes
    for one, other in zip(alone, beside, strict=True):
        assert other.reading.u_cents > one.reading.u_cents


def test_progress_goes_from_start_to_end(record: Callable[..., Path]) -> None:
    shares: list[float] = []
    hear_take(record(melody(NOTES)), progress=shares.append)
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    assert len(shares) >= 2


def test_a_silent_channel_among_others_is_a_doubt(record: Callable[..., Path]) -> None:
    take = hear_take(record(melody(NOTES), np.zeros(1)))
    assert take.channels[1].doubts == ("This channel is silent",)
    assert take.channels[1].points() == ()


def test_leakage_in_the_gaps_is_no_note(record: Callable[..., Path]) -> None:
    leak = tone(50.0, 12.0, size=0.001)
    sound = np.pad(melody(NOTES, gap_s=1.2), (0, len(leak)))[: len(leak)] + leak
    (channel,) = hear_take(record(sound)).channels
    assert [one.note for one in channel.notes] == list(NOTES)
    assert any("40 dB below" in one.why for one in channel.passed_over)


def refused(path: Path, **options: object) -> str:
    with pytest.raises(InputError) as refusal:
        hear_take(path, **options)  # type: ignore[arg-type]
    return str(refusal.value)


def test_all_silent(record: Callable[..., Path]) -> None:
    silence = np.zeros(2 * RATE_HZ)
    assert "All 2 channels are silent" in refused(record(silence, silence))
    assert "The recording is silent" in refused(record(silence))


def test_clipped_throughout(record: Callable[..., Path]) -> None:
    sound = np.clip(20.0 * melody(NOTES), -1.0, 1.0)
    assert "clipped throughout" in refused(record(sound, noise=0.0))


def test_notes_that_never_settle(record: Callable[..., Path]) -> None:
    t_s = np.arange(6 * RATE_HZ) / RATE_HZ
    cents = 150.0 * np.sin(2 * np.pi * 1.5 * t_s)
    wobble = 0.3 * np.sin(2 * np.pi * np.cumsum(220.0 * 2.0 ** (cents / 1200.0)) / RATE_HZ)
    assert "No note stood still" in refused(record(wobble))


def test_noise_has_no_notes(record: Callable[..., Path]) -> None:
    noise = np.random.default_rng(1).normal(0.0, 0.1, 4 * RATE_HZ)
    assert "No note stood still" in refused(record(noise))


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"reference": 3}, "There is no channel 3"),
        ({"reference": 0}, "There is no channel 0"),
        ({"reference": 2}, "must hold one tone"),
        ({"reference": 1, "reference_hz": -1.0}, "cannot be"),
        ({"names": ["Heron"]}, "1 name for 2 channels"),
    ],
)
def test_options_that_do_not_fit(
    record: Callable[..., Path], options: dict[str, object], words: str
) -> None:
    assert words in refused(record(melody(NOTES), melody(NOTES)), **options)


def test_a_reference_elsewhere_than_said(record: Callable[..., Path]) -> None:
    path = reference_take(record, ppm=0.0)
    assert "not near 440 Hz" in refused(path, reference=2, reference_hz=440.0)


def test_the_only_channel_is_no_reference(record: Callable[..., Path]) -> None:
    assert "only channel" in refused(record(melody(NOTES)), reference=1)


def test_many_channels_are_heard_in_groups(record: Callable[..., Path]) -> None:
    pitches = [48 + place for place in range(35)]
    take: Take = hear_take(record(*[melody([pitch]) for pitch in pitches]))
    assert [channel.notes[0].note for channel in take.channels] == pitches


def test_reading_a_file_of_one_tone_reads_it_whole(record: Callable[..., Path]) -> None:
    ((first, low), (second, high)) = read_file(record(tone(110.0, 2.0), tone(1234.5, 2.0)))
    assert (first, second) == (1, 2)
    assert low.f_hz == pytest.approx(110.0, rel=1e-6)
    assert high.f_hz == pytest.approx(1234.5, rel=1e-6)
    assert low.periods == pytest.approx(220.0, abs=0.1)


def test_reading_a_long_file_takes_the_longest_still_stretch(record: Callable[..., Path]) -> None:
    sound = np.r_[tone(110.0, 1.0), tone(330.0, 4.0), tone(220.0, 2.0)]
    ((_, reading),) = read_file(record(sound))
    assert reading.f_hz == pytest.approx(330.0, rel=1e-6)
    assert not reading.has(FlagKind.UNSTEADY)


@pytest.mark.parametrize("length_s", [0.05, 3.0, 8.0])
def test_reading_noise_or_silence_says_why_there_is_no_pitch(
    record: Callable[..., Path], length_s: float
) -> None:
    count = round(length_s * RATE_HZ)
    noise = np.random.default_rng(1).normal(0.0, 0.1, count)
    for _, reading in read_file(record(noise, np.zeros(count), noise=0.0)):
        assert reading.f_hz is None
        assert reading.has(FlagKind.NO_PITCH)

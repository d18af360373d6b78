"""The input check: is what arrives fit to be read, and if not, what to do.

Looks at a second or two of all channels together: level, clipping, noise floor, mains hum, two
oscillators in one channel, one sound in two channels, sound where none was meant to be, and
nothing connected at all. A modular's outputs are about ten volts peak to peak, a line input takes
one or two: most trouble comes from there.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pitchwright.pitch import Reading, read
from pitchwright.pitch.coarse import comb_share
from pitchwright.pitch.doubts import clipped
from pitchwright.pitch.read import HIGH_HZ, LOW_HZ, level_of
from pitchwright.pitch.reading import FlagKind
from pitchwright.pitch.spectrum import Spectrum, spectrum_of
from pitchwright.units import note_name, note_of_hz

__all__ = [
    "QUIET_DBFS",
    "ChannelCheck",
    "Finding",
    "FindingKind",
    "arrives_elsewhere",
    "check_inputs",
    "one_note",
]

Array = NDArray[np.float64]

_NOTHING_DBFS: Final = -72.0
_SILENCE_DBFS: Final = -120.0
QUIET_DBFS: Final = -45.0
_NEARLY_FULL: Final = 0.84  # 1.5 dB below full scale: the next note may clip
_HUM_DB: Final = -40.0
_NOISE_DB: Final = -30.0
_HUM_DBFS: Final = -80.0
_HARMONICS_OF_HUM: Final = 6
_HUM_BINS: Final = 2.0
_SAME: Final = 0.98
_BOTH: Final = 0.85
_NOT_NOISE: Final = 0.5
_LEAST_SHARE: Final = 0.04
_BEATS_DB: Final = 1.5
_ENVELOPE_S: Final = 0.02
_LOW_HZ: Final = 60.0
_LOOK_S: Final = 0.3
_HOP_S: Final = 0.1
_SAME_NOTE_CENTS: Final = 20.0
_OTHER_NOTE_CENTS: Final = 60.0
_SILENT_DB: Final = 30.0
_LEAST_S: Final = 0.6

ATTENUATE: Final = (
    "Modular outputs are about ten volts peak to peak: put an attenuator or an output module "
    "between, then turn the input's gain down until the peak stands at −6 dBFS or lower"
)


class FindingKind(StrEnum):
    """What an input check can find."""

    NOTHING = "nothing connected"
    HUM_ONLY = "only hum"
    WRONG_CHANNEL = "wrong channel"
    QUIET = "too quiet"
    CLIPPED = "clipped"
    NEARLY_FULL = "nearly full scale"
    NOISY = "noisy"
    HUM = "mains hum"
    TWO = "two oscillators"
    SAME_SOUND = "same sound twice"
    NO_PITCH = "no pitch"


@dataclass(frozen=True, slots=True)
class Finding:
    """Something wrong, and what to do about it; each a sentence for a person."""

    kind: FindingKind
    sentence: str
    do: str


@dataclass(frozen=True, slots=True)
class ChannelCheck:
    """What was found about one channel.

    Attributes
    ----------
    name
        The channel's name.
    level_dbfs, peak_dbfs
        RMS level (DC removed) and greatest sample.
    noise_dbfs
        Level of the noise between the tone's lines, -inf where there is none.
    hum_dbfs, mains_hz
        Level of mains hum, and the frequency it was found at; -inf and None where there is none.
    reading
        Careful reading of the span.
    findings
        What is wrong; empty where all is well.
    """

    name: str
    level_dbfs: float
    peak_dbfs: float
    noise_dbfs: float
    hum_dbfs: float
    mains_hz: float | None
    reading: Reading
    findings: tuple[Finding, ...]

    @property
    def good(self) -> bool:
        """Whether it can be read as it is."""
        return not self.findings


def check_inputs(
    sound: NDArray[np.floating],
    rate_hz: float,
    names: Sequence[str],
    *,
    others: Sequence[str] = (),
    mains_hz: float | None = None,
) -> tuple[ChannelCheck, ...]:
    """Check the channels that are to be read.

    Parameters
    ----------
    sound
        Shape (n, channels), a second or more of one note (see `one_note`): first the channels that
        are to be read, in order of ``names``, then those of ``others``, on which nothing is meant
        to sound.
    rate_hz
        Sample rate.
    names, others
        How to call the channels.
    mains_hz
        50 or 60; both are looked for where None.
    """
    x = np.asarray(sound, dtype=np.float64)
    elsewhere = {
        other: level_of(x[:, place]) for place, other in enumerate(others, start=len(names))
    }
    return tuple(
        _check(x, place, rate_hz, names, elsewhere, mains_hz) for place in range(len(names))
    )


def one_note(sound: NDArray[np.floating], rate_hz: float) -> slice:
    """Where one note rests on every channel; all of it where nothing says that notes change.

    A note after silence or after another would look like two at once, or like a level that swings,
    and the lines of one like hum under the other. What sounds at once has no pitch, or keeps one.

    Parameters
    ----------
    sound
        Shape (n, channels), those that are to be read.
    rate_hz
        Sample rate.
    """
    look, hop = round(_LOOK_S * rate_hz), round(_HOP_S * rate_hz)
    starts = range(0, len(sound) - look + 1, hop)
    there = [x for x in sound.T if level_of(x) >= _NOTHING_DBFS]
    if len(starts) < 2 or not there:
        return slice(None)
    cents = np.full((len(starts), len(there)), np.nan)
    levels = np.zeros_like(cents)
    for place, x in enumerate(there):
        for k, start in enumerate(starts):
            part = x[start : start + look]
            levels[k, place] = level_of(part)
            reading = read(part, rate_hz)
            if reading.f_hz is not None and not reading.has(FlagKind.UNSTEADY):
                cents[k, place] = 1200.0 * math.log2(reading.f_hz)
    rests = np.all(np.abs(np.diff(cents, axis=0)) < _SAME_NOTE_CENTS, axis=1)
    ends = [-1, *np.flatnonzero(~rests).tolist(), len(starts) - 1]
    first, last = max(
        ((one + 1, other) for one, other in itertools.pairwise(ends)),
        key=lambda run: run[1] - run[0],
    )
    outside = np.r_[0:first, last + 1 : len(starts)]
    other_note = np.abs(cents[outside] - cents[first]) > _OTHER_NOTE_CENTS
    silent = levels[outside] < levels[first] - _SILENT_DB
    # A window that a change has just begun in may still be heard as one note.
    begin = starts[first] + hop if first else 0
    end = starts[last] + look - hop if last < len(starts) - 1 else len(sound)
    if not np.any(other_note | silent) or end - begin < _LEAST_S * rate_hz:
        return slice(None)
    return slice(begin, end)


def _check(
    sound: Array,
    place: int,
    rate_hz: float,
    names: Sequence[str],
    elsewhere: Mapping[str, float],
    mains_hz: float | None,
) -> ChannelCheck:
    x, name = sound[:, place], names[place]
    level, peak = level_of(x), _db(float(np.abs(x).max()))
    reading = read(x, rate_hz, mains_hz=mains_hz)
    spectrum = spectrum_of(x, rate_hz)
    hum_power, mains = _hum(spectrum, reading.f_hz, mains_hz)
    hum = 10 * math.log10(2 * hum_power) if hum_power > 0 else -math.inf
    noise_power = spectrum.noise_variance
    noise = 10 * math.log10(2 * noise_power) if noise_power > 0 else -math.inf
    findings: list[Finding] = []
    if level < _NOTHING_DBFS:
        findings.append(arrives_elsewhere(name, level, elsewhere) or _nothing(name, level))
    elif reading.f_hz is None and mains is not None and hum > level - 3.0:
        findings.append(_only_hum(name, mains, hum))
    else:
        findings += _strength(x, level, peak)
        findings += _tone(x, rate_hz, reading, spectrum)
        findings += _dirt(level, noise, hum, mains)
        findings += _twins(sound, place, names)
    return ChannelCheck(name, level, peak, noise, hum, mains, reading, tuple(findings))


def arrives_elsewhere(
    name: str, level_dbfs: float, elsewhere_dbfs: Mapping[str, float]
) -> Finding | None:
    """Whether nothing arrives on a channel while there is sound where none is meant to be.

    Parameters
    ----------
    name, level_dbfs
        The channel that is to be read, and its level.
    elsewhere_dbfs
        The level of each channel on which nothing is meant to sound.
    """
    loudest = max(elsewhere_dbfs, key=elsewhere_dbfs.__getitem__, default=None)
    if loudest is None or level_dbfs >= _NOTHING_DBFS or elsewhere_dbfs[loudest] <= QUIET_DBFS:
        return None
    return Finding(
        FindingKind.WRONG_CHANNEL,
        f"Nothing arrives for {name} ({_how_silent(level_dbfs)}), but there is sound on {loudest}",
        f"Move the cable, or say that {name} is on {loudest}",
    )


def _how_silent(level_dbfs: float) -> str:
    return "silence" if level_dbfs < _SILENCE_DBFS else f"{level_dbfs:.0f} dBFS"


def _nothing(name: str, level: float) -> Finding:
    return Finding(
        FindingKind.NOTHING,
        f"Nothing arrives for {name} ({_how_silent(level)})",
        "Check the cable at both ends, that the oscillator's output is turned up, and the input's "
        "gain",
    )


def _only_hum(name: str, mains: float, hum: float) -> Finding:
    return Finding(
        FindingKind.HUM_ONLY,
        f"All that arrives for {name} is mains hum at {mains:.0f} Hz ({hum:.0f} dBFS)",
        "A cable is plugged in at the interface and open at the other end, or its shield is "
        "broken: check it",
    )


def _strength(x: Array, level: float, peak: float) -> list[Finding]:
    if (flag := clipped(x)) is not None:
        return [Finding(FindingKind.CLIPPED, flag.reason.split(";")[0], ATTENUATE)]
    if peak > _db(_NEARLY_FULL):
        return [
            Finding(
                FindingKind.NEARLY_FULL,
                f"The peak stands at {peak:.1f} dBFS: another note may clip",
                ATTENUATE,
            )
        ]
    if level < QUIET_DBFS:
        return [
            Finding(
                FindingKind.QUIET,
                f"The level is low: {level:.0f} dBFS",
                "Turn the input's gain up, or attenuate less",
            )
        ]
    return []


def _tone(x: Array, rate_hz: float, reading: Reading, spectrum: Spectrum) -> list[Finding]:
    separate = (
        "Bring each oscillator in on a channel of its own: turn the others down, or unplug the "
        "mixer"
    )
    noise = spectrum.total < _NOT_NOISE * float(spectrum.power.sum())
    pair = None if reading.f_hz is not None else _two_combs(spectrum)
    if pair is not None:
        one, other = (f"{f_hz:.1f} Hz ({note_name(round(note_of_hz(f_hz)))})" for f_hz in pair)
        what = f"Two oscillators sound in one channel: {one} and {other}"
        return [Finding(FindingKind.TWO, what, separate)]
    if not noise and (beats_hz := _beating(x, rate_hz, reading.f_hz or _LOW_HZ)) is not None:
        what = (
            f"The level rises and falls {beats_hz:.1f} times a second: two oscillators nearly in "
            "tune sound in one channel, or something modulates it"
        )
        return [Finding(FindingKind.TWO, what, separate)]
    if reading.f_hz is None:
        what = reading.flags[0].reason if reading.flags else "It has no pitch"
        alone = (
            "Patch one oscillator's plain output to this input: no noise, no modulation, no effect"
        )
        return [Finding(FindingKind.NO_PITCH, what, alone)]
    return []


def _dirt(level: float, noise: float, hum: float, mains: float | None) -> list[Finding]:
    found = []
    if mains is not None and hum - level > _HUM_DB and hum > _HUM_DBFS:
        found.append(
            Finding(
                FindingKind.HUM,
                f"Mains hum at {mains:.0f} Hz lies only {level - hum:.0f} dB below the tone",
                "Power instrument and computer from the same outlet strip, keep audio cables away "
                "from power supplies, or put an isolating transformer into the audio line; never "
                "lift a protective earth",
            )
        )
    if noise - level > _NOISE_DB:
        found.append(
            Finding(
                FindingKind.NOISY,
                f"Noise lies only {level - noise:.0f} dB below the tone",
                "Raise the level ahead of the input rather than its gain, and take out what adds "
                "noise",
            )
        )
    return found


def _twins(sound: Array, place: int, names: Sequence[str]) -> list[Finding]:
    """The same sound in another channel, as loud or louder."""
    x = sound[:, place] - sound[:, place].mean()
    for other in range(len(names)):
        if other == place:
            continue
        y = sound[:, other] - sound[:, other].mean()
        size = math.sqrt(float(x @ x) * float(y @ y))
        if size <= 0.0 or abs(float(x @ y)) < _SAME * size:
            continue
        return [
            Finding(
                FindingKind.SAME_SOUND,
                f"{names[place]} and {names[other]} carry the same sound",
                "One cable feeds both inputs, or the sound system mixes channels together: give "
                "the device's own number of channels, or choose the interface itself rather than "
                "the sound server",
            )
        ]
    return []


def _hum(
    spectrum: Spectrum, f_hz: float | None, mains_hz: float | None
) -> tuple[float, float | None]:
    """Power of mains hum that is no harmonic of the tone, and at which mains frequency."""
    best, at = 0.0, None
    for mains in (50.0, 60.0) if mains_hz is None else (mains_hz,):
        power, strong = 0.0, 0
        for multiple in range(1, _HARMONICS_OF_HUM + 1):
            line = multiple * mains
            if f_hz is not None:
                off_hz = abs(line - max(1, round(line / f_hz)) * f_hz)
                if off_hz < 3 * _HUM_BINS * spectrum.bin_hz:
                    continue
            here = _line_power(spectrum, line)
            strong += here > 0.0
            power += here
        if strong and power > best:
            best, at = power, mains
    return best, at


def _line_power(spectrum: Spectrum, f_hz: float) -> float:
    """Mean square of a line that stands out at a frequency; 0 where none does."""
    at = f_hz / spectrum.bin_hz
    low, high = max(int(at - _HUM_BINS), 0), int(at + _HUM_BINS) + 2
    near = spectrum.power[low:high]
    # The line must be here, not the skirt of a stronger one beside it.
    top = low + int(np.argmax(near))
    beside = spectrum.power[[max(top - 4, 0), min(top + 4, len(spectrum.power) - 1)]]
    if abs(top - at) > _HUM_BINS or near.max() < 10 * max(float(beside.max()), spectrum.floor):
        return 0.0
    n = 2 * (len(spectrum.power) - 1)
    # A Hann window of n samples holds 3/8 n of a line's power, on each of two sides.
    return max(float(near.sum()) - spectrum.floor * len(near), 0.0) * 2 / (0.375 * n * n)


def _two_combs(spectrum: Spectrum) -> tuple[float, float] | None:
    """Two fundamentals whose combs together hold nearly all, neither a multiple of the other."""
    peaks = sorted(p.f_hz for p in spectrum.peaks(12) if LOW_HZ < p.f_hz < HIGH_HZ)
    if len(peaks) < 2 or spectrum.total < _NOT_NOISE * float(spectrum.power.sum()):
        return None
    shares = sorted(((comb_share(spectrum, f_hz), f_hz) for f_hz in peaks), reverse=True)
    for share, one in shares[:4]:
        left = _without(spectrum, one)
        if left.total <= 0.0:
            continue
        rest = [(comb_share(left, f_hz), f_hz) for f_hz in peaks if not _related(f_hz, one)]
        if not rest:
            continue
        part, other = max(rest)
        if share + part * (1 - share) > _BOTH and part * (1 - share) > _LEAST_SHARE:
            return min(one, other), max(one, other)
    return None


def _related(f_hz: float, other_hz: float) -> bool:
    ratio = max(f_hz, other_hz) / min(f_hz, other_hz)
    return abs(ratio - round(ratio)) < 0.02 * ratio


def _without(spectrum: Spectrum, f_hz: float) -> Spectrum:
    power = spectrum.power.copy()
    spacing = f_hz / spectrum.bin_hz
    for centre in np.arange(spacing, len(power), spacing):
        low = max(round(centre - 3), 0)
        power[low : round(centre + 3) + 1] = spectrum.floor
    return Spectrum(power, spectrum.bin_hz, spectrum.floor)


def _beating(x: Array, rate_hz: float, f_hz: float) -> float | None:
    """How often a second the level swings, where it does regularly and by much."""
    frame = round(max(_ENVELOPE_S, 2 / f_hz) * rate_hz)
    frames = len(x) // frame
    if frames < 12:
        return None
    cut = x[: frames * frame].reshape(frames, frame)
    level_db = 10 * np.log10(np.var(cut, axis=1) + 1e-20)
    swing = level_db - level_db.mean()
    if float(np.quantile(swing, 0.95) - np.quantile(swing, 0.05)) < _BEATS_DB:
        return None
    ups = np.count_nonzero((swing[1:] > 0) & (swing[:-1] <= 0))
    if ups < 2:
        return None
    return ups * rate_hz / (frames * frame)


def _db(size: float) -> float:
    return 20 * math.log10(size) if size > 0 else -math.inf

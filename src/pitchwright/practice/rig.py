"""A rig: voices and sources in one room, and the recorder that hears them."""

from __future__ import annotations

from dataclasses import dataclass, field

from pitchwright.errors import InputError
from pitchwright.practice.filter import FilterTone
from pitchwright.practice.oscillator import Oscillator
from pitchwright.practice.source import CvSource
from pitchwright.practice.waveforms import Waveform, WaveformKind

__all__ = ["Recorder", "Rig", "Voice"]

_SUBTYPES = ("PCM_16", "PCM_24", "PCM_32", "FLOAT")


@dataclass(frozen=True, slots=True)
class Voice:
    """An oscillator as it is listened to.

    Attributes
    ----------
    oscillator
        What makes the pitch.
    waveform
        Which of its shapes is recorded.
    level
        Amplitude, 1 being full scale.
    tone
        Where it is a self-oscillating filter: its noise and loss; the waveform is then a sine.
    """

    oscillator: Oscillator
    waveform: Waveform = field(default_factory=lambda: Waveform(WaveformKind.SAW))
    level: float = 0.5
    tone: FilterTone | None = None


@dataclass(frozen=True, slots=True)
class Recorder:
    """How the take is recorded.

    Attributes
    ----------
    rate_hz
        Sample rate.
    subtype
        Sample format as soundfile names it: PCM_16, PCM_24, PCM_32 or FLOAT.
    clock_ppm
        How much too fast the clock runs, in parts per million; pitches then read that much low.
    noise_dbfs, hum_dbfs
        RMS level of white noise, and of the mains hum, re a full-scale sine; None for none.
    mains_hz
        Frequency of the hum.
    crosstalk_db
        What of each channel leaks into the next, in decibels; None for nothing.
    """

    rate_hz: int = 48000
    subtype: str = "PCM_24"
    clock_ppm: float = 0.0
    noise_dbfs: float | None = -96.0
    hum_dbfs: float | None = None
    mains_hz: float = 50.0
    crosstalk_db: float | None = None

    def __post_init__(self) -> None:
        if not 8000 <= self.rate_hz <= 384_000:
            raise InputError(f"A take cannot have {self.rate_hz} samples a second", do="Use 48000")
        if self.subtype not in _SUBTYPES:
            raise InputError(
                f"A take cannot have samples of the kind {self.subtype}",
                do=f"Use one of: {', '.join(_SUBTYPES)}",
            )


@dataclass(frozen=True, slots=True)
class Rig:
    """Everything that is practised on.

    Attributes
    ----------
    voices
        One channel each, in this order.
    sources
        What can play them.
    temperature_c
        Temperature in degrees Celsius that everything settles at.
    """

    voices: tuple[Voice, ...]
    sources: tuple[CvSource, ...]
    temperature_c: float = 25.0

    def source(self, name: str) -> CvSource:
        """Return the source of that name; InputError where there is none."""
        for source in self.sources:
            if source.name.casefold() == name.casefold():
                return source
        having = ", ".join(source.name for source in self.sources)
        raise InputError(f"There is no source called {name}", do=f"Choose one of: {having}")

    def only(self, *names: str) -> Rig:
        """Return the rig with only the voices of these names; InputError for an unknown one."""
        wanted = []
        for name in names:
            for voice in self.voices:
                if voice.oscillator.name.casefold() == name.casefold():
                    wanted.append(voice)
                    break
            else:
                having = ", ".join(voice.oscillator.name for voice in self.voices)
                raise InputError(
                    f"There is no oscillator called {name}", do=f"Choose from: {having}"
                )
        return Rig(tuple(wanted), self.sources, self.temperature_c)

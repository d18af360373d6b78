"""A stand-in for an instrument: voices that follow a control voltage as it comes, block by block.

Where a take is planned before it is played, a stand-in does not know what comes next. It hears a
voltage and sounds, phase continuous, while a hand may turn its trimmers. No devices in here.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pitchwright.errors import InputError
from pitchwright.practice.oscillator import Oscillator
from pitchwright.practice.render import CONTROL_SAMPLES, VoiceSound
from pitchwright.practice.rig import Rig
from pitchwright.trim.kinds import TrimmerKind
from pitchwright.units import cents_between, ratio_of_cents

__all__ = ["Loudness", "StandIn", "StandInTruth"]

Array = NDArray[np.float64]

_TURNS_PER_S, _CENTS_PER_S = 0.8, 40.0
_FEEL_TURNS = 0.1
_CONTENT_CENTS = 0.05


@dataclass(frozen=True, slots=True)
class Loudness:
    """A fault of the sound: how loud it is where its pitch lies between two frequencies.

    Attributes
    ----------
    factor
        Of the level: 0 for silence, above 1 until it clips.
    low_hz, high_hz
        Where it applies.
    """

    factor: float
    low_hz: float = 0.0
    high_hz: float = np.inf


@dataclass(slots=True)
class _Hand:
    """A hand on its way: turns one trimmer until the pitch is where it was asked to be."""

    kind: TrimmerKind
    f_hz: float
    turns_left: float


@dataclass(frozen=True, slots=True)
class StandInTruth:
    """What is true of one oscillator now.

    Attributes
    ----------
    name
        Its name.
    f_hz
        Frequency at each voltage asked for, what it does by itself included.
    turns
        Where each trimmer's screw stands, in turns from the lower end, by kind.
    """

    name: str
    f_hz: tuple[float, ...]
    turns: dict[str, float]


class StandIn:
    """All voices of a rig at one control voltage, for as long as it comes.

    Parameters
    ----------
    rig
        Its voices, one channel each.
    rate_hz
        Sample rate of voltage and sound.
    rng
        Where chance comes from.
    settle_s
        Time constant in seconds with which the voices' inputs follow the voltage.

    Notes
    -----
    One thread makes the blocks; any other may turn trimmers and ask for the truth.
    """

    def __init__(
        self, rig: Rig, rate_hz: float, rng: np.random.Generator, *, settle_s: float = 0.0005
    ) -> None:
        self.rig = rig
        self._rate_hz = rate_hz
        self._rng = rng
        self._lock = threading.Lock()
        self._samples = 0
        self._cv_v = 0.0
        self._keep = float(np.exp(-CONTROL_SAMPLES / (settle_s * rate_hz))) if settle_s > 0 else 0.0
        self._voices = [
            VoiceSound(voice, rig.temperature_c, rate_hz, 0.0, chance)
            for voice, chance in zip(rig.voices, rng.spawn(len(rig.voices)), strict=True)
        ]
        self._loudness: list[list[Loudness]] = [[] for _ in rig.voices]
        self._hands: dict[int, _Hand] = {}
        self._mixed: list[list[tuple[VoiceSound, float]]] = [[] for _ in rig.voices]

    @property
    def t_s(self) -> float:
        """Session time in seconds at the end of the last block."""
        return self._samples / self._rate_hz

    @property
    def cv_v(self) -> float:
        """Voltage at the voices' inputs at the end of the last block."""
        return self._cv_v

    def block(self, cv_v: Array) -> Array:
        """Sound the next block.

        Parameters
        ----------
        cv_v
            Voltage in volts at each sample, shape (count,), count a multiple of CONTROL_SAMPLES.

        Returns
        -------
        numpy.ndarray
            Samples, shape (count, voices), cut at ±1 as an input would.
        """
        count = cv_v.size
        points = self._follow(cv_v[CONTROL_SAMPLES - 1 :: CONTROL_SAMPLES])
        t_s = (self._samples + CONTROL_SAMPLES * np.arange(points.size)) / self._rate_hz
        sound = np.empty((count, len(self._voices)))
        with self._lock:
            self._samples += count
            self._cv_v = float(points[-1])
            for place in list(self._hands):
                self._turn_on(place, count / self._rate_hz)
            for channel, voice in enumerate(self._voices):
                loud = self._loud(channel, voice, points, t_s)
                sound[:, channel] = voice.block(points, t_s, loud)[0]
                for other, above_v in self._mixed[channel]:
                    sound[:, channel] += other.block(points + above_v, t_s, loud)[0]
        return np.clip(sound, -1.0, 1.0)

    def turn(self, name: str, kind: TrimmerKind, turns: float) -> None:
        """Turn one trimmer of an oscillator, clockwise positive; InputError where it has none."""
        with self._lock:
            voice = self._voice(name)
            voice.oscillator = voice.oscillator.turned(kind, turns)

    def bring(self, name: str, kind: TrimmerKind, f_hz: float, most_turns: float) -> None:
        """Have a hand turn one trimmer until an oscillator plays a frequency, or so many turns."""
        with self._lock:
            place = self._place(name)
            self._voices[place].oscillator.trimmer(kind)  # refuses what it has not
            self._hands[place] = _Hand(kind, f_hz, most_turns)

    def hands_off(self, name: str) -> None:
        """Have the hand stop where it is."""
        with self._lock:
            self._hands.pop(self._place(name), None)

    def bump(self, name: str, cents: float) -> None:
        """Knock an oscillator's base knob."""
        with self._lock:
            voice = self._voice(name)
            moved = voice.oscillator.base_error_cents + cents
            voice.oscillator = replace(voice.oscillator, base_error_cents=moved)

    def louder(self, name: str, loudness: Loudness | None) -> None:
        """Give an oscillator a fault of its loudness; None takes all of them away."""
        with self._lock:
            faults = self._loudness[self._place(name)]
            faults.clear()
            if loudness is not None:
                faults.append(loudness)

    def mix(self, name: str, semitones: float | None) -> None:
        """Let a second tone sound in an oscillator's channel; None takes it away."""
        with self._lock:
            place = self._place(name)
            self._mixed[place].clear()
            if semitones is not None:
                (chance,) = self._rng.spawn(1)
                other = VoiceSound(
                    self.rig.voices[place],
                    self.rig.temperature_c,
                    self._rate_hz,
                    self.t_s,
                    chance,
                )
                self._mixed[place].append((other, semitones / 12.0))

    def truth(self, cv_v: tuple[float, ...] = ()) -> tuple[StandInTruth, ...]:
        """What is true of every oscillator now, at voltages in volts or at the one that plays."""
        with self._lock:
            at = np.array(cv_v or (self._cv_v,))
            return tuple(
                StandInTruth(
                    voice.oscillator.name,
                    tuple(
                        float(f_hz)
                        for f_hz in voice.oscillator.f_hz(at, self.t_s, self.rig.temperature_c)
                        * ratio_of_cents(voice.restless_cents)
                    ),
                    {str(screw.kind): screw.screw_turns for screw in voice.oscillator.trimmers},
                )
                for voice in self._voices
            )

    def trimmer_kinds(self, name: str) -> tuple[TrimmerKind, ...]:
        """Which trimmers an oscillator has; InputError where there is no such oscillator."""
        return tuple(screw.kind for screw in self._voice(name).oscillator.trimmers)

    def _turn_on(self, place: int, for_s: float) -> None:
        """Turn a little further; the hand lets go where it is content, or at its last turn."""
        hand, oscillator = self._hands[place], self._voices[place].oscillator
        here_hz = self._f_hz(oscillator)
        gain = _cents(self._f_hz(oscillator.turned(hand.kind, _FEEL_TURNS)), here_hz) / _FEEL_TURNS
        left = _cents(hand.f_hz, here_hz)
        if abs(left) < _CONTENT_CENTS or hand.turns_left <= 0.0:
            del self._hands[place]
            return
        # Where nothing moves (inside the play, at the pivot, at an end) it turns on all the same.
        fastest = min(_TURNS_PER_S, _CENTS_PER_S / max(abs(gain), 1.0)) * for_s
        wanted = 0.5 * left / gain if abs(gain) > 0.05 else fastest
        turns = float(np.clip(wanted, -fastest, fastest))
        hand.turns_left -= abs(turns)
        self._voices[place].oscillator = oscillator.turned(hand.kind, turns)

    def _f_hz(self, oscillator: Oscillator) -> float:
        at = np.array([self._cv_v])
        return float(oscillator.f_hz(at, self.t_s, self.rig.temperature_c)[0])

    def _follow(self, wanted_v: Array) -> Array:
        """Control points of the block, the last one of the block before included."""
        if self._keep == 0.0:
            return np.concatenate(([self._cv_v], wanted_v))
        points = np.empty(wanted_v.size + 1)
        points[0] = here = self._cv_v
        for place, wanted in enumerate(wanted_v.tolist()):
            here = wanted + (here - wanted) * self._keep
            points[place + 1] = here
        return points

    def _loud(self, channel: int, voice: VoiceSound, cv_v: Array, t_s: Array) -> Array:
        loud = np.ones(cv_v.size - 1)
        if faults := self._loudness[channel]:
            f_hz = voice.oscillator.f_hz(cv_v[1:], t_s[1:], self.rig.temperature_c)
            for fault in faults:
                loud[(fault.low_hz <= f_hz) & (f_hz < fault.high_hz)] *= fault.factor
        return np.repeat(loud, CONTROL_SAMPLES)

    def _place(self, name: str) -> int:
        for place, voice in enumerate(self._voices):
            if voice.oscillator.name.casefold() == name.casefold():
                return place
        having = ", ".join(voice.oscillator.name for voice in self._voices)
        raise InputError(f"There is no oscillator called {name}", do=f"There are: {having}")

    def _voice(self, name: str) -> VoiceSound:
        return self._voices[self._place(name)]


def _cents(f_hz: float, ref_hz: float) -> float:
    return cents_between(f_hz, ref_hz) if f_hz > 0.0 and ref_hz > 0.0 else 0.0

"""The live tracker: sound in as it comes, a reading twenty times a second.

Pure: it has no clock but the samples it was given. A tone is taken up once six of its periods were
heard (stage one of a careful reading, on short spans), and then followed bite by bite by its phase.
The window that is averaged over grows while the pitch holds still and shrinks at once when it
moves; what is not the same sound any more is thrown away at once. Whether the octave is right is
checked again once there is more to hear.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pitchwright.pitch import doubts
from pitchwright.pitch.coarse import coarse_pitch
from pitchwright.pitch.live_bites import MARGIN, Law
from pitchwright.pitch.live_lock import LONGEST_S, SHORTEST_S, lock, refined
from pitchwright.pitch.live_noise import Noise, learned
from pitchwright.pitch.live_tape import Tape
from pitchwright.pitch.live_tone import Tone
from pitchwright.pitch.live_window import Estimate, choose_window, estimate
from pitchwright.pitch.read import HIGH_HZ, LOW_HZ, level_of, read
from pitchwright.pitch.reading import Reading
from pitchwright.units import CENTS_PER_OCTAVE

__all__ = ["READINGS_PER_S", "LiveReading", "LiveTracker"]

Array = NDArray[np.float64]

READINGS_PER_S: Final = 20

_CENTS: Final = CENTS_PER_OCTAVE / math.log(2)
# The highest harmonic may turn against the reference by so many cycles within a bite.
_TURN: Final = 0.03
# Bites cut for another frequency answer a little too much or too little.
_RIGHT_ENOUGH: Final = 1e-4
_NEAR_ENOUGH: Final = 1e-3
_ROUNDS: Final = 3
# A third of a semitone between two readings is no hand, but another note.
_LEAP: Final = 0.02
_BINS_OFF: Final = 0.2
_AT_FIRST: Final = 4.0
# The octave is checked when this much was heard, and again at intervals.
_CHECK_S, _CHECK_PERIODS, _CHECK_AGAIN_S = 0.25, 12.0, 2.0
_SAME_PITCH: Final = 0.03
_SETTLED_S, _SETTLED_PERIODS = 0.3, 12.0
_SETTLED_CENTS: Final = 0.3
# A quarter tone: with more than that, not even the note is known.
_NO_READING_CENTS: Final = 50.0
_SPARE_S: Final = 0.3
_PARTS_OF_HUM: Final = (1, 2, 3, 4)
# Windows to try in turn while nothing is found in a long one.
_OTHER_WINDOWS_S: Final = (LONGEST_S, 0.1, LONGEST_S, 0.2)


@dataclass(frozen=True, slots=True)
class LiveReading:
    """What is heard now.

    Attributes
    ----------
    t_s
        The moment the frequency belongs to: the middle of the window, in seconds of samples since
        the tracker began.
    f_hz
        Mean frequency over the window, None where there is no pitch.
    u_cents
        Standard uncertainty in cents (k = 1), sample clock excluded; infinite without a pitch.
    level_dbfs
        RMS level of the newest sound, DC removed, relative to a full-scale sine.
    settled
        Whether the pitch has come to rest, as far as its spread tells.
    clipped
        Whether the newest sound sticks at full scale.
    doubts
        Reasons not to trust it, each a sentence; without a pitch, the reason for that.
    window_s
        How much sound was averaged over, seconds.
    """

    t_s: float
    f_hz: float | None
    u_cents: float
    level_dbfs: float
    settled: bool
    clipped: bool
    doubts: tuple[str, ...]
    window_s: float

    @property
    def end_s(self) -> float:
        """The newest sound that went in, in seconds of samples."""
        return self.t_s + self.window_s / 2


class LiveTracker:
    """Follows the pitch of one channel.

    Parameters
    ----------
    rate_hz
        Sample rate.
    low_hz, high_hz
        Where to search for the fundamental.
    mains_hz
        Mains frequency, 50 or 60; None where it is not known, and both are watched for.
    longest_s
        The window grows no longer than this.
    """

    def __init__(
        self,
        rate_hz: float,
        *,
        low_hz: float = LOW_HZ,
        high_hz: float = HIGH_HZ,
        mains_hz: float | None = None,
        longest_s: float = 2.0,
    ) -> None:
        self.rate_hz = rate_hz
        self._low_hz, self._high_hz = low_hz, min(high_hz, 0.45 * rate_hz)
        self._mains_hz = mains_hz
        self._longest_s = longest_s
        self._hop = round(rate_hz / READINGS_PER_S)
        self._tape = Tape(math.ceil((longest_s + _SPARE_S) * rate_hz))
        self._waiting = np.zeros(0)
        self._fresh = 0
        self._tries = 0
        self._tone: Tone | None = None
        self._let_go()

    @property
    def now_s(self) -> float:
        """Seconds of sound since the tracker began, lost samples included."""
        return (self._tape.end + len(self._waiting)) / self.rate_hz

    def push(self, samples: ArrayLike) -> list[LiveReading]:
        """Take the next samples, shape (n,), full scale ±1; return the readings they complete."""
        new = np.asarray(samples, dtype=np.float64)
        self._waiting = np.concatenate((self._waiting, new)) if len(self._waiting) else new
        found = []
        while len(self._waiting) >= self._hop:
            part, self._waiting = self._waiting[: self._hop], self._waiting[self._hop :]
            self._tape.append(part)
            found.append(self._read(part))
        return found

    def gap(self, missing: int = 0) -> None:
        """Throw the window away: ``missing`` samples were lost before the next ones."""
        self._tape.gap(len(self._waiting) + missing)
        self._waiting = np.zeros(0)
        self._let_go()

    def careful(self) -> Reading:
        """Read what the window holds as carefully as :func:`pitchwright.pitch.read` does."""
        if self._tone is not None:
            first = math.ceil(self._tone.law.begin)
        else:
            first = self._tape.end - round(LONGEST_S * self.rate_hz)
        sound, _ = self._tape.since(first)
        return read(
            sound,
            self.rate_hz,
            low_hz=self._low_hz,
            high_hz=self._high_hz,
            mains_hz=self._mains_hz,
        )

    def _let_go(self) -> None:
        """There is no tone; what sounds from now on is new."""
        self._fresh = self._tape.end
        self._tries = 0
        self._tone = None
        self._off_hz = 0.0
        self._moving = False
        self._checked_s = -math.inf
        self._octave_right = False
        self._octave_doubt: tuple[str, ...] = ()

    def _read(self, new: Array) -> LiveReading:
        reason = ""
        before, held = self._tone, 0 if self._tone is None else self._tone.bites
        if self._tone is None or not self._follow(self._tone):
            reason = self._hunt(new)
        clipped = doubts.clipped(new)
        sticks = () if clipped is None else (clipped.reason,)
        if self._tone is None:
            return self._nothing(new, reason, sticks)
        tone, found = (
            self._tone,
            self._average(self._tone, self._tone.bites - (held if self._tone is before else 0)),
        )
        for _ in range(_ROUNDS):
            if self._keep_up(tone, found):
                break
            if self._tone is None:
                return self._nothing(new, "The sound is just changing", sticks)
            tone, found = self._tone, self._average(self._tone, 0)
            if abs(found.off_hz) * tone.law.bite_s < _NEAR_ENOUGH:
                break
        return self._told(tone, found, sticks)

    def _nothing(self, new: Array, reason: str, sticks: tuple[str, ...]) -> LiveReading:
        t_s, level = self._tape.end / self.rate_hz, level_of(new)
        about = (reason, *sticks)
        return LiveReading(t_s, None, math.inf, level, False, bool(sticks), about, 0.0)

    def _follow(self, tone: Tone) -> bool:
        """Take in new bites; False where they are another sound."""
        sound, start = self._tape.since(math.floor(tone.end) - MARGIN)
        taken = tone.extend(sound, start, 2 * np.pi * self._off_hz * tone.law.bite_s)
        if taken >= 0:
            return True
        # Where the pitch moved already, the last bites may have been the new sound's, too.
        self._begin_anew(tone, 2 if self._moving else 0)
        return False

    def _begin_anew(self, tone: Tone, bites: int) -> None:
        """Let go of a tone; its last bites may have been another sound already."""
        fresh = math.ceil(tone.end - bites * tone.law.bite)
        self._let_go()
        self._fresh = fresh

    def _hunt(self, new: Array) -> str:
        """Look for a tone; why there is none, or empty."""
        if silent := doubts.silence(level_of(new)):
            self._let_go()
            return silent
        window_s = (self._tape.end - self._fresh) / self.rate_hz
        if window_s > LONGEST_S:
            window_s = _OTHER_WINDOWS_S[self._tries % len(_OTHER_WINDOWS_S)]
            self._tries += 1
        if window_s < SHORTEST_S:
            return "The sound has only just begun"
        sound, start = self._tape.since(self._tape.end - round(window_s * self.rate_hz))
        found = lock(sound, start, self.rate_hz, self._low_hz, self._high_hz)
        if found.tone is not None:
            self._take_up(found.tone)
        return found.reason

    def _take_up(self, tone: Tone) -> None:
        self._tone = tone
        self._off_hz = 0.0
        self._noise = Noise(tone.noise_rad2, _AT_FIRST)

    def _average(self, tone: Tone, new: int) -> Estimate:
        """The frequency over as long a window as the pitch held still."""
        law = tone.law
        tone.keep(max(tone.fewest(), round(self._longest_s / law.bite_s)))
        f_hz = law.f_hz + self._off_hz
        noise = self._noise
        if new:
            noise = learned(tone.phase_rad, tone.level_rad, new, law.bite_s, noise, tone.noise_rad2)
        tone.keep(choose_window(tone.phase_rad, law.bite_s, f_hz, noise, tone.fewest()))
        found = estimate(tone.phase_rad, law.bite_s, f_hz, noise, lone=tone.lone)
        self._noise, self._off_hz = found.noise, found.off_hz
        self._moving = found.moved_cents != 0.0
        return found

    def _keep_up(self, tone: Tone, found: Estimate) -> bool:
        """Bring the reference up to the pitch, check the octave; False where that alters it."""
        law = tone.law
        if abs(found.off_hz) > _LEAP * law.f_hz:
            self._begin_anew(tone, 2)
            return False
        if abs(found.off_hz) * law.bite_s * law.harmonics > _TURN or not tone.full:
            f_hz = law.f_hz + found.off_hz
            moves_hz = abs(found.moved_cents) / _CENTS * f_hz
            anew = Law(f_hz, law.rate_hz, 0.0)
            begin = max(tone.end - tone.bites * anew.bite, float(self._tape.start + MARGIN))
            anew = replace(anew, begin=begin)
            sound, start = self._tape.since(math.floor(anew.begin) - MARGIN)
            again = Tone(sound, start, anew, max(moves_hz, 1e-6))
            if not (again.usable and again.sure):
                # Not one pitch at all: the window holds parts of two sounds.
                self._begin_anew(tone, 2)
                return False
            self._tone, self._off_hz = again, 0.0
            return abs(found.off_hz) * law.bite_s < _RIGHT_ENOUGH
        now_s = self._tape.end / self.rate_hz
        heard_s = tone.bites * law.bite_s
        due = heard_s > max(_CHECK_S, _CHECK_PERIODS / law.f_hz)
        if not due or now_s - self._checked_s < _CHECK_AGAIN_S:
            return True
        self._checked_s = now_s
        return self._check(tone)

    def _check(self, tone: Tone) -> bool:
        """Whether the octave is right, now that more was heard; else the right one is taken up."""
        law, f_hz = tone.law, tone.law.f_hz + self._off_hz
        sound, start = self._tape.since(math.floor(law.begin) - MARGIN)
        coarse = coarse_pitch(sound, self.rate_hz, self._low_hz, self._high_hz)
        best_hz = coarse.best.f_hz if coarse.best is not None else 0.0
        self._octave_right = abs(best_hz / f_hz - 1.0) < _SAME_PITCH
        doubt = doubts.octave_ambiguous(coarse, f_hz) if self._octave_right else None
        self._octave_doubt = () if doubt is None else (doubt.reason,)
        if self._octave_right or best_hz == 0.0:
            return True
        other = Law(best_hz, self.rate_hz, law.begin)
        found = refined(sound, start, other, _BINS_OFF * coarse.spectrum.bin_hz)
        if found is None:
            return True
        self._take_up(found)
        self._octave_right = True
        return False

    def _told(self, tone: Tone, found: Estimate, sticks: tuple[str, ...]) -> LiveReading:
        law, f_hz = tone.law, tone.law.f_hz + found.off_hz
        window_s = tone.bites * law.bite_s
        t_s = float(tone.end) / self.rate_hz - window_s / 2
        newest = tone.power[-tone.fewest() :]
        level = 10 * math.log10(max(2 * float(newest.mean()), 1e-30))
        # In a short window that began with another sound, hum may pass for a part of its frequency.
        parts = (doubts.hum_alone(k * f_hz, level, self._mains_hz) for k in _PARTS_OF_HUM)
        if hum := next(filter(None, parts), ""):
            return LiveReading(t_s, None, math.inf, level, False, bool(sticks), (hum,), 0.0)
        if found.u_cents > _NO_READING_CENTS:
            fast = "The pitch moves too fast to be read"
            return LiveReading(
                t_s, None, math.inf, level, False, bool(sticks), (fast, *sticks), 0.0
            )
        mains = doubts.near_mains(f_hz, window_s, self._mains_hz)
        about = (*sticks, *self._octave_doubt, *(() if mains is None else (mains.reason,)))
        settled = (
            self._octave_right
            and window_s >= max(_SETTLED_S, _SETTLED_PERIODS / f_hz)
            and math.hypot(found.moved_cents, found.u_moved_cents) <= _SETTLED_CENTS
        )
        return LiveReading(t_s, f_hz, found.u_cents, level, settled, bool(sticks), about, window_s)

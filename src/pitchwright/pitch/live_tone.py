"""A tone that is being followed: bite after bite, how far its phase runs from a reference.

The harmonics of all bites in the window, laid upon each other, make a template. What a new bite
says about the phase is read harmonic by harmonic against it, the strongest first to be sure of the
cycle, then more and higher ones, each weighted by what it tells (k² A_k² over its noise). A bite
that the template does not explain is another sound: another note, a click, silence.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from pitchwright.pitch.live_bites import Law, fold_bites

__all__ = ["FEWEST_BITES", "Tone"]

Array = NDArray[np.float64]
Harmonics = NDArray[np.complex128]

FEWEST_BITES: Final = 4
_SHORTEST_S: Final = 0.05
# Share of a bite's power that its tone must hold when it is taken up; noise may take the rest.
_TONE: Final = 0.6
# And of that share, what every later bite must hold.
_SAME: Final = 0.75
# What harmonics must hold of the power to be all there are; the coarse search asks for as much.
_ALL: Final = 0.975
_AUDIBLE: Final = 8.0
_STRONG: Final = 0.05
_IN_STEP_CENTS: Final = 4.0
_STANDS_OUT: Final = 2.5
# A bite's harmonics may turn against the reference by so many cycles within it.
_TURN: Final = 0.12


class Tone:
    """One tone, followed from ``begin`` on.

    Parameters
    ----------
    samples, start
        Sound, shape (n,), and the number of its first sample.
    law
        Reference frequency and where the first bite begins, inside the sound.
    within_hz
        How far the frequency may be off the reference.

    Attributes
    ----------
    law
        Frequency that phases are told against.
    phase_rad
        Shape (bites,): phase of the fundamental beside the law's.
    level_rad
        Shape (bites,): how the level strays, on the scale on which what is added to the sound
        disturbs it as much as the phase.
    power
        Shape (bites,): mean square of the sound.
    noise_rad2
        Variance of one bite's phase, as the scatter about the template tells it.
    sure
        Whether every bite is explained by one template.
    usable
        Whether there were bites enough at all.
    full
        Whether all harmonics that are looked at could be.
    lone
        Whether hardly more than one harmonic tells.
    """

    def __init__(self, samples: Array, start: int, law: Law, within_hz: float) -> None:
        self.law = law
        self.phase_rad: Array = np.zeros(0)
        self.level_rad: Array = np.zeros(0)
        self.power: Array = np.zeros(0)
        self._usual = 1.0
        self.bites = law.whole_bites(start + len(samples))
        self.sure = self.full = False
        self.usable = self.bites >= FEWEST_BITES
        if not self.usable:
            return
        reach = int(_TURN / max(within_hz * law.bite_s, 1e-9))
        harmonics = max(1, min(law.harmonics, reach))
        self.full = harmonics == law.harmonics
        found, self.power = fold_bites(samples, start, law, 0, self.bites, harmonics)
        self._learn(found)

    @property
    def t_s(self) -> Array:
        """Middle of each bite in seconds of samples; shape (bites,)."""
        middle = self.law.begin + self.law.bite * (np.arange(self.bites) + 0.5)
        return np.asarray(middle / self.law.rate_hz)

    @property
    def end(self) -> float:
        """Sample number at which the last bite ends."""
        return self.law.begin + self.law.bite * self.bites

    def fewest(self) -> int:
        """Bites in the shortest window: four, or a twentieth of a second."""
        return max(FEWEST_BITES, round(_SHORTEST_S / self.law.bite_s))

    def multiple(self) -> int:
        """Which multiple of the reference is the pitch: the one all harmonics are multiples of."""
        size = np.abs(self._template) ** 2
        every = float(size.sum())
        divisors = (n for n in range(self._first, 1, -1) if self._first % n == 0)
        return next((n for n in divisors if size[n - 1 :: n].sum() > _ALL * every), 1)

    def extend(self, samples: Array, start: int, slope_rad: float) -> int:
        """Take in the bites that have become complete.

        Parameters
        ----------
        samples, start
            Sound that holds them, and the number of its first sample.
        slope_rad
            By how much the phase is expected to gain on the law from bite to bite.

        Returns
        -------
        int
            How many were taken in before one that is another sound; negative (less one) where
            there is such a one.
        """
        count = self.law.whole_bites(start + len(samples)) - self.bites
        if count <= 0:
            return 0
        found, power = fold_bites(samples, start, self.law, self.bites, count, self._harmonics)
        expected = self.phase_rad[-1] + slope_rad * np.arange(1, count + 1)
        phase, level = self._phases(found, expected)
        strange = np.flatnonzero(self._explained(found, phase, power) < _SAME * self._usual)
        good = int(strange[0]) if len(strange) else count
        self.phase_rad = np.concatenate((self.phase_rad, phase[:good]))
        self.level_rad = np.concatenate((self.level_rad, level[:good]))
        self.power = np.concatenate((self.power, power[:good]))
        self.bites += good
        return good if good == count else -good - 1

    def keep(self, bites: int) -> None:
        """Forget all but the last ``bites``."""
        gone = self.bites - bites
        if gone <= 0:
            return
        law = self.law
        self.law = Law(law.f_hz, law.rate_hz, law.begin + gone * law.bite)
        self.phase_rad = self.phase_rad[gone:]
        self.level_rad = self.level_rad[gone:]
        self.power = self.power[gone:]
        self.bites = bites

    def _learn(self, found: Harmonics) -> None:
        """Make the template from the bites of the window, and read their phases against it."""
        bites, self._harmonics = found.shape
        order = np.arange(1, self._harmonics + 1)
        strength = np.mean(np.abs(found) ** 2, axis=0)
        self._first = int(np.argmax(strength)) + 1
        phase = np.unwrap(np.angle(found[:, self._first - 1])) / self._first
        phase -= phase.mean()
        for top in _ladder(self._first, self._harmonics):
            k = order[:top]
            turned = found[:, :top] * np.exp(-1j * np.outer(phase, k))
            template = turned.mean(axis=0)
            told = k**2 * np.abs(template) ** 2
            step = np.imag(turned * np.conj(template)) @ k / told.sum()
            phase = phase + np.clip(step, -0.5 / top, 0.5 / top)
        turned = found * np.exp(-1j * np.outer(phase, order))
        self._template = turned.mean(axis=0)
        scatter = np.sum(np.abs(turned - self._template) ** 2, axis=0) / (bites - 1)
        usual = float(np.median(scatter))
        noise = np.where(scatter > _STANDS_OUT * usual, scatter, usual) + 1e-30
        size = np.abs(self._template) ** 2
        audible = size > _AUDIBLE * noise / bites
        audible[self._first - 1] = True
        told = np.where(audible, order**2 * size / noise, 0.0)
        self.lone = int(np.count_nonzero(told > 0.02 * told.max())) <= 2
        self._reading = np.where(audible, order * np.conj(self._template) / noise, 0.0)
        self._told = np.cumsum(told)
        self.noise_rad2 = 1.0 / (2.0 * float(self._told[-1]))
        self.phase_rad, self.level_rad = self._phases(found, phase)
        share = self._explained(found, self.phase_rad, self.power)
        self._usual = float(np.median(share))
        alike = share.min() > _SAME * self._usual
        self.sure = bool(self._usual > _TONE and alike and self._as_one(turned, scatter))

    def _as_one(self, turned: Harmonics, scatter: Array) -> bool:
        """Whether the strong harmonics keep step: those of two tones do not, however near."""
        size = np.abs(self._template) ** 2
        strong = np.flatnonzero(size > _STRONG * size.sum())
        if len(strong) < 2:
            return True
        x = np.arange(len(turned)) - (len(turned) - 1) / 2
        spread = float(x @ x)
        angle = np.angle(turned[:, strong] * np.conj(self._template[strong]))
        slope = x @ angle / spread
        noise = np.minimum(scatter[strong] / size[strong], 1.0)
        # What a slope explains is no noise.
        noise = np.maximum(noise / 2 - slope**2 * spread / len(x), 0.0)
        order = strong + 1
        to_cents = 1200 / np.log(2) / (2 * np.pi * self.law.periods * order)
        off = slope * to_cents
        allowed = _IN_STEP_CENTS + 5 * to_cents * np.sqrt(noise / spread)
        return bool(np.all(np.abs(off) < allowed))

    def _phases(self, found: Harmonics, expected: Array) -> tuple[Array, Array]:
        """Phase of each bite beside the law, and its level; ``expected`` tells the cycle."""
        first = self._first
        seen = np.angle(found[:, first - 1] * np.conj(self._template[first - 1]))
        off = np.angle(np.exp(1j * (seen - first * expected)))
        phase: Array = expected + np.unwrap(off) / first
        level = np.zeros(len(phase))
        order = np.arange(1, self._harmonics + 1)
        for top in _ladder(first, self._harmonics):
            if self._told[top - 1] <= 0.0:
                continue
            turned = found[:, :top] * np.exp(-1j * np.outer(phase, order[:top]))
            strayed = (turned - self._template[:top]) @ self._reading[:top] / self._told[top - 1]
            phase = phase + np.clip(strayed.imag, -0.5 / top, 0.5 / top)
            level = strayed.real
        return phase, level

    def _explained(self, found: Harmonics, phase: Array, power: Array) -> Array:
        """Share of each bite's power that the template holds, turned by the bite's phase."""
        order = np.arange(1, self._harmonics + 1)
        turned = found * np.exp(-1j * np.outer(phase, order))
        along = np.real(turned @ np.conj(self._template)) / np.sqrt(
            float(np.sum(np.abs(self._template) ** 2)) + 1e-300
        )
        share: Array = np.maximum(along, 0.0) ** 2 / 2 / np.maximum(power, 1e-30)
        return share


def _ladder(first: int, harmonics: int) -> list[int]:
    """Up to which harmonic to look, step by step, each sure of the cycle for the next."""
    tops = []
    top = first
    while top < harmonics:
        tops.append(top)
        top *= 3
    tops.append(harmonics)
    return tops

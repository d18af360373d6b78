"""What is believed of a curve: base, scale, high end, drift, and each note's own source error.

A Kalman filter over (base, scale, high end, drift rate, one source error a note). The source
errors belong to the state because they stay when a trimmer is turned: a move is an unknown change
of base, scale and high end only, so two or three notes read after it bring back every other note
without playing it. Base wanders as a random walk on top of a steady rate; the rest stands still.

Units: cents, volts (one volt an octave), kilohertz, minutes inside, seconds outside.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from pitchwright.units import note_to_hz, ratio_of_cents

__all__ = ["Belief", "Notes", "Wander"]

Array = NDArray[np.float64]

_FIXED = 4
"""States before the source errors: base, scale, high end, drift rate."""
BASE, SCALE, HIGH, RATE = range(_FIXED)
_FARTHEST_CENTS = 1200.0
_PATIENCE, _MOST_ODD, _WILDEST = 5.0, 9.0, 6.0
"""Readings that the first guess of the walk is worth; the most that one, and all, may say."""
_MOVED_BASE_CENTS, _MOVED_SCALE, _MOVED_HIGH = 100.0, 40.0, 20.0
"""Prior standard deviations of what a move may do: wide against anything a hand does."""


@dataclass(frozen=True, slots=True, eq=False)
class Notes:
    """The notes that are played, and the shapes over them.

    Attributes
    ----------
    note, cv_v
        Note numbers and nominal control voltages, ascending, shape (n,).
    tuned_hz
        Frequency that counts as zero cents at each note, shape (n,).
    ref_v
        Control voltage that the scale error turns about in the state.
    """

    note: Array
    cv_v: Array
    tuned_hz: Array
    ref_v: float

    @classmethod
    def of(cls, note: list[float], note_at_0_v: float, a4_hz: float) -> Notes:
        """Equal temperament over ascending note numbers."""
        numbers = np.asarray(note, dtype=np.float64)
        cv_v = (numbers - note_at_0_v) / 12.0
        return cls(numbers, cv_v, note_to_hz(numbers, a4_hz), float(cv_v.mean()))

    @property
    def count(self) -> int:
        """How many notes."""
        return len(self.note)

    def about(self, pivot_v: float) -> Array:
        """Shift in cents of a scale trimmer for +1 cent per octave, shape (n,)."""
        return self.cv_v - pivot_v

    def high(self, cents: Array | float = 0.0) -> Array:
        """Shift in cents for +1 cent per kHz of droop, where the curve lies at ``cents``.

        Droop follows the frequency that sounds, not the one that is meant: 150 cents off in scale
        bends it by a cent.
        """
        # More than an octave off, the droop is the least of it; unread notes may be guessed so.
        near = np.clip(np.asarray(cents, dtype=np.float64), -_FARTHEST_CENTS, _FARTHEST_CENTS)
        return np.asarray(-self.tuned_hz * ratio_of_cents(near) / 1000.0)

    def rows(self, cents: Array | float = 0.0) -> Array:
        """Design rows of the state at each note, shape (n, 4 + n), for a curve at ``cents``."""
        n = self.count
        rows = np.zeros((n, _FIXED + n))
        rows[:, BASE] = 1.0
        rows[:, SCALE] = self.cv_v - self.ref_v
        rows[:, HIGH] = self.high(cents)
        rows[:, _FIXED:] = np.eye(n)
        return rows


@dataclass(frozen=True, slots=True)
class Wander:
    """How fast things are thought to move, before anything is heard.

    Attributes
    ----------
    walk_cents
        Standard deviation of the random walk of base after one minute.
    rate_cents_per_min
        Standard deviation of the steady drift.
    source_cents
        Standard deviation of a note's own source error.
    """

    walk_cents: float = 0.3
    rate_cents_per_min: float = 0.4
    source_cents: float = 0.4


@dataclass(frozen=True, slots=True, eq=False)
class Belief:
    """Mean and covariance of the state at one time.

    Attributes
    ----------
    notes
        The notes it is about.
    wander
        How it moves by itself.
    mean, covariance
        Shapes (4 + n,) and (4 + n, 4 + n).
    t_s
        The time it holds for.
    read_s
        When each note was last read, -inf where never, shape (n,).
    walk_times
        How many times more than ``wander`` says base is seen to walk.
    """

    notes: Notes
    wander: Wander
    mean: Array
    covariance: Array
    t_s: float
    read_s: Array
    _rows: Array = field(repr=False)
    walk_times: float = 1.0

    @classmethod
    def fresh(cls, notes: Notes, wander: Wander, t_s: float = 0.0) -> Belief:
        """Return the belief before anything was heard."""
        n = notes.count
        sd = np.concatenate(
            [
                [1500.0, 120.0, 20.0, wander.rate_cents_per_min],
                np.full(n, wander.source_cents),
            ]
        )
        return cls(
            notes,
            wander,
            np.zeros(_FIXED + n),
            np.diag(sd**2),
            t_s,
            np.full(n, -np.inf),
            notes.rows(),
        )

    def at(self, t_s: float) -> Belief:
        """Return it moved on to a later time; an earlier time leaves it as it is."""
        minutes = (t_s - self.t_s) / 60.0
        if minutes <= 0.0:
            return self
        mean, cov = self.mean.copy(), self.covariance.copy()
        mean[BASE] += mean[RATE] * minutes
        cov[BASE, :] += cov[RATE, :] * minutes
        cov[:, BASE] += cov[:, RATE] * minutes
        cov[BASE, BASE] += self.walk_cents**2 * minutes
        return replace(self, mean=mean, covariance=cov, t_s=t_s)

    def heard(self, index: int, cents: float, u_cents: float, t_s: float) -> Belief:
        """Return it after a reading of note ``index``."""
        now = self.at(t_s)
        row = self._rows[index].copy()
        row[HIGH] = self.notes.high(cents)[index]
        gain = now.covariance @ row
        variance = float(row @ gain) + u_cents**2
        mean = now.mean + gain * ((cents - float(row @ now.mean)) / variance)
        cov = now.covariance - np.outer(gain, gain) / variance
        read_s = now.read_s.copy()
        read_s[index] = t_s
        # The droop's shape follows the curve; two rounds settle it within a thousandth of a cent.
        curve = now._rows @ mean
        curve = self.notes.rows(curve) @ mean
        return replace(
            now,
            mean=mean,
            covariance=0.5 * (cov + cov.T),
            read_s=read_s,
            _rows=self.notes.rows(curve),
        )

    def moved(
        self,
        *,
        base: bool = True,
        scale: bool = True,
        high: bool = False,
        bent: tuple[tuple[Array, float], ...] = (),
    ) -> Belief:
        """Return it after a move that may have changed base, scale and the high end at will.

        ``bent`` holds other shapes that it may have changed by, each (n,) in cents for one unit,
        with the standard deviation in units: what every note has of its own takes them up.
        """
        cov = self.covariance.copy()
        cov[BASE, BASE] += _MOVED_BASE_CENTS**2 if base else 0.0
        cov[SCALE, SCALE] += _MOVED_SCALE**2 if scale else 0.0
        cov[HIGH, HIGH] += _MOVED_HIGH**2 if high else 0.0
        for shape, sd in bent:
            cov[_FIXED:, _FIXED:] += sd**2 * np.outer(shape, shape)
        return replace(self, covariance=cov)

    def surprised(self, off_cents: float, u_cents: float) -> Belief:
        """Return it after a reading, nothing turned, was off from what was foreseen.

        More than was thought, time and again, means that base wanders more than was thought: the
        walk is raised little by little. It is never taken for calmer than at the start: a quiet
        minute promises nothing.
        """
        odd = min((off_cents / u_cents) ** 2, _MOST_ODD)
        grown = self.walk_times**2 * (_PATIENCE + odd) / (_PATIENCE + 1.0)
        return replace(self, walk_times=min(max(math.sqrt(grown), 1.0), _WILDEST))

    def foresee(self, index: list[int], t_s: list[float]) -> tuple[Array, Array]:
        """Readings to expect at notes and times if nobody turns anything.

        Returns
        -------
        cents, covariance
            Shapes (m,) and (m, m); reading noise is not in it.
        """
        rows = self._rows[index]
        minutes = np.maximum((np.asarray(t_s) - self.t_s) / 60.0, 0.0)
        rows = rows.copy()
        rows[:, RATE] += minutes
        shared = self.walk_cents**2 * np.minimum.outer(minutes, minutes)
        return rows @ self.mean, rows @ self.covariance @ rows.T + shared

    @property
    def walk_cents(self) -> float:
        """Standard deviation of the random walk of base after one minute, as it is taken now."""
        return self.walk_times * self.wander.walk_cents

    @property
    def droop_cents_per_khz(self) -> float:
        """How much flatter it gets for each kilohertz."""
        return float(self.mean[HIGH])

    def curve(self) -> tuple[Array, Array]:
        """Cents at every note, and their covariance, shapes (n,) and (n, n)."""
        rows = self._rows
        return rows @ self.mean, rows @ self.covariance @ rows.T

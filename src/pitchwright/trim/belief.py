"""What is believed of a curve: base, scale, high end, drift, and each note's own source error.

A Kalman filter over (base, scale, high end, drift of base, drift of scale, what a hand has warmed,
one source error a note). The source errors belong to the state because they stay when a trimmer is
turned: a move is an unknown change of base, scale and high end only, so two or three notes read
after it bring back every other note without playing it. Base wanders as a random walk on top of a
steady rate, scale drifts steadily; a converter that drifts by nothing at one voltage and most far
from it does both.

What a hand has warmed sounds now and dies away once it is gone. Two exponentials, one of 35 and one
of 140 seconds, stand for every time constant between and near them, so the filter stays linear and
the time constant is found by hearing: the curve is what is left when both have died.

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

_FIXED = 7
"""States before the source errors."""
BASE, SCALE, HIGH, RATE, SCALE_RATE, WARM, WARM_LONG = range(_FIXED)
_DIES_S = {WARM: 35.0, WARM_LONG: 140.0}
_FARTHEST_CENTS = 1200.0
_DOUBTED_CENTS, _ODD_TIMES = 3.0, 3.2
_READING_CENTS, _READING_MIN = 0.03, 0.05
"""A careful reading, and how long one takes."""
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
        """Design rows of the state at each note, shape (n, 7 + n), for a curve at ``cents``."""
        n = self.count
        rows = np.zeros((n, _FIXED + n))
        rows[:, BASE] = 1.0
        rows[:, SCALE] = self.cv_v - self.ref_v
        rows[:, HIGH] = self.high(cents)
        rows[:, [WARM, WARM_LONG]] = 1.0
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
    scale_per_min
        The same of scale, in cents per octave.
    scatter_cents
        By how much a note comes back elsewhere when it is played again.
    source_cents
        Standard deviation of a note's own source error.
    """

    walk_cents: float = 0.3
    rate_cents_per_min: float = 0.4
    source_cents: float = 0.4
    scale_per_min: float = 0.1
    scatter_cents: float = 0.04


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
        Shapes (7 + n,) and (7 + n, 7 + n).
    t_s
        The time it holds for.
    read_s
        When each note was last read, -inf where never, shape (n,).
    walk_times, scatter_times
        How many times more than ``wander`` says base is seen to walk, and notes to scatter.
    """

    notes: Notes
    wander: Wander
    mean: Array
    covariance: Array
    t_s: float
    read_s: Array
    _rows: Array = field(repr=False)
    walk_times: float = 1.0
    scatter_times: float = 1.0

    @classmethod
    def fresh(cls, notes: Notes, wander: Wander, t_s: float = 0.0) -> Belief:
        """Return the belief before anything was heard."""
        n = notes.count
        sd = np.concatenate(
            [
                [1500.0, 120.0, 20.0, wander.rate_cents_per_min, wander.scale_per_min, 0.0, 0.0],
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
        goes = self._on(minutes)
        cov = goes @ self.covariance @ goes.T
        cov[BASE, BASE] += self.walk_cents**2 * minutes
        return replace(self, mean=goes @ self.mean, covariance=cov, t_s=t_s)

    def _on(self, minutes: float) -> Array:
        """How the state moves on by itself in so many minutes, shape (7 + n, 7 + n)."""
        goes = np.eye(len(self.mean))
        goes[BASE, RATE] = goes[SCALE, SCALE_RATE] = minutes
        for state, dies_s in _DIES_S.items():
            goes[state, state] = math.exp(-60.0 * minutes / dies_s)
        return goes

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

        More than was thought, time and again, means that base wanders, and notes scatter, more than
        was thought: both are raised little by little. They are never taken for calmer than at the
        start: a quiet minute promises nothing.
        """
        odd = min((off_cents / u_cents) ** 2, _MOST_ODD)
        grown = (_PATIENCE + odd) / (_PATIENCE + 1.0)
        walk, scatter = self.walk_times**2 * grown, self.scatter_times**2 * grown
        return replace(
            self,
            walk_times=min(max(math.sqrt(walk), 1.0), _WILDEST),
            scatter_times=min(max(math.sqrt(scatter), 1.0), _WILDEST),
        )

    def u_reading(self, u_cents: float) -> float:
        """Uncertainty of a reading, with what a note scatters by itself from time to time."""
        return math.hypot(u_cents, self.scatter_times * self.wander.scatter_cents)

    def let_go(self, sprung_cents: Array, u_cents: float) -> Belief:
        """Return it as the screwdriver comes out.

        Parameters
        ----------
        sprung_cents
            Standard deviation of what the trimmer springs back, at each note, shape (n,).
        u_cents
            The same of what may change at once for every note alike: the hand's capacitance.
        """
        sprung = self._state_of(sprung_cents)
        cov = self.covariance + np.outer(sprung, sprung)
        cov[BASE, BASE] += u_cents**2
        return replace(self, covariance=cov)

    def warmed(self, u_cents: float) -> Belief:
        """Return it as the hand goes that may have warmed so much: it sounds, and will die away."""
        cov = self.covariance.copy()
        for state in (WARM, WARM_LONG):
            way = np.zeros(len(self.mean))
            way[state], way[BASE] = 1.0, -1.0
            cov += 0.5 * u_cents**2 * np.outer(way, way)
        return replace(self, covariance=cov)

    def shifted(self, cents: Array) -> Belief:
        """Return it once every note has moved by so much, shape (n,), as was foreseen."""
        return replace(self, mean=self.mean + self._state_of(cents))

    def _state_of(self, cents: Array) -> Array:
        """A shift of the notes as one of the state: base and scale, and the rest in the notes."""
        rows = self._rows[:, [BASE, SCALE]]
        line, *_ = np.linalg.lstsq(rows, cents, rcond=None)
        state = np.zeros(len(self.mean))
        state[[BASE, SCALE]] = line
        state[_FIXED:] = cents - rows @ line
        return state

    def taken_up(self) -> Belief:
        """Return it as the hand comes again: what is still warm counts as it sounds."""
        fold = np.eye(len(self.mean))
        fold[BASE, [WARM, WARM_LONG]] = 1.0
        fold[[WARM, WARM_LONG], [WARM, WARM_LONG]] = 0.0
        return replace(self, mean=fold @ self.mean, covariance=fold @ self.covariance @ fold.T)

    def drift_cents(self, seconds: float) -> float:
        """How far base will drift in so many seconds, as far as the drift stands out of its doubt.

        A drift no larger than its own uncertainty counts as none: half of such drifts would be met
        on the wrong side.
        """
        rate, variance = float(self.mean[RATE]), float(self.covariance[RATE, RATE])
        told = max(0.0, 1.0 - variance / max(rate**2, 1e-12))
        return told * rate * seconds / 60.0

    def afresh(self) -> Belief:
        """Return what is believed before anything was heard, but for how restless things are."""
        fresh = Belief.fresh(self.notes, self.wander, self.t_s)
        return replace(fresh, walk_times=self.walk_times, scatter_times=self.scatter_times)

    def forgotten(self, index: int) -> Belief:
        """Return it with what a note has of its own in doubt again, to be read afresh."""
        cov = self.covariance.copy()
        cov[_FIXED + index, _FIXED + index] += _DOUBTED_CENTS**2
        return replace(self, covariance=cov)

    def odd_notes(self) -> list[int]:
        """Notes whose own error stands out so far that a jump may have made it, worst first."""
        own = np.abs(self.mean[_FIXED:])
        often = 1.4826 * float(np.median(own))
        out = np.flatnonzero(own > max(_ODD_TIMES * max(often, self.wander.source_cents), 0.0))
        return [int(i) for i in out[np.argsort(-own[out])]]

    @property
    def u_fresh(self) -> float:
        """What the uncertainty of a note comes down to once it is read again, in cents."""
        return math.hypot(self.u_reading(_READING_CENTS), self.walk_cents * _READING_MIN**0.5)

    @property
    def warm_cents(self) -> tuple[float, float]:
        """What is still to die away of what a hand has warmed, and its standard uncertainty."""
        both = np.ix_([WARM, WARM_LONG], [WARM, WARM_LONG])
        return (
            float(self.mean[WARM] + self.mean[WARM_LONG]),
            math.sqrt(max(float(self.covariance[both].sum()), 0.0)),
        )

    def foresee(self, index: list[int], t_s: list[float]) -> tuple[Array, Array]:
        """Readings to expect at notes and times if nobody turns anything.

        Returns
        -------
        cents, covariance
            Shapes (m,) and (m, m); reading noise is not in it.
        """
        rows = self._rows[index].copy()
        minutes = np.maximum((np.asarray(t_s) - self.t_s) / 60.0, 0.0)
        rows[:, RATE] += minutes
        rows[:, SCALE_RATE] += minutes * rows[:, SCALE]
        for state, dies_s in _DIES_S.items():
            rows[:, state] *= np.exp(-60.0 * minutes / dies_s)
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
        """Cents at every note once nothing is warm, and covariance, shapes (n,) and (n, n)."""
        rows = self._rows.copy()
        rows[:, [WARM, WARM_LONG]] = 0.0
        return rows @ self.mean, rows @ self.covariance @ rows.T

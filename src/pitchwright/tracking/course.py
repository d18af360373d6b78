"""What happened while it was measured: how the pitch of all notes moved during the survey.

A reading is the note's place on the curve, plus what moved all notes since the middle of the
survey, plus how well a note comes back when it is played again, plus reading noise:

    y = base + scale·v + high·f (+ low/f) + bump of the note + course(t) + return + noise

The course is nothing, a line, a settling (exponential, or diffusion-like, falling with the root of
time), a jump between two visits, or one visit that strayed (another key was down), each on top of a
random walk of unknown size. Every one of
these is Gaussian once its sizes are given, so each has an evidence in closed form (a rank-one
update for its shape). The sizes (return, bumps, walk, amplitude, time constant, time of the jump)
run over grids with stated priors, and everything is averaged by evidence: what the readings cannot
tell stays in the uncertainty. No degrees of freedom is not infinitely many: how well a note comes
back has a prior (scaled inverse chi-squared) that repeats update.

The priors are judgements of ours, docs/survey.md says them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from pitchwright.tracking.coverage import K2
from pitchwright.tracking.readings import Readings

__all__ = ["TYPICAL_RETURN", "Course", "Happening", "Returning", "course_of"]

Array = NDArray[np.float64]


class Happening(StrEnum):
    """What moved all notes while they were measured."""

    NOTHING = "nothing"
    LINE = "line"
    SETTLING = "settling"
    JUMP = "jump"
    STRAY = "stray"


@dataclass(frozen=True, slots=True)
class Returning:
    """How well a note comes back when it is played again: one sigma, and what that rests on.

    Attributes
    ----------
    cents
        Standard deviation from one visit to the next.
    dof
        Degrees of freedom of it, above zero.
    """

    cents: float
    dof: float


TYPICAL_RETURN: Final = Returning(0.1, 2.0)
"""Where neither this oscillator nor any other was heard before."""

_RETURN: Final = 0.01 * 2.0 ** np.arange(8)
_BUMPS: Final = np.array([0.03, 0.1, 0.2, 0.4, 0.8, 1.6, 5.0, 20.0])
_BUMP_ODDS: Final = np.array([0.15, 0.2, 0.2, 0.2, 0.13, 0.07, 0.04, 0.01])
_WALK: Final = np.array([0.0, 0.1, 0.4, 1.2])
_WALK_ODDS: Final = np.array([0.15, 0.3, 0.3, 0.25])
_LOW_ODDS: Final = np.array([0.9, 0.1])
_PRIOR: Final = {"base": 300.0, "scale": 60.0, "high": 3.0, "low": 3.0}
"""Cents; cents per octave; cents per kHz; cents at C1."""
_C1_HZ: Final = 32.703
_ODDS: Final = {
    Happening.NOTHING: 0.68,
    Happening.LINE: 0.12,
    Happening.SETTLING: 0.1,
    Happening.JUMP: 0.08,
    Happening.STRAY: 0.02,
}
_SIZES: Final = {
    # Amplitudes with their odds: mostly small, now and then large.
    Happening.LINE: ((0.3, 0.7), (3.0, 0.25), (20.0, 0.05)),  # cents a minute
    Happening.SETTLING: ((0.3, 0.6), (3.0, 0.3), (20.0, 0.1)),
    Happening.JUMP: ((0.5, 0.4), (5.0, 0.4), (50.0, 0.2)),
    Happening.STRAY: ((5.0, 0.3), (50.0, 0.4), (500.0, 0.3)),
}
_TIMES_OF_SPAN: Final = (0.05, 0.1, 0.2, 0.4, 0.8, 1.6)
_NEGLIGIBLE: Final = 1e-5
_MOST_AT_ONCE: Final = 4_000_000
"""Numbers held at a time."""
_MOST_PLACES: Final = 30
"""Places of a jump, and strays, that are weighed in full: the likeliest by a first look."""


@dataclass(frozen=True, slots=True, eq=False)
class Ways:
    """Ways it may have gone: weights (m,), means less the average (m, n), covariances (m, n, n).

    Squares of how a note comes back and of bumps (m,), of reading noise (n,); each reading's note
    (n,).
    """

    weight: Array
    away: Array
    covariance: Array
    return_square: Array
    bump_square: Array
    noise_square: Array
    group: NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """How the pitch moved while it was measured, all that could have happened averaged.

    Attributes
    ----------
    odds
        Probability of each happening.
    moved_cents
        What to take off each reading, so that it is as it was in the middle of the survey (where
        one jumped, as it was while most of it was read); shape (n,).
    covariance
        Of that, shape (n, n).
    ways
        Every way it may have gone that still matters, with its weight.
    returning
        How well a note comes back, repeats counted in.
    repeats
        How many readings are of notes that had been played before.
    notes_cents, u_notes_cents
        Each distinct note's error, ascending, and half of what covers 95.45 %; shapes (g,).
    at
        Index of the last reading before the jump, or of the visit that strayed, where one of these
        is the likeliest; else -1.
    size_cents, u_size_cents
        How far it jumped or strayed, given that it did.
    rate_cents_per_min, u_rate_cents_per_min
        Mean rate over the survey, a jump aside.
    low_odds
        Probability that the low end bends as a leakage makes it.
    """

    odds: dict[Happening, float]
    moved_cents: Array
    covariance: Array
    ways: Ways
    returning: Returning
    repeats: int
    notes_cents: Array
    u_notes_cents: Array
    at: int
    size_cents: float
    u_size_cents: float
    rate_cents_per_min: float
    u_rate_cents_per_min: float
    low_odds: float

    def unsure(self, gain: Array) -> tuple[Array, Array]:
        """How unsure figures are that are linear in the readings: course, returns, bumps, noise.

        Parameters
        ----------
        gain
            What each figure takes up of each reading, shape (p, n).

        Returns
        -------
        course, whole
            Half of what covers 95.45 % of each, shape (p,), from not knowing the course alone; and
            a covariance of all, with such halves as its standard deviations, shape (p, p).
        """
        ways = self.ways
        away = ways.away @ gain.T
        moved = np.einsum("pi,mij,pj->mp", gain, ways.covariance, gain)
        by_note = np.zeros((len(gain), int(ways.group.max()) + 1))
        np.add.at(by_note.T, ways.group, gain.T)
        square = moved + np.outer(ways.return_square, (gain**2).sum(axis=1))
        square += np.outer(ways.bump_square, (by_note**2).sum(axis=1))
        square += gain**2 @ ways.noise_square
        half = _half_of_what_covers(ways.weight, away, np.sqrt(np.maximum(square, 1e-18)))
        course = _half_of_what_covers(ways.weight, away, np.sqrt(np.maximum(moved, 1e-18)))
        returned, bumped = ways.weight @ ways.return_square, ways.weight @ ways.bump_square
        whole = gain @ self.covariance @ gain.T + bumped * by_note @ by_note.T
        whole += (gain * (returned + ways.noise_square)) @ gain.T
        shrink = half / np.sqrt(np.maximum(np.diag(whole), 1e-18))
        return course, whole * np.outer(shrink, shrink)

    @property
    def likeliest(self) -> Happening:
        """What most probably happened."""
        return max(self.odds, key=lambda one: self.odds[one])

    @property
    def sure(self) -> bool:
        """Whether that is beyond doubt (more than 95 %)."""
        return self.odds[self.likeliest] > 0.95


@dataclass(frozen=True, slots=True, eq=False)
class _Shapes:
    """Courses of unit amplitude, each with its prior variance and log odds."""

    columns: Array
    variance: Array
    log_odds: Array
    what: list[Happening]
    after: NDArray[np.intp]


def course_of(readings: Readings, prior: Returning = TYPICAL_RETURN) -> Course:
    """Tell what happened while ``readings`` were taken.

    Parameters
    ----------
    readings
        One or more.
    prior
        How well a note comes back, from what was heard before.
    """
    y = readings.cents - float(np.median(readings.cents))
    notes, group = np.unique(readings.note, return_inverse=True)
    minutes = (readings.t_s - _middle(readings.t_s)) / 60.0
    shapes = _shapes(readings.t_s, minutes, group, y)
    design, prior_square = _design(readings)
    same = (group[:, None] == group[None, :]).astype(np.float64)
    walk = np.where(
        np.sign(minutes)[:, None] == np.sign(minutes)[None, :],
        np.minimum(np.abs(minutes)[:, None], np.abs(minutes)[None, :]),
        0.0,
    )
    walks = _WALK if np.ptp(minutes) > 0.0 else _WALK[:1]
    s2, b2 = (grid.ravel() for grid in np.meshgrid(_RETURN**2, _BUMPS**2, indexing="ij"))
    prior_s = -0.5 * prior.dof * (np.log(s2) + prior.cents**2 / s2)
    prior_s = prior_s + np.tile(np.log(_BUMP_ODDS), len(_RETURN))
    prior_s = prior_s - float(np.logaddexp.reduce(prior_s))
    noise = np.diag(np.maximum(readings.u_cents, 1e-4) ** 2)
    parts: list[_Part] = []
    for low, low_odds in enumerate(_LOW_ODDS):
        square = prior_square * np.array([1.0, 1.0, 1.0, float(low)])
        smooth = (design * square) @ design.T
        for size, walk_odds in zip(walks, _WALK_ODDS, strict=False):
            odds = prior_s + math.log(low_odds) + math.log(walk_odds)
            fixed = smooth + noise + size**2 * walk
            parts.append(_weigh(fixed, same, y, shapes, odds, size**2 * walk, s2, b2, bool(low)))
    return _averaged(parts, y, readings, notes, group, shapes, prior)


def _middle(t_s: Array) -> float:
    return float(t_s.min() + t_s.max()) / 2.0


def _design(readings: Readings) -> tuple[Array, Array]:
    r = readings
    khz = (r.f_hz - float(np.median(r.f_hz))) / 1000.0
    low = _C1_HZ / r.f_hz - float(np.median(_C1_HZ / r.f_hz))
    columns = np.column_stack([np.ones_like(r.cv_v), r.cv_v - r.cv_v.mean(), khz, low])
    return columns, np.array(list(_PRIOR.values())) ** 2


def _shapes(t_s: Array, minutes: Array, group: NDArray[np.intp], y: Array) -> _Shapes:
    count, again = len(minutes), np.flatnonzero(np.bincount(group)[group] > 1)
    columns, variance, odds = [np.zeros(count)], [0.0], [_ODDS[Happening.NOTHING]]
    what, after = [Happening.NOTHING], [-1]

    def add(kind: Happening, column: Array, share: float, place: int = -1) -> None:
        for size, chance in _SIZES[kind]:
            columns.append(column)
            variance.append(size**2)
            odds.append(_ODDS[kind] * share * chance)
            what.append(kind)
            after.append(place)

    span = float(np.ptp(minutes))
    if span > 0.0:
        add(Happening.LINE, minutes, 1.0)
        since = minutes - minutes.min()
        for share in _TIMES_OF_SPAN:
            time = share * span
            falls = np.exp(-since / time)
            add(Happening.SETTLING, falls - math.exp(-0.5 * span / time), 0.6 / len(_TIMES_OF_SPAN))
            spreads = 1.0 / np.sqrt(1.0 + since / time)
            middle = 1.0 / math.sqrt(1.0 + 0.5 * span / time)
            add(Happening.SETTLING, spreads - middle, 0.4 / len(_TIMES_OF_SPAN))
        in_order = np.argsort(t_s, kind="stable")
        # A jump is told from a bend of the curve only by a note that was read before and after it.
        gaps = [
            i
            for i in range(count - 1)
            if t_s[in_order[i + 1]] > t_s[in_order[i]]
            and np.isin(group[in_order[: i + 1]], group[in_order[i + 1 :]]).any()
        ]
        # A first look: how much the readings of one note differ across the gap.
        means = np.bincount(group, weights=y) / np.bincount(group)
        off = y - means[group]
        rise = np.array(
            [off[in_order[g + 1 :]].mean() - off[in_order[: g + 1]].mean() for g in gaps]
        )
        likely = np.argsort(-np.abs(rise))[:_MOST_PLACES]
        for gap in (gaps[i] for i in sorted(likely)):
            # The curve is told as it was while most of it was read.
            step = np.zeros(count)
            if gap + 1 <= count // 2:
                step[in_order[: gap + 1]] = -1.0
            else:
                step[in_order[gap + 1 :]] = 1.0
            add(Happening.JUMP, step, 1.0 / len(gaps), int(in_order[gap]))
    middles = np.array([np.median(y[group == one]) for one in range(int(group.max()) + 1)])
    farthest = np.argsort(-np.abs((y - middles[group])[again]), kind="stable")[:_MOST_PLACES]
    for one in again[farthest]:
        column = np.zeros(count)
        column[one] = 1.0
        add(Happening.STRAY, column, 1.0 / len(again), int(one))
    return _Shapes(
        np.column_stack(columns),
        np.array(variance),
        np.log(np.array(odds) / sum(odds)),
        what,
        np.array(after, dtype=np.intp),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Part:
    """One low end and one size of walk: the evidence of every size (h) and shape (j).

    ``fixed``, ``same`` and ``walk`` make the covariance of the readings, with s2 and b2 (h,).
    """

    log_weight: Array
    fixed: Array
    same: Array
    walk: Array
    s2: Array
    b2: Array
    low: bool

    def inverse(self, h: NDArray[np.intp] | slice) -> Array:
        """Of the covariance of the readings, for some sizes."""
        return np.asarray(np.linalg.inv(_covariance(self.fixed, self.same, self.s2[h], self.b2[h])))


def _covariance(fixed: Array, same: Array, s2: Array, b2: Array) -> Array:
    return np.asarray(fixed + s2[:, None, None] * np.eye(len(fixed)) + b2[:, None, None] * same)


def _weigh(
    fixed: Array,
    same: Array,
    y: Array,
    shapes: _Shapes,
    odds: Array,
    walk: Array,
    s2: Array,
    b2: Array,
    low: bool,
) -> _Part:
    phi, a2 = shapes.columns, shapes.variance
    rows = []
    at_once = max(1, int(_MOST_AT_ONCE / phi.size))
    for begin in range(0, len(s2), at_once):
        some = slice(begin, begin + at_once)
        k = _covariance(fixed, same, s2[some], b2[some])
        root = np.linalg.cholesky(k)
        log_det = np.log(np.diagonal(root, axis1=1, axis2=2)).sum(axis=1)
        inverse = np.linalg.inv(k)
        alpha = inverse @ y
        q = ((inverse @ phi) * phi).sum(axis=1)
        p = alpha @ phi
        gain = a2 / (1.0 + a2 * q)
        rows.append(
            (odds[some] - log_det - 0.5 * (alpha @ y))[:, None]
            + shapes.log_odds
            - 0.5 * np.log1p(a2 * q)
            + 0.5 * gain * p**2
        )
    return _Part(np.vstack(rows), fixed, same, walk, s2, b2, low)


@dataclass(frozen=True, slots=True, eq=False)
class _Told:
    """What one part tells of the sizes and shapes that matter, shapes (m,), (m, n), (m, n, n)."""

    weight: Array
    mean: Array
    covariance: Array
    s2: Array
    b2: Array
    amplitude: Array
    u_amplitude: Array
    shape: NDArray[np.intp]
    low: Array


def _told(part: _Part, y: Array, shapes: _Shapes, weight: Array, least: float) -> _Told:
    h, j = np.nonzero(weight > least)
    sizes, place = np.unique(h, return_inverse=True)
    inverse = part.inverse(sizes)
    alpha = inverse @ y
    phi, a2 = shapes.columns[:, j].T, shapes.variance[j]  # (m, n), (m,)
    v = np.einsum("mab,mb->ma", inverse[place], phi)
    gain = a2 / (1.0 + a2 * (phi * v).sum(axis=1))
    amplitude = gain * (alpha[place] * phi).sum(axis=1)
    # The walk's part and the shape's part of the course, given the readings.
    own = phi - v @ part.walk
    lever = np.sqrt(gain)[:, None] * own
    walked = part.walk - part.walk @ inverse @ part.walk
    return _Told(
        weight[h, j],
        (alpha @ part.walk)[place] + amplitude[:, None] * own,
        walked[place] + lever[:, :, None] * lever[:, None, :],
        part.s2[h],
        part.b2[h],
        amplitude,
        np.sqrt(gain),
        j,
        np.full(len(h), float(part.low)),
    )


def _averaged(
    parts: list[_Part],
    y: Array,
    readings: Readings,
    notes: Array,
    group: NDArray[np.intp],
    shapes: _Shapes,
    prior: Returning,
) -> Course:
    greatest = max(float(part.log_weight.max()) for part in parts)
    weights = [np.exp(part.log_weight - greatest) for part in parts]
    total = sum(float(each.sum()) for each in weights)
    weights = [each / total for each in weights]
    # Only what still matters, and of that no more than memory holds.
    most = max(50, int(_MOST_AT_ONCE / len(y) ** 2))
    every = np.sort(np.concatenate([each.ravel() for each in weights]))[::-1]
    least = max(_NEGLIGIBLE, float(every[most]) if len(every) > most else 0.0)
    told = [_told(part, y, shapes, each, least) for part, each in zip(parts, weights, strict=True)]

    def whole_of(field: str) -> Array:
        return np.concatenate([getattr(one, field) for one in told])

    w, m, whole = whole_of("weight"), whole_of("mean"), whole_of("covariance")
    w = w / w.sum()
    s, j = whole_of("s2"), whole_of("shape").astype(np.intp)
    moved = w @ m
    away = m - moved
    spread = np.einsum("m,mij->ij", w, whole) + (away.T * w) @ away

    # Each note: its readings with the course taken off, and what they return with.
    pick = (group[None, :] == np.arange(len(notes))[:, None]).astype(np.float64)
    own = np.maximum(readings.u_cents, 1e-4) ** 2
    share = pick / (own + float(w @ s))
    share = share / share.sum(axis=1, keepdims=True)
    centres = (y - m) @ share.T  # (m, g)
    square = np.einsum("gi,mij,gj->mg", share, whole, share)
    square += (share**2 @ own) + s[:, None] * (share**2).sum(axis=1)
    cents = w @ centres
    u = _half_of_what_covers(w, centres - cents, np.sqrt(square))

    kinds = np.array([shapes.what[i] for i in j])
    odds = {one: float(w[kinds == one].sum()) for one in Happening}
    at, size_cents, u_size = -1, 0.0, 0.0
    likeliest = max(odds, key=lambda one: odds[one])
    if likeliest in (Happening.JUMP, Happening.STRAY):
        here, after = kinds == likeliest, shapes.after[j]
        places = np.unique(after[here])
        at = int(places[np.argmax([w[here & (after == place)].sum() for place in places])])
        chosen = here & (after == at)
        size, u_each = (
            whole_of("amplitude")[chosen],
            np.concatenate([one.u_amplitude for one in told])[chosen],
        )
        part = w[chosen] / w[chosen].sum()
        size_cents = float(part @ size)
        u_size = math.sqrt(float(part @ (u_each**2 + (size - size_cents) ** 2)))
    span = float(np.ptp(readings.t_s)) / 60.0
    first, last = int(np.argmin(readings.t_s)), int(np.argmax(readings.t_s))
    rate, u_rate = 0.0, math.inf
    if span > 0.0:
        rate = float(moved[last] - moved[first]) / span
        ends = spread[first, first] + spread[last, last] - 2.0 * spread[first, last]
        u_rate = math.sqrt(max(float(ends), 0.0)) / span
    repeats = len(y) - len(notes)
    median = float(np.median(readings.cents))
    return Course(
        odds=odds,
        moved_cents=moved,
        covariance=spread,
        ways=Ways(w, away, whole, s, whole_of("b2"), own, group),
        returning=Returning(math.sqrt(float(w @ s)), prior.dof + repeats),
        repeats=repeats,
        notes_cents=cents + median,
        u_notes_cents=u,
        at=at,
        size_cents=size_cents,
        u_size_cents=u_size,
        rate_cents_per_min=rate,
        u_rate_cents_per_min=u_rate,
        low_odds=float(w @ whole_of("low")),
    )


def _half_of_what_covers(weight: Array, away: Array, u: Array) -> Array:
    """Half of U, so that k = 2: from the mixture of normals itself, shapes (m,) and (m, g)."""
    low, high = np.zeros(away.shape[1]), 8.0 * np.sqrt(weight @ (u**2 + away**2)) + 1e-9
    for _ in range(40):
        middle = 0.5 * (low + high)
        inside = weight @ (ndtr((middle - away) / u) - ndtr((-middle - away) / u))
        low, high = np.where(inside < K2, middle, low), np.where(inside < K2, high, middle)
    return np.asarray(0.25 * (low + high))

"""Steps that belong to a source: the same notes off through every oscillator.

What all oscillators show at a note through one source, beyond line and droop, is the source's; what
one shows alone is its own. A step must stand out from three things: the readings' noise, how
oscillators bend by themselves (smoothly, and read off their differences, in which the source
cancels), and the small errors that a source has at every note. The sizes of the last two are not
known, so each suspicion is judged by how much likelier it makes all curves together, with the sizes
fitted anew with it and without it (a likelihood ratio).

Three kinds are looked for: one note by itself (a keyboard trimmed note by note), everything from a
note upwards (one resistor of a chain), and the notes whose number has a certain bit (a converter).
The one that explains most is taken out and the search begins again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from pitchwright.ensemble.tables import Projection, Table
from pitchwright.units import note_name

__all__ = ["Step", "steps"]

Array = NDArray[np.float64]

_LEAST_CENTS = 1.0
"""Smaller than this is not worth pointing out."""
_EVIDENCE = 9.0
"""Natural logarithm of the likelihood ratio from which a step is believed."""
_MOST_STEPS = 8
_ON_TRIAL = 3
"""How many steps may be taken in beyond those believed, in case they hide each other."""
_SHARED = 0.5
"""What must be left of a step on average when any one oscillator is left out."""
_HARDLY_VISIBLE = 0.01
"""Share of a shape that line and droop leave; below it they cannot be told apart."""

# Sizes tried, in cents: a source's small errors, and how oscillators bend, over which octaves.
_SOURCE_CENTS = (0.02, 0.06, 0.15, 0.3, 0.6, 1.2, 2.5)
_BEND_CENTS = (0.01, 0.05, 0.12, 0.25, 0.5, 1.0, 2.0)
_BEND_OCTAVES = (0.5, 1.0, 2.0)
_OWN_CENTS = (0.0, 0.1, 0.4)


@dataclass(frozen=True, slots=True)
class Step:
    """A step error of a source.

    Attributes
    ----------
    source
        Its name.
    kind
        “note”, “from a note up” or “bit”.
    notes
        The notes it concerns, of those played.
    cents, u_cents
        How far off they are, positive for sharp, and its standard uncertainty.
    sentence
        The same in words.
    """

    source: str
    kind: str
    notes: tuple[float, ...]
    cents: float
    u_cents: float
    sentence: str


@dataclass(frozen=True, slots=True, eq=False)
class _Shape:
    kind: str
    on: Array
    words: str


@dataclass(frozen=True, slots=True, eq=False)
class _Heard:
    """Curves through one source: (m, n), one row an oscillator, and their mean reading noise."""

    cents: Array
    noise: Array


def steps(projection: Projection, tables: Sequence[Table]) -> tuple[Step, ...]:
    """Find the step errors of every source that was heard through two oscillators or more."""
    found: list[Step] = []
    for source in dict.fromkeys(table.source for table in tables):
        by_oscillator: dict[str, list[Table]] = {}
        for table in tables:
            if table.source == source:
                by_oscillator.setdefault(table.oscillator, []).append(table)
        if len(by_oscillator) > 1:
            several = by_oscillator.values()
            heard = _Heard(
                np.array([np.mean([t.cents for t in one], axis=0) for one in several]),
                np.mean([t.covariance / len(one) for one in several for t in one], axis=0),
            )
            found += _of_source(source, projection, heard)
    return tuple(found)


def _of_source(source: str, projection: Projection, heard: _Heard) -> list[Step]:
    chosen = _chosen(projection, heard, _shapes(projection.notes))
    said = []
    for shape in chosen:
        # Once more with all the others: a step found early was measured with later ones in it.
        others = [one for one in chosen if one is not shape]
        judged = _judged(projection, heard, [shape], others)
        if judged is None:
            continue
        _, amounts, u_cents = judged
        amount = float(amounts[0])
        if abs(amount) < _LEAST_CENTS:
            continue
        way = "sharp" if amount > 0.0 else "flat"
        said.append(
            Step(
                source=source,
                kind=shape.kind,
                notes=tuple(float(note) for note in projection.notes[shape.on > 0.0]),
                cents=amount,
                u_cents=float(u_cents[0]),
                sentence=f"{source} plays {shape.words} {abs(amount):.1f} cents {way} through "
                "every oscillator: a step of its own.",
            )
        )
    return said


def _chosen(projection: Projection, heard: _Heard, shapes: Sequence[_Shape]) -> list[_Shape]:
    """The steps to believe: taken in one after the other, then each judged beside the others.

    Two large steps hide each other, because with either left in the source looks rough at every
    note. So a few are taken in on trial; what they say together must be enough for all of them.
    """
    taken: list[_Shape] = []
    together, believed = 0.0, 0
    while len(taken) < _MOST_STEPS and len(taken) < believed + _ON_TRIAL:
        left = [shape for shape in shapes if not any(shape is one for one in taken)]
        judged = _judged(projection, heard, left, taken)
        if judged is None:
            break
        evidence = np.where(np.abs(judged[1]) >= _LEAST_CENTS, judged[0], -np.inf)
        best = int(evidence.argmax())
        if evidence[best] == -np.inf:
            break
        taken.append(left[best])
        together += float(evidence[best])
        if together > _EVIDENCE * len(taken):
            believed = len(taken)
    chosen = taken[:believed]
    while chosen:
        alone = []
        for shape in chosen:
            judged = _judged(projection, heard, [shape], [o for o in chosen if o is not shape])
            sure = judged is not None and abs(float(judged[1][0])) >= _LEAST_CENTS
            alone.append(float(judged[0][0]) if judged is not None and sure else -np.inf)
        weakest = int(np.argmin(alone))
        if alone[weakest] > _EVIDENCE:
            return chosen
        del chosen[weakest]
    return []


def _judged(
    projection: Projection, heard: _Heard, shapes: Sequence[_Shape], given: Sequence[_Shape]
) -> tuple[Array, Array, Array] | None:
    """Evidence for each shape, its amount and the uncertainty of that, beside the given ones.

    Line, droop and the given shapes are projected out. What is left splits into the mean over
    oscillators, which carries the source, and their differences, which do not.
    """
    columns = np.column_stack([projection.shapes, *(shape.on for shape in given)])
    count, notes = heard.cents.shape
    if columns.shape[1] + 2 > notes:
        return None
    q, _ = np.linalg.qr(columns, mode="complete")
    free = q[:, columns.shape[1] :]
    rows = heard.cents @ free
    mean = rows.mean(axis=0)
    apart = rows - mean
    noise = free.T @ heard.noise @ free
    on = np.array([shape.on for shape in shapes])
    seen = on @ free
    visible = (seen**2).sum(axis=1) > _HARDLY_VISIBLE * on.sum(axis=1)
    if not visible.any():
        return None
    seen = np.where(visible[:, None], seen, 0.0)

    octaves = (projection.notes[:, None] - projection.notes[None, :]) / 12.0
    plain = -np.inf
    best = np.full(len(shapes), -np.inf)
    amounts, u_cents = np.zeros(len(shapes)), np.full(len(shapes), np.inf)
    for length in _BEND_OCTAVES:
        bend = free.T @ np.exp(-0.5 * (octaves / length) ** 2) @ free
        for size, own in product(_BEND_CENTS, _OWN_CENTS):
            each = noise + size**2 * bend + own**2 * np.eye(len(noise))
            # Along its own axes the covariance is a row of variances, and a source's small errors
            # add the same to each.
            variance, axes = np.linalg.eigh(each)
            variance = np.maximum(variance, 1e-12)
            likely_apart = _log_likelihood(variance, apart @ axes, count - 1)
            mean_axes, seen_axes = mean @ axes, seen @ axes
            for source in _SOURCE_CENTS:
                both = variance / count + source**2
                likely = likely_apart + _log_likelihood(both, mean_axes[None, :], 1)
                plain = max(plain, likely)
                weight = (seen_axes**2 / both).sum(axis=1)
                inner = (seen_axes * mean_axes / both).sum(axis=1)
                amount = np.divide(inner, weight, where=visible, out=np.zeros(len(shapes)))
                gained = likely + 0.5 * amount * inner
                better = (gained > best) & visible & _shared(rows @ axes, seen_axes / both, inner)
                best = np.where(better, gained, best)
                amounts = np.where(better, amount, amounts)
                u_cents = np.where(better, 1.0 / np.sqrt(np.maximum(weight, 1e-30)), u_cents)
    return best - plain, amounts, u_cents


def _shared(rows: Array, weights: Array, of_mean: Array) -> NDArray[np.bool_]:
    """Whether each shape is in all oscillators: any one left out, half of it must remain."""
    each = rows @ weights.T
    without = (len(rows) * of_mean - each) / (len(rows) - 1)
    return np.asarray((without * np.sign(of_mean) >= _SHARED * np.abs(of_mean)).all(axis=0))


def _log_likelihood(variance: Array, rows: Array, spare: int) -> float:
    """Of rows seen along the covariance's axes, ``spare`` of them independent; no constants."""
    return float(-0.5 * (spare * np.log(variance).sum() + (rows**2 / variance).sum()))


def _shapes(notes: Array) -> list[_Shape]:
    shapes = []
    for place, note in enumerate(notes):
        alone = np.zeros(len(notes))
        alone[place] = 1.0
        shapes.append(_Shape("note", alone, note_name(float(note))))
        if 2 <= place <= len(notes) - 2:
            upwards = (np.arange(len(notes)) >= place).astype(np.float64)
            words = f"everything from {note_name(float(note))} up"
            shapes.append(_Shape("from a note up", upwards, words))
    if (notes == np.round(notes)).all():
        numbers = notes.astype(np.int64)
        for bit in range(6):
            has = ((numbers >> bit) & 1).astype(np.float64)
            if 2 <= has.sum() <= len(notes) - 2:
                words = f"the notes whose MIDI number has the bit worth {1 << bit}"
                shapes.append(_Shape("bit", has, words))
    return shapes

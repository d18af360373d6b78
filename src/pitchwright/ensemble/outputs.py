"""Which trimmable output should feed which oscillator.

Every pair has a cost: the greatest error left once base, the oscillator's own scale trimmer and the
output's trim have done what their ranges allow. Who goes where is the assignment problem (scipy's
`linear_sum_assignment`): first as few oscillators outside the tolerance as can be, then the least
sum. An oscillator that does as well on a plain output is left there.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from pitchwright.ensemble.lines import best_lines
from pitchwright.errors import InputError
from pitchwright.tracking import CurveEntry, JudgedCurve, judge
from pitchwright.tracking.conformity import NoteError
from pitchwright.units import note_name

__all__ = ["Feed", "Output", "Player", "assign"]

Array = NDArray[np.float64]

_WORTH_CENTS = 0.01
"""A trimmable output must bring at least this to be taken up."""


@dataclass(frozen=True, slots=True)
class Output:
    """An output of a buffered multiple that can be trimmed; it acts as scale, pivot at 0 V.

    Attributes
    ----------
    name
        What it is called.
    low_cents_per_oct, high_cents_per_oct
        What its trim can add to the scale of whatever it feeds.
    feeds
        Oscillators it feeds today; two or more make it a shared output.
    """

    name: str
    low_cents_per_oct: float
    high_cents_per_oct: float
    feeds: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        low, high = self.low_cents_per_oct, self.high_cents_per_oct
        if not (math.isfinite(low) and math.isfinite(high) and low <= high):
            raise InputError(
                f"A trim from {low:g} to {high:g} cents per octave cannot be",
                f"output {self.name}",
                "Write the lower figure first",
            )


@dataclass(frozen=True, slots=True)
class Player:
    """An oscillator as it is today, and what its own scale trimmer can still add.

    Attributes
    ----------
    name
        What it is called.
    entries
        Its tracking curve.
    low_cents_per_oct, high_cents_per_oct
        Range of its own scale trimmer; 0 and 0 where it has none or it is not to be touched.
    """

    name: str
    entries: tuple[CurveEntry, ...]
    low_cents_per_oct: float = 0.0
    high_cents_per_oct: float = 0.0


@dataclass(frozen=True, slots=True)
class Feed:
    """What one oscillator should be fed from, and what that leaves.

    Attributes
    ----------
    oscillator
        Its name.
    output
        The trimmable output; empty for a plain one.
    output_cents_per_oct, own_cents_per_oct, base_cents
        What to add with the output's trim, the oscillator's scale trimmer, and its base (at 0 V).
    left_cents, expanded_cents
        Greatest error then left, and the expanded uncertainty (k = 2) there.
    worst_note
        Where that is.
    within
        Whether it is inside the tolerance, uncertainty included.
    sentence
        The same in words.
    """

    oscillator: str
    output: str
    output_cents_per_oct: float
    own_cents_per_oct: float
    base_cents: float
    left_cents: float
    expanded_cents: float
    worst_note: float
    within: bool
    sentence: str


def assign(
    players: Sequence[Player], outputs: Sequence[Output], tolerance_cents: float
) -> tuple[Feed, ...]:
    """Choose an output for every oscillator; one output feeds one oscillator at most.

    More oscillators than outputs, and more outputs than oscillators, are both fine: who goes
    without gets a plain output, and what is left over stays free.

    Parameters
    ----------
    players
        The oscillators, at least one.
    outputs
        The trimmable outputs; may be none.
    tolerance_cents
        Greatest error allowed, either way.

    Returns
    -------
    tuple of Feed
        In the players' order.

    Raises
    ------
    InputError
        Where there is no oscillator, one has no reading, or a name is used twice.
    """
    _check(players, outputs, tolerance_cents)
    # Without an output, with each output in turn.
    lows = np.array([0.0, *(output.low_cents_per_oct for output in outputs)])
    highs = np.array([0.0, *(output.high_cents_per_oct for output in outputs)])
    slope, base, left = (np.zeros((len(players), len(lows))) for _ in range(3))
    outside = np.zeros((len(players), len(lows)), dtype=np.bool_)
    for row, player in enumerate(players):
        cents = np.array([entry.cents for entry in player.entries])
        octaves = np.array([entry.cv_v for entry in player.entries])
        slope[row], base[row], left[row] = best_lines(
            cents, octaves, lows + player.low_cents_per_oct, highs + player.high_cents_per_oct
        )
        outside[row] = [
            not _fed(player, one_slope, one_base, tolerance_cents).inside
            for one_slope, one_base in zip(slope[row], base[row], strict=True)
        ]
    chosen = _cheapest(left, outside)
    return tuple(
        _feed(
            player,
            outputs[choice - 1] if choice else None,
            float(slope[row, choice]),
            float(base[row, choice]),
            tolerance_cents,
        )
        for row, (player, choice) in enumerate(zip(players, chosen, strict=True))
    )


def _check(players: Sequence[Player], outputs: Sequence[Output], tolerance_cents: float) -> None:
    if not players:
        raise InputError("There is no oscillator to feed", do="Survey one at least")
    for kind, names in (
        ("oscillators", [player.name for player in players]),
        ("outputs", [output.name for output in outputs]),
    ):
        for name in names:
            if names.count(name) > 1:
                raise InputError(f"Two {kind} are called {name}", do="Rename one of them")
    for player in players:
        if not player.entries:
            raise InputError("It has no reading", player.name, "Survey it first")
    if not (math.isfinite(tolerance_cents) and tolerance_cents > 0.0):
        raise InputError(f"A tolerance of {tolerance_cents:g} cents cannot be")


def _cheapest(left: Array, outside: NDArray[np.bool_]) -> list[int]:
    """Column for each row: 0 without an output, as often as wanted; every other once at most."""
    count = len(left)
    # A trimmable output costs a visit with the screwdriver: it must bring something.
    price = left + _WORTH_CENTS * (np.arange(left.shape[1]) > 0)
    # One more outside the tolerance weighs more than all the cents together.
    price = price + outside * (1.0 + float(price.max()) * count)
    plain = np.repeat(price[:, :1], count, axis=1)
    rows, columns = linear_sum_assignment(np.hstack([price[:, 1:], plain]))
    outputs = left.shape[1] - 1
    chosen = [0] * count
    for row, column in zip(rows, columns, strict=True):
        chosen[int(row)] = int(column) + 1 if column < outputs else 0
    return chosen


def _feed(
    player: Player, output: Output | None, slope: float, base: float, tolerance_cents: float
) -> Feed:
    # What the output can do it does: the case stays closed.
    given = (
        float(np.clip(slope, output.low_cents_per_oct, output.high_cents_per_oct))
        if output
        else 0.0
    )
    own = float(np.clip(slope - given, player.low_cents_per_oct, player.high_cents_per_oct))
    given = float(slope) - own
    judged = _fed(player, slope, base, tolerance_cents)
    largest, worst = abs(judged.farthest.cents), judged.worst
    where = f"from output {output.name}" if output else "from a plain output"
    turn = []
    if output and abs(given) >= 0.005:
        turn.append(f"{_signed(given)} cents per octave on {output.name}")
    if abs(own) >= 0.005:
        turn.append(f"{_signed(own)} on its own scale trimmer")
    verdict = "in tune" if judged.inside else f"outside ±{tolerance_cents:g}"
    sentence = (
        f"{player.name} {where}"
        + (f", {' and '.join(turn)}" if turn else "")
        + f": {largest:.2f} cents left at most, worst at {note_name(worst.note)}, "
        f"{verdict}."
    )
    return Feed(
        oscillator=player.name,
        output=output.name if output else "",
        output_cents_per_oct=given,
        own_cents_per_oct=own,
        base_cents=float(base),
        left_cents=largest,
        expanded_cents=worst.expanded_cents,
        worst_note=worst.note,
        within=judged.inside,
        sentence=sentence,
    )


def _fed(player: Player, slope: float, base: float, tolerance_cents: float) -> JudgedCurve:
    """Its curve with a line added, against the tolerance."""
    return judge(
        (
            NoteError(e.note, e.cents + slope * e.cv_v + base, e.u_cents, e.dof)
            for e in player.entries
        ),
        tolerance_cents,
    )


def _signed(cents: float) -> str:
    return f"{cents:+.2f}".replace("-", "−")

"""Kinds of trimmers: one table, one entry a kind.

An entry says all that the program needs to know of a kind: how it shifts the curve, whether that
shift has a pivot, what it is called and turned for, which way is which, and when its turn comes.
Adding a kind is one entry here, and its physics in ``practice.trimmer_physics`` where the practice
rig is to have one. A kind that is not in the table is refused: to take it for a base trimmer would
be a guess, and the next aim would be wrong by it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from pitchwright.errors import InputError

__all__ = ["KINDS", "KindEntry", "TrimmerKind", "alike", "in_proportion", "through_pivot"]

Array = NDArray[np.float64]
Shape = Callable[[Array, Array, Array], Array]


def alike(cv_v: Array, f_khz: Array, pivot_v: Array) -> Array:
    """Every note by the same number of cents."""
    return np.ones(np.broadcast_shapes(cv_v.shape, f_khz.shape, np.shape(pivot_v)))


def through_pivot(cv_v: Array, f_khz: Array, pivot_v: Array) -> Array:
    """A line in volts through the pivot, which it leaves alone."""
    del f_khz
    return np.asarray(cv_v - pivot_v)


def in_proportion(cv_v: Array, f_khz: Array, pivot_v: Array) -> Array:
    """In proportion to the frequency that sounds (what a fixed time a period does)."""
    del cv_v, pivot_v
    return f_khz


@dataclass(frozen=True, slots=True)
class KindEntry:
    """What is to be known of one kind of trimmer.

    Attributes
    ----------
    shape
        Shift in cents for one unit, from control voltage (V), frequency (kHz) and pivot (V), which
        broadcast against each other.
    unit
        Of its amount.
    order
        When its turn comes: lower is earlier, since each shifts what the later ones must take out.
    acts_on
        What it is turned for, in two words at most.
    more, less
        What a positive and a negative amount make of that.
    called, letter
        What the practice rig and a new bench file call it, and the letter that it is chosen by.
    has_pivot
        Whether its shift has a pivot.
    pivot_v
        That pivot, where the circuit fixes it for good; None where it has to be found out.
    far
        Whether it is there for the long way, a finer one of the same shape for the rest.
    prior
        What a move may do, as a standard deviation in its unit: wide against anything a hand does.
    """

    shape: Shape
    unit: str
    order: int
    acts_on: str
    more: str
    less: str
    called: str
    letter: str
    has_pivot: bool = False
    pivot_v: float | None = None
    far: bool = False
    prior: float = 20.0

    @property
    def bends(self) -> bool:
        """Whether its shift is no straight line in volts, so that two notes do not show it."""
        v = np.array([0.0, 1.0, 2.0])
        pivot_v = np.array(0.0)
        y = self.shape(v, 0.0327 * 2.0**v, pivot_v)
        return bool(abs(y[0] - 2.0 * y[1] + y[2]) > 1e-9 * float(np.abs(y).max()))


KINDS: dict[str, KindEntry] = {
    "base coarse": KindEntry(
        alike,
        unit="cents",
        order=20,
        acts_on="base",
        more="sharper",
        less="flatter",
        called="coarse base trimmer",
        letter="c",
        far=True,
        prior=100.0,
    ),
    "base fine": KindEntry(
        alike,
        unit="cents",
        order=20,
        acts_on="base",
        more="sharper",
        less="flatter",
        called="fine base trimmer",
        letter="f",
        prior=100.0,
    ),
    "scale": KindEntry(
        through_pivot,
        unit="cents per octave",
        order=10,
        acts_on="scale",
        more="wider",
        less="narrower",
        called="scale trimmer",
        letter="s",
        has_pivot=True,
        prior=40.0,
    ),
    "high end": KindEntry(
        in_proportion,
        unit="cents per kHz",
        order=0,
        acts_on="high end",
        more="sharper at the top",
        less="flatter at the top",
        called="high-frequency trimmer",
        letter="h",
        prior=20.0,
    ),
    "output": KindEntry(
        through_pivot,
        unit="cents per octave",
        order=10,
        acts_on="scale",
        more="wider",
        less="narrower",
        called="buffered output's trimmer",
        letter="o",
        has_pivot=True,
        pivot_v=0.0,
        prior=40.0,
    ),
}
"""Every kind by its word, which is also what is written down."""


class TrimmerKind(str):
    """The word of a kind in the table; InputError where there is no such entry."""

    __slots__ = ()

    BASE_COARSE: ClassVar[TrimmerKind]
    BASE_FINE: ClassVar[TrimmerKind]
    SCALE: ClassVar[TrimmerKind]
    HIGH_END: ClassVar[TrimmerKind]
    OUTPUT: ClassVar[TrimmerKind]
    """Trim of the buffered multiple's output ahead of the oscillator: scale about 0 V."""

    def __new__(cls, word: str) -> TrimmerKind:
        """Return the kind of that word."""
        if word not in KINDS:
            raise InputError(
                f"“{str(word)[:60]}” is no kind of trimmer that is known",
                do=f"Kinds are {', '.join(KINDS)}",
            )
        return str.__new__(cls, word)

    @property
    def entry(self) -> KindEntry:
        """What is to be known of it."""
        return KINDS[self]

    @property
    def is_base(self) -> bool:
        """Whether it moves every note alike."""
        return self.entry.shape is alike

    @property
    def has_pivot(self) -> bool:
        """Whether its shift has a pivot."""
        return self.entry.has_pivot

    def acts_like(self, other: TrimmerKind) -> bool:
        """Whether both shift the curve in the same way, so that one does what the other can."""
        return self.entry.shape is other.entry.shape


TrimmerKind.BASE_COARSE = TrimmerKind("base coarse")
TrimmerKind.BASE_FINE = TrimmerKind("base fine")
TrimmerKind.SCALE = TrimmerKind("scale")
TrimmerKind.HIGH_END = TrimmerKind("high end")
TrimmerKind.OUTPUT = TrimmerKind("output")

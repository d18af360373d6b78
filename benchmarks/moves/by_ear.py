"""Trimming by ear as the trade does it (common practice, no source), on the same rigs.

A reference that is in tune sounds beside the oscillator. The base is set to zero beat at middle C;
then the farthest octave at which beats can still be counted is taken to zero with the scale
trimmer (where that note lies too near the pivot for the trimmer to move it, the other end); then
back to middle C, and so on, wider as it gets better. Every stop is a move. The variants differ in
the way the scale is set and in where the base is.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from benchmarks.moves.rigs import PLAYED, Rig

__all__ = ["VARIANTS", "ByEar", "by_ear"]

EAR_CENTS, HAND_CENTS = 0.2, 0.5
MOST_MOVES = 40
COUNTABLE_HZ = 12.0
"""Faster beats are heard as roughness and cannot be taken to zero with confidence."""


@dataclass(frozen=True, slots=True)
class ByEar:
    """One way of doing it.

    Attributes
    ----------
    name
        For the table.
    home
        The note that the base is set at.
    past
        How far past zero the scale is turned, as a share of the error heard.
    widen
        Whether the far note begins an octave away and moves out as the error allows.
    by_beat
        Whether the ear's error is one of beats in hertz, the same at every note, so that it is
        larger in cents where the note is low; else it is 0.2 cent everywhere.
    """

    name: str
    home: float
    past: float
    widen: bool
    by_beat: bool = False

    def ear_cents(self, note: float) -> float:
        """Return the standard deviation of what the ear takes for zero at a note."""
        return EAR_CENTS * 2.0 ** ((60.0 - note) / 12.0) if self.by_beat else EAR_CENTS


VARIANTS = (
    ByEar("zero beat at the far octave", 60.0, 0.0, False),
    ByEar("two octaves first, then wider", 60.0, 0.0, True),
    ByEar("past zero by half, then retune", 60.0, 0.5, False),
    ByEar("base at the lowest note, 0.2 cent heard even there", 24.0, 0.0, False),
    ByEar("base at the lowest note, by beats in hertz", 24.0, 0.0, False, by_beat=True),
)


def by_ear(rig: Rig, way: ByEar, rng: np.random.Generator, within: float) -> int | None:
    """Moves until every note played is within ``within`` cents; None where 40 do not do it."""
    reach = 1.0 if way.widen else 3.0
    for move in range(1, MOST_MOVES + 1):
        if move % 2 == 1:
            _null(rig, "base", way.home, 0.0, way.ear_cents(way.home), rng)
            rig.wait(25.0)
        else:
            far = _far_note(rig, way.home, reach)
            if far is None:
                reach = max(reach - 1.0, 1.0)
                continue
            heard = rig.true_cents(far) + way.ear_cents(far) * float(rng.standard_normal())
            _null(rig, "scale", far, -way.past * heard, way.ear_cents(far), rng)
            rig.wait(25.0)
            if abs(heard) < 3.0:
                reach = min(reach + 1.0, 3.0)
        if np.abs(rig.curve(PLAYED)).max() <= within:
            return move
    return None


def _far_note(rig: Rig, home: float, octaves: float) -> float | None:
    """The farthest octave that beats slowly enough, where the trimmer has leverage."""
    found = []
    for note in np.arange(24.0, 85.0, 12.0):
        v = (note - 24.0) / 12.0
        if note == home or abs(note - home) > 12.0 * octaves + 24.0 * (home == 24.0):
            continue
        hz = 440.0 * 2.0 ** ((note - 69.0) / 12.0)
        beats = hz * abs(2.0 ** (rig.true_cents(float(note)) / 1200.0) - 1.0)
        if beats <= COUNTABLE_HZ and abs(v - rig.pivot_v) > 0.5:
            found.append(float(note))
    return max(found, key=lambda note: (abs(note - home), note)) if found else None


def _null(
    rig: Rig,
    trimmer: str,
    note: float,
    aim: float,
    ear_cents: float,
    rng: np.random.Generator,
) -> None:
    """Turn until the note is heard at ``aim``: the ear's and the hand's errors stay."""
    stop = aim + ear_cents * rng.standard_normal() + HAND_CENTS * rng.standard_normal()
    arm = 1.0 if trimmer == "base" else (note - 24.0) / 12.0 - rig.pivot_v
    for _ in range(4):
        per_turn = rig.screws[trimmer].effect_per_turn
        rig.turn(trimmer, (stop - rig.true_cents(note)) / (per_turn * arm))

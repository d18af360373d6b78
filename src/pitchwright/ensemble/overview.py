"""The instrument at a glance: who beats with whom, how far all agree, and around which pitch."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from pitchwright.ensemble.lines import best_lines
from pitchwright.ensemble.words import plus_minus
from pitchwright.errors import InputError
from pitchwright.tracking import Conformity, CurveEntry, Reach, judge, stands
from pitchwright.tracking.coverage import expanded_u
from pitchwright.tracking.reach import reach
from pitchwright.units import A4_HZ, note_name, ratio_of_cents

__all__ = ["Follower", "Overview", "PairOff", "overview"]


@dataclass(frozen=True, slots=True)
class PairOff:
    """Two oscillators against each other.

    Attributes
    ----------
    first, second
        Their names.
    notes
        Notes both were measured at.
    cents, u_cents
        By how much the first is higher, and its standard uncertainty.
    beats_hz
        Beats per second.
    worst_note, closest_note
        Where they beat fastest and slowest.
    """

    first: str
    second: str
    notes: tuple[float, ...]
    cents: tuple[float, ...]
    u_cents: tuple[float, ...]
    beats_hz: tuple[float, ...]
    worst_note: float
    closest_note: float

    @property
    def worst_hz(self) -> float:
        """Fastest beat."""
        return max(self.beats_hz)

    @property
    def closest_hz(self) -> float:
        """Slowest beat."""
        return min(self.beats_hz)


@dataclass(frozen=True, slots=True)
class Follower:
    """What base and scale must add to one oscillator to follow the leader, and what that leaves."""

    name: str
    base_cents: float
    scale_cents_per_oct: float
    left_cents: float


@dataclass(frozen=True, slots=True)
class Overview:
    """All oscillators together.

    Attributes
    ----------
    pairs
        Every pair.
    common_notes
        Notes measured with every oscillator.
    reference_cents, reference_hz
        The pitch of A4 that leaves the smallest greatest error to all, from the target's, and in
        hertz.
    left_cents
        That greatest error.
    reach
        The widest run of common notes in which all are inside the tolerance about that reference.
    leader
        Whose curve the others can follow best with base and scale.
    followers
        What each of the others would need.
    sentences
        The same in words.
    """

    pairs: tuple[PairOff, ...]
    common_notes: tuple[float, ...]
    reference_cents: float
    reference_hz: float
    left_cents: float
    reach: Reach
    leader: str
    followers: tuple[Follower, ...]
    sentences: tuple[str, ...]


def overview(
    curves: Mapping[str, Sequence[CurveEntry]], tolerance_cents: float, a4_hz: float = A4_HZ
) -> Overview:
    """Look at all oscillators at once.

    Parameters
    ----------
    curves
        Tracking curves by oscillator, all against the same target; two or more.
    tolerance_cents
        Greatest error allowed, either way.
    a4_hz
        Pitch of A4 the curves are measured against.

    Raises
    ------
    InputError
        Where there are fewer than two oscillators, or they share no note.
    """
    if len(curves) < 2:
        raise InputError("One oscillator is no ensemble", do="Survey two or more")
    by_note = {name: {entry.note: entry for entry in entries} for name, entries in curves.items()}
    common = sorted(set.intersection(*(set(notes) for notes in by_note.values())))
    if not common:
        raise InputError(
            "The oscillators share no measured note", do="Survey all of them over the same notes"
        )
    pairs = tuple(_pair(one, other, by_note) for one, other in combinations(curves, 2))
    all_cents = np.array([[by_note[name][note].cents for note in common] for name in curves])
    reference = 0.5 * float(all_cents.max() + all_cents.min())
    together = []
    for note in common:
        here = [by_note[name][note] for name in curves]
        # The oscillator that is farthest off, its uncertainty counted in, speaks for the note.
        worst = max(here, key=lambda e: abs(e.cents - reference) + e.expanded_cents)
        together.append(
            CurveEntry(
                note,
                worst.cv_v,
                worst.f_hz,
                worst.cents - reference,
                worst.u_cents,
                worst.dof,
            )
        )
    leader, followers = _leader(tuple(curves), all_cents, common, by_note, tolerance_cents)
    found = Overview(
        pairs=pairs,
        common_notes=tuple(common),
        reference_cents=reference,
        reference_hz=a4_hz * ratio_of_cents(reference),
        left_cents=0.5 * float(all_cents.max() - all_cents.min()),
        reach=reach(judge(together, tolerance_cents)),
        leader=leader,
        followers=followers,
        sentences=(),
    )
    return replace(found, sentences=_sentences(found))


def _pair(one: str, other: str, by_note: Mapping[str, Mapping[float, CurveEntry]]) -> PairOff:
    notes = sorted(by_note[one].keys() & by_note[other].keys())
    cents, u_cents, beats = [], [], []
    for note in notes:
        a, b = by_note[one][note], by_note[other][note]
        cents.append(a.cents - b.cents)
        u_cents.append(math.hypot(a.u_cents, b.u_cents))
        beats.append(abs(a.f_hz - b.f_hz))
    order = np.argsort(beats)
    return PairOff(
        first=one,
        second=other,
        notes=tuple(notes),
        cents=tuple(cents),
        u_cents=tuple(u_cents),
        beats_hz=tuple(beats),
        worst_note=notes[int(order[-1])],
        closest_note=notes[int(order[0])],
    )


def _leader(
    names: tuple[str, ...],
    cents: np.ndarray,
    common: Sequence[float],
    by_note: Mapping[str, Mapping[float, CurveEntry]],
    tolerance_cents: float,
) -> tuple[str, tuple[Follower, ...]]:
    octaves = np.array([by_note[names[0]][note].cv_v for note in common])
    # away[l, f]: what follower f is from leader l, note by note.
    away = cents[None, :, :] - cents[:, None, :]
    slope, base, left = best_lines(away, octaves, -np.inf, np.inf)
    # The worst follower decides; among about equals, who is least off itself.
    worst = left.max(axis=1)
    equal = worst <= worst.min() + 0.1 * tolerance_cents
    chosen = int(np.where(equal, np.ptp(cents, axis=1), np.inf).argmin())
    followers = tuple(
        Follower(
            name,
            float(base[chosen, place]),
            float(slope[chosen, place]),
            float(left[chosen, place]),
        )
        for place, name in enumerate(names)
        if place != chosen
    )
    return names[chosen], followers


def spoken_beat(beat_hz: float) -> str:
    """“1.3 beats a second”, “a beat in 9 s”, “no beat”."""
    if beat_hz >= 1.0:
        return f"{beat_hz:.1f} beats a second"
    if beat_hz < 0.002:
        return "no beat in eight minutes"
    return f"a beat in {seconds_per_beat(beat_hz)}"


def seconds_per_beat(beat_hz: float) -> str:
    """“9.1 s”, “14 s”, “183 s”."""
    seconds = 1.0 / beat_hz
    return f"{seconds:.2g} s" if seconds < 10.0 else f"{seconds:.0f} s"


def _sentences(found: Overview) -> tuple[str, ...]:
    apart = max(found.pairs, key=lambda pair: pair.worst_hz)
    close = min(found.pairs, key=lambda pair: pair.closest_hz)
    place = apart.notes.index(apart.worst_note)
    tolerance = found.reach.tolerance_cents
    digits = 1 if expanded_u(apart.u_cents[place]) >= 0.095 else 2
    said = [
        f"Farthest apart: {apart.first} and {apart.second} at {note_name(apart.worst_note)}, "
        f"{abs(apart.cents[place]):.{digits}f} ± {plus_minus(apart.u_cents[place])[1:]} cents, "
        f"{spoken_beat(apart.worst_hz)}.",
        f"Closest: {close.first} and {close.second} at {note_name(close.closest_note)}, "
        f"{spoken_beat(close.closest_hz)}.",
        f"As they are, A4 = {found.reference_hz:.2f} Hz suits all of them best: "
        f"{found.left_cents:.1f} cents off at most.",
        f"All together about that pitch. {found.reach.sentence}",
    ]
    worst = max(found.followers, key=lambda follower: follower.left_cents)
    able = stands(worst.left_cents, 0.0, tolerance) is Conformity.INSIDE
    all_can = "and all can" if able else "but not all can"
    said.append(
        f"{found.leader} makes the best leader: with base and scale the others can follow it to "
        f"within {worst.left_cents:.2f} cents ({worst.name} is the last), {all_can} come within "
        f"±{tolerance:g}."
    )
    return tuple(said)

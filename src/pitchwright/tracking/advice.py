"""What to turn, and by how much pitch: sentences for the person with the screwdriver.

Trimmers act on each other, so a move's aim is not zero. A scale trimmer moved to take out s cents
per octave shifts the reading at v volts by -s·(v - p), p being the pivot: the voltage at which
turning it leaves the pitch alone. The aim at v is the reading now minus s·(v - p); base, turned
last, takes out the rest. Until a first turn has shown the pivot it is taken to be 0 V.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from pitchwright.tracking.best import BestPossible, best_possible
from pitchwright.tracking.curve import CurveEntry
from pitchwright.tracking.model import TermState, TrackingModel
from pitchwright.tracking.reach import Reach
from pitchwright.units import note_name

__all__ = ["ASSUMED_PIVOT_V", "advise"]

ASSUMED_PIVOT_V: Final = 0.0
_NOT_WORTH_CENTS: Final = 0.1
"""Hands do not set a trimmer closer than this (a judgement of ours)."""


def advise(entries: Sequence[CurveEntry], model: TrackingModel, tightest: Reach) -> tuple[str, ...]:
    """Say what to turn, in order, and what to play to know more.

    Parameters
    ----------
    entries
        The notes of the tracking curve that do not look like mistakes, at least one.
    model
        The fitted model: a high end that it does not know is not turned.
    tightest
        The reach at the tightest tolerance.
    """
    unknown = (model.high, model.drift) if model.scale.value is not None else (model.scale,)
    more = tuple(
        term.why
        for term in unknown
        if term.state is TermState.UNDETERMINED and term.add_note is not None
    )
    if tightest.whole:
        within = f"±{tightest.tolerance_cents:g} cent{_s(tightest.tolerance_cents)}"
        return (f"Nothing to turn: every note measured is within {within}.", *more)
    worst = max(abs(entry.cents) for entry in entries)
    plan = _plan(entries, model)
    u = max(entry.expanded_cents for entry in entries)
    if worst - plan.max_error_cents <= max(_NOT_WORTH_CENTS, min(u, 0.1 * worst)):
        return (
            f"Nothing to gain by turning: the worst note is {worst:.1f} cents off, and with "
            f"{_listed(plan.trimmers)} set as well as can be it would still be "
            f"{plan.max_error_cents:.1f}.",
            *more,
        )
    return (*_moves(entries, plan), _outcome(entries, plan, worst), *more)


def _plan(entries: Sequence[CurveEntry], model: TrackingModel) -> BestPossible:
    """With the high end only where it is known and worth a visit."""
    simple = best_possible(entries, model.v_ref, ("base", "scale"))
    if model.high.state is not TermState.KEPT:
        return simple
    full = best_possible(entries, model.v_ref)
    gain = simple.max_error_cents - full.max_error_cents
    return full if gain > _NOT_WORTH_CENTS else simple


def _moves(entries: Sequence[CurveEntry], plan: BestPossible) -> list[str]:
    far = max(range(len(entries)), key=lambda i: abs(entries[i].cv_v - ASSUMED_PIVOT_V))
    near = min(range(len(entries)), key=lambda i: abs(entries[i].cv_v - plan.v_ref))
    if near == far:
        near = max(range(len(entries)), key=lambda i: abs(entries[i].cv_v - entries[far].cv_v))
    top, ref = entries[far], entries[near]
    moves: list[str] = []
    reading, ref_reading = top.cents, ref.cents

    bend = -plan.high_cents_per_khz
    against = bend * (top.f_hz - ref.f_hz) / 1000.0
    if abs(against) >= _NOT_WORTH_CENTS:
        moves.append(
            f"Turn the high-frequency trimmer so that {note_name(top.note)} {_moves_by(against)} "
            f"against {note_name(ref.note)}, before scale and base: they take up what it shifts."
        )
        reading += bend * top.f_hz / 1000.0
        ref_reading += bend * ref.f_hz / 1000.0

    octaves = top.cv_v - ref.cv_v
    against = -plan.scale_cents_per_oct * octaves
    if abs(against) >= _NOT_WORTH_CENTS:
        shift = -plan.scale_cents_per_oct * (top.cv_v - ASSUMED_PIVOT_V)
        reading += shift
        ref_reading += -plan.scale_cents_per_oct * (ref.cv_v - ASSUMED_PIVOT_V)
        moves.append(
            f"Turn the scale trimmer so that {note_name(top.note)} {_moves_by(against)} against "
            f"{note_name(ref.note)} ({_signed(-plan.scale_cents_per_oct, 1)} cents per octave). "
            f"If its pivot is {ASSUMED_PIVOT_V:g} V, which is assumed until a turn has shown it, "
            f"{note_name(top.note)} itself {_moves_by(shift)}: stop where it reads "
            f"{_signed(reading, 1)} cents."
        )
    base = plan.left_cents[near] - ref_reading
    if abs(base) >= _NOT_WORTH_CENTS:
        moves.append(
            f"{'Then turn' if moves else 'Turn'} base {'up' if base > 0 else 'down'} by "
            f"{abs(base):.1f} cents: stop where {note_name(ref.note)} reads "
            f"{_signed(plan.left_cents[near], 1)} cents."
        )
    return moves


def _outcome(entries: Sequence[CurveEntry], plan: BestPossible, worst: float) -> str:
    left = [abs(e) for e in plan.left_cents]
    text = (
        f"That takes the worst note from {worst:.1f} to {plan.max_error_cents:.1f} cents, the "
        f"least that {_listed(plan.trimmers)} can leave"
    )
    if len(entries) <= len(plan.trimmers):
        return f"{text} at the few notes measured."
    stand_out = entries[left.index(max(left))]
    return f"{text}; {note_name(stand_out.note)} is one of the notes that hold it there."


def _moves_by(cents: float) -> str:
    return f"{'rises' if cents > 0 else 'falls'} by {abs(cents):.1f} cents"


def _signed(cents: float, digits: int) -> str:
    text = f"{cents:+.{digits}f}"
    return text[1:] if float(text) == 0.0 else text.replace("-", "−")


def _s(cents: float) -> str:
    return "" if cents == 1.0 else "s"


def _listed(trimmers: Sequence[str]) -> str:
    names = ["high end" if name == "high" else name for name in trimmers]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"

"""The verdict put together: figures, what stands in the way, what would help."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pitchwright.procedures.settings import TrimSettings
from pitchwright.tracking.conformity import JudgedCurve
from pitchwright.tracking.coverage import expanded_u
from pitchwright.trim.acting import Acting
from pitchwright.trim.aim import Lever, best_amounts
from pitchwright.trim.belief import Belief
from pitchwright.trim.kinds import TrimmerKind, in_proportion
from pitchwright.trim.trimmer import Trimmer
from pitchwright.trim.verdict import Standing, Verdict, u_best
from pitchwright.units import note_name

__all__ = ["conclude"]

Array = NDArray[np.float64]

_DRIFTS_CENTS_PER_MIN = 0.3


def conclude(
    standing: Standing,
    settings: TrimSettings,
    belief: Belief,
    active: NDArray[np.intp],
    curve: Array,
    covariance: Array,
    judged: JudgedCurve,
    levers: list[Lever],
    trimmers: list[Acting],
) -> Verdict:
    """Put the verdict together.

    Parameters
    ----------
    standing
        Which verdict.
    settings
        What was asked.
    belief, active
        The state, and the indices of the notes that count.
    curve, covariance
        Errors at these notes, shapes (n,) and (n, n), the common part counted in.
    judged
        The same against the tolerance.
    levers
        The trimmers that may still be moved.
    trimmers
        All trimmers, as they are known to act.
    """
    tolerance = settings.tolerance_cents
    notes = belief.notes.note[active]
    one_each = _independent(levers)
    best = best_amounts(curve, one_each)[1]
    farthest, run = judged.farthest, judged.run
    why: list[str] = []
    helps: list[str] = []
    if standing is not Standing.IN_TUNE:
        why, helps = _reasons(settings, belief, active, curve, one_each, trimmers, best)
        if standing is Standing.NOT_CERTIFIABLE:
            why.insert(
                0,
                f"The best possible, ±{best:.2f} cents, is inside ±{tolerance:g} by less than"
                " uncertainty and hand take",
            )
            helps.insert(
                0, f"Claim ±{np.ceil(judged.holds_cents * 10.0) / 10.0:.1f} cents: that holds"
            )
    return Verdict(
        standing=standing,
        low=float(notes[0]),
        high=float(notes[-1]),
        tolerance_cents=tolerance,
        greatest_cents=abs(farthest.cents),
        u_greatest_cents=farthest.u_cents,
        at_note=farthest.note,
        holds_cents=judged.holds_cents,
        best_possible_cents=best,
        u_best_cents=u_best(curve, covariance, one_each)[0],
        unplayed_cents=_unplayed(belief, active, curve),
        narrower=(float(notes[run[0]]), float(notes[run[1]])) if run else None,
        why=tuple(why),
        would_help=tuple(helps),
    )


def _independent(levers: list[Lever]) -> list[Lever]:
    """One lever a kind of shape: two base trimmers do no more than one."""
    kept: list[Lever] = []
    for lever in levers:
        kind = lever.trimmer.trimmer_kind
        if not any(kind.acts_like(k.trimmer.trimmer_kind) for k in kept):
            kept.append(lever)
    return kept


def _reasons(
    settings: TrimSettings,
    belief: Belief,
    active: NDArray[np.intp],
    curve: Array,
    levers: list[Lever],
    trimmers: list[Acting],
    best: float,
) -> tuple[list[str], list[str]]:
    """What stands in the way, and what would help."""
    notes, tolerance = belief.notes, settings.tolerance_cents
    kinds = [lever.trimmer.trimmer_kind for lever in levers]
    why: list[str] = []
    helps: list[str] = []
    for acting in trimmers:
        name = acting.trimmer.name
        if np.isfinite(acting.low) or np.isfinite(acting.high):
            why.append(f"the {name} is at its end")
        if acting.trimmer.resolution_cents > 0.5 * tolerance:
            why.append(
                f"the {name} cannot be set closer than {acting.trimmer.resolution_cents:.1f} cents"
            )
        if acting.dead:
            why.append(f"the {name} moved no note")
    free = {
        "base": Lever(Trimmer("base", TrimmerKind.BASE_FINE), np.ones(len(active))),
        "scale": Lever(Trimmer("scale", TrimmerKind.SCALE), notes.about(notes.ref_v)[active]),
        "high end": Lever(Trimmer("high end", TrimmerKind.HIGH_END), -notes.high()[active]),
    }
    has_scale = any(kind.has_pivot for kind in kinds)
    has_high = any(kind.entry.shape is in_proportion for kind in kinds)
    if not has_scale and best_amounts(curve, [*levers, free["scale"]])[1] < best - 0.2:
        why.append("the scale is off and no scale trimmer may be turned")
        helps.append(
            "A trimmable output of a buffered multiple ahead of it acts as scale about 0 V"
        )
    droop = belief.droop_cents_per_khz
    with_high = best_amounts(curve, [*levers, free["high end"]])[1]
    if not has_high and with_high < best - 0.1:
        high = float(notes.note[active][-1])
        why.append(
            f"the high end bends by {droop:+.1f} cents per kHz, which base and scale cannot"
            f" straighten up to {note_name(high)}".replace("-", "−")
        )
        helps.append(f"A high-end trimmer: with it ±{with_high:.1f} cents is possible")
    per_min = belief.drift_cents(60.0)
    if abs(per_min) > _DRIFTS_CENTS_PER_MIN:
        why.append(f"it drifts by {per_min:+.1f} cents a minute".replace("-", "−"))
        helps.append("Warm it up first: what drifts while it is trimmed is off again soon after")
    rest = best_amounts(curve, list(free.values()))[1]
    if rest > 0.6 * tolerance:
        why.append(f"single notes are off by up to {rest:.1f} cents, which no trimmer can mend")
        helps.append("Look at the source: play it from another keyboard or converter")
    run = _best_run(notes.note[active], curve, levers, 0.8 * tolerance)
    if run is not None:
        helps.append(
            f"A narrower range: {note_name(run[0])} to {note_name(run[1])} can be brought inside"
            f" ±{tolerance:g} cents"
        )
    helps.append("A correction for each note, where what plays it can be retuned note by note")
    return why, helps


def _best_run(
    notes: Array, curve: Array, levers: list[Lever], within_cents: float
) -> tuple[float, float] | None:
    """The longest run of notes that the trimmers could bring inside, if it is not the whole."""
    count = len(notes)
    for length in range(count - 1, 2, -1):
        for start in range(count - length + 1):
            part = slice(start, start + length)
            some = [Lever(lever.trimmer, lever.shape[part]) for lever in levers]
            if best_amounts(curve[part], some)[1] <= within_cents:
                return float(notes[start]), float(notes[start + length - 1])
    return None


def _unplayed(belief: Belief, active: NDArray[np.intp], curve: Array) -> float:
    """What 95 in 100 of the notes in between keep, by the source errors of those that were read."""
    source = belief.mean[-belief.notes.count :][active]
    spread = float(np.sqrt((source**2).mean()))
    smooth = curve - source
    return float(np.abs(smooth).max()) + expanded_u(spread)

"""Which extra measurement would settle whose error it is, and how well.

The equations of a measurement not yet made are known but for their values, and an uncertainty does
not depend on values: so the uncertainty it would give is worked out beforehand.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from pitchwright.ensemble.measured import Known, Meter, Voltage
from pitchwright.ensemble.system import Equation, solve
from pitchwright.ensemble.tables import tables
from pitchwright.ensemble.whose import (
    SCALE,
    Evidence,
    Whose,
    equations,
    known_equations,
    whose_error,
)
from pitchwright.ensemble.words import and_all, owner, plus_minus
from pitchwright.units import cv_of_note, note_name

__all__ = ["Extra", "advise"]

_TRUSTED_U = 0.2
"""How well the scale of a trusted oscillator is assumed to be known, in cents per octave."""


@dataclass(frozen=True, slots=True)
class Extra:
    """One more measurement and what it would tell.

    Attributes
    ----------
    what
        “voltages”, “known oscillator” or “connecting survey”.
    source
        The source it concerns.
    notes
        The notes at which voltages would be read; empty otherwise.
    settles
        Whose own scale it would make known.
    u_cents_per_oct
        Standard uncertainty that the source's own scale would then have, the meter's gain error
        left out where it is not known.
    needs_meter_gain
        Whether the meter's gain error is still to be said.
    sentence
        The same in words.
    """

    what: str
    source: str
    notes: tuple[float, ...]
    settles: tuple[str, ...]
    u_cents_per_oct: float
    needs_meter_gain: bool
    sentence: str


def advise(evidence: Evidence, whose: Whose | None = None) -> tuple[Extra, ...]:
    """Say what would settle what is open; nothing where nothing is.

    Parameters
    ----------
    evidence
        What was measured.
    whose
        What `whose_error` made of it; worked out where None.
    """
    whose = whose or whose_error(evidence)
    extras: list[Extra] = []
    for group in whose.groups:
        sources = [name for name in group if name in whose.sources]
        if all(whose.figure("own", SCALE, name).told for name in sources):
            continue
        source = max(
            sources, key=lambda name: sum(sweep.source == name for sweep in evidence.sweeps)
        )
        extras += [
            one
            for one in (_voltages(evidence, source, group), _known(evidence, source, group))
            if one is not None
        ]
    if len(whose.groups) > 1:
        first, second = whose.groups[:2]
        oscillator = next(name for name in first if name in whose.oscillators)
        source = next(name for name in second if name in whose.sources)
        extras.append(
            Extra(
                what="connecting survey",
                source=source,
                notes=(),
                settles=(),
                u_cents_per_oct=float("nan"),
                needs_meter_gain=False,
                sentence=f"Survey {oscillator} through {source} as well: then "
                f"{and_all([*first, *second])} can be compared.",
            )
        )
    return tuple(extras)


def _voltages(evidence: Evidence, source: str, group: Sequence[str]) -> Extra | None:
    projection, found = tables(evidence.sweeps)
    notes = [float(note) for note in projection.notes]
    free = projection.has_droop and source not in evidence.straight
    middles = notes[1:-1] if free else [None]
    asks_gain = evidence.meter.u_gain is None
    best: tuple[float, tuple[float, ...]] | None = None
    for middle in middles:
        inner = () if middle is None else (middle,)
        chosen = (notes[0], *inner, notes[-1])
        ahead = tuple(Voltage(source, note, cv_of_note(note)) for note in chosen)
        # Voltages already read count as well; an unknown gain is left out here and said in words.
        then = replace(
            evidence,
            voltages=(*evidence.voltages, *ahead),
            meter=Meter(evidence.meter.u_v, evidence.meter.u_gain or 0.0),
        )
        figure = solve(equations(then, projection, found)).figure({(SCALE, source): 1.0})
        if figure is not None and (best is None or figure[1] < best[0]):
            best = figure[1], chosen
    if best is None:
        return None
    u, chosen = best
    others = [name for name in group if name != source]
    names = and_all([note_name(note) for note in chosen])
    millivolts = 1000.0 * evidence.meter.u_v
    text = (
        f"Measure {owner(source)} voltage at {names}, each to {millivolts:g} mV: its own scale "
        f"would then be known to {plus_minus(u)} cents per octave (k = 2), and with it the own "
        f"scale of {and_all(others)}."
    )
    if free:
        text += f" Two notes would do if {source} cannot droop by itself: say so if you know."
    if asks_gain:
        text += (
            " The meter's own gain error counts in full, and is not known yet: 0.5 % would be 6 "
            "cents per octave. Say how good the meter is."
        )
    return Extra("voltages", source, chosen, tuple(group), u, asks_gain, text)


def _known(evidence: Evidence, source: str, group: Sequence[str]) -> Extra | None:
    projection, found = tables(evidence.sweeps)
    through = [table.oscillator for table in found if table.source == source]
    trusted = Known(through[0], 0.0, _TRUSTED_U)
    rows: list[Equation] = [
        *equations(evidence, projection, found),
        *known_equations(trusted, projection),
    ]
    figure = solve(rows).figure({(SCALE, source): 1.0})
    if figure is None:
        return None
    return Extra(
        what="known oscillator",
        source=source,
        notes=(),
        settles=tuple(group),
        u_cents_per_oct=figure[1],
        needs_meter_gain=False,
        sentence=f"Or survey through {source} an oscillator whose own scale is known: to "
        f"{plus_minus(_TRUSTED_U)} cents per octave, that gives {owner(source)} to "
        f"{plus_minus(figure[1])}.",
    )

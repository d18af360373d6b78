"""Whose error it is, in sentences."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from pitchwright.tracking.coverage import expanded_u

if TYPE_CHECKING:
    from pitchwright.ensemble.whose import Figure, Whose

__all__ = ["and_all", "owner", "plus_minus", "sentences", "sharp_or_flat"]

_SAME_CENTS = 0.5
"""Scales closer than this (cents per octave), or than their uncertainty, count as one."""


def sentences(whose: Whose) -> tuple[str, ...]:
    """Most important first."""
    said: list[str] = []
    for source in whose.sources:
        said += _through(whose, source)
    said += _apart(whose, whose.oscillators, "oscillators")
    said += _apart(whose, whose.sources, "sources")
    for name in (*whose.sources, *whose.oscillators):
        own = whose.figure("own", "scale", name)
        if own.told:
            said.append(f"{owner(name)} own scale is {_scale(own)}.")
    if _droops(whose):
        said += _droop(whose)
    said += [step.sentence for step in whose.steps]
    for source in whose.alone:
        said.append(
            f"Through {source} only one oscillator was heard: a step of {source} cannot be told "
            "from that oscillator's own residual."
        )
    said += _hidden(whose)
    if whose.drift_hides_cents_per_oct > 0.0:
        said.append(
            "No note was played twice in at least one survey, so drift could not be taken out: one "
            f"cent per minute would look like {whose.drift_hides_cents_per_oct:.2f} cents per "
            "octave."
        )
    return tuple(said)


def sharp_or_flat(amount: float, digits: int = 1) -> str:
    """“6.1 cents sharp”, without its unit's rest."""
    return f"{abs(amount):.{digits}f} cents {'sharp' if amount > 0.0 else 'flat'}"


def plus_minus(u: float | None) -> str:
    """Expanded uncertainty (k = 2) with as many digits as it deserves."""
    expanded = expanded_u(u or 0.0)
    return f"±{expanded:.1f}" if expanded >= 0.095 else f"±{max(expanded, 0.01):.2f}"


def owner(name: str) -> str:
    """“Loft's”, “Stairs'”."""
    return f"{name}'" if name.endswith("s") else f"{name}'s"


def and_all(names: Sequence[str]) -> str:
    """Names with “and” before the last."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _scale(figure: Figure) -> str:
    amount, u = figure.amount or 0.0, figure.u or 0.0
    digits = 1 if expanded_u(u) >= 0.095 else 2
    sense = "sharp" if amount > 0.0 else "flat"
    return (
        f"{abs(amount):.{digits}f} {plus_minus(u)[:1]} {plus_minus(u)[1:]} cents per octave {sense}"
    )


def _through(whose: Whose, source: str) -> list[str]:
    sums = [f for f in whose.figures if f.what == "together" and f.kind == "scale"]
    sums = [f for f in sums if f.names[1] == source and f.told]
    if not sums:
        return []
    own = whose.figure("own", "scale", source).told
    if len(sums) == 1:
        who = sums[0].names[0]
        text = f"Through {source} {who} is {_scale(sums[0])}"
        return [f"{text}." if own else f"{text}: {owner(source)} gain or {owner(who)} scale."]
    amounts = [f.amount or 0.0 for f in sums]
    middle = sum(amounts) / len(amounts)
    widest = max(f.u or 0.0 for f in sums)
    spread = max(amounts) - min(amounts)
    all_of = "both" if len(sums) == 2 else f"all {_count(len(sums))}"
    if spread <= max(_SAME_CENTS, 4.0 * widest):
        expanded = max(spread / 2.0, 2.0 * widest)
        text = (
            f"Through {source} {all_of} are {abs(middle):.1f} ± {max(expanded, 0.1):.1f} cents per "
            f"octave {'sharp' if middle > 0.0 else 'flat'}"
        )
        return [f"{text}." if own else f"{text}: {owner(source)} gain or everyone's scale."]
    each = and_all([f"{f.names[0]} {_scale(f)}" for f in sums])
    text = f"Through {source}: {each}"
    if not own:
        text += f". How much of that is {owner(source)} gain and common to all cannot be told"
    return [f"{text}."]


def _apart(whose: Whose, names: Sequence[str], kind_of: str) -> list[str]:
    pairs = [
        f
        for f in whose.figures
        if f.what == "apart" and f.kind == "scale" and set(f.names) <= set(names)
    ]
    told = [f for f in pairs if f.told]
    if not told:
        return []
    farthest = max(told, key=lambda f: abs(f.amount or 0.0))
    worst_u = max(f.u or 0.0 for f in told)
    text = f"Differences between {'them' if kind_of == 'oscillators' else kind_of} are known to "
    text += f"{plus_minus(worst_u)} cents per octave"
    if len(told) < len(pairs):
        text += ", where surveys connect them"
    amount = farthest.amount or 0.0
    if abs(amount) > expanded_u(farthest.u or 0.0):
        first, second = farthest.names if amount > 0.0 else farthest.names[::-1]
        text += f"; the greatest: {first} is {abs(amount):.2f} wider than {second}"
    return [f"{text}."]


def _droops(whose: Whose) -> bool:
    return any(
        f.kind == "droop" and f.told and abs(f.amount or 0.0) > max(0.3, expanded_u(f.u or 0.0))
        for f in whose.figures
    )


def _droop(whose: Whose) -> list[str]:
    said = []
    for name in whose.oscillators:
        own = whose.figure("own", "droop", name)
        if own.told and abs(own.amount or 0.0) > max(0.1, expanded_u(own.u or 0.0)):
            amount = own.amount or 0.0
            digits = 1 if expanded_u(own.u or 0.0) >= 0.095 else 2
            way = "falls" if amount < 0.0 else "runs sharp"
            said.append(
                f"{owner(name)} own high end {way} by {abs(amount):.{digits}f} ± "
                f"{plus_minus(own.u)[1:]} cents per kHz."
            )
    if not said:
        sums = [f for f in whose.figures if f.what == "together" and f.kind == "droop"]
        worst = max(sums, key=lambda f: abs(f.amount or 0.0))
        said.append(
            f"The high end is farthest off with {worst.names[0]} through {worst.names[1]}, "
            f"{worst.amount or 0.0:+.2f} cents per kHz".replace("-", "−")
            + ": the oscillator's, or a droop of the source."
        )
    return said


def _hidden(whose: Whose) -> list[str]:
    said = []
    for group in whose.groups:
        sources = [name for name in group if name in whose.sources]
        oscillators = [name for name in group if name in whose.oscillators]
        untold = [s for s in sources if not whose.figure("own", "scale", s).told]
        if untold:
            said.append(
                f"What cannot be told: a scale common to {and_all(oscillators)} and the opposite "
                f"in {and_all(untold)} would look the same at every note. Measure the source's "
                "voltage, or survey an oscillator or a source whose scale is known."
            )
    if len(whose.groups) > 1:
        said.append(
            f"No survey connects {and_all(list(whose.groups[0]))} with the others: between them "
            "nothing can be compared."
        )
    return said


def _count(number: int) -> str:
    words = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
    return words[number] if number < len(words) else str(number)

"""The worlds that trims are measured in: calm, ordinary, hard, and one of another kind.

Sizes are judgements (common practice where a range is known, no source), chosen so that ordinary is
a normal evening and hard a bad one. The tolerance goes with the world: what wanders a cent in a
minute by itself cannot be promised to a cent.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from pitchwright.practice.hands import Habits

__all__ = ["CALM", "HANDS", "HARD", "ORDINARY", "OTHER", "World"]


@dataclass(frozen=True, slots=True)
class World:
    """How things behave.

    Attributes
    ----------
    name
        For the table.
    tolerance_cents
        What is asked for in it.
    walk_cents
        Random walk of base after a minute.
    scatter_cents
        How a note comes back when it is played again, one sigma; ``heavy`` for long tails
        (Student's t with three degrees of freedom).
    base_per_min, scale_per_min
        Drift of base (cents) and of scale (cents an octave), a minute, either sign.
    settles
        Whether the drift of base dies away within 2 to 10 minutes.
    in_steps
        Whether base drifts in steps, one in half a minute on the average, instead of steadily.
    bump_cents
        What single notes are off by (source and converter), one sigma.
    knocks_per_hour
        How often base jumps by 2 to 6 cents by itself.
    stick_cents, play_deg, taper
        Stiction at the far note, backlash, relative change of the effect over the travel.
    spring_cents, heat_cents, heat_s, capacitance_cents
        What the hand leaves behind, at the far note.
    habits
        The hand.
    wrong_note
        How often a person who plays gives another note.
    """

    name: str
    tolerance_cents: float
    walk_cents: float
    scatter_cents: float
    base_per_min: float
    scale_per_min: float
    bump_cents: float
    knocks_per_hour: float
    stick_cents: float
    play_deg: float
    taper: float
    spring_cents: float
    heat_cents: float
    heat_s: float
    capacitance_cents: float
    habits: Habits
    wrong_note: float
    settles: bool = True
    heavy: bool = False
    in_steps: bool = False


CALM = World(
    "calm",
    tolerance_cents=1.0,
    walk_cents=0.05,
    scatter_cents=0.03,
    base_per_min=0.0,
    scale_per_min=0.0,
    bump_cents=0.1,
    knocks_per_hour=0.0,
    stick_cents=0.05,
    play_deg=0.0,
    taper=0.1,
    spring_cents=0.0,
    heat_cents=0.0,
    heat_s=60.0,
    capacitance_cents=0.0,
    habits=Habits(overshoot=0.1),
    wrong_note=0.0,
)
ORDINARY = World(
    "ordinary",
    tolerance_cents=2.0,
    walk_cents=0.3,
    scatter_cents=0.1,
    base_per_min=0.3,
    scale_per_min=0.03,
    bump_cents=0.3,
    knocks_per_hour=1.0,
    stick_cents=0.3,
    play_deg=3.0,
    taper=0.3,
    spring_cents=0.2,
    heat_cents=0.3,
    heat_s=60.0,
    capacitance_cents=0.1,
    habits=Habits(overshoot=0.15, wrong_trimmer=0.02, stops_early=0.02),
    wrong_note=0.03,
)
HARD = World(
    "hard",
    tolerance_cents=5.0,
    walk_cents=1.0,
    scatter_cents=0.3,
    base_per_min=1.0,
    scale_per_min=0.2,
    bump_cents=1.0,
    knocks_per_hour=6.0,
    stick_cents=2.0,
    play_deg=12.0,
    taper=1.4,
    spring_cents=0.6,
    heat_cents=2.0,
    heat_s=120.0,
    capacitance_cents=0.5,
    habits=Habits(overshoot=0.3, wrong_trimmer=0.10, stops_early=0.10),
    wrong_note=0.15,
    settles=False,
)
HANDS = replace(
    ORDINARY,
    name="ordinary, with the hand of the hard world",
    spring_cents=0.6,
    heat_cents=2.0,
    heat_s=120.0,
    capacitance_cents=0.5,
)
OTHER = replace(
    ORDINARY, name="ordinary, scatter with long tails, drift in steps", heavy=True, in_steps=True
)

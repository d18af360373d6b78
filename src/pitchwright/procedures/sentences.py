"""The words of guided trimming: one sentence each, with its reason."""

from __future__ import annotations

from pitchwright.trim.happened import Happened
from pitchwright.trim.trimmer import Trimmer
from pitchwright.units import note_name

__all__ = [
    "CAUTION_INSIDE",
    "bumped_meanwhile",
    "cents",
    "happened",
    "reason_of",
    "too_coarse",
    "turn",
]

CAUTION_INSIDE = (
    "This trimmer is inside: switch the power off before the module is taken out, leave the power"
    " supply closed, check the ribbon cable's orientation before the power goes on again, and use"
    " an insulated trimming tool; local codes and licensed practice come first"
)


def cents(amount: float) -> str:
    """A signed amount: ``+1.2`` or ``−0.4``; two digits where it is small."""
    digits = 1 if abs(amount) >= 0.95 else 2
    return f"{amount:+.{digits}f}".replace("-", "−")


def reason_of(trimmer: Trimmer, amount: float, greatest_cents: float, *, more: bool) -> str:
    """Why the aim is where it is."""
    kind = trimmer.trimmer_kind
    entry = kind.entry
    if kind.is_base:
        return f"that centres the curve and leaves at most ±{greatest_cents:.1f} cents"
    way = entry.more if amount > 0.0 else entry.less
    by = f"that changes the {entry.acts_on} by {cents(amount)} {entry.unit} ({way})"
    if more:
        return f"{by}, and what it shifts besides is taken back by the trimmers after it"
    return f"{by} and leaves at most ±{greatest_cents:.1f} cents"


def turn(
    trimmer: Trimmer,
    note: float,
    now_cents: float,
    aim_cents: float,
    window_cents: float,
    clockwise: bool | None,
    *,
    probe: bool,
    nudge: bool,
    reason: str,
) -> str:
    """One sentence: what to turn, where to stop, and why."""
    name = note_name(note)
    way = "" if clockwise is None else (" clockwise" if clockwise else " counter-clockwise")
    stop = f"{cents(aim_cents)} cents (it is at {cents(now_cents)})"
    if nudge:
        return (
            f"Nudge the {trimmer.name} at {name} to {stop}, give or take {window_cents:.1f}:"
            f" a little more and the rest comes out right."
        )
    if probe:
        return (
            f"Turn the {trimmer.name}{way} a little at {name}, to {stop}: a short first turn shows"
            " how it acts."
        )
    start = way or " whichever way brings it nearer (the first few degrees show which)"
    near = f"give or take {window_cents:.1f}"
    return f"Turn the {trimmer.name}{start} at {name} to {stop}, {near}: {reason}."


def happened(what: Happened, trimmer: Trimmer, other: str = "") -> str:
    """What a turn did, in words."""
    name = trimmer.name
    return {
        Happened.AS_ASKED: f"The {name} did what was asked.",
        Happened.WRONG_WAY: (
            f"The {name} was first turned the wrong way: the reading moved away from the aim, and"
            " the other way is right."
        ),
        Happened.WRONG_TRIMMER: (
            f"That was not the {name} but the {other}: the notes moved in its way. Leave it"
            " where it is; the next aim is planned from here."
        ),
        Happened.BUMPED: (
            f"A base knob was bumped while the {name} was turned: every note moved alike besides."
            " The next aim allows for it; nothing needs undoing."
        ),
        Happened.AT_END: (
            f"The {name} is at its end: it moved the reading before and no longer does."
        ),
        Happened.NOTHING_MOVED: (
            f"No note moved: check that the screwdriver is in the {name} and turns it."
        ),
    }[what]


def other_note(wanted: float, played: float) -> str:
    """Another note came than was asked for."""
    return f"That was {note_name(played)}; {note_name(wanted)} is wanted."


def hand_away(trimmer: str) -> str:
    """The hand is to go before anything is said."""
    if not trimmer:
        return "Take your hand away: what it did is heard now."
    return f"Take the screwdriver out of the {trimmer} and your hand away: now it is heard alone."


def wait(seconds: float, left_cents: float | None) -> str:
    """How long it takes until the hand's warmth has gone."""
    more = "" if left_cents is None else f" About {abs(left_cents):.1f} cents are still to come."
    return f"Another {seconds:.0f} s, hands off: what the hand has warmed settles.{more}"


def still_settling(left_cents: float) -> str:
    """It is said before it has settled altogether."""
    return f"It still settles by about {cents(-left_cents)} cents; that is allowed for."


def jumped_alone() -> str:
    """Base jumped while no hand was there."""
    return (
        "Every note jumped alike while nobody was at it: a knob was touched, or a contact is bad."
    )


def too_coarse(trimmer: Trimmer, size_cents: float, off_cents: float) -> str:
    """A trimmer moves in steps, none of which hits the aim."""
    return (
        f"The {trimmer.name} moves in steps of {size_cents:.1f} cents here, so the nearer side of"
        f" the aim has to do: {cents(off_cents)} cents from it."
    )


def bumped_meanwhile(note: str, off_cents: float) -> str:
    """A note has moved while nothing was turned."""
    return (
        f"{note} has moved by {cents(off_cents)} cents since it was last read, with nothing"
        " turned: a base knob may have been touched. It is allowed for."
    )

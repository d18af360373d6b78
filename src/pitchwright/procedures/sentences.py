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
        return f"{by}; the trimmers after it take back what else it moves"
    return f"{by} and leaves at most ±{greatest_cents:.1f} cents"


def turns_of_hand(turns: float) -> str:
    """How far that is for a hand: ``three eighths of a turn``, ``2½ turns``."""
    eighths = max(round(abs(turns) * 8.0), 1)
    if eighths < 8:
        return f"{_EIGHTHS[eighths]} of a turn" if eighths != 4 else "half a turn"
    halves = round(abs(turns) * 2.0)
    whole, half = divmod(halves, 2)
    if not half:
        return "one turn" if whole == 1 else f"{whole} turns"
    return f"{whole}½ turns"


_EIGHTHS = {
    1: "an eighth",
    2: "a quarter",
    3: "three eighths",
    5: "five eighths",
    6: "three quarters",
    7: "seven eighths",
}


def turn(
    trimmer: Trimmer,
    note: float,
    aim_cents: float,
    window_cents: float,
    clockwise: bool | None,
    *,
    probe: bool,
    nudge: bool,
    turns: float | None,
    most_turns: float | None,
    settles_to_cents: float | None,
    reason: str,
) -> str:
    """What to do, where to stop, and then why: short, for somebody with one hand free."""
    name = trimmer.name
    way = " clockwise" if clockwise else " counter-clockwise"
    if clockwise is None:
        way = " clockwise first, and back if the reading goes away from the aim"
    stop = f"Stop at {cents(aim_cents)} cents, give or take {window_cents:.1f}."
    if nudge:
        by = "" if clockwise is None else way
        return f"Nudge the {name}{by}. {stop}"
    far = "" if turns is None else f", about {turns_of_hand(turns)}"
    if turns is None and most_turns is not None:
        far = f", no more than {turns_of_hand(most_turns)}"
    first = f"Turn the {name} at {note_name(note)}{way}{far}. {stop}"
    if probe:
        return f"{first} A short first turn shows how it acts."
    settles = ""
    if settles_to_cents is not None:
        settles = f" It settles to {cents(settles_to_cents)} once your hand has gone."
    return f"{first}{settles} Why: {reason}."


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


def does_not_converge(visits: int) -> str:
    """As many visits as were agreed to, and it is not there."""
    return (
        f"After {visits} visits it does not come together. What was learned is kept. Let it warm"
        " up, look at its trimmers and contacts, and go on then."
    )


def jumped_alone() -> str:
    """Base jumped while no hand was there."""
    return (
        "Every note jumped alike while nobody was at it: a knob was touched, or a contact is bad."
    )


def bad_contact(trimmer: Trimmer, size_cents: float) -> str:
    """A trimmer jumps to and fro, whichever way it is turned."""
    return (
        f"The {trimmer.name} jumps by about {size_cents:.0f} cents to and fro: its contact is bad."
        " Clean it, or leave it in the middle of a quiet stretch."
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

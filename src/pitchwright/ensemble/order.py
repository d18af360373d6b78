"""In which order to trim: whatever moves others comes before what it moves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pitchwright.ensemble.outputs import Feed, Output
from pitchwright.ensemble.whose import SCALE, Whose
from pitchwright.ensemble.words import and_all, owner
from pitchwright.tracking.coverage import expanded_u

__all__ = ["Turn", "order"]

_NOT_WORTH = 0.3
"""Less than this per octave is left alone at a source."""


@dataclass(frozen=True, slots=True)
class Turn:
    """One thing to trim, in its place.

    Attributes
    ----------
    kind
        “source”, “shared output”, “output”, “leader”, “follower” or “measure”.
    name
        What to trim, or measure.
    sentence
        What to do and why now.
    """

    kind: str
    name: str
    sentence: str


def order(
    feeds: Sequence[Feed], outputs: Sequence[Output], leader: str, whose: Whose | None = None
) -> tuple[Turn, ...]:
    """Put sources first, then shared outputs, each one's output, the leader, the followers.

    Parameters
    ----------
    feeds
        What every oscillator is to be fed from.
    outputs
        The trimmable outputs.
    leader
        The oscillator that the others follow.
    whose
        Whose error it is, where that was asked.
    """
    turns = list(_sources(whose)) if whose is not None else []
    # What is given to one oscillator from now on is shared no more.
    given = {feed.output for feed in feeds}
    turns += [
        Turn(
            "shared output",
            output.name,
            f"Output {output.name}: it feeds {and_all(list(output.feeds))}, so its trim comes "
            "before anything of theirs.",
        )
        for output in outputs
        if len(output.feeds) > 1 and output.name not in given
    ]
    first = [feed for feed in feeds if feed.oscillator == leader]
    others = sorted(
        (feed for feed in feeds if feed.oscillator != leader),
        # Those that will not make it come last: nothing else waits for them.
        key=lambda feed: (not feed.within, feed.left_cents),
    )
    for feed in [*first, *others]:
        if feed.output and abs(feed.output_cents_per_oct) >= 0.005:
            amount = f"{feed.output_cents_per_oct:+.2f}".replace("-", "−")
            turns.append(
                Turn(
                    "output",
                    feed.output,
                    f"Output {feed.output}: {amount} cents per octave, for {feed.oscillator}.",
                )
            )
        if feed.oscillator == leader:
            turns.append(
                Turn("leader", leader, f"{leader}: everyone else is trimmed to it, so it is first.")
            )
        else:
            end = "" if feed.within else f"; expect {feed.left_cents:.1f} cents to be left"
            turns.append(
                Turn(
                    "follower",
                    feed.oscillator,
                    f"{feed.oscillator}: to {owner(leader)} curve{end}.",
                )
            )
    return tuple(turns)


def _sources(whose: Whose) -> list[Turn]:
    turns = []
    for source in whose.sources:
        own = whose.figure("own", SCALE, source)
        if own.amount is None or own.u is None:
            turns.append(
                Turn(
                    "measure",
                    source,
                    f"{source}: find out first whether it is off itself; trimming oscillators to "
                    "a wrong source has to be done again.",
                )
            )
        elif abs(own.amount) > max(_NOT_WORTH, expanded_u(own.u)):
            way = "narrower" if own.amount > 0.0 else "wider"
            turns.append(
                Turn(
                    "source",
                    source,
                    f"{source}: {abs(own.amount):.1f} cents per octave {way}; it moves everything "
                    "it feeds, so it comes first.",
                )
            )
    return turns

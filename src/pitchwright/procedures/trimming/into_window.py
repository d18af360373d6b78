"""Watching turns at one aim until one stops inside its window, or none will."""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pitchwright.errors import InputError
from pitchwright.procedures import sentences
from pitchwright.procedures.requests import (
    Answer,
    Ended,
    Request,
    Tell,
    TurnWatched,
    WatchTurn,
    expect,
)
from pitchwright.procedures.trimming.reading import jumped_at_rest
from pitchwright.procedures.trimming.state import Trimming
from pitchwright.trim.aim import best_amounts
from pitchwright.trim.happened import Happened
from pitchwright.trim.live_track import at_rest_cents, steps_about, went_wrong_way
from pitchwright.trim.plan import Next

__all__ = ["Aim", "Rested", "into_window"]

Array = NDArray[np.float64]

_MOST_NUDGES = 9
_SAID_CENTS = 0.15
_SMALL_CENTS, _MOST_DOUBLED = 4.0, 3
_END_CENTS, _END_TURNS = 1.5, 0.25
_MOVED_CENTS = 0.6
"""Less than this may be drift: nothing moved."""


@dataclass(frozen=True, slots=True)
class Aim:
    """One aim as it is asked for at the turning note.

    Attributes
    ----------
    todo
        The visit it belongs to.
    index
        Note to turn at, counted in all notes of the belief.
    start_cents, shift_cents
        The reading now, and what it must change by.
    shape
        Change of the reading there for one unit of the trimmer.
    window_cents
        Half width that will do.
    probe
        Whether it is only to show how the trimmer acts.
    first
        Whether the screwdriver has just gone in.
    beyond_cents
        How much of the aim is taken back once the hand has gone.
    """

    todo: Next
    index: int
    start_cents: float
    shift_cents: float
    shape: float
    window_cents: float
    probe: bool
    first: bool
    beyond_cents: float = 0.0

    @property
    def goes_with_drift(self) -> bool:
        """Whether drift moves the aim too: it is a change that counts, and base comes after."""
        kind = self.todo.lever.trimmer.trimmer_kind
        after = (rest.trimmer.trimmer_kind.is_base for rest in self.todo.rest)
        return not kind.is_base and any(after)

    @property
    def amount(self) -> float:
        """The change of the trimmer, in the unit of its kind."""
        return self.shift_cents / self.shape


@dataclass(frozen=True, slots=True)
class Rested:
    """What was seen of the turns at one aim.

    Attributes
    ----------
    first, last
        The first and the last of them.
    turned
        Turns of the screwdriver in all, clockwise positive, None where not known.
    wrong_way
        Whether it first went the other way than was told.
    """

    first: TurnWatched
    last: TurnWatched
    turned: float | None
    wrong_way: bool = False


def into_window(state: Trimming, asked: Aim) -> Generator[Request, Answer, Rested]:
    """Watch turns at one aim until one stops inside its window, or none will."""
    index, shape = asked.index, asked.shape
    acting = state.acting[asked.todo.lever.trimmer.name]
    trimmer = acting.trimmer
    notes = state.belief.notes
    note, cv_v = float(notes.note[index]), float(notes.cv_v[index])
    start = here = asked.start_cents
    aim = start + asked.shift_cents
    window = asked.window_cents
    rest = list(asked.todo.rest)
    greatest = best_amounts(state.curve()[0] + asked.amount * asked.todo.lever.shape, rest)[1]
    reason = sentences.reason_of(trimmer, asked.amount, greatest, more=bool(rest))
    watched: list[TurnWatched] = []
    turned: float | None = 0.0
    other_way = told_coarse = False
    still = 0
    tracks: list[Array] = []
    for nudge in range(_MOST_NUDGES + 1):
        state.turns += 1
        slack = max(3.0, 0.25 * abs(aim - here))
        wanted = (aim - here) / shape
        sense = acting.raises_clockwise
        clockwise = None if sense is None else (wanted > 0.0) == sense
        most = acting.most_turns(wanted)
        if most is None and asked.probe:
            most = 2.0 ** min(state.small_probes[trimmer.name], _MOST_DOUBLED)
        per_turn = acting.effect_per_turn
        turns = None if per_turn is None else wanted / per_turn
        beyond = abs(asked.beyond_cents) > _SAID_CENTS and not asked.probe
        settles_to = aim - asked.beyond_cents if beyond else None
        caution = trimmer.inside and asked.first and not nudge
        request = WatchTurn(
            oscillator=state.settings.oscillator,
            trimmer=trimmer.name,
            visit=state.visit,
            turn=state.turns,
            note=note,
            cv_v=cv_v,
            tuned_hz=float(notes.tuned_hz[index]),
            start_cents=here,
            aim_cents=aim,
            window_cents=window,
            low_cents=min(here, aim) - slack,
            high_cents=max(here, aim) + slack,
            most_turns=most,
            clockwise=clockwise,
            probe=asked.probe,
            sentence=sentences.turn(
                trimmer,
                note,
                aim,
                window,
                clockwise,
                probe=asked.probe,
                nudge=nudge > 0,
                turns=turns,
                most_turns=most,
                settles_to_cents=settles_to,
                reason=reason,
            ),
            turns=turns,
            settles_to_cents=settles_to,
            caution=sentences.CAUTION_INSIDE if caution else "",
        )
        got = expect((yield request), TurnWatched)
        _check(state, got, trimmer.name)
        watched.append(got)
        track = np.array([point.cents for point in got.track])
        tracks.append(track)
        stood = state.stood(index, got) if nudge == 0 else None
        began = here if stood is None else stood.cents
        if stood is not None and asked.goes_with_drift:
            drifted = began - start
            if abs(drifted) > max(window, 4.0 * stood.u_cents):
                # It drifted while the screwdriver went in, or the trim was interrupted here.
                start, aim = began, aim + drifted
        reached = state.cents(got.after, index)
        moved = reached - here
        turned = None if turned is None or got.turned is None else turned + got.turned
        if abs(aim - began) > 1.0 and len(track):
            away = went_wrong_way(track, began, aim)
            if away and clockwise is not None and not acting.guessed and not other_way:
                # Where nobody knew the way half of all first turns go the other: nobody's fault.
                other_way = True
            if got.turned is None and abs(reached - began) > 1.0:
                raised = bool((aim - began) / shape > 0.0) != bool(away)
                acting = acting.went(raised, towards=not away)
                state.acting[trimmer.name] = acting
        if asked.probe and abs(reached - start) < _SMALL_CENTS:
            state.small_probes[trimmer.name] += 1  # a turn that moves so little tells little
        short = aim - reached
        here = reached
        yield from jumped_at_rest(state, trimmer, at_rest_cents(track, reached))
        if abs(short) <= window or got.ended is Ended.LIMIT or asked.probe:
            break
        if nudge == 0 and got.ended is Ended.STILL and abs(reached - start) < _MOVED_CENTS:
            break  # nothing moved here: the far note tells why
        stands = got.ended is Ended.STILL and abs(moved) < _MOVED_CENTS
        steps = None if told_coarse or stands else steps_about(tracks, aim)
        if steps is not None and abs(steps.nearest_cents - aim) > window + 0.05:
            told_coarse = True
            trimmer = replace(trimmer, resolution_cents=steps.size_cents)
            acting = replace(acting, trimmer=trimmer)
            state.acting[trimmer.name] = acting
            window = abs(steps.nearest_cents - aim) + 0.2
            size, off = steps.size_cents, steps.nearest_cents - aim
            said = sentences.too_coarse(trimmer, size, off)
            yield Tell(Happened.TOO_COARSE, said)
            if abs(short) <= window:
                break
        if got.ended is Ended.STILL:
            # A nudge within the play of the screw moves nothing either: an end is where a turn
            # that was long enough does nothing, twice, and the aim is still far.
            far = abs(short) > max(_END_CENTS, 3.0 * window)
            long = got.turned is None or abs(got.turned) > _END_TURNS
            still = still + 1 if stands and far and long else still
            if still >= 2 and abs(reached - start) > _MOVED_CENTS:
                state.still[trimmer.name] = int(np.sign(short / shape))
                break
            continue
        if abs(short) < 0.1:
            break
    return Rested(watched[0], watched[-1], turned, other_way)


def _check(state: Trimming, got: TurnWatched, name: str) -> None:
    heard = got.after
    if heard.f_hz is None or not 0.0 < heard.f_hz < 1e6 or not heard.u_cents > 0.0:
        raise InputError(
            f"After {name} was turned no pitch could be read",
            state.settings.oscillator,
            "Check that it still sounds, then go on from here",
        )
    if heard.t_s < state.belief.t_s - 1e-6:
        raise InputError("A reading is older than the one before it", do="Go on from the events")

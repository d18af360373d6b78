"""What a stand-in can be told on a line, and what it answers.

==================================== ==========================================================
line                                 what it does
==================================== ==========================================================
``turn "scale trimmer" 0.3``         turns a trimmer of the first oscillator, clockwise positive
``turn Wren "scale trimmer" -1``     the same of the oscillator named
``bring Heron "scale trimmer" 440``  a hand turns it until the pitch is 440 Hz
``bring Heron``                      the hand stops where it is
``bump Heron 5``                     knocks its base knob by so many cents
``loud Heron 0 20 50``               its level times 0 where it plays from 20 to 50 Hz
``loud Heron``                       as loud as it was
``mix Heron 4``                      a second tone four semitones above in its channel
``mix Heron``                        one tone again
``play C4``                          somebody presses a key of the source; ``play 60`` is the same
``release``                          the key is let go (the voltage stays, as keyboards hold it)
``voltmeter``                        the voltage that comes in, in volts
``truth``, ``truth 0 2.5 5``         frequencies now, or at these voltages, and the trimmers
``quit``                             the end
==================================== ==========================================================

Every answer is one line of JSON: ``{"done": …}``, ``{"refused": sentence}``, or what was asked.
"""

from __future__ import annotations

import json
import math
import shlex
from collections.abc import Callable
from dataclasses import asdict
from typing import Any, Protocol

from pitchwright.errors import InputError
from pitchwright.practice.stand_in import Loudness, StandIn
from pitchwright.trim.kinds import TrimmerKind
from pitchwright.units import note_name, parse_note

__all__ = ["Keys", "answer"]

_MOST_TURNS = 12.0


class Keys(Protocol):
    """What plays the stand-in beside the voltage: its own keyboard and MIDI."""

    def press(self, note: int) -> None:
        """A key goes down."""

    def release(self) -> None:
        """All keys go up."""

    def held(self) -> tuple[int, ...]:
        """Notes that are down now, MIDI included."""


def answer(line: str, stand_in: StandIn, keys: Keys) -> str:
    """Do what a line says; what to answer, one line of JSON."""
    try:
        words = shlex.split(line)
        if not words:
            raise InputError("Nothing was said", do=f"Say one of: {', '.join(sorted(_ORDERS))}")
        order = _ORDERS.get(words[0])
        if order is None:
            raise InputError(
                f"A stand-in does not know “{words[0]}”",
                do=f"Say one of: {', '.join(sorted(_ORDERS))}",
            )
        return json.dumps(order(words[1:], stand_in, keys), ensure_ascii=False)
    except InputError as refused:
        return json.dumps({"refused": refused.sentence}, ensure_ascii=False)
    except ValueError as fault:
        return json.dumps({"refused": f"The line cannot be read: {fault}."}, ensure_ascii=False)


def _turn(words: list[str], stand_in: StandIn, keys: Keys) -> Any:
    del keys
    if len(words) == 2:
        words = [stand_in.rig.voices[0].oscillator.name, *words]
    name, trimmer, turns = _exactly(words, 3, 'turn [NAME] "TRIMMER" TURNS')
    stand_in.turn(name, _kind(trimmer, stand_in.trimmer_kinds(name)), _number(turns))
    return {"done": "turn"}


def _bring(words: list[str], stand_in: StandIn, keys: Keys) -> Any:
    del keys
    if len(words) == 1:
        stand_in.hands_off(words[0])
    else:
        name, trimmer, f_hz = _exactly(words, 3, 'bring NAME ["TRIMMER" HERTZ]')
        kind = _kind(trimmer, stand_in.trimmer_kinds(name))
        stand_in.bring(name, kind, _number(f_hz), _MOST_TURNS)
    return {"done": "bring"}


def _bump(words: list[str], stand_in: StandIn, keys: Keys) -> Any:
    del keys
    name, cents = _exactly(words, 2, "bump NAME CENTS")
    stand_in.bump(name, _number(cents))
    return {"done": "bump"}


def _loud(words: list[str], stand_in: StandIn, keys: Keys) -> Any:
    del keys
    if len(words) == 1:
        stand_in.louder(words[0], None)
    else:
        name, *figures = _exactly(words, 4, "loud NAME [FACTOR LOW_HZ HIGH_HZ]")
        stand_in.louder(name, Loudness(*(_number(figure) for figure in figures)))
    return {"done": "loud"}


def _mix(words: list[str], stand_in: StandIn, keys: Keys) -> Any:
    del keys
    if len(words) == 1:
        stand_in.mix(words[0], None)
    else:
        name, semitones = _exactly(words, 2, "mix NAME [SEMITONES]")
        stand_in.mix(name, _number(semitones))
    return {"done": "mix"}


def _play(words: list[str], stand_in: StandIn, keys: Keys) -> Any:
    del stand_in
    (note,) = _exactly(words, 1, "play NOTE")
    keys.press(parse_note(note))
    return {"done": "play"}


def _release(words: list[str], stand_in: StandIn, keys: Keys) -> Any:
    del words, stand_in
    keys.release()
    return {"done": "release"}


def _voltmeter(words: list[str], stand_in: StandIn, keys: Keys) -> Any:
    del words, keys
    return {"volts": stand_in.cv_v}


def _truth(words: list[str], stand_in: StandIn, keys: Keys) -> Any:
    truths = stand_in.truth(tuple(_number(word) for word in words))
    return {
        "t_s": stand_in.t_s,
        "cv_v": stand_in.cv_v,
        "held": [note_name(note) for note in keys.held()],
        "oscillators": [asdict(truth) for truth in truths],
    }


def _quit(words: list[str], stand_in: StandIn, keys: Keys) -> Any:
    del words, stand_in, keys
    return {"done": "quit"}


_ORDERS: dict[str, Callable[[list[str], StandIn, Keys], Any]] = {
    "turn": _turn,
    "bring": _bring,
    "bump": _bump,
    "loud": _loud,
    "mix": _mix,
    "play": _play,
    "release": _release,
    "voltmeter": _voltmeter,
    "truth": _truth,
    "quit": _quit,
}


def _exactly(words: list[str], count: int, form: str) -> list[str]:
    if len(words) != count:
        raise InputError(f"Say it as: {form}")
    return words


def _number(word: str) -> float:
    try:
        number = float(word)
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise InputError(f"“{word}” is not a number")
    return number


def _kind(trimmer: str, having: tuple[TrimmerKind, ...]) -> TrimmerKind:
    for kind in having:
        if trimmer.casefold() in (kind.entry.called.casefold(), str(kind).casefold()):
            return kind
    names = ", ".join(kind.entry.called for kind in having) or "none"
    raise InputError(f"There is no trimmer called “{trimmer}”", do=f"There are: {names}")

"""Notes sent ahead: each held long enough, none skipped, and the rest given back."""

from __future__ import annotations

import time

import pytest

from pitchwright.bench.live.ahead import Ahead
from pitchwright.bench.live.notes import Sent
from pitchwright.bench.stop import Stop, StopAsked
from pitchwright.errors import InputError

FIRST = Sent(60.0, 3.0, 0.0)
NOTES = [(62.0, 3.2), (64.0, 3.4), (65.0, 3.5)]


class Player:
    """Writes down what it was told; may be gone from some note on."""

    name, alive = "a player", True

    def __init__(self, gone_at: float | None = None) -> None:
        self.played: list[tuple[float, float]] = []
        self._gone_at = gone_at

    def play(self, note: float, cv_v: float) -> float:
        del cv_v
        if note == self._gone_at:
            raise InputError("The player is gone")
        self.played.append((note, time.monotonic()))
        return self.played[-1][1]

    def silence(self) -> None:
        """Nothing sounds."""

    def reopen(self) -> None:
        """Nothing to open."""

    def close(self) -> None:
        """Nothing to close."""


def test_each_is_held_and_taken_in_order() -> None:
    player = Player()
    first = Sent(60.0, 3.0, time.monotonic())
    ahead = Ahead(player, NOTES, lambda note: 0.05 if note == 60.0 else 0.1, first, Stop())
    taken = []
    for note, _ in NOTES:
        assert ahead.waits_for(note)
        assert not ahead.waits_for(61.0)
        taken.append(ahead.take())
    assert [one.note for one in taken] == [62.0, 64.0, 65.0]
    assert taken[0].t_s - first.t_s >= 0.05
    assert taken[1].t_s - taken[0].t_s >= 0.1
    assert ahead.gave_way_s() == float("inf")
    assert not ahead.waits_for(65.0)
    assert ahead.stop() == []


def test_stopping_gives_back_what_was_not_taken_though_it_was_sent() -> None:
    player = Player()
    ahead = Ahead(player, NOTES, lambda _: 0.01, FIRST, Stop())
    assert ahead.take().note == 62.0
    until_s = time.monotonic() + 60.0
    while len(player.played) < 3 and time.monotonic() < until_s:
        time.sleep(0.005)
    assert ahead.gave_way_s() == player.played[1][1]
    assert ahead.stop() == NOTES[1:]


def test_a_player_that_is_gone_is_told_where_the_note_is_taken() -> None:
    ahead = Ahead(Player(gone_at=64.0), NOTES, lambda _: 0.0, FIRST, Stop())
    assert ahead.take().note == 62.0
    with pytest.raises(InputError, match="gone"):
        ahead.take()
    assert ahead.stop() == NOTES[1:]


def test_a_stop_ends_the_wait_for_a_note_that_is_not_due_yet() -> None:
    stop = Stop()
    ahead = Ahead(Player(), NOTES, lambda _: 60.0, Sent(60.0, 3.0, time.monotonic()), stop)
    stop.ask()
    with pytest.raises(StopAsked):
        ahead.take()
    assert ahead.stop() == NOTES

"""The feed: the last seconds of live readings, for any number of screens."""

from __future__ import annotations

import json
import tracemalloc

from pitchwright.web.feed import SHOWN_S, Feed


def test_each_screen_gets_what_is_new_to_it() -> None:
    feed = Feed()
    feed.add(1.0, 5.0)
    feed.add(1.05, 4.0)
    first = feed.since(0)
    assert first["points"] == [[1.0, 5.0], [1.05, 4.0]]
    assert feed.since(first["n"])["points"] == []
    feed.add(1.1, 3.0)
    assert feed.since(first["n"])["points"] == [[1.1, 3.0]]
    assert len(feed.since(0)["points"]) == 3


def test_what_is_too_old_to_be_shown_is_gone() -> None:
    feed = Feed()
    for step in range(1000):
        feed.add(0.05 * step, 0.0)
    points = feed.since(0)["points"]
    assert points[0][0] >= points[-1][0] - SHOWN_S - 1e-3


def test_another_turn_begins_anew() -> None:
    feed = Feed()
    feed.add(1.0, 5.0)
    before = feed.since(0)
    feed.begin()
    after = feed.since(0)
    assert after["points"] == []
    assert after["turn"] == before["turn"] + 1


def test_what_is_sent_is_json_and_small() -> None:
    feed = Feed()
    feed.add(12345.6789012, -1.23456789)
    feed.rest(0.25)
    assert len(json.dumps(feed.since(0))) < 120
    assert feed.since(0)["rest"] == 0.25


def test_hours_of_readings_take_no_more_room_than_seconds() -> None:
    feed = Feed()
    for step in range(2_000):
        feed.add(0.05 * step, 0.0)
    tracemalloc.start()
    for step in range(2_000, 40_000):
        feed.add(0.05 * step, 0.0)
    grown, _ = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert grown < 100_000

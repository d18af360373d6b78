"""What is said aloud while a trimmer is turned."""

from __future__ import annotations

from itertools import pairwise

from pitchwright.web.plumb import Plumb
from pitchwright.web.spoken import Spoken


def heard(cents: list[float]) -> list[str]:
    plumb, spoken = Plumb(0.0, 0.5, cents[0]), Spoken()
    shown = plumb.take((i * 0.05, one) for i, one in enumerate(cents))
    return [said for one in shown if (said := spoken.after(one))]


def test_distances_are_called_out_on_the_way_and_the_stop() -> None:
    down = [24.0] * 20 + [24.0 - 0.15 * i for i in range(160)] + [0.1] * 40
    said = heard(down)
    assert said[0] == "That way."
    assert said[-1] == "Stop. Hold still."
    figures = [int(one) for one in said if one.isdigit()]
    assert figures == sorted(figures, reverse=True)
    assert {20, 10, 5} <= set(figures)


def test_the_wrong_way_is_said() -> None:
    assert "The other way." in heard([10.0] * 20 + [10.0 + 0.1 * i for i in range(40)])


def test_nothing_is_said_while_nothing_happens() -> None:
    assert heard([10.0, 10.1, 9.9] * 40) == []


def test_two_sayings_are_never_close_together() -> None:
    plumb, spoken = Plumb(0.0, 0.1, 40.0), Spoken()
    shown = plumb.take((i * 0.05, 40.0 - 2.0 * i) for i in range(20))
    times = [one.t_s for one in shown if spoken.after(one)]
    assert all(b - a > 0.85 for a, b in pairwise(times))

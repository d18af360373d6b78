from typing import Any

import numpy as np
import pytest

from pitchwright.trim.happened import Seen, bumped_meanwhile, weigh
from pitchwright.trim.kinds import TrimmerKind
from pitchwright.trim.pivot import PivotDensity

K = TrimmerKind
UNKNOWN = PivotDensity.unknown()


def seen(
    shift: Any, cv_v: Any = (5.0, 0.0), *, jump: Any = None, first: Any = True, u: Any = 0.06
) -> Any:
    cv = np.array(cv_v)
    high = -32.703 * 2.0**cv / 1000.0
    return Seen(cv, high, np.array(shift), u**2 * np.eye(len(cv)), jump, first)


@pytest.mark.parametrize("pivot_v", [-1.0, 0.0, 2.0, 4.0, 7.5])
def test_one_sizeable_turn_fixes_the_pivot(pivot_v: Any) -> None:
    amount = 4.0
    shift = [amount * (5.0 - pivot_v), amount * (0.0 - pivot_v)]
    weighed = weigh(seen(shift), K.SCALE, UNKNOWN, (K.BASE_FINE,))
    assert weighed.wrong is None
    assert weighed.pivot.best_v == pytest.approx(pivot_v, abs=0.05)
    assert weighed.pivot.is_spike == (pivot_v == 0.0)


def test_base_turned_instead_of_scale() -> None:
    weighed = weigh(seen([9.0, 9.05]), K.SCALE, UNKNOWN, (K.BASE_FINE,))
    assert weighed.wrong == K.BASE_FINE
    assert weighed.pivot is UNKNOWN


def test_scale_turned_instead_of_base() -> None:
    assert weigh(seen([9.0, 0.02]), K.BASE_FINE, UNKNOWN, (K.SCALE,)).wrong == K.SCALE


def test_high_end_needs_a_third_note() -> None:
    cv_v = (5.0, 0.0, 3.0)
    shift = 10.0 * 2.0 ** (np.array(cv_v) - 5.0)
    others = (K.BASE_FINE, K.HIGH_END)
    assert weigh(seen(shift, cv_v), K.SCALE, UNKNOWN, others).wrong == K.HIGH_END


def test_nothing_moved() -> None:
    weighed = weigh(seen([0.1, -0.05]), K.SCALE, UNKNOWN, (K.BASE_FINE,))
    assert not weighed.moved
    assert weighed.wrong is None


def test_bump_with_a_known_pivot() -> None:
    known = PivotDensity.near(2.0, 0.02)
    clean = weigh(seen([9.0, -6.0]), K.SCALE, known, ())
    bumped = weigh(seen([9.0 + 5.0, -6.0 + 5.0]), K.SCALE, known, ())
    assert bumped_meanwhile(clean.pivot, [clean]) < 0.05
    assert bumped_meanwhile(bumped.pivot, [bumped]) > 0.5


def test_bump_in_the_first_turn_comes_out_in_the_second() -> None:
    first = weigh(seen([10.0 + 4.0, 4.0]), K.SCALE, UNKNOWN, ())
    assert bumped_meanwhile(first.pivot, [first]) < 0.5
    second = weigh(seen([20.0, 0.0], first=False), K.SCALE, first.pivot, ())
    assert bumped_meanwhile(second.pivot, [first, second]) > 0.95


def test_a_jump_in_the_track_of_the_size_of_the_shift_tells_at_once() -> None:
    weighed = weigh(seen([10.0 + 4.0, 4.0], jump=4.1), K.SCALE, UNKNOWN, ())
    assert bumped_meanwhile(weighed.pivot, [weighed]) > 0.5
    assert weighed.pivot.is_spike


def test_a_small_jump_is_the_play_of_the_screw_and_a_large_one_a_knock() -> None:
    """The same story of two notes: 0 V has moved by just as much as the track jumped."""
    chance = {}
    for jump in (-1.6, -9.0):
        weighed = weigh(seen([15.0 + jump, jump], jump=jump), K.SCALE, UNKNOWN, ())
        chance[jump] = bumped_meanwhile(weighed.pivot, [weighed])
    assert chance[-1.6] < 0.5
    assert chance[-9.0] > 0.9

"""The instrument at a glance."""

import pytest

from pitchwright.ensemble import overview
from pitchwright.errors import InputError
from pitchwright.tracking import CurveEntry
from pitchwright.units import cv_of_note, note_to_hz, ratio_of_cents

NOTES = (36, 48, 60, 72, 84)


def curve(*cents: float, notes: tuple[int, ...] = NOTES, u: float = 0.05) -> list[CurveEntry]:
    return [
        CurveEntry(n, cv_of_note(n), note_to_hz(n) * ratio_of_cents(c), c, u)
        for n, c in zip(notes, cents, strict=True)
    ]


FLAT = curve(0.0, 0.0, 0.0, 0.0, 0.0)
WIDE = curve(-4.0, -2.0, 0.0, 2.0, 4.0)
BENT = curve(1.0, 0.0, 1.0, 0.0, 1.0)


def test_beats_are_differences_of_frequencies() -> None:
    found = overview({"Heron": FLAT, "Wren": WIDE}, 1.0)
    (pair,) = found.pairs
    assert pair.worst_note == 84
    assert pair.worst_hz == pytest.approx(note_to_hz(84) * (ratio_of_cents(4.0) - 1.0))
    assert pair.closest_note == 60
    assert pair.closest_hz == 0.0
    assert pair.cents == pytest.approx((4.0, 2.0, 0.0, -2.0, -4.0))
    assert pair.u_cents == pytest.approx((0.05 * 2.0**0.5,) * 5)
    assert found.sentences[0].startswith("Farthest apart: Heron and Wren at C6, 4.0 ± 0.1 cents")


def test_the_common_reference_is_half_way_and_the_reach_is_about_it() -> None:
    found = overview({"Heron": curve(3.0, 3.0, 3.0, 3.0, 3.0), "Wren": curve(4, 4, 4, 4, 7)}, 1.0)
    assert found.reference_cents == pytest.approx(5.0)
    assert found.reference_hz == pytest.approx(440.0 * ratio_of_cents(5.0))
    assert found.left_cents == pytest.approx(2.0)
    assert found.reach.low is None
    wider = overview({"Heron": FLAT, "Wren": curve(0, 0, 0, 0.5, 3.0)}, 2.0)
    assert (wider.reach.low, wider.reach.high) == (36, 84)
    narrow = overview({"Heron": FLAT, "Wren": curve(0.5, 0.5, 0.5, 0.5, -1.9)}, 1.0)
    assert (narrow.reach.low, narrow.reach.high) == (None, None)


def test_the_leader_is_whom_the_others_can_follow() -> None:
    found = overview({"Heron": FLAT, "Wren": WIDE, "Plover": BENT}, 1.0)
    # Heron and Wren follow each other exactly; the bent one costs half a cent either way.
    assert found.leader == "Heron"
    by_name = {follower.name: follower for follower in found.followers}
    assert by_name["Wren"].left_cents == pytest.approx(0.0, abs=1e-9)
    assert by_name["Wren"].scale_cents_per_oct == pytest.approx(-2.0, abs=1e-6)
    assert by_name["Plover"].left_cents == pytest.approx(0.5, abs=1e-9)


def test_only_notes_that_all_have_count_for_all() -> None:
    found = overview({"Heron": FLAT, "Wren": curve(1.0, 1.0, notes=(48, 50))}, 5.0)
    assert found.common_notes == (48,)
    assert found.pairs[0].notes == (48,)


def test_what_is_no_ensemble() -> None:
    with pytest.raises(InputError, match="no ensemble"):
        overview({"Heron": FLAT}, 1.0)
    with pytest.raises(InputError, match="share no measured note"):
        overview({"Heron": FLAT, "Wren": curve(0.0, notes=(37,))}, 1.0)

"""What is no patch is refused with a sentence that says where."""

import math

import pytest

from pitchwright.errors import InputError
from pitchwright.route import (
    Attenuator,
    BufferedMultiple,
    Oscillator,
    Part,
    PassiveMultiple,
    Patch,
    Source,
)

LOFT = Source("Loft", 1000.0)
HERON = Oscillator("Heron", "Loft", 100_000.0)


@pytest.mark.parametrize("ohm", [0.0, -5.0, math.nan, math.inf])
def test_impedances_must_be_above_zero(ohm: float) -> None:
    for part in (
        Oscillator("Heron", "Loft", ohm),
        BufferedMultiple("copies", "Loft", ohm, 1000.0),
        BufferedMultiple("copies", "Loft", 1000.0, ohm),
        Attenuator("half", "Loft", ohm, 0.5),
    ):
        with pytest.raises(InputError, match=rf"{part.name}, .*_ohm: An impedance .* cannot be"):
            Patch((LOFT, HERON, part) if part.name != "Heron" else (LOFT, part))
    with pytest.raises(InputError, match="source Loft, output_ohm"):
        Patch((Source("Loft", ohm), HERON))


def test_a_loop_is_named_part_by_part() -> None:
    parts: tuple[Part, ...] = (
        LOFT,
        HERON,
        PassiveMultiple("one", "two"),
        BufferedMultiple("two", "one", 1e5, 1e3),
    )
    with pytest.raises(InputError, match="loop: one is fed from two is fed from one"):
        Patch(parts)
    with pytest.raises(InputError, match="loop: one is fed from one"):
        Patch((LOFT, HERON, PassiveMultiple("one", "one")))


@pytest.mark.parametrize(
    ("parts", "says"),
    [
        ((LOFT,), "no oscillator in this patch"),
        ((LOFT, Oscillator("Heron", "Attic", 1e5)), "no part called “Attic”"),
        ((LOFT, HERON, HERON), "Heron is used more than once"),
        ((LOFT, HERON, Oscillator("Wren", "Heron", 1e5)), "passes no control voltage on"),
        ((LOFT, Oscillator(" ", "Loft", 1e5)), "has no name"),
        ((LOFT, HERON, Attenuator("half", "Loft", 1e5, 0.0)), "position of 0 cannot be"),
        ((LOFT, HERON, Attenuator("half", "Loft", 1e5, 1.2)), "position of 1.2 cannot be"),
        ((Source("Loft", 1e3, gain_error=-1.0), HERON), "no voltage is left"),
        ((Source("Loft", 1e3, offset_v=math.nan), HERON), "Not a number"),
    ],
)
def test_what_is_no_patch_is_refused(parts: tuple[Part, ...], says: str) -> None:
    with pytest.raises(InputError, match=says):
        Patch(parts)


def test_the_way_runs_from_the_source() -> None:
    patch = Patch((Oscillator("Heron", "split", 1e5), PassiveMultiple("split", "Loft"), LOFT))
    assert patch.way_to("Heron") == ("Loft", "split", "Heron")
    assert [part.name for part in patch.fed_by("split")] == ["Heron"]
    assert LOFT.open_v(60) == pytest.approx(3.0)
    odd = Source("Loft", 1e3, gain_error=0.01, offset_v=0.002, step_error_v={60: 0.001})
    assert odd.open_v(60) == pytest.approx(3.03 + 0.003)
    assert odd.open_v(60.5) == pytest.approx((3.0 + 0.5 / 12) * 1.01 + 0.002)

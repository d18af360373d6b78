"""What can be told is told with its uncertainty, and what cannot is said to be so."""

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pitchwright.ensemble import (
    Evidence,
    Known,
    Meter,
    Sweep,
    Voltage,
    Whose,
    advise,
    whose_error,
)
from pitchwright.errors import InputError
from pitchwright.tracking import Point
from pitchwright.units import cv_of_note, note_to_hz, ratio_of_cents

FIVE_OCTAVES = tuple(range(24, 85, 6))
Curve = Callable[[float], float]


def line(scale: float, droop: float = 0.0) -> Curve:
    return lambda note: scale * cv_of_note(note) + droop * note_to_hz(note) / 1000.0


def sweep(
    oscillator: tuple[str, Curve],
    source: tuple[str, Curve],
    notes: Sequence[float] = FIVE_OCTAVES,
    u_cents: float = 0.05,
    *,
    base: float = 0.0,
    again: bool = True,
) -> Sweep:
    """A survey without noise: what comes out can be compared exactly."""
    order = [*notes, notes[0], notes[-1]] if again else list(notes)
    points = tuple(
        Point(
            note,
            cv_of_note(note),
            note_to_hz(note) * ratio_of_cents(base + oscillator[1](note) + source[1](note)),
            u_cents,
            2.0 * count,
        )
        for count, note in enumerate(order)
    )
    return Sweep(oscillator[0], source[0], points)


def all_through(sources: dict[str, Curve], oscillators: dict[str, Curve], **how: float) -> Evidence:
    return Evidence(
        tuple(
            sweep(oscillator, source, base=3.0 * n, **how)  # type: ignore[arg-type]
            for n, (oscillator, source) in enumerate(
                (o, s) for s in sources.items() for o in oscillators.items()
            )
        )
    )


FOUR = {"Heron": line(1.0), "Wren": line(1.2), "Plover": line(0.9), "Dunlin": line(1.1)}
LOFT = {"Loft": line(-7.12)}


def told(whose: Whose, what: str, *names: str) -> float:
    figure = whose.figure(what, "scale", *names)
    assert figure.amount is not None
    assert figure.u is not None
    return figure.amount


def test_sums_and_differences_are_told_parts_are_not() -> None:
    whose = whose_error(all_through(LOFT, FOUR))
    assert told(whose, "together", "Heron", "Loft") == pytest.approx(-6.12, abs=1e-6)
    assert told(whose, "apart", "Wren", "Plover") == pytest.approx(0.3, abs=1e-6)
    for name in (*FOUR, "Loft"):
        assert not whose.figure("own", "scale", name).told
        assert not whose.figure("own", "droop", name).told
    assert whose.sentences[0].startswith(
        "Through Loft all four are 6.1 ± 0.1 cents per octave flat"
    )
    assert whose.sentences[0].endswith("Loft's gain or everyone's scale.")
    assert whose.sentences[1].startswith("Differences between them are known to ±0.")


@settings(max_examples=15)
@given(sources=st.integers(1, 3), oscillators=st.integers(1, 4))
def test_however_many_are_crossed_a_line_stays_common(sources: int, oscillators: int) -> None:
    whose = whose_error(
        all_through(
            {f"s{n}": line(float(n), 0.1 * n) for n in range(sources)},
            {f"o{n}": line(-2.0 * n, -1.0) for n in range(oscillators)},
        )
    )
    for figure in whose.figures:
        assert figure.told is (figure.what != "own")
    for one in range(sources):
        for other in range(one + 1, sources):
            expected = float(one - other)
            assert told(whose, "apart", f"s{one}", f"s{other}") == pytest.approx(expected, abs=1e-6)


def test_two_voltages_settle_a_straight_source() -> None:
    evidence = replace(
        all_through(LOFT, FOUR),
        voltages=tuple(
            Voltage("Loft", n, 0.004 + cv_of_note(n) * (1.0 - 7.12 / 1200.0)) for n in (24, 84)
        ),
        meter=Meter(0.001, 0.0),
        straight=("Loft",),
    )
    whose = whose_error(evidence)
    loft = whose.figure("own", "scale", "Loft")
    assert loft.amount == pytest.approx(-7.12, abs=1e-6)
    # 1 mV is 1.2 cents at each end of five octaves.
    assert loft.u == pytest.approx(1.2 * 2.0**0.5 / 5.0, rel=0.01)
    assert told(whose, "own", "Heron") == pytest.approx(1.0, abs=1e-6)
    assert whose.figure("own", "droop", "Loft").amount == 0.0
    assert any("Loft's own scale is 7.1 ± 0.7 cents per octave flat" in s for s in whose.sentences)
    assert not any("cannot be told" in s for s in whose.sentences)


def test_a_source_that_may_droop_needs_three() -> None:
    loft = line(-7.0, -0.2)

    def at(note: float) -> float:
        return cv_of_note(note) + loft(note) / 1200.0

    evidence = replace(all_through({"Loft": loft}, FOUR), meter=Meter(0.001, 0.0))
    two = replace(evidence, voltages=tuple(Voltage("Loft", n, at(n)) for n in (24, 84)))
    assert not whose_error(two).figure("own", "scale", "Loft").told
    three = replace(evidence, voltages=tuple(Voltage("Loft", n, at(n)) for n in (24, 60, 84)))
    whose = whose_error(three)
    assert told(whose, "own", "Loft") == pytest.approx(-7.0, abs=1e-6)
    assert whose.figure("own", "droop", "Loft").amount == pytest.approx(-0.2, abs=1e-6)


def test_a_meter_of_unknown_gain_settles_nothing_and_a_poor_one_little() -> None:
    evidence = replace(
        all_through(LOFT, FOUR),
        voltages=tuple(Voltage("Loft", n, cv_of_note(n)) for n in (24, 84)),
        straight=("Loft",),
    )
    assert not whose_error(evidence).figure("own", "scale", "Loft").told
    poor = whose_error(replace(evidence, meter=Meter(1e-5, 0.005)))
    assert poor.figure("own", "scale", "Loft").u == pytest.approx(6.0, rel=0.01)


def test_one_known_oscillator_settles_everyone() -> None:
    evidence = replace(
        all_through(LOFT, FOUR), known=(Known("Wren", 1.2, 0.1), Known("Loft", -7.12, 0.1))
    )
    whose = whose_error(evidence)
    assert told(whose, "own", "Heron") == pytest.approx(1.0, abs=1e-6)
    # Two opinions of the same thing: better than either.
    assert whose.figure("own", "scale", "Wren").u == pytest.approx(0.1 / 2.0**0.5, rel=0.1)


def test_what_no_survey_connects_cannot_be_compared() -> None:
    evidence = Evidence(
        (
            sweep(("Heron", line(1.0)), ("Loft", line(0.0))),
            sweep(("Wren", line(2.0)), ("Stairs", line(0.0))),
        )
    )
    whose = whose_error(evidence)
    assert whose.groups == (("Heron", "Loft"), ("Wren", "Stairs"))
    assert not whose.figure("apart", "scale", "Heron", "Wren").told
    assert any("No survey connects Heron and Loft with the others" in s for s in whose.sentences)
    assert any(extra.what == "connecting survey" for extra in advise(evidence))


def test_one_oscillator_alone_cannot_show_a_step() -> None:
    curve = lambda note: 4.0 if note == 48 else 0.0  # noqa: E731
    whose = whose_error(Evidence((sweep(("Heron", line(0.0)), ("Loft", curve)),)))
    assert whose.steps == ()
    assert whose.alone == ("Loft",)
    assert any("a step of Loft cannot be told" in s for s in whose.sentences)


def test_drift_is_taken_out_where_notes_come_back_and_said_where_not() -> None:
    def drifting(again: bool) -> Evidence:
        steady = sweep(("Heron", line(0.0)), ("Loft", line(0.0)), again=again)
        points = tuple(
            replace(point, f_hz=point.f_hz * ratio_of_cents(1.0 * point.t_s / 60.0))
            for point in steady.points
        )
        return Evidence((replace(steady, points=points),))

    assert told(whose_error(drifting(True)), "together", "Heron", "Loft") == pytest.approx(
        0.0, abs=1e-6
    )
    unseen = whose_error(drifting(False))
    wrong = told(unseen, "together", "Heron", "Loft")
    assert wrong == pytest.approx(unseen.drift_hides_cents_per_oct, rel=1e-3)
    assert any("No note was played twice" in s for s in unseen.sentences)


def test_advice_for_a_straight_source_is_two_notes_and_a_third_of_a_cent() -> None:
    evidence = replace(all_through(LOFT, FOUR), straight=("Loft",), meter=Meter(0.001))
    voltages, oscillator = advise(evidence)
    assert voltages.notes == (24.0, 84.0)
    assert voltages.u_cents_per_oct == pytest.approx(0.34, abs=0.005)
    assert voltages.needs_meter_gain
    assert "0.5 % would be 6 cents per octave" in voltages.sentence
    assert oscillator.what == "known oscillator"
    assert oscillator.u_cents_per_oct == pytest.approx(0.2, abs=0.02)


@pytest.mark.parametrize("straight", [(), ("Loft",)])
def test_the_advised_voltages_do_what_was_promised(straight: tuple[str, ...]) -> None:
    evidence = replace(all_through(LOFT, FOUR), straight=straight, meter=Meter(0.001, 0.0005))
    extra = advise(evidence)[0]
    assert not extra.needs_meter_gain
    made = tuple(Voltage("Loft", n, cv_of_note(n) * (1.0 - 7.12 / 1200.0)) for n in extra.notes)
    after = whose_error(replace(evidence, voltages=made))
    assert after.figure("own", "scale", "Loft").u == pytest.approx(extra.u_cents_per_oct)
    assert advise(replace(evidence, voltages=made)) == ()


def test_few_low_notes_tell_no_droop() -> None:
    evidence = Evidence((sweep(("Heron", line(2.0)), ("Loft", line(0.0)), (24, 36, 48)),))
    whose = whose_error(evidence)
    assert {figure.kind for figure in whose.figures} == {"scale"}
    assert told(whose, "together", "Heron", "Loft") == pytest.approx(2.0)


def test_wander_between_visits_widens_what_is_said() -> None:
    rng = np.random.default_rng(8)
    steady = sweep(("Heron", line(0.0)), ("Loft", line(0.0)), (*FIVE_OCTAVES,) * 6, 0.01)
    points = tuple(
        replace(point, f_hz=point.f_hz * ratio_of_cents(float(rng.normal(0.0, 0.3))))
        for point in steady.points
    )
    narrow = whose_error(Evidence((steady,))).figure("together", "scale", "Heron", "Loft").u
    wide = whose_error(Evidence((replace(steady, points=points),)))
    u = wide.figure("together", "scale", "Heron", "Loft").u
    assert narrow is not None
    assert u is not None
    assert u / narrow == pytest.approx(30.0, rel=0.25)


ONE = sweep(("Heron", line(0.0)), ("Loft", line(0.0)))


@pytest.mark.parametrize(
    ("evidence", "says"),
    [
        (Evidence(()), "no survey to compare"),
        (Evidence((ONE, sweep(("Wren", line(0.0)), ("Loft", line(0.0)), (25, 37)))), "no note"),
        (
            Evidence((ONE, sweep(("Wren", line(0.0)), ("Loft", line(0.0)), (24, 37)))),
            "share only one note",
        ),
        (Evidence((replace(ONE, points=()),)), "Heron through Loft: No reading can be used"),
        (Evidence((ONE,), voltages=(Voltage("Attic", 24, 0.0),)), "a voltage of Attic"),
        (Evidence((ONE,), known=(Known("Owl", 0.0, 0.1),)), "said of Owl"),
        (Evidence((ONE,), straight=("Attic",)), "said of Attic"),
        (Evidence((replace(ONE, source="Heron"),)), "as an oscillator and as a source"),
    ],
)
def test_what_makes_no_sense_is_refused(evidence: Evidence, says: str) -> None:
    with pytest.raises(InputError, match=says):
        whose_error(evidence)


@pytest.mark.parametrize(
    "make",
    [
        lambda: Meter(0.0),
        lambda: Meter(0.001, -1.0),
        lambda: Known("Heron", 0.0, 0.0),
        lambda: Voltage("Loft", 24, float("nan")),
    ],
)
def test_figures_that_cannot_be(make: Callable[[], object]) -> None:
    with pytest.raises(InputError):
        make()

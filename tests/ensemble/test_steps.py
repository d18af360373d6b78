"""A source's step is pointed out by note; an oscillator's own is not blamed on it."""

import numpy as np
import pytest

from pitchwright.ensemble import Evidence, Step, Sweep, whose_error
from pitchwright.tracking import Point
from pitchwright.units import cv_of_note, note_to_hz, ratio_of_cents

NOTES = np.arange(24.0, 97.0, 3.0)


def heard(
    source: np.ndarray, own: dict[str, np.ndarray] | None = None, seed: int = 1
) -> tuple[Step, ...]:
    """Steps found where Heron, Wren and Plover are played by Loft, with noise and bends."""
    rng = np.random.default_rng(seed)
    sweeps = []
    for number, name in enumerate(("Heron", "Wren", "Plover")):
        bend = 0.2 * np.sin(NOTES / 9.0 + 2.0 * number) - (1.0 + number) * note_to_hz(NOTES) / 1000
        curve = source + bend + (own or {}).get(name, 0.0) + rng.normal(0.0, 0.05, len(NOTES))
        points = tuple(
            Point(float(n), cv_of_note(n), note_to_hz(float(n)) * ratio_of_cents(float(c)), 0.05)
            for n, c in zip(NOTES, curve, strict=True)
        )
        sweeps.append(Sweep(name, "Loft", points))
    return whose_error(Evidence(tuple(sweeps))).steps


def test_nothing_is_pointed_out_where_there_is_nothing() -> None:
    assert heard(3.0 * NOTES / 12.0) == ()


@pytest.mark.parametrize("note", [24.0, 45.0, 60.0, 96.0])
@pytest.mark.parametrize("cents", [2.0, -3.0])
def test_one_note(note: float, cents: float) -> None:
    (step,) = heard(np.where(note == NOTES, cents, 0.0))
    assert step.kind == "note"
    assert step.notes == (note,)
    assert abs(step.cents - cents) < 4.0 * step.u_cents + 0.05
    assert ("sharp" if cents > 0 else "flat") in step.sentence


def test_one_resistor_of_a_chain() -> None:
    (step,) = heard(np.where(NOTES >= 57.0, 2.5, 0.0))
    assert step.kind == "from a note up"
    assert step.notes[0] == 57.0
    assert step.notes[-1] == 96.0
    assert "everything from A3 up" in step.sentence


def test_a_converters_bit() -> None:
    bit = (NOTES.astype(int) >> 2) & 1
    (step,) = heard(2.0 * bit)
    assert step.kind == "bit"
    assert step.notes == tuple(NOTES[bit > 0])
    assert "the bit worth 4" in step.sentence


def test_several_at_once() -> None:
    source = np.zeros(len(NOTES))
    source[[3, 12, 20]] = (3.0, -2.5, 4.0)
    assert {step.notes for step in heard(source)} == {(33.0,), (60.0,), (84.0,)}


def test_an_oscillators_own_bump_is_its_own() -> None:
    assert heard(np.zeros(len(NOTES)), {"Wren": np.where(NOTES == 60.0, 4.0, 0.0)}) == ()


def test_a_source_rough_at_every_note_has_no_step() -> None:
    rough = np.random.default_rng(4).normal(0.0, 1.0, len(NOTES))
    assert heard(rough) == ()

"""A source as the thing that is trimmed."""

import math

import pytest

from pitchwright.ensemble import Meter, Voltage, points_by_trusted, points_of_voltages
from pitchwright.errors import InputError
from pitchwright.tracking import Point, TargetCurve, survey_oscillator
from pitchwright.units import cv_of_note, note_to_hz, ratio_of_cents

NOTES = (24, 36, 48, 60, 72, 84)


def test_voltages_become_a_tracking_curve() -> None:
    voltages = [Voltage("Loft", n, 0.003 + cv_of_note(n) * 0.995) for n in NOTES]
    survey = survey_oscillator("Loft", points_of_voltages(voltages, Meter(0.0001, 0.0)))
    assert survey.model.scale_cents_per_oct == pytest.approx(-6.0, abs=0.01)
    assert survey.curve.entries[0].cents == pytest.approx(3.6, abs=0.01)
    # The meter's 0.12 and how well a voltage comes back, 0.1 where nothing else is known.
    assert survey.curve.entries[0].u_cents == pytest.approx(math.hypot(0.12, 0.1), abs=0.03)


def test_a_meters_gain_error_grows_with_the_voltage() -> None:
    points = points_of_voltages(
        [Voltage("Loft", n, cv_of_note(n)) for n in NOTES], Meter(1e-9, 0.001)
    )
    assert points[-1].u_cents == pytest.approx(6.0)
    assert points[0].u_cents == pytest.approx(1.2e-6)


def test_a_trusted_oscillator_is_a_meter() -> None:
    own = {float(n): 0.5 * n / 12.0 for n in NOTES}
    loft = {n: -6.0 * cv_of_note(n) for n in NOTES}
    played = [
        Point(n, cv_of_note(n), note_to_hz(n) * ratio_of_cents(own[float(n)] + loft[n]), 0.03)
        for n in NOTES
    ]
    trusted = TargetCurve(tuple(own), tuple(own.values()), (0.04,) * 6, False, True, "Heron")
    points = points_by_trusted(played, trusted)
    survey = survey_oscillator("Loft", points)
    assert survey.model.scale_cents_per_oct == pytest.approx(-6.0, abs=0.01)
    assert points[0].u_cents == pytest.approx(0.05)


def test_voltages_of_two_sources_are_not_one_curve() -> None:
    with pytest.raises(InputError, match="one source"):
        points_of_voltages([Voltage("Loft", 24, 0.0), Voltage("Stairs", 36, 1.0)], Meter())
    with pytest.raises(InputError, match="one source"):
        points_of_voltages([], Meter())

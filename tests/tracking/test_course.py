"""What happened while it was measured: told where it shows, allowed for where it does not."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from scipy.stats import norm

from pitchwright.tracking import Point, survey_oscillator
from pitchwright.tracking.advice import Knee, PlayAgain, SurveyAgain, Turn, Unexplained
from pitchwright.tracking.course import Happening, Returning, course_of
from pitchwright.tracking.findings import Jumped, Moved, Returned
from pitchwright.tracking.readings import Readings
from pitchwright.tracking.target import TargetCurve
from pitchwright.units import cv_of_note, note_to_hz, ratio_of_cents

ORDER = (60, 24, 84, 30, 36, 42, 48, 60, 54, 66, 72, 78, 24, 84)
MIDDLE_S = 1.2 * (len(ORDER) - 1) / 2.0


def take(
    rng: np.random.Generator,
    course: Callable[[float], float] = lambda t: 0.0,
    *,
    returning: float = 0.1,
    scale: float = 3.0,
    order: tuple[int, ...] = ORDER,
    bumps: float = 0.1,
) -> tuple[list[Point], dict[int, float]]:
    """Readings of a known curve, moved by a known course."""
    truth = {n: scale * (n - 60) / 12.0 + bumps * rng.normal() for n in sorted(set(order))}
    points = []
    for i, note in enumerate(order):
        t_s = 1.2 * i
        cents = truth[note] + course(t_s) + returning * rng.normal()
        f_hz = note_to_hz(note) * ratio_of_cents(cents)
        points.append(Point(note, cv_of_note(note), f_hz, 0.004, t_s))
    return points, truth


def test_one_note_read_twice_is_the_mean_of_two_with_the_prior_in_its_u() -> None:
    """Two exact readings of one note at one moment: a closed form by numerical integration.

    The size of a return has a scaled inverse chi-squared prior; given it, the mean of two is normal
    with variance s²/2. What covers 95.45 % of that mixture is worked out here with scipy alone.
    """
    points = [Point(60, 3.0, note_to_hz(60), 1e-4, 0.0) for _ in range(2)]
    course = course_of(Readings.of(points, TargetCurve.flat()), Returning(0.1, 2.0))
    sizes = 0.01 * 2.0 ** np.arange(8)
    # Prior of log s, times the likelihood of a difference of zero between the two.
    log_w = -0.5 * 2.0 * (np.log(sizes**2) + 0.01 / sizes**2) - np.log(sizes)
    w = np.exp(log_w - log_w.max())
    w = w / w.sum()
    u = float(course.u_notes_cents[0])
    inside = float(w @ (2.0 * norm.cdf(2.0 * u, scale=sizes / np.sqrt(2.0)) - 1.0))
    assert inside == pytest.approx(0.9545, abs=0.01)


@pytest.mark.parametrize("returning", [0.1, 0.2])
def test_u_of_a_note_covers_the_truth_with_scatter_that_was_not_foreseen(returning: float) -> None:
    rng = np.random.default_rng(40)
    hits, u = [], []
    for _ in range(40):
        points, truth = take(rng, returning=returning)
        for entry in survey_oscillator("Heron", points).curve.entries:
            hits.append(abs(entry.cents - truth[int(entry.note)]) <= entry.expanded_cents)
            u.append(entry.expanded_cents)
    assert np.mean(hits) > 0.91
    assert np.median(u) < 6.0 * returning


def test_pure_scatter_is_not_called_drift() -> None:
    rng = np.random.default_rng(41)
    told = [survey_oscillator("Heron", take(rng, returning=0.2)[0]).findings for _ in range(40)]
    assert sum(isinstance(one, Moved | Jumped) for found in told for one in found) <= 2


def test_without_a_repeat_the_uncertainty_is_the_priors_and_is_said() -> None:
    points, _ = take(np.random.default_rng(42), order=tuple(range(24, 97, 12)))
    survey = survey_oscillator("Heron", points)
    assert 0.15 < survey.curve.entries[3].expanded_cents < 1.0
    (found,) = (one for one in survey.findings if isinstance(one, Returned))
    assert found.repeats == 0
    assert "not known" in found.sentence


def test_a_knob_bumped_in_the_middle_is_told_with_its_time() -> None:
    points, truth = take(np.random.default_rng(43), lambda t: 12.0 if t > 7.5 else 0.0)
    survey = survey_oscillator("Heron", points)
    jump = survey.findings[0]
    assert isinstance(jump, Jumped)
    assert jump.after_note == 48
    assert jump.cents == pytest.approx(12.0, abs=0.6)
    assert "All notes after C3" in jump.sentence
    assert survey.advised == (SurveyAgain("jumped"),)
    # All of one stretch: the curve is right but for the step that all notes share.
    off = np.array([e.cents - truth[int(e.note)] for e in survey.curve.entries])
    assert np.ptp(off) < 1.0


@pytest.mark.parametrize(("size", "time_s"), [(5.0, 5.0), (15.0, 15.0)])
def test_a_warm_up_does_not_bend_the_curve(size: float, time_s: float) -> None:
    rng = np.random.default_rng(44)
    for _ in range(10):
        points, _ = take(rng, lambda t: -size * float(np.exp(-t / time_s)))
        survey = survey_oscillator("Heron", points)
        assert isinstance(survey.findings[0], Moved)
        assert abs((survey.model.scale_cents_per_oct or 0.0) - 3.0) < (
            survey.model.scale.expanded or 0.0
        )
        assert survey.model.low.value in (None, 0.0)
        assert not survey.curve.left_out


def test_what_it_could_be_adds_up_to_one() -> None:
    points, _ = take(np.random.default_rng(45), lambda t: 0.02 * t)
    course = course_of(Readings.of(points, TargetCurve.flat()))
    assert sum(course.odds.values()) == pytest.approx(1.0)
    assert set(course.odds) == set(Happening)


def surveyed(cents: dict[int, float]) -> Any:
    points = [
        Point(n, cv_of_note(n), note_to_hz(n) * ratio_of_cents(c), 0.01, 2.0 * i)
        for i, (n, c) in enumerate(cents.items())
    ]
    return survey_oscillator("Heron", points)


def test_a_knee_is_no_scale_error() -> None:
    curve = dict.fromkeys(range(24, 73, 6), 0.0) | {78: -8.0, 84: -40.0, 90: -150.0}
    survey = surveyed(curve)
    (knee,) = (one for one in survey.advised if isinstance(one, Knee))
    assert (knee.last_good, knee.first_off, knee.top) == (72, 78, 90)
    assert "do not turn scale for it" in knee.sentence
    assert not any(isinstance(one, Turn) for one in survey.advised)


def test_a_stray_end_note_is_asked_for_again() -> None:
    survey = surveyed(dict.fromkeys(range(24, 97, 12), 0.0) | {108: -60.0})
    assert survey.advised[0] == PlayAgain((108.0,))
    assert not any(isinstance(one, Turn) for one in survey.advised)


def test_what_no_model_describes_is_not_turned_for() -> None:
    """Two channels exchanged half-way: the notes after it are another oscillator's."""
    curve = {n: 0.0 if n < 60 else 27.0 - (n - 60) * 0.9 for n in range(24, 97, 6)}
    survey = surveyed(curve)
    assert isinstance(survey.advised[0], Unexplained | SurveyAgain)
    assert not any(isinstance(one, Turn) for one in survey.advised)


def test_no_note_is_asked_for_that_no_keyboard_has() -> None:
    survey = surveyed({n: 3.0 * (n - 60) / 12.0 for n in (84, 96, 108)})
    for term in survey.model.terms:
        assert term.add_note is None or 21 <= term.add_note <= 108

"""Charts of route, ensemble, whose error, detune and corrections: right words, sound files."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Literal
from xml.etree import ElementTree

import pytest
from tests.pictures.inside import stays_inside

from pitchwright.bench.practice_rig import RigBench
from pitchwright.bench.runner import run
from pitchwright.certificate.corrections import corrections
from pitchwright.detune import constant, distance, even
from pitchwright.ensemble import Evidence, Meter, Voltage, overview, whose_error
from pitchwright.pictures.corrections_chart import corrections_svg
from pitchwright.pictures.detune_chart import detune_svg
from pitchwright.pictures.ensemble_chart import ensemble_svg
from pitchwright.pictures.route_chart import route_svg
from pitchwright.pictures.whose_chart import whose_svg
from pitchwright.practice import theatre_rig
from pitchwright.procedures import EnsembleChecked, EnsembleSettings, ensemble_check
from pitchwright.route import Attenuator, Oscillator, PassiveMultiple, Patch, Source, report
from pitchwright.tracking import CurveEntry, Point, TargetCurve, survey_oscillator
from pitchwright.units import cv_of_note, note_to_hz, ratio_of_cents

NOTES = [float(note) for note in range(24, 97, 12)]
Drawn = Callable[..., str]


def words_of(svg: str) -> list[str]:
    root = ElementTree.fromstring(svg)
    return ["".join(node.itertext()) for node in root.iter() if node.tag.endswith("}text")]


def points(scale: float, base: float = 0.0) -> tuple[Point, ...]:
    return tuple(
        Point(
            n,
            cv_of_note(n),
            note_to_hz(n) * ratio_of_cents(base + scale * (cv_of_note(n) - 3.0)),
            0.02,
        )
        for n in NOTES
    )


@pytest.fixture(scope="module")
def checked() -> EnsembleChecked:
    settings = EnsembleSettings(
        ("Heron", "Wren", "Plover", "Dunlin"), tuple(NOTES), ("Loft", "Stairs")
    )
    rig = RigBench(theatre_rig())
    return run(ensemble_check(settings), rig, name="ensemble check", settings=settings)


def route(**how: object) -> str:
    patch = Patch(
        (
            Source("Loft", 1000.0),
            PassiveMultiple("split", "Loft"),
            Oscillator("Heron", "split", 1e5),
            Oscillator("Wren", "split", 1e5),
        )
    )
    return route_svg(report(patch, NOTES), **how)  # type: ignore[arg-type]


def detune(**how: object) -> str:
    return detune_svg(even(0.5, 36, 72, ["Heron", "Wren", "Plover"]), **how)  # type: ignore[arg-type]


def corrected(**how: object) -> str:
    return corrections_svg("Heron", corrections(points(7.0), TargetCurve.flat()), **how)  # type: ignore[arg-type]


@pytest.mark.parametrize("draw", [route, detune, corrected])
def test_a_chart_is_a_sound_file_and_says_what_is_invented(draw: Drawn) -> None:
    plain, invented = draw(), draw(invented=True, theme="dark")
    assert draw() == plain
    assert "Invented data." in words_of(invented)
    assert "Invented data." not in words_of(plain)
    assert "The data are invented." in invented
    stays_inside(plain)
    assert 'role="img"' in plain
    assert "prefers-color-scheme: dark" in plain
    assert "prefers-color-scheme" not in invented
    assert "#14181e" in invented  # the dark paper


def test_the_route_says_what_every_curve_is() -> None:
    """1 kΩ into two inputs of 100 kΩ: 23.53 cents per octave; into one: 11.88 (Ohm's law)."""
    words = words_of(route())
    assert "Heron and Wren −23.53" in words
    assert "without Heron or Wren: −11.88" in words


def test_a_route_that_is_far_off_leaves_the_others_legible() -> None:
    patch = Patch(
        (
            Source("Loft", 1000.0),
            PassiveMultiple("split", "Loft"),
            Attenuator("half", "split", 50_000.0, 0.5),
            Oscillator("Heron", "split", 1e5),
            Oscillator("Wren", "half", 1e5),
        )
    )
    words = words_of(route_svg(report(patch, NOTES)))
    assert any(word.startswith("Wren −") and word.endswith("▼") for word in words)
    amounts = [word for word in words if re.fullmatch(r"−\d+", word)]
    assert all(int(word[1:]) < 1000 for word in amounts)


def test_the_ensemble_shows_every_pair_and_the_worst(checked: EnsembleChecked) -> None:
    target = TargetCurve.flat()
    curves: dict[str, tuple[CurveEntry, ...]] = {}
    for sweep in checked.sweeps:
        entries = survey_oscillator(sweep.oscillator, sweep.points, target=target).curve.entries
        curves.setdefault(sweep.oscillator, entries)
    glance = overview(curves, 1.0)
    svg = ensemble_svg("Pit", curves, glance, invented=True)
    words = words_of(svg)
    for pair in glance.pairs:
        assert f"{pair.first}, {pair.second}" in words
    assert words.count(f"{max(pair.worst_hz for pair in glance.pairs):.1f}") == 1
    stays_inside(svg)
    assert {"Heron", "Wren", "Plover", "Dunlin"} <= set(words)


def test_many_oscillators_are_cut_to_the_fastest_pairs() -> None:
    curves = {
        f"voice {k}": survey_oscillator(f"voice {k}", points(0.1 * k, k)).curve.entries
        for k in range(12)
    }
    words = words_of(ensemble_svg("Pit", curves, overview(curves, 1.0)))
    assert any("38 slower pairs are not shown" in word for word in words)


def test_what_cannot_be_told_is_drawn_as_open(checked: EnsembleChecked) -> None:
    words = words_of(whose_svg(checked.whose))
    # Four oscillators and two sources have scales of their own that nobody can tell.
    assert words.count("cannot be told") == 6
    # The wider one of a difference comes first.
    assert "Stairs minus Loft" in words
    rig = theatre_rig()
    told = whose_error(
        Evidence(
            checked.sweeps,
            tuple(Voltage("Loft", n, rig.source("Loft").cv_v(n)) for n in (24.0, 96.0)),
            Meter(0.001, 0.0001),
            straight=("Loft", "Stairs"),
        )
    )
    svg = whose_svg(told, name="Pit", invented=True)
    assert "cannot be told" not in words_of(svg)
    stays_inside(svg)


def test_today_is_marked_on_the_plan() -> None:
    plan = constant(5.0, 36, 84, ["Heron", "Wren"])
    today = {
        name: survey_oscillator(name, points(0.0, base)).curve.entries
        for name, base in (("Heron", 0.0), ("Wren", 4.0))
    }
    svg = detune_svg(plan, distance(plan, today))
    assert "marks: today" in words_of(svg)
    assert "marks: today" not in words_of(detune_svg(plan))


def test_notes_left_alone_are_marked_as_such() -> None:
    table = corrections(
        [
            Point(n, cv_of_note(n), note_to_hz(n) * ratio_of_cents(cents), 0.5)
            for n, cents in zip(NOTES, (9.0, 0.1, 8.0, 9.0, 0.2, 7.0, 8.0), strict=True)
        ],
        TargetCurve.flat(),
    )
    svg = corrections_svg("Heron", table)
    assert "left alone: correcting would gain nothing" in words_of(svg)
    assert any(one.how == "left alone" and one.error_cents for one in table.notes)


@pytest.mark.parametrize("theme", ["light", "dark", "system"])
def test_hostile_names_do_no_harm(theme: Literal["light", "dark", "system"]) -> None:
    name = '<b>&"$x$\n' + "long " * 40
    table = corrections(points(7.0), TargetCurve.flat())
    svg = corrections_svg(name, table, conditions=name, theme=theme)
    assert "<b>" not in svg
    ElementTree.fromstring(svg)

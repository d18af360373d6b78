"""The invented rig: each oscillator has the fault it is there for, and can be helped."""

from __future__ import annotations

import numpy as np
import pytest

from pitchwright.errors import InputError
from pitchwright.practice import Oscillator, Rig, TrimmerKind, theatre_rig, true_model
from pitchwright.units import cents_between


@pytest.fixture
def rig() -> Rig:
    return theatre_rig()


def oscillator(rig: Rig, name: str) -> Oscillator:
    return rig.only(name).voices[0].oscillator


def test_names_are_ours(rig: Rig) -> None:
    names = [voice.oscillator.name for voice in rig.voices]
    assert names == ["Heron", "Wren", "Plover", "Dunlin", "Bittern"]
    assert [source.name for source in rig.sources] == ["Loft", "Stairs"]


def test_every_oscillator_is_out_of_tune_as_found(rig: Rig) -> None:
    scales = {}
    for voice in rig.voices:
        model = true_model(voice.oscillator, rig.source("Loft"))
        scales[voice.oscillator.name] = model.scale_cents_per_oct
        assert abs(model.base_cents) > 2.0
        assert 2.0 < abs(model.scale_cents_per_oct) < 20.0
    assert scales["Wren"] < 0.0 < scales["Heron"]


def test_plover_has_no_scale_trimmer_but_an_output(rig: Rig) -> None:
    kinds = {trimmer.kind for trimmer in oscillator(rig, "Plover").trimmers}
    assert TrimmerKind.SCALE not in kinds
    assert TrimmerKind.OUTPUT in kinds


def test_dunlin_droops_by_a_few_cents_per_kilohertz(rig: Rig) -> None:
    """Source: common practice, 2 to 6 cents per kilohertz."""
    dunlin = oscillator(rig, "Dunlin")
    assert TrimmerKind.HIGH_END not in {trimmer.kind for trimmer in dunlin.trimmers}
    assert 2.0 < 1.2 / np.log(2.0) * true_model(dunlin).high_ns / 1000.0 < 6.0
    others = [true_model(oscillator(rig, name)).high_ns for name in ("Heron", "Wren", "Plover")]
    assert max(others) < 500.0


@pytest.mark.parametrize("name", ["Heron", "Wren", "Plover", "Dunlin", "Bittern"])
def test_its_trimmers_reach_past_its_scale_error(rig: Rig, name: str) -> None:
    found = oscillator(rig, name)
    kind = TrimmerKind.OUTPUT if name == "Plover" else TrimmerKind.SCALE
    scales = [
        true_model(found.turned(kind, turns)).scale_cents_per_oct for turns in (-100.0, 100.0)
    ]
    assert min(scales) < -3.0
    assert max(scales) > 3.0


def test_cold_it_is_off_and_it_settles() -> None:
    cold = theatre_rig(on_for_s=0.0)
    for voice in cold.voices:
        moment_s = np.array([0.0, 6000.0, 6600.0])
        f_hz = voice.oscillator.f_hz(np.full(3, 3.0), moment_s)
        assert abs(cents_between(float(f_hz[1]), float(f_hz[0]))) > 2.0
        assert abs(cents_between(float(f_hz[2]), float(f_hz[1]))) < 0.5


def test_unknown_names_are_sentences(rig: Rig) -> None:
    with pytest.raises(InputError, match=r"no oscillator called Robin. Choose from: Heron, Wren"):
        rig.only("Robin")
    with pytest.raises(InputError, match=r"no source called Cellar. Choose one of: Loft, Stairs"):
        rig.source("Cellar")

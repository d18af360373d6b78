"""The ensemble check on the practice rig, whose truth is known, and where it must refuse."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

from pitchwright.bench.practice_rig import RigBench
from pitchwright.bench.runner import run
from pitchwright.errors import InputError
from pitchwright.practice import theatre_rig
from pitchwright.procedures import EnsembleChecked, EnsembleSettings, ensemble_check
from pitchwright.procedures.events import Event, replay
from pitchwright.procedures.outcomes import EnsembleSeen, PairsHeard, SurveyClosed
from pitchwright.procedures.requests import Heard, ReadingsTaken, TakeReadings
from pitchwright.units import cents_between, cv_of_note, note_to_hz

FOUR = ("Heron", "Wren", "Plover", "Dunlin")
NOTES = tuple(float(note) for note in range(24, 85, 12))


def checked(bench: Any, **asked: Any) -> tuple[EnsembleChecked, list[Event]]:
    settings = EnsembleSettings(**({"oscillators": FOUR, "notes": NOTES} | asked))
    events: list[Event] = []
    result = run(
        ensemble_check(settings), bench, [events.append], name="ensemble check", settings=settings
    )
    return result, events


class Deaf(RigBench):
    """Some oscillators are not heard."""

    silent: tuple[str, ...] = ()

    def listen(self, request: TakeReadings) -> ReadingsTaken:
        heard = super().listen(request).heard
        return ReadingsTaken(
            tuple(
                Heard(one.oscillator, one.t_s, None, 0.0) if one.oscillator in self.silent else one
                for one in heard
            )
        )


def test_pairs_are_heard_note_by_note_as_they_are() -> None:
    rig = theatre_rig()
    _, events = checked(RigBench(rig))
    pairs = [event.what for event in events if isinstance(event.what, PairsHeard)]
    assert len(pairs) >= len(NOTES) + 1
    heard = next(one for one in pairs if one.note == 60.0)
    assert len(heard.pairs) == 6
    loft = rig.source("Loft")
    f_hz = {
        voice.oscillator.name: float(voice.oscillator.f_hz(np.array([loft.cv_v(60.0)]), 1.5)[0])
        for voice in rig.voices
    }
    for pair in heard.pairs:
        true_cents = cents_between(f_hz[pair.first], f_hz[pair.second])
        assert pair.cents == pytest.approx(true_cents, abs=0.5)
        assert pair.beat_hz == pytest.approx(abs(f_hz[pair.first] - f_hz[pair.second]), abs=0.1)


def test_two_sources_are_told_apart() -> None:
    result, events = checked(RigBench(theatre_rig()), sources=("Loft", "Stairs"))
    closed = [event.what for event in events if isinstance(event.what, SurveyClosed)]
    assert {(one.oscillator, one.source) for one in closed} == {
        (name, source) for name in FOUR for source in ("Loft", "Stairs")
    }
    # What the two sources really send, projected on a constant, a line in volts and kilohertz.
    rig = theatre_rig()
    sent_v = np.array([[rig.source(s).cv_v(n) for n in NOTES] for s in ("Loft", "Stairs")])
    octaves = np.array([cv_of_note(note) for note in NOTES])
    khz = np.array([note_to_hz(note) for note in NOTES]) / 1000.0
    shapes = np.column_stack([np.ones(len(NOTES)), octaves, khz])
    truth = np.linalg.lstsq(shapes, 1200.0 * (sent_v[0] - sent_v[1]), rcond=None)[0][1]
    apart = result.whose.figure("apart", "scale", "Loft", "Stairs")
    assert apart.amount is not None
    assert apart.amount == pytest.approx(truth, abs=0.15)
    assert not result.whose.figure("own", "scale", "Loft").told
    seen = events[-2].what
    assert isinstance(seen, EnsembleSeen)
    assert seen.sources == ("Loft", "Stairs")
    assert seen.leader == result.glance.leader
    assert any("Differences between them" in said for said in seen.whose_error)


def test_a_source_can_be_left_out() -> None:
    def left_out(ask: Any) -> str:
        return "leave out" if ask.default == "Stairs" else str(ask.default)

    bench = RigBench(theatre_rig(), choose_key=left_out)
    result, _ = checked(bench, sources=("Loft", "Stairs"))
    assert {sweep.source for sweep in result.sweeps} == {"Loft"}
    with pytest.raises(InputError, match="Every source was left out"):
        checked(
            RigBench(theatre_rig(), choose_key=lambda ask: "leave out"),
            sources=("Loft", "Stairs"),
        )


def test_whoever_is_silent_is_left_out_with_a_sentence() -> None:
    bench = Deaf(theatre_rig())
    bench.silent = ("Wren",)
    result, events = checked(bench)
    assert {sweep.oscillator for sweep in result.sweeps} == {"Heron", "Plover", "Dunlin"}
    assert any(
        getattr(event.what, "finding", "") == "silent" and "Wren" in event.what.sentence  # type: ignore[union-attr]
        for event in events
    )
    bench = Deaf(theatre_rig())
    bench.silent = ("Wren", "Plover", "Dunlin")
    with pytest.raises(InputError, match="Only Heron was heard"):
        checked(bench)


def test_it_can_be_gone_on_from() -> None:
    result, events = checked(RigBench(theatre_rig()))
    settings = EnsembleSettings(FOUR, NOTES)
    back = [Event.from_dict(json.loads(json.dumps(event.to_dict()))) for event in events]
    assert back == events
    for cut in range(2, len(back) - 1, 7):
        request, _ = replay(ensemble_check(settings), back[:cut])
        assert request is not None
    request, again = replay(ensemble_check(settings), back)
    assert request is None
    assert again is not None
    assert again.sweeps == result.sweeps


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"oscillators": ("Heron",)}, "no ensemble"),
        ({"oscillators": ("Heron", "Wren", "Heron")}, "Two are called Heron"),
        ({"sources": ("Wren",)}, "Two are called Wren"),
        ({"sources": ()}, "Nothing plays"),
        ({"notes": (60.0,)}, "One note"),
        ({"tolerance_cents": 0.0}, "above zero"),
    ],
)
def test_what_is_no_ensemble(asked: Any, said: str) -> None:
    with pytest.raises(InputError, match=said):
        EnsembleSettings(**({"oscillators": FOUR, "notes": NOTES} | asked))

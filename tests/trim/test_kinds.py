"""One table of kinds: a new one is one entry and its physics; an unknown one is refused."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from pitchwright.bench.practice import PracticeBench, trimmers_of
from pitchwright.bench.runner import run
from pitchwright.errors import InputError
from pitchwright.practice import Trimmer as Screw
from pitchwright.practice import theatre_rig
from pitchwright.practice.hands import Hand
from pitchwright.practice.trimmer_physics import PHYSICS, Summing
from pitchwright.procedures import Event, TrimSettings, guided_trim
from pitchwright.procedures.events import Started
from pitchwright.procedures.plain import from_plain, to_plain
from pitchwright.procedures.requests import WatchTurn
from pitchwright.trim import Known, Standing, Trimmer
from pitchwright.trim.belief import Belief, Notes, Wander
from pitchwright.trim.kinds import KINDS, KindEntry, TrimmerKind, alike, through_pivot

PIVOT_V = 2.0


def about_two_volts(at: Summing, screw: Screw) -> Summing:
    """Scale about +2 V, worked out by hand: s(v - 2) = sv - 2s, all ahead of nothing else."""
    s = screw.effect / 1200.0
    return replace(at, scale_gain=at.scale_gain + s, after_v=at.after_v - PIVOT_V * s)


@pytest.fixture
def span(monkeypatch: pytest.MonkeyPatch) -> str:
    """A made-up kind: one entry, one function."""
    entry = KindEntry(
        through_pivot,
        unit="cents per octave",
        order=10,
        acts_on="span",
        more="wider",
        less="narrower",
        called="span trimmer",
        letter="p",
        has_pivot=True,
        pivot_v=PIVOT_V,
        prior=40.0,
    )
    monkeypatch.setitem(KINDS, "span", entry)
    monkeypatch.setitem(PHYSICS, "span", about_two_volts)
    return "span"


def test_a_made_up_kind_is_trimmed_by_one_entry_and_one_function(span: str) -> None:
    heron = theatre_rig().only("Heron").voices[0].oscillator
    screws = (
        Screw.at(TrimmerKind(span), 4.0, travel_turns=20.0),
        Screw.at(TrimmerKind.BASE_FINE, 20.0, travel_turns=20.0),
    )
    flat = replace(heron, trimmers=screws, scale_error_cents_per_oct=6.0, base_error_cents=9.0)
    rng = np.random.default_rng(4)
    bench = PracticeBench(flat, theatre_rig().source("Loft"), Hand(rng), rng)
    asked = TrimSettings("Heron", trimmers_of(flat), tolerance_cents=2.0)
    events: list[Event] = []
    result = run(guided_trim(asked), bench, [events.append], name="guided trim", settings=asked)
    assert result.verdict.standing is Standing.IN_TUNE
    assert {"span trimmer", "fine base trimmer"} == set(result.known)
    # A pivot that the circuit fixes is nothing to find out, so no turn is spent on it.
    turns = [event.what for event in events if isinstance(event.what, WatchTurn)]
    assert not any(turn.probe for turn in turns)
    assert any("changes the span by" in turn.sentence for turn in turns)
    began = next(event for event in events if isinstance(event.what, Started))
    assert Event.from_dict(began.to_dict()) == began
    assert from_plain(to_plain(asked), TrimSettings) == asked


@pytest.mark.parametrize("word", ["Scale", "scale trimmer", "tempo", ""])
def test_an_unknown_kind_is_refused_never_guessed(word: Any) -> None:
    with pytest.raises(InputError, match="no kind of trimmer"):
        Trimmer("R12", word)
    plain = to_plain(TrimSettings("x", (Trimmer("R12", TrimmerKind.SCALE),)))
    plain["trimmers"][0]["trimmer_kind"] = word
    with pytest.raises(InputError, match="no kind of trimmer"):
        from_plain(plain, TrimSettings)


def test_the_practice_rig_refuses_a_kind_it_has_no_physics_for(
    span: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delitem(PHYSICS, span)
    heron = theatre_rig().only("Heron").voices[0].oscillator
    odd = replace(heron, trimmers=(Screw.at(TrimmerKind(span), 4.0),))
    with pytest.raises(InputError, match="does not know what a span trimmer does"):
        odd.f_hz(np.array([1.0]))


def test_every_kind_has_its_physics_its_letter_and_words() -> None:
    assert set(KINDS) == set(PHYSICS)
    letters = [entry.letter for entry in KINDS.values()]
    assert len(set(letters)) == len(letters)
    for entry in KINDS.values():
        assert entry.more != entry.less
    for word in KINDS:
        assert TrimmerKind(word) == word
        assert Trimmer("x", TrimmerKind(word), known=Known()).trimmer_kind.entry is KINDS[word]


def test_which_kinds_bend_the_curve() -> None:
    assert [word for word, entry in KINDS.items() if entry.bends] == ["high end"]


def test_the_order_is_that_each_shifts_what_later_ones_take_out() -> None:
    # Common practice: high end, then scale, then base.
    order = sorted(KINDS, key=lambda word: KINDS[word].order)
    assert order.index("high end") < order.index("scale") < order.index("base fine")


def test_a_shape_of_any_form_is_brought_back_by_three_notes() -> None:
    """A move that bends the low end (1/f, as leakage does): notes not read again follow."""
    notes = Notes.of([24.0 + 6.0 * k for k in range(11)], 24.0, 440.0)
    shape = notes.tuned_hz[0] / notes.tuned_hz
    belief = Belief.fresh(notes, Wander(walk_cents=1e-3, rate_cents_per_min=1e-3))
    for i in range(notes.count):
        belief = belief.heard(i, 0.0, 0.02, float(i))
    truth = 3.0 * shape + 0.4 * notes.about(2.0) - 1.0
    after = belief.moved(bent=((shape, 20.0),))
    for i in (10, 0, 4):
        after = after.heard(i, float(truth[i]), 0.02, 20.0)
    curve, covariance = after.curve()
    assert np.abs(curve - truth).max() < 0.15
    without = belief.moved()
    for i in (10, 0, 4):
        without = without.heard(i, float(truth[i]), 0.02, 20.0)
    assert np.abs(without.curve()[0] - truth).max() > 0.5
    assert np.sqrt(np.diag(covariance)).max() < 0.2


def test_alike_is_one_at_every_note() -> None:
    v = np.array([0.0, 1.0, 5.0])
    assert alike(v, v, np.array(0.0)).tolist() == [1.0, 1.0, 1.0]

"""Volts, cents, and what a cable more or less does."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pitchwright.errors import InputError
from pitchwright.route import (
    Attenuator,
    BufferedMultiple,
    BufferedPart,
    Oscillator,
    Part,
    PassiveMultiple,
    Patch,
    Source,
    arrivals,
    report,
)

NOTES = [24, 36, 48, 60, 72, 84]


def split(*loads_ohm: float) -> Patch:
    names = ("Heron", "Wren", "Plover", "Dunlin")
    loads = tuple(
        Oscillator(name, "split", ohm) for name, ohm in zip(names, loads_ohm, strict=False)
    )
    return Patch((Source("Loft", 1000.0), PassiveMultiple("split", "Loft"), *loads))


def test_a_lossless_patch_needs_no_words() -> None:
    patch = Patch((Source("Loft", 0.1), Oscillator("Heron", "Loft", 1e6)))
    found = report(patch, NOTES)
    assert found.deliveries[0].sentence == "Heron gets Loft's voltage as it should be."
    assert found.instead == ()
    assert found.pulled == ()


def test_step_gain_and_offset_arrive_note_by_note() -> None:
    source = Source("Loft", 1000.0, gain_error=0.01, offset_v=0.01, step_error_v={60: 0.002})
    patch = Patch((source, Oscillator("Heron", "Loft", 99_000.0)))
    (one,) = report(patch, [24, 60]).deliveries
    assert one.cv_v == pytest.approx((0.99 * 0.01, 0.99 * (3.03 + 0.012)))
    assert one.cents == pytest.approx((1200 * 0.0099, 1200 * (0.99 * 3.042 - 3.0)))
    assert one.cents_per_octave == pytest.approx(1200 * (0.99 * 1.01 - 1.0))
    assert one.offset_cents == pytest.approx(1200 * 0.0099)


def test_pulling_and_adding_say_who_moves() -> None:
    found = report(split(1e5, 1e5, 1e5, 1e5), NOTES)
    pulled = found.pulled[0]
    assert pulled.what == "Heron's cable pulled"
    assert [name for name, _ in pulled.moved] == ["Wren", "Plover", "Dunlin"]
    assert pulled.worst_cents_per_octave == pytest.approx(1200 * (1.04 / 1.03 - 1.0))
    assert "Wren, Plover and Dunlin become" in pulled.sentence
    assert found.added[0].worst_cents_per_octave == pytest.approx(1200 * (1.04 / 1.05 - 1.0))
    assert found.sentences[0] == pulled.sentence


def test_a_buffered_multiple_is_proposed_and_helps() -> None:
    found = report(split(1e5, 1e5, 1e5), NOTES)
    best = found.instead[0]
    assert best.worst_change_cents_per_octave == 0.0
    assert "in place of split" in best.what
    again = report(best.patch, NOTES)
    assert again.instead == ()
    assert again.sentences[0] == "No cable that is pulled moves another oscillator."
    assert all(c.worst_cents_per_octave == 0.0 for c in again.pulled)


def test_what_is_proposed_is_what_there_is() -> None:
    found = report(split(1e5, 1e5), NOTES, BufferedPart(input_ohm=47_000.0, output_ohm=330.0))
    ohms = {
        (part.input_ohm, part.output_ohm)
        for proposal in found.instead
        for part in proposal.patch.parts
        if isinstance(part, BufferedMultiple)
    }
    assert ohms == {(47_000.0, 330.0), (47_000.0, 1.0)}


def test_two_cables_on_one_output_are_a_split_too() -> None:
    patch = Patch(
        (
            Source("Loft", 1000.0),
            Oscillator("Heron", "Loft", 1e5),
            Oscillator("Wren", "Loft", 1e5),
            PassiveMultiple("spare", "Loft"),
        )
    )
    found = report(patch, NOTES)
    assert "behind Loft" in found.instead[0].what
    assert found.instead[0].patch.way_to("Heron") == ("Loft", "buffer behind Loft", "Heron")


def test_an_attenuator_at_the_top_of_its_track_only_loads() -> None:
    patch = Patch(
        (
            Source("Loft", 1000.0),
            Attenuator("full", "Loft", 50_000.0, 1.0),
            Oscillator("Heron", "full", 100_000.0),
        )
    )
    parallel = 1.0 / (1.0 / 50_000.0 + 1.0 / 100_000.0)
    assert arrivals(patch)[0].gain == pytest.approx(parallel / (parallel + 1000.0))


def test_a_note_must_be_asked_for() -> None:
    with pytest.raises(InputError, match="No note was asked for"):
        report(split(1e5), [])


impedances = st.floats(1.0, 1e7)


@given(loads=st.lists(impedances, min_size=1, max_size=4), source_ohm=impedances)
def test_nothing_passive_amplifies(loads: list[float], source_ohm: float) -> None:
    parts: list[Part] = [Source("Loft", source_ohm)]
    parts += [Oscillator(f"o{n}", "Loft", ohm) for n, ohm in enumerate(loads)]
    gains = [one.gain for one in arrivals(Patch(tuple(parts)))]
    assert all(0.0 < gain < 1.0 for gain in gains)
    assert max(gains) == pytest.approx(min(gains))
    more = arrivals(Patch((*parts, Oscillator("more", "Loft", 1e5))))
    assert more[0].gain < gains[0]

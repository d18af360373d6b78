"""The whole instrument in one glance, two surveys over each other, and curves in characters."""

from __future__ import annotations

import math
from dataclasses import replace
from xml.etree import ElementTree

import pytest
from tests.pictures.inside import stays_inside

from pitchwright.errors import InputError
from pitchwright.pictures.blocks import blocks
from pitchwright.pictures.difference_chart import difference_sentence, difference_svg
from pitchwright.pictures.glance_chart import glance_svg, overlay_svg
from pitchwright.pictures.shown import CurveShown, NoteShown, moved

LAPTOP = (1280.0, 800.0)


def curve(name: str, scale: float, u: float = 0.2, base: float = 0.0) -> CurveShown:
    notes = tuple(
        NoteShown(note, base + scale * (note - 60) / 12.0, u) for note in range(24, 97, 6)
    )
    return CurveShown(name, notes, 1.0, 54, 66)


SIXTEEN = [curve(f"Heron {k}", 0.3 * k) for k in range(16)]


def words_of(svg: str) -> list[str]:
    root = ElementTree.fromstring(svg)
    return ["".join(node.itertext()) for node in root.iter() if node.tag.endswith("}text")]


def test_sixteen_oscillators_fit_a_laptop_the_worst_first() -> None:
    svg = glance_svg("Pit", SIXTEEN, invented=True)
    stays_inside(svg)
    root = ElementTree.fromstring(svg)
    assert float(root.attrib["width"]) <= LAPTOP[0]
    assert float(root.attrib["height"]) <= LAPTOP[1] - 100.0  # a browser's own bars
    words = words_of(svg)
    names = [word for word in words if word.startswith("Heron ")]
    assert names == [f"Heron {k}" for k in reversed(range(16))]
    assert "worst C1 −13.5 ± 0.2" in words
    assert words.count("±1: F♯3 to F♯4") == 16


def test_one_that_is_far_off_leaves_the_others_legible() -> None:
    svg = glance_svg("Pit", [*SIXTEEN, curve("Wren", 400.0)])
    assert any("each curve from −20 to +20 cents" in word for word in words_of(svg))
    assert any(
        word == "Wren ▲" for word in words_of(overlay_svg("Pit", [*SIXTEEN, curve("Wren", 400.0)]))
    )


def test_every_curve_is_named_at_its_end() -> None:
    svg = overlay_svg("Pit", SIXTEEN)
    stays_inside(svg)
    assert {one.name for one in SIXTEEN} <= {word.removesuffix(" ▲") for word in words_of(svg)}


def test_what_moved_is_what_exceeds_both_uncertainties_together() -> None:
    """GUM 5.1.2: independent uncertainties add in squares; 0.3 and 0.4 make 0.5."""
    then, now = curve("Heron", 1.0, 0.3), curve("Heron", 1.0, 0.4, base=0.49)
    found = moved(then, now)
    assert all(one.expanded_cents == pytest.approx(0.5) for one in found)
    assert not any(one.certain for one in found)
    assert difference_sentence(found) == "Nothing moved for certain at any of 13 notes."
    more = moved(then, curve("Heron", 1.0, 0.4, base=0.51))
    assert all(one.certain for one in more)
    assert "13 of 13 notes" in difference_sentence(more)


def test_the_difference_is_drawn_and_stays_inside() -> None:
    svg = difference_svg(
        curve("Heron", 1.0), curve("Heron", 1.5), then_words="as found", now_words="as left"
    )
    stays_inside(svg)
    assert {"as found", "as left", "moved by more than its uncertainty"} <= set(words_of(svg))


def test_a_note_in_doubt_is_not_compared_and_none_in_common_is_refused() -> None:
    then = curve("Heron", 1.0)
    doubtful = replace(then, notes=tuple(replace(one, doubt=True) for one in then.notes))
    assert moved(then, doubtful) == ()
    with pytest.raises(InputError, match="no note in common"):
        difference_svg(then, doubtful, then_words="then", now_words="now")


@pytest.mark.parametrize("width", [20, 60, 80, 200])
def test_a_curve_in_characters_fits_the_terminal(width: int) -> None:
    lines = blocks(curve("Heron", 2.0), width).splitlines()
    assert max(map(len, lines)) <= max(width, 40)
    assert "cents" in lines[0]
    assert lines[-1].split() == ["C1", "C2", "C3", "C4", "C5", "C6", "C7"]


def test_higher_cents_stand_higher_and_doubt_and_far_notes_have_marks_of_their_own() -> None:
    plain = curve("Heron", 2.0, 0.01)
    notes = (*plain.notes[:5], replace(plain.notes[5], doubt=True), *plain.notes[6:])
    lines = blocks(replace(plain, notes=notes), 80).splitlines()[1:-2]
    rows = {
        column: row
        for row, line in enumerate(lines)
        for column, mark in enumerate(line[8:])
        if mark in "▀▄"
    }
    ordered = [rows[column] for column in sorted(rows)]
    assert len(ordered) == 12
    assert ordered == sorted(ordered, reverse=True)
    assert sum(line.count("?") for line in lines) == 1
    far = (*plain.notes[:-1], NoteShown(96.0, 900.0, 0.1, doubt=False))
    assert math.isfinite(far[-1].cents)
    doubted = blocks(replace(plain, notes=(*plain.notes[:-1], replace(far[-1], doubt=True))), 80)
    assert doubted.count("?") == 1

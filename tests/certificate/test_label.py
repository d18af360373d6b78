"""Labels: their size, what they say, several on a sheet."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from pitchwright.certificate.contents import Contents
from pitchwright.certificate.label import labels_pdf
from pitchwright.errors import InputError

Read = Callable[[bytes], Any]
poppler = pytest.mark.needs("poppler-utils")


def squeezed(text: str) -> str:
    return " ".join(text.split())


@poppler
def test_it_says_who_when_fed_by_what_and_over_which_notes(
    contents: Contents, read_pdf: Read
) -> None:
    read = read_pdf(labels_pdf([contents]))
    assert squeezed(read.text()) == (
        "Heron 25 Nov 2026 fed by trimmable output 2 in tune C1 to C6, within ±1 cent against "
        "equal temperament at A4 = 440 Hz as left · 20261125-b7c2c3"
    )
    # 62 × 29 mm in points of 1/72 inch.
    width, _, height, *_ = read.facts()["Page size"].split()
    assert (float(width), float(height)) == pytest.approx((175.75, 82.2), abs=0.1)


@poppler
def test_what_is_not_known_or_not_real_says_so(contents: Contents, read_pdf: Read) -> None:
    bare = replace(contents, left=None, fed_by="", invented=True)
    text = squeezed(read_pdf(labels_pdf([bare])).text())
    assert "fed by not noted" in text
    assert "as found" in text
    assert "invented data" in text


@poppler
def test_labels_fill_sheets(contents: Contents, read_pdf: Read) -> None:
    names = [f"Voice {number}" for number in range(1, 41)]
    labels = [replace(contents, name=name) for name in names]
    read = read_pdf(labels_pdf(labels, sheet="letter"))
    facts = read.facts()
    assert facts["Page size"].startswith("612 x 792")
    # Letter holds 3 × 9 of 62 × 29 mm inside edges of 8 mm.
    assert facts["Pages"] == "2"
    text = read.text()
    assert all(name in text for name in names)
    assert read_pdf(labels_pdf(labels)).facts()["Pages"] == "40"


def test_long_words_fit_and_bytes_repeat(contents: Contents) -> None:
    long = replace(contents, name="x" * 10_000, fed_by="output " * 2_000)
    assert labels_pdf([long]) == labels_pdf([long])


@pytest.mark.parametrize("size", [(10.0, 29.0), (62.0, 500.0), (float("nan"), 29.0)])
def test_impossible_sizes_are_refused(contents: Contents, size: tuple[float, float]) -> None:
    with pytest.raises(InputError, match="cannot be read or printed"):
        labels_pdf([contents], size_mm=size)


def test_no_label_of_nothing() -> None:
    with pytest.raises(InputError, match="no instrument"):
        labels_pdf([])

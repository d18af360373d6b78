"""The certificate: its text read back by another program, its tags, its bytes, its odd names."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pitchwright.certificate.certificate import certificate_pdf, certificate_record
from pitchwright.certificate.contents import Contents, SurveyDone, note_results
from pitchwright.certificate.statements import second_sentence
from pitchwright.certificate.typeset import plain_words
from pitchwright.pictures.figures import expanded, hertz, signed
from pitchwright.tracking import TargetCurve, survey_oscillator
from pitchwright.tracking.point import Point
from pitchwright.units import cv_of_note, note_name, note_to_hz

Read = Callable[[bytes], Any]
Make = Callable[..., Any]
SCHEMA = Path(__file__).parents[2] / "docs/schema/certificate.schema.json"
poppler = pytest.mark.needs("poppler-utils")


def squeezed(text: str) -> str:
    return " ".join(text.split())


@poppler
def test_every_figure_of_the_table_is_on_the_paper(contents: Contents, read_pdf: Read) -> None:
    lines = [
        squeezed(line) for line in read_pdf(certificate_pdf(contents)).text("-layout").splitlines()
    ]
    assert contents.found is not None
    assert contents.left is not None
    found, left = (
        {r.note: r for r in note_results(one.survey, 1.0)}
        for one in (contents.found, contents.left)
    )
    assert len(found) == 11
    for note, was in found.items():
        now = left[note]
        row = [note_name(note), f"{was.cv_v:.3f}"]
        for one in (was, now):
            row += [hertz(one.f_hz), signed(one.cents), expanded(one.expanded_cents), "2.00"]
        assert f"{' '.join(row)} ● inside" in lines


@poppler
def test_the_figures_and_conditions_are_on_the_paper(contents: Contents, read_pdf: Read) -> None:
    text = squeezed(read_pdf(certificate_pdf(contents)).text("-layout"))
    assert contents.found is not None
    model = contents.found.survey.model
    assert f"scale, cents per octave {signed(model.scale_cents_per_oct or 0.0)} ±" in text
    for words in (
        "As left, every one of the 11 notes measured from C1 to C6 is within ±1 cent.",
        "2 trimmer visits in between.",
        "Heron",
        "voltage-controlled oscillator · fed by trimmable output 2",
        "25 November 2026, 13:02 UTC 25 November 2026, 14:02 UTC",
        "21.5 °C 21.5 °C",
        "power on for 95 minutes 95 minutes",
        "1 scale C6 +11.00 +10.00 +10.10 −0.15 probe; stopped at the limit",
        "C6 +10.10 +5.10 +5.08 not counted inside the window",
        "2 base fine C4 +5.05 +0.20 – −0.60 still",
        "where |error| + U ≤ 1 cent, outside where |error| − U > 1 cent",
        "Frequencies were compared with the recorder’s clock. The standard uncertainty of the "
        "clock is 50 parts per million, which is ±0.18 cents (k = 2)",
        "it is not the certificate of an accredited laboratory",
        "reach at ±1 cent: C1 to C6",
        "certificate 20261125-b7c2c3",
        "page 1 of 2",
    ):
        assert words in text, words
    assert "nvented" not in text


@poppler
def test_it_is_kept_and_read_aloud_by_the_standards(contents: Contents, read_pdf: Read) -> None:
    """PDF/A-2a (ISO 19005-2), PDF/UA-1 (ISO 14289-1) as the file claims; tags as poppler sees."""
    pdf = certificate_pdf(contents)
    for claim in (
        b"<pdfaid:part>2</pdfaid:part>",
        b"<pdfaid:conformance>A</pdfaid:conformance>",
        b"<pdfuaid:part>1</pdfuaid:part>",
    ):
        assert claim in pdf
    read = read_pdf(pdf)
    facts = read.facts()
    assert facts["Title"] == "Certificate 20261125-b7c2c3, Heron"
    assert facts["Tagged"] == "yes"
    assert facts["CreationDate"].startswith("Wed Nov 25 00:00:00 2026")
    faces = read.faces()
    assert faces
    assert all(face[-5:-3] == ["yes", "yes"] for face in faces), faces  # embedded, subset
    tags = read.tags()
    for tag in ("H1", "Table", "TH", "Figure", "L"):
        assert re.search(rf"^\s*{tag}\b", tags, re.MULTILINE), tag


@poppler
@pytest.mark.parametrize(("paper", "size"), [("a4", "595.276 x 841.89"), ("letter", "612 x 792")])
def test_it_fits_the_paper_asked_for(
    contents: Contents, read_pdf: Read, paper: str, size: str
) -> None:
    facts = read_pdf(certificate_pdf(contents, "letter" if paper == "letter" else "a4")).facts()
    assert facts["Page size"].startswith(size)
    assert facts["Pages"] == "2"


def test_the_same_data_and_date_give_the_same_bytes(contents: Contents) -> None:
    pdf = certificate_pdf(contents)
    assert pdf == certificate_pdf(contents)
    assert pdf != certificate_pdf(replace(contents, dated=date(2026, 11, 26)))


@poppler
def test_invented_data_say_so_on_every_page(contents: Contents, read_pdf: Read) -> None:
    pages = read_pdf(certificate_pdf(replace(contents, invented=True))).text().split("\f")[:-1]
    assert len(pages) >= 2
    assert all("invented data" in page for page in pages)
    assert "No real instrument was measured" in squeezed(pages[0])
    assert "nothing is traceable to anything" in squeezed(" ".join(pages))


@poppler
def test_a_long_table_goes_on_with_its_headings(
    contents: Contents, read_pdf: Read, survey: Make, on_paper: Make
) -> None:
    long = on_paper(survey(lambda n: 0.3, notes=range(24, 109)))
    many = replace(contents, left=long, found=None, visits=())
    pages = read_pdf(certificate_pdf(many)).text("-layout").split("\f")
    headed = [page for page in pages if re.search(r"note +volts +Hz +error +U +k", page)]
    assert len(headed) >= 2
    rows = [
        line.split()[0]
        for line in "\n".join(pages).splitlines()
        if line.rstrip().endswith(("● inside", "○ undecided", "× outside"))
        and re.search(r"\d+\.\d{3}", line)
    ]
    assert rows == [note_name(note) for note in range(24, 109)]
    assert "There is no survey as found" in squeezed(" ".join(pages))


@poppler
def test_only_as_found_is_said_to_be_so(contents: Contents, read_pdf: Read) -> None:
    text = squeezed(
        read_pdf(certificate_pdf(replace(contents, left=None, visits=()))).text("-layout")
    )
    assert "As found, 1 of 11 notes measured from C1 to C6 is within ±1 cent for certain" in text
    assert "There is no survey as left" in text
    assert "None: nothing was turned after this survey." in text
    assert "× outside" in text


@poppler
def test_what_is_in_doubt_or_not_measured_is_marked(
    contents: Contents, read_pdf: Read, on_paper: Make
) -> None:
    shape = dict.fromkeys(range(24, 85, 3), 0.2) | {48: 6.0}
    points = [
        Point(n, cv_of_note(n), note_to_hz(n) * 2 ** (cents / 1200), 0.05)
        for n, cents in shape.items()
    ]
    doubted = replace(contents, left=on_paper(survey_oscillator("Heron", points)))
    lines = [
        squeezed(line) for line in read_pdf(certificate_pdf(doubted)).text("-layout").splitlines()
    ]
    (row,) = [line for line in lines if line.startswith("C3 ")]
    assert "+6.00 ?" in row
    (between,) = [line for line in lines if line.startswith("D♯1 ")]
    assert "– – – –" in between
    assert "was another key down" in " ".join(lines)


@poppler
@pytest.mark.parametrize(
    "name",
    [
        '#eval("1+1") $x$ [b] *c* _d_ `e` <f> @g \\ // /* ~ -- --- "q" {1}',
        '#image("/etc/passwd")',
        "He\nron\t\u2028two",
        "Gér’s Ωμέγα · Орёл · שלדג",
        "Ge\u0301r, decomposed",
        "a\u202eb\u0007c\ud800d",
    ],
)
def test_no_name_is_obeyed(contents: Contents, read_pdf: Read, name: str) -> None:
    odd = replace(contents, name=name, fed_by=name)
    text = squeezed(read_pdf(certificate_pdf(odd)).text("-raw"))
    if "שלדג" in name:  # letters from right to left are read back in either order
        assert "Gér’s Ωμέγα · Орёл" in text
    else:
        assert plain_words(name) in text


@poppler
def test_letters_that_no_face_holds_are_printed_as_their_numbers(
    contents: Contents, read_pdf: Read
) -> None:
    text = read_pdf(certificate_pdf(replace(contents, name="Tern \U000133ff"))).text()
    assert "Tern [U+133FF]" in text


@poppler
def test_a_name_of_ten_thousand_letters_is_cut_with_a_word(
    contents: Contents, read_pdf: Read
) -> None:
    read = read_pdf(certificate_pdf(replace(contents, name="x" * 10_000, fed_by="y" * 10_000)))
    assert "(10,000 characters in all)" in squeezed(read.text())
    assert read.facts()["Pages"] == "2"


# Each letter that no face holds is tried by itself, so few of them are drawn at a time.
@settings(max_examples=25)
@given(words=st.text(max_size=20))
def test_any_words_can_be_typeset(words: str) -> None:
    points = [Point(n, cv_of_note(n), note_to_hz(n), 0.05) for n in (36, 48, 60, 72)]
    odd = SurveyDone(
        survey_oscillator("Heron", points),
        datetime(2026, 11, 25, tzinfo=UTC),
        bench=words,
        source=words,
        route=words,
        reference=words,
        remark=words,
    )
    pdf = certificate_pdf(Contents(words, odd, None, 1.0, date(2026, 11, 25), fed_by=words))
    assert pdf.startswith(b"%PDF")


@pytest.mark.parametrize(
    ("cents", "cut"), [(0.101, "0.11"), (0.1, "0.10"), (0.30000000000000004, "0.30"), (2.0, "2.00")]
)
def test_an_uncertainty_is_rounded_up(cents: float, cut: str) -> None:
    assert expanded(cents) == cut


def test_a_target_heard_in_the_same_take_needs_no_outside_standard(
    contents: Contents, on_paper: Make
) -> None:
    points = [Point(n, cv_of_note(n), note_to_hz(n) * 1.01, 0.05) for n in range(24, 85, 12)]
    survey = survey_oscillator("Heron", points, target=TargetCurve.own(points), clock_ppm=50.0)
    record = certificate_record(replace(contents, left=on_paper(survey)))
    assert "its error cancels" in record["reference"][0]
    assert second_sentence(replace(contents, left=on_paper(survey))).endswith(
        "The two are against different targets: do not compare one with the other."
    )
    assert "different targets" not in second_sentence(contents)
    assert all(note["u_cents"] < 0.2 for note in record["as_left"]["notes"])


@pytest.mark.parametrize("without", ["", "found", "left"])
def test_the_record_is_what_the_docs_publish(contents: Contents, without: str) -> None:
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    found = None if without == "found" else contents.found
    left = None if without == "left" else contents.left
    shown = replace(contents, found=found, left=left)
    validator = jsonschema.Draft202012Validator(schema)
    assert list(validator.iter_errors(certificate_record(shown))) == []
    assert list(validator.iter_errors({**certificate_record(shown), "dated": 3})) != []


def test_the_record_is_plain_and_says_the_same(contents: Contents) -> None:
    record = json.loads(json.dumps(certificate_record(contents), allow_nan=False))
    assert record["schema"] == "pitchwright certificate 1"
    assert record["headline"].startswith("As left, every one of the 11 notes")
    assert [note["standing"] for note in record["as_left"]["notes"]] == ["inside"] * 11
    assert record["visits"][0]["turns"][1]["turns"] is None

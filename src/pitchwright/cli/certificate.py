"""``pitchwright certificate`` and ``pitchwright label``: an instrument on paper."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pitchwright.cli.log_options import LogbookChoice, PracticeOption, opened
from pitchwright.errors import InputError

if TYPE_CHECKING:
    from pitchwright.certificate.contents import Contents
    from pitchwright.certificate.typeset import Paper

__all__ = ["certificate", "label", "write_certificate"]

DateOption = Annotated[
    str,
    typer.Option(
        help="Day on the paper, such as 2026-11-25; what was measured later is not on it.  "
        "[default: today]",
        show_default=False,
    ),
]
ToleranceOption = Annotated[
    float | None,
    typer.Option(
        help="Tolerance either way, in cents.  [default: what the survey was made for]",
        show_default=False,
    ),
]
OutOption = Annotated[
    Path | None,
    typer.Option(
        help="Where the PDF goes.  [default: beside you, a new file each time]",
        show_default=False,
    ),
]


def certificate(
    name: Annotated[
        str, typer.Argument(help="The instrument, as the logbook calls it.", show_default=False)
    ],
    date: DateOption = "",
    paper: Annotated[str, typer.Option(help="a4 or letter.")] = "a4",
    tolerance: ToleranceOption = None,
    out: OutOption = None,
    practice: PracticeOption = False,
    logbook: LogbookChoice = "",
    as_json: Annotated[
        bool,
        typer.Option("--json", help="Print JSON, for a program; a PDF only where --out names one."),
    ] = False,
) -> None:
    """Print an instrument's certificate: as found, as left, how sure, and what it rests on."""
    from pitchwright.cli import console
    from pitchwright.upkeep.certifying import certificate_of

    day, chosen, wanted = _day(date), _paper(paper), _tolerance(tolerance)
    with opened(logbook, practice) as book:
        contents = certificate_of(book, name, dated=day, tolerance_cents=wanted)
    if as_json:
        from pitchwright.certificate.certificate import certificate_record

        if out is not None:
            write_certificate(contents, chosen, out)
        console.print_json(certificate_record(contents))
        return
    from pitchwright.certificate.statements import headline, second_sentence
    from pitchwright.cli.shown import shown

    path = write_certificate(contents, chosen, out)
    console.heading(shown(contents.name))
    console.sentence(headline(contents))
    console.sentence(second_sentence(contents))
    if contents.invented:
        console.sentence("The data are of the practice rig: invented; the certificate says so.")
    console.sentence(f"Written: {path}")


def label(
    names: Annotated[
        list[str] | None,
        typer.Argument(help="The instruments, as the logbook calls them.", show_default=False),
    ] = None,
    every: Annotated[
        bool, typer.Option("--all", help="Every instrument that was ever surveyed.")
    ] = False,
    sheet: Annotated[
        str,
        typer.Option(
            help="All on sheets of this paper, a4 or letter, to cut.  [default: a page a label]",
            show_default=False,
        ),
    ] = "",
    size: Annotated[str, typer.Option(help="Width and height of a label in millimetres.")] = (
        "62x29"
    ),
    date: DateOption = "",
    tolerance: ToleranceOption = None,
    out: OutOption = None,
    practice: PracticeOption = False,
    logbook: LogbookChoice = "",
) -> None:
    """Print labels to stick inside the case: name, day, which output feeds it, reach."""
    from pitchwright.certificate.label import labels_pdf
    from pitchwright.cli import console
    from pitchwright.cli.options import file_name
    from pitchwright.upkeep.certifying import certificate_of, certificates_of_all
    from pitchwright.writing import free_path, write_whole

    if bool(names) == every:
        raise InputError("Name instruments, or say --all", do="See pitchwright label --help")
    day, wanted, size_mm = _day(date), _tolerance(tolerance), _size(size)
    chosen = _paper(sheet, "--sheet") if sheet else None
    with opened(logbook, practice) as book:
        contents = (
            certificates_of_all(book, dated=day, tolerance_cents=wanted)
            if every
            else tuple(
                certificate_of(book, name, dated=day, tolerance_cents=wanted)
                for name in names or ()
            )
        )
    pdf = labels_pdf(contents, sheet=chosen, size_mm=size_mm)
    single = file_name(contents[0].name) if len(contents) == 1 else ""
    path = out or free_path(Path(f"{single}-label.pdf" if single else "labels.pdf"))
    write_whole(path, pdf)
    count = len(contents)
    console.sentence(f"{count} label{'' if count == 1 else 's'} written: {path}")


def write_certificate(contents: Contents, paper: Paper, out: Path | None) -> Path:
    """Write the PDF of a certificate to a file, or to a new one beside the caller; its path."""
    from pitchwright.certificate.certificate import certificate_pdf
    from pitchwright.cli.options import file_name
    from pitchwright.writing import free_path, write_whole

    path = out or free_path(Path(f"{file_name(contents.name)}-certificate.pdf"))
    write_whole(path, certificate_pdf(contents, paper))
    return path


def _day(text: str) -> date | None:
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise InputError(
            f"“{text[:40]}” is not a date", "--date", "Write it like 2026-11-25"
        ) from None


def _paper(text: str, where: str = "--paper") -> Paper:
    from pitchwright.certificate.typeset import PAPERS

    for paper in PAPERS:
        if text.casefold() == paper:
            return paper
    raise InputError(f"There is no paper “{text[:40]}” here", where, "Say a4 or letter")


def _tolerance(cents: float | None) -> float | None:
    if cents is not None and not 0.0 < cents <= 1200.0:
        raise InputError(
            f"A tolerance cannot be {cents:g} cents", "--tolerance", "Say for example 2"
        )
    return cents


def _size(text: str) -> tuple[float, float]:
    parts = text.casefold().replace("×", "x").replace("mm", "").split("x")
    try:
        width, height = (float(part.strip()) for part in parts)
    except ValueError:
        raise InputError(
            f"“{text[:40]}” is not a size", "--size", "Write width x height in millimetres: 62x29"
        ) from None
    return width, height

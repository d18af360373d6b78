"""``pitchwright demo``: the whole job on the practice rig, nothing needed."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

__all__ = ["demo"]

NOTES = "C1..C7 step 6"
REAL = "logbook.sqlite"
LOGBOOK = "logbook-practice.sqlite"
"""Where what is practised is written down, beside the real one, which the demo never makes."""


def demo(
    folder: Annotated[
        Path, typer.Option(help="Where the results go; made where it is missing.")
    ] = Path("pitchwright-demo"),
) -> None:
    """Survey the oscillators of an invented instrument, trim one, and show the result."""
    from pitchwright.cli import console
    from pitchwright.cli.practising import rehearse
    from pitchwright.cli.survey import hand_out
    from pitchwright.cli.surveying import Against, survey_takes
    from pitchwright.errors import InputError

    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise InputError(
            f"The folder cannot be made: {fault.strerror}", str(folder), "Choose another: --folder"
        ) from fault
    console.sentence(
        "The music room of a small theatre, all of it invented: four oscillators and a filter "
        "used as one, played from a keyboard called Loft. They are recorded first, note by note, "
        "then the recording is surveyed as any recording would be."
    )
    take = folder / "take.wav"
    with console.progress("Playing") as advance:
        truth = rehearse(take, notes=NOTES, progress=advance)
    names = ", ".join(oscillator.name for oscillator in truth.oscillators)
    with console.progress("Listening") as advance:
        surveyed = survey_takes([take], Against(), NOTES, names, progress=advance, invented=True)
    sheets = hand_out(surveyed, sheet=folder, csv=folder / "curves.csv", as_json=False)
    trimmed, certificate = _trim(folder)
    console.gap()
    console.sentence(
        f"The take and its truth, the curves as CSV and {len(sheets)} sheets are in {folder}; "
        f"Heron as found and as left is in {trimmed}. What was measured and turned is in a logbook "
        f"beside them, {LOGBOOK}; pitchwright log --logbook {folder / LOGBOOK} shows it."
    )
    console.sentence(f"The certificate, invented like the rest: {certificate}")


def _trim(folder: Path) -> tuple[Path, Path]:
    """Have a simulated hand trim Heron; its sheet and its certificate, both curves on each."""
    from datetime import UTC, datetime

    from pitchwright.cli import console
    from pitchwright.cli.certificate import write_certificate
    from pitchwright.cli.trimming import Teller, practice_bench, practice_settings
    from pitchwright.logbook.store import Logbook
    from pitchwright.pictures.sheet import sheet_svg
    from pitchwright.procedures.circumstances import Conditions
    from pitchwright.sitting import Sitting, trim_job
    from pitchwright.units import parse_note
    from pitchwright.upkeep import Recorder
    from pitchwright.upkeep.certifying import certificate_of
    from pitchwright.writing import free_path, write_whole

    console.gap()
    console.sentence(
        "Now Heron is trimmed. A simulated hand does what it is told, as well as hands do: it "
        "feels for the right way first, and stops near the aim, not on it."
    )
    settings = practice_settings(
        "Heron",
        low=parse_note("C1"),
        high=parse_note("C6"),
        tolerance_cents=1.0,
        conditions=Conditions(21.5, 95.0, route="trimmable output 2"),
    )
    with Recorder(str(folder / REAL), practice=True, warn=console.warning, aside=folder) as written:
        written.instrument("Heron", trimmers=settings.trimmers, fed_by="trimmable output 2")
        sitting = Sitting(written)
        begun = sitting.begin(trim_job(settings))
        bench = practice_bench(begun, None, seed=1)
        begun.carry_out(bench, (Teller(),))
        sitting.left(begun).carry_out(bench)
    with Logbook(str(folder / LOGBOOK)) as book:
        contents = certificate_of(book, "Heron", dated=datetime.now(UTC).astimezone().date())
    assert contents.found is not None
    assert contents.left is not None
    path = free_path(folder / "heron-trimmed-sheet.svg")
    drawn = sheet_svg(
        contents.left.survey,
        before=contents.found.survey,
        conditions="practice rig",
        invented=True,
    )
    write_whole(path, drawn)
    paper = free_path(folder / "heron-certificate.pdf")
    return path, write_certificate(contents, "a4", paper)

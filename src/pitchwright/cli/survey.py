"""``pitchwright survey``: from a take, a table or live sound to tracking curve, reach, advice."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pitchwright.cli.options import A4Option, BenchOption, JsonOption
from pitchwright.cli.recorded import (
    AfreshOption,
    LogbookOption,
    MinutesOption,
    ResumeOption,
    RouteOption,
    SourceOption,
    TemperatureOption,
    WhenOption,
)
from pitchwright.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from pitchwright.cli.surveying import Surveyed
    from pitchwright.procedures.circumstances import Conditions, SurveyState
    from pitchwright.upkeep import Recorder

__all__ = ["hand_out", "survey", "write_down"]


def survey(
    files: Annotated[
        list[Path] | None,
        typer.Argument(
            help="Recordings in which notes were played: WAV, FLAC or AIFF, one oscillator a "
            "channel.",
            show_default=False,
        ),
    ] = None,
    table: Annotated[
        Path | None,
        typer.Option(
            help="Instead of recordings: a CSV of voltages (cv_v) or notes (note) and frequencies "
            "(f_hz).",
            show_default=False,
        ),
    ] = None,
    notes: Annotated[
        str,
        typer.Option(
            help='The notes played, in order: "C1..C7 step 6" or "C4, E4, G4"; else the nearest.  '
            "[default when live: C1..C7 step 6]",
            show_default=False,
        ),
    ] = "",
    names: Annotated[
        str,
        typer.Option(
            help="Names of the channels, with commas; when live, of the oscillators to survey.",
            show_default=False,
        ),
    ] = "",
    bench: BenchOption = None,
    events: Annotated[
        Path | None,
        typer.Option(
            help="Live: keep what happens in this file (JSON lines), and go on from it where it "
            "was stopped.",
            show_default=False,
        ),
    ] = None,
    reference: Annotated[
        int | None,
        typer.Option(help="Channel that holds a reference tone throughout.", show_default=False),
    ] = None,
    reference_hz: Annotated[
        float | None,
        typer.Option(help="The reference's frequency in hertz, if known.", show_default=False),
    ] = None,
    a4: A4Option = 440.0,
    own: Annotated[
        bool, typer.Option("--own", help="Measure against the oscillator's own middle C.")
    ] = False,
    follow: Annotated[
        str,
        typer.Option(help="Measure against this channel's curve (its name).", show_default=False),
    ] = "",
    tolerance: Annotated[
        list[float] | None,
        typer.Option(
            help="Tolerance in cents for the reach; may be given again.  [default: 1, 2, 5]",
            show_default=False,
        ),
    ] = None,
    clock_ppm: Annotated[
        float,
        typer.Option(help="Standard uncertainty of the recorder's clock, parts per million."),
    ] = 50.0,
    sheet: Annotated[
        Path | None,
        typer.Option(
            help="Where the sheet (SVG) goes; with several oscillators their names are added.  "
            "[default: beside you, a new file each time]",
            show_default=False,
        ),
    ] = None,
    no_sheet: Annotated[bool, typer.Option("--no-sheet", help="Write no sheet.")] = False,
    plot: Annotated[
        bool, typer.Option("--plot", help="Draw the curves here, in characters.")
    ] = False,
    csv: Annotated[
        Path | None,
        typer.Option(help="Write the tracking curves to this CSV file.", show_default=False),
    ] = None,
    as_json: JsonOption = False,
    state: Annotated[
        str,
        typer.Option(
            help="Where in the upkeep it stands: found (before trimming), left (after), check."
        ),
    ] = "check",
    resume: ResumeOption = False,
    afresh: AfreshOption = False,
    when: WhenOption = "",
    temperature: TemperatureOption = None,
    minutes_on: MinutesOption = None,
    source: SourceOption = "",
    route: RouteOption = "",
    logbook: LogbookOption = "",
) -> None:
    """Survey oscillators: how far off each is at every note, why, and what to turn.

    Without recordings or a table it is live: notes are played and heard as the bench file says
    (pitchwright bench setup makes one). For a recording, play single notes, each held for a second
    or two, in any order; play a low, a middle and a high one again at the end: that shows how
    well a note comes back, and what moved all notes meanwhile.
    """
    from pitchwright.cli import console
    from pitchwright.cli.options import checked_a4
    from pitchwright.cli.recorded import (
        chosen_state,
        chosen_time,
        conditions,
        recorder,
        say_where,
    )
    from pitchwright.cli.surveying import Against, survey_table, survey_takes
    from pitchwright.practice.take_truth import truth_path

    if files is not None and table is not None:
        raise InputError("Recordings and --table both", do="Survey one, then the other")
    against = Against(checked_a4(a4), own, follow, tuple(tolerance or (1.0, 2.0, 5.0)), clock_ppm)
    standing, at = chosen_state(state), chosen_time(when)
    under = conditions(temperature, minutes_on, source, route)
    surveyed: Sequence[Surveyed]
    if files is None and table is None:
        from pitchwright.cli.live import described_bench
        from pitchwright.cli.surveying_live import surveying_live

        surveying_live(
            described_bench(bench),
            against,
            names=names,
            notes=notes,
            events=events,
            resume=resume,
            afresh=afresh,
            logbook=logbook,
            conditions=under,
            state=standing,
            sheet=None if no_sheet else sheet or Path(),
            csv=csv,
            as_json=as_json,
        )
        return
    if resume or afresh:
        raise InputError(
            "--resume and --afresh are for a live survey", do="A recording is heard as a whole"
        )
    if table is not None:
        surveyed = [survey_table(table, against, names)]
    else:
        with console.progress("Listening") as advance:
            surveyed = survey_takes(
                files or [], against, notes, names, reference, reference_hz, advance
            )
    practice = any(truth_path(file).exists() for file in files or [])
    with recorder(logbook, practice=practice) as written:
        write_down(surveyed, written, conditions=under, state=standing, at=at)
        hand_out(
            surveyed,
            sheet=None if no_sheet else sheet or Path(),
            csv=csv,
            as_json=as_json,
            plot=plot,
        )
        if not as_json:
            say_where(written)


def write_down(
    surveyed: Sequence[Surveyed],
    written: Recorder,
    *,
    conditions: Conditions,
    state: SurveyState,
    at: datetime | None = None,
) -> None:
    """Write surveys into the logbook, each with what its pitches were compared with."""
    from pitchwright.procedures.circumstances import AS_USUAL, Conditions

    for one in surveyed:
        under = replace(
            one.closed.circumstances or AS_USUAL,
            state=state,
            conditions=conditions.or_else(Conditions(reference=one.reference)),
        )
        closed = replace(one.closed, circumstances=under)
        written.survey(closed, instrument=one.instrument, at=at)


def hand_out(
    surveyed: Sequence[Surveyed],
    *,
    sheet: Path | None,
    csv: Path | None,
    as_json: bool,
    plot: bool = False,
) -> list[Path]:
    """Write sheets and CSV and print the surveys; the sheets' paths.

    Parameters
    ----------
    surveyed
        What was surveyed.
    sheet
        A file, an existing folder for new files (``Path()`` is here), or None for no sheet.
    csv
        File for the curves, or None.
    as_json
        Print JSON instead of sentences.
    plot
        Draw each curve in characters too.
    """
    from pitchwright.certificate.csv_table import write_csv
    from pitchwright.certificate.survey_record import CURVE_HEADINGS, curve_rows
    from pitchwright.cli import console, tell_survey

    if csv is not None:
        write_csv(csv, CURVE_HEADINGS, curve_rows([one.survey for one in surveyed]))
    sheets = _write_sheets(surveyed, sheet) if sheet is not None else []
    if as_json:
        console.print_json(tell_survey.record(surveyed, sheets))
    else:
        for place, one in enumerate(surveyed):
            tell_survey.tell(one, sheets[place] if sheets else None, plot=plot)
        if sheet is not None and len(surveyed) > 1:
            console.gap()
            for what, path in _write_together(surveyed, sheet):
                console.sentence(f"{what}: {path}")
    return sheets


def _write_together(surveyed: Sequence[Surveyed], sheet: Path) -> list[tuple[str, Path]]:
    """Write all oscillators at a glance, and over each other, beside their sheets."""
    from pitchwright.pictures.glance_chart import glance_svg, overlay_svg
    from pitchwright.pictures.shown import shown
    from pitchwright.writing import free_path, write_whole

    curves = [shown(one.survey) for one in surveyed]
    invented = any(one.invented for one in surveyed)
    written = []
    for what, name, draw in (
        ("All at a glance", "glance", glance_svg),
        ("All over each other", "over-each-other", overlay_svg),
    ):
        if sheet.is_dir():
            path = free_path(sheet / f"{name}.svg")
        else:
            path = sheet.with_name(f"{sheet.stem}-{name}{sheet.suffix or '.svg'}")
        write_whole(path, draw("All oscillators", curves, invented=invented))
        written.append((what, path))
    return written


def _write_sheets(surveyed: Sequence[Surveyed], sheet: Path) -> list[Path]:
    from pitchwright.cli.options import file_name
    from pitchwright.pictures.sheet import sheet_svg
    from pitchwright.writing import free_path, write_whole

    paths = []
    for one in surveyed:
        name = file_name(one.survey.name)
        if sheet.is_dir():
            path = free_path(sheet / f"{name}-sheet.svg")
        elif len(surveyed) == 1:
            path = sheet
        else:
            path = sheet.with_name(f"{sheet.stem}-{name}{sheet.suffix or '.svg'}")
        write_whole(path, sheet_svg(one.survey, conditions=one.where, invented=one.invented))
        paths.append(path)
    return paths

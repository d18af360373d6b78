"""Take the logbook out and in, back it up, check it, make its tables again."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pitchwright.cli.log_options import LogbookChoice, PracticeOption, opened
from pitchwright.cli.options import JsonOption
from pitchwright.errors import InputError

__all__ = ["add_to"]

OutArgument = Annotated[Path, typer.Argument(help="The file to write.", show_default=False)]


def add_to(app: typer.Typer) -> None:
    """Make these commands of ``app``."""
    app.command("export")(export)
    app.command("import")(take_in)
    app.command()(readings)
    app.command()(backup)
    app.command("check")(look_over)
    app.command()(rebuild)


def export(out: OutArgument, logbook: LogbookChoice = "", practice: PracticeOption = False) -> None:
    """Write everything to a file of JSON lines, for another bench or for keeps."""
    from pitchwright.cli import console
    from pitchwright.logbook.exchange import export_lines

    with opened(logbook, practice) as book, console.progress("Exporting") as advance:
        count = export_lines(book, out, advance)
    console.sentence(f"{_entries(count)} in {out}.")


def take_in(
    files: Annotated[list[Path], typer.Argument(help="Files of log export.", show_default=False)],
    logbook: LogbookChoice = "",
    practice: PracticeOption = False,
) -> None:
    """Take entries in from exported files: each once, and all of a file or none."""
    from pitchwright.cli import console
    from pitchwright.logbook.exchange import import_lines

    with opened(logbook, practice, new=True) as book:
        for file in files:
            with console.progress("Importing") as advance:
                new, known = import_lines(book, file, advance)
            console.sentence(f"{file}: {_entries(new)} new, {known} known already.")


def readings(
    out: OutArgument, logbook: LogbookChoice = "", practice: PracticeOption = False
) -> None:
    """Write the readings of every survey to a CSV file, for a spreadsheet."""
    from pitchwright.certificate.csv_table import write_csv
    from pitchwright.cli import console
    from pitchwright.logbook.exchange import READINGS_HEADINGS, readings_rows

    with opened(logbook, practice) as book:
        rows = list(readings_rows(book))
    write_csv(out, READINGS_HEADINGS, rows)
    console.sentence(f"{len(rows)} reading{'' if len(rows) == 1 else 's'} in {out}.")


def backup(
    out: Annotated[
        Path | None,
        typer.Argument(
            help="The file to write.  [default: beside the logbook, with today's date]",
            show_default=False,
        ),
    ] = None,
    logbook: LogbookChoice = "",
    practice: PracticeOption = False,
) -> None:
    """Copy the logbook while it is in use; the copy is checked."""
    from datetime import date

    from pitchwright.cli import console
    from pitchwright.logbook import Logbook
    from pitchwright.logbook.care import back_up, check
    from pitchwright.writing import free_path

    with opened(logbook, practice) as book:
        where = Path(book.where)
        path = out or free_path(where.with_name(f"{where.stem}-{date.today().isoformat()}.sqlite"))
        back_up(book, path)
    with Logbook(str(path)) as copy:
        wrong = check(copy)
    if wrong:
        raise InputError("The copy is not whole", str(path), wrong[0])
    console.sentence(f"The copy is in {path}; it was checked and is whole.")


def look_over(
    as_json: JsonOption = False, logbook: LogbookChoice = "", practice: PracticeOption = False
) -> None:
    """Check the logbook: the database itself, every entry, and what was read off them."""
    from pitchwright.cli import console
    from pitchwright.cli.shown import shown
    from pitchwright.logbook.care import check

    with opened(logbook, practice) as book:
        wrong = check(book)
        where = book.where
    if as_json:
        console.print_json({"schema": "pitchwright check 1", "logbook": where, "wrong": wrong})
    elif not wrong:
        console.sentence(f"{where}: all is well.")
    else:
        for sentence in wrong:
            console.sentence(shown(sentence, most=400))
    if wrong:
        raise typer.Exit(2)


def rebuild(logbook: LogbookChoice = "", practice: PracticeOption = False) -> None:
    """Make the tables that are read off the entries again; no entry is touched."""
    from pitchwright.cli import console
    from pitchwright.logbook.care import rebuild

    with opened(logbook, practice) as book:
        count = rebuild(book)
    console.sentence(f"Made again from {_entries(count)}.")


def _entries(count: int) -> str:
    return f"{count} entr{'y' if count == 1 else 'ies'}"

"""What a person writes into the logbook: notes, withdrawals, who an instrument is."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from pitchwright.cli.log_options import LogbookChoice, PracticeOption, opened
from pitchwright.cli.options import JsonOption
from pitchwright.errors import InputError

if TYPE_CHECKING:
    from pitchwright.logbook.facts import TrimmerDescribed

__all__ = ["add_to"]


def add_to(app: typer.Typer) -> None:
    """Make these commands of ``app``."""
    app.command()(note)
    app.command()(withdraw)
    app.command()(instrument)


def note(
    text: Annotated[str, typer.Argument(help="What to write down.", show_default=False)],
    about: Annotated[
        str, typer.Option("--instrument", help="About this instrument.", show_default=False)
    ] = "",
    logbook: LogbookChoice = "",
    practice: PracticeOption = False,
) -> None:
    """Write a note down, about an instrument or about nothing in particular."""
    from pitchwright.cli import console
    from pitchwright.logbook.facts import InstrumentDescribed, NoteWritten
    from pitchwright.logbook.history import identifier_of, instruments

    if not text.strip():
        raise InputError("The note is empty", do="Write something in quotation marks")
    with opened(logbook, practice, new=True) as book:
        uid = None
        if about:
            uid = identifier_of(book, about)
            if all(known.uid != uid for known in instruments(book)):
                book.append(InstrumentDescribed(about), instrument=uid)
        written = book.append(NoteWritten(text), instrument=uid)
        console.sentence(f"Written down as {written.uid[:8]} in {book.where}.")


def withdraw(
    entry: Annotated[
        str,
        typer.Argument(
            help="The entry, as log and log history show it (the first six letters or more).",
            show_default=False,
        ),
    ],
    reason: Annotated[str, typer.Option(help="Why it was wrong.", prompt="Why was it wrong?")],
    logbook: LogbookChoice = "",
    practice: PracticeOption = False,
) -> None:
    """Have an entry that was wrong count no longer; it stays to be read."""
    from pitchwright.cli import console
    from pitchwright.logbook.facts import EntryWithdrawn
    from pitchwright.logbook.history import history
    from pitchwright.procedures.events import Closed, Started

    if not reason.strip():
        raise InputError("A withdrawal needs a reason", "--reason", "Say what was wrong")
    with opened(logbook, practice) as book:
        wrong = book.entry_named(entry)
        if isinstance(wrong.what, EntryWithdrawn):
            raise InputError(
                "A withdrawal cannot be withdrawn", entry, "Write down again what was right"
            )
        measured = (
            [row for row in history(book, wrong.instrument) if row.run == wrong.run]
            if wrong.run and wrong.instrument and isinstance(wrong.what, Started | Closed)
            else []
        )
        for row in measured:  # what a trim measured was wrong with it
            book.append(EntryWithdrawn(reason), instrument=wrong.instrument, corrects=row.uid)
        written = book.append(
            EntryWithdrawn(reason),
            run=wrong.run if isinstance(wrong.what, Started) else None,  # gives the run up
            instrument=wrong.instrument,
            corrects=wrong.uid,
        )
        console.sentence(
            f"Withdrawn: {wrong.what.kind} of {wrong.at_utc[:10]} ({wrong.uid[:8]}); it stays to "
            f"be read. Written down as {written.uid[:8]}."
        )
        if measured:
            named = ", ".join(f"{row.state.value} ({row.uid[:8]})" for row in measured)
            console.sentence(f"Its surveys are withdrawn with it: {named}.")


def instrument(
    name: Annotated[str, typer.Argument(help="Which instrument.", show_default=False)],
    what: Annotated[
        str, typer.Option(help="What it is: oscillator, filter.", show_default=False)
    ] = "",
    fed_by: Annotated[
        str,
        typer.Option(help="Which output of which buffered multiple feeds it.", show_default=False),
    ] = "",
    trimmers: Annotated[
        list[str] | None,
        typer.Option(
            "--trimmer",
            help='A trimmer and its kind, such as "R12: scale"; may be given again.',
            show_default=False,
        ),
    ] = None,
    rename: Annotated[str, typer.Option(help="Call it this from now on.", show_default=False)] = "",
    as_json: JsonOption = False,
    logbook: LogbookChoice = "",
    practice: PracticeOption = False,
) -> None:
    """Show what is known of an instrument, or write down who it is."""
    import json
    from dataclasses import asdict, replace

    from pitchwright.cli import console
    from pitchwright.cli.shown import local, shown
    from pitchwright.logbook.facts import InstrumentDescribed
    from pitchwright.logbook.history import (
        described,
        find_instrument,
        identifier_of,
        instruments,
        known_trimmers,
    )

    given = any((what, fed_by, trimmers, rename))
    listed = tuple(_trimmer(text) for text in trimmers or [])
    with opened(logbook, practice, new=given) as book:
        uid = identifier_of(book, name) if given else find_instrument(book, name).uid
        if rename and any(
            one.name.casefold() == rename.casefold() and one.uid != uid for one in instruments(book)
        ):
            raise InputError(f"Another is called “{shown(rename)}” already", do="Choose a new name")
        before = described(book, uid)
        known = before or InstrumentDescribed(name)
        now = replace(
            known,
            name=rename or known.name,
            what=what or known.what,
            fed_by=fed_by or known.fed_by,
            trimmers=listed or known.trimmers,
        )
        if given and now != before:
            book.append(now, instrument=uid)
        surveyed = find_instrument(book, uid)
        learned = {trimmer: json.loads(text) for trimmer, text in known_trimmers(book, uid).items()}
    if as_json:
        console.print_json(
            {
                "schema": "pitchwright instrument 1",
                "uid": uid,
                **asdict(now),
                "learned": learned,
                "surveys": surveyed.surveys,
                "last_survey_at_utc": surveyed.last_at_utc,
            }
        )
        return
    console.heading(shown(now.name))
    console.sentence(f"{shown(now.what).capitalize()}; {_fed_by(now.fed_by)}.")
    if surveyed.last_at_utc is not None:
        times = "once" if surveyed.surveys == 1 else f"{surveyed.surveys} times"
        console.sentence(f"Surveyed {times}, last on {local(surveyed.last_at_utc):%Y-%m-%d}.")
    for trimmer in now.trimmers:
        said = _learned(learned.get(trimmer.name))
        console.sentence(f"{shown(trimmer.name)} ({shown(trimmer.kind)}): {said}", indent=2)


def _trimmer(text: str) -> TrimmerDescribed:
    from pitchwright.logbook.facts import TrimmerDescribed
    from pitchwright.trim.kinds import KINDS

    name, colon, kind = (part.strip() for part in text.rpartition(":"))
    kinds = list(KINDS)
    if not colon or not name or kind not in kinds:
        raise InputError(
            f"“{text[:60]}” does not name a trimmer and its kind",
            "--trimmer",
            f'Write it like "R12: scale"; kinds are {", ".join(kinds)}',
        )
    return TrimmerDescribed(name, kind)


def _learned(known: dict[str, float | None] | None) -> str:
    if known is None:
        return "nothing learned yet."
    parts = []
    effect = known.get("effect_per_turn")
    if effect is not None:
        parts.append(f"{effect:+.2f} for one turn clockwise".replace("-", "−"))
    if known.get("at_zero_volts"):
        parts.append("pivot at 0 V")
    elif known.get("pivot_hz") is not None:
        parts.append(f"pivot at {known['pivot_hz']:.0f} Hz")
    return ", ".join(parts) + "." if parts else "nothing learned yet."


def _fed_by(source: str) -> str:
    from pitchwright.cli.shown import shown

    return f"fed by {shown(source)}" if source else "what feeds it is not noted"

"""``pitchwright trim``: from as found to as left, move by move, live or on the practice rig."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pitchwright.cli.options import A4Option, BenchOption
from pitchwright.cli.recorded import (
    AfreshOption,
    LogbookOption,
    MinutesOption,
    ResumeOption,
    RouteOption,
    TemperatureOption,
)
from pitchwright.errors import InputError

__all__ = ["trim"]


def trim(
    name: Annotated[str, typer.Argument(help="Which oscillator.", show_default=True)] = "Heron",
    practice: Annotated[
        bool, typer.Option("--practice", help="On the practice rig; you turn, at the keyboard.")
    ] = False,
    hand: Annotated[
        bool, typer.Option("--hand", help="Let a simulated hand turn, and watch it.")
    ] = False,
    low: Annotated[str, typer.Option(help="Lowest note that matters.")] = "C1",
    high: Annotated[str, typer.Option(help="Highest note that matters.")] = "C6",
    tolerance: Annotated[float, typer.Option(help="Tolerance either way, in cents.")] = 1.0,
    own: Annotated[
        bool, typer.Option("--own", help="Count from the oscillator's own middle C.")
    ] = False,
    a4: A4Option = 440.0,
    target: Annotated[
        Path | None,
        typer.Option(
            help="Trim to what this table says: cents by note, a plan of pitchwright detune --csv, "
            "or another's curve (pitchwright survey --csv).",
            show_default=False,
        ),
    ] = None,
    follow: Annotated[
        str,
        typer.Option(
            help="Trim to this oscillator's curve: of --target's table, or else surveyed first.",
            show_default=False,
        ),
    ] = "",
    extend: Annotated[
        str,
        typer.Option(
            help="Once the range holds, try this wider one too, such as C1..C8.",
            show_default=False,
        ),
    ] = "",
    leave: Annotated[
        list[str] | None,
        typer.Option(help="A trimmer that must not be turned; may be given again."),
    ] = None,
    seed: Annotated[int, typer.Option(help="Another number, another hand.")] = 1,
    bench: BenchOption = None,
    events: Annotated[
        Path | None,
        typer.Option(
            help="Keep everything that happens in this file (JSON lines), and go on from it where "
            "it was stopped.",
            show_default=False,
        ),
    ] = None,
    resume: ResumeOption = False,
    afresh: AfreshOption = False,
    temperature: TemperatureOption = None,
    minutes_on: MinutesOption = None,
    route: RouteOption = "",
    logbook: LogbookOption = "",
) -> None:
    """Trim one oscillator: which trimmer, at which note, and at which reading to stop.

    It is live, as the bench file says (pitchwright bench setup makes one): turn until the reading
    stands at the aim, and let it rest there; Enter ends a turn too. On the practice rig, which
    needs nothing connected, --practice lets you turn at the keyboard, and --hand shows it.
    """
    from pitchwright.cli import console
    from pitchwright.cli.kept_events import keeping
    from pitchwright.cli.options import checked_a4
    from pitchwright.cli.recorded import conditions, recorder, say_where
    from pitchwright.cli.targets import to_target
    from pitchwright.cli.trim_wishes import as_wished
    from pitchwright.cli.trimming import (
        KeyboardTurner,
        Teller,
        begin_trim,
        practice_bench,
        practice_settings,
        practised_survey,
        survey_left,
    )
    from pitchwright.units import parse_note

    if practice and hand:
        raise InputError(
            "Say who turns", do="--practice: you, at the keyboard; --hand: a simulated hand"
        )
    if not practice and not hand:
        from pitchwright.cli.live import described_bench
        from pitchwright.cli.trimming_live import live_settings, survey_first, trim_live

        there = described_bench(bench)
        wanted = live_settings(
            there,
            name,
            low=parse_note(low),
            high=parse_note(high),
            tolerance_cents=tolerance,
            own_middle=own,
            a4_hz=checked_a4(a4),
            conditions=conditions(temperature, minutes_on, "", route),
        )
        wanted = as_wished(wanted, extend, leave or ())
        follow = there.named(follow) if follow and target is None else follow
        trim_live(
            there,
            to_target(wanted, target, follow, lambda asked: survey_first(there, asked, a4)),
            a4_hz=a4,
            events=events,
            resume=resume,
            afresh=afresh,
            logbook=logbook,
        )
        return
    settings = practice_settings(
        name,
        low=parse_note(low),
        high=parse_note(high),
        tolerance_cents=tolerance,
        own_middle=own,
        a4_hz=checked_a4(a4),
        conditions=conditions(temperature, minutes_on, "", route),
    )
    settings = as_wished(settings, extend, leave or ())
    settings = to_target(settings, target, follow, practised_survey)
    console.sentence("The practice rig: instrument, values and hands are invented.")
    turner = KeyboardTurner() if practice else None
    with recorder(logbook, practice=True) as written:
        begun = begin_trim(written, settings, events=events, resume=resume, afresh=afresh)
        rig = practice_bench(begun, turner, seed)
        begun.carry_out(rig, (keeping(events), Teller()))
        survey_left(written, begun, rig)
        say_where(written)

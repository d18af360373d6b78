"""From files to surveys: what the commands that survey have in common."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from pitchwright.bench.table import read_table
from pitchwright.bench.take import Take, TakeChannel, hear_take
from pitchwright.errors import InputError
from pitchwright.tracking import OscillatorSurvey, Point, TargetCurve, survey_oscillator
from pitchwright.tracking.align import parse_notes
from pitchwright.units import note_name

__all__ = ["Against", "Surveyed", "survey_table", "survey_takes"]


@dataclass(frozen=True, slots=True)
class Against:
    """What oscillators are measured against, and how exactly.

    Attributes
    ----------
    a4_hz
        Pitch of A4.
    own
        Against each oscillator's own middle C.
    follow
        Name of the channel whose curve is the target; empty for none.
    tolerances
        In cents, for the reach.
    clock_ppm
        Standard uncertainty of the clock, in parts per million.
    """

    a4_hz: float = 440.0
    own: bool = False
    follow: str = ""
    tolerances: tuple[float, ...] = (1.0, 2.0, 5.0)
    clock_ppm: float = 50.0

    def __post_init__(self) -> None:
        """Refuse two targets at once."""
        if self.own and self.follow:
            raise InputError("--own and --follow cannot both be", do="Choose one of them")

    def target(self, points: Sequence[Point], channels: Sequence[TakeChannel]) -> TargetCurve:
        """The target curve for an oscillator with these points, heard beside these channels."""
        if self.own:
            return TargetCurve.own(points)
        if not self.follow:
            return TargetCurve.flat(self.a4_hz)
        for channel in channels:
            if channel.name.casefold() == self.follow.casefold():
                kept = [point for point in channel.points() if point.kept]
                return TargetCurve.following(kept, channel.name, same_take=True)
        raise InputError(
            f"There is no channel called “{self.follow}” to follow",
            do=f"There are: {', '.join(channel.name for channel in channels)}",
        )


@dataclass(frozen=True, slots=True)
class Surveyed:
    """A survey, and where it comes from.

    Attributes
    ----------
    survey
        The result.
    points
        All readings, kept or not.
    where
        File and channel, for a person.
    doubts
        What a person should know about how it was heard, each a sentence.
    passed_over
        What sounds in the take but was left out, as (begin_s, end_s, why).
    reference
        What the pitches were compared with, for a person.
    invented
        Whether the instrument is of the practice rig.
    instrument
        What the logbook calls it: a channel without a name of its own goes by its file.
    clock_ppm
        Standard uncertainty of the clock behind the pitches; 0 where it cancels.
    """

    survey: OscillatorSurvey
    points: tuple[Point, ...]
    where: str
    doubts: tuple[str, ...] = ()
    passed_over: tuple[tuple[float, float, str], ...] = ()
    reference: str = ""
    invented: bool = False
    instrument: str = ""
    clock_ppm: float = 0.0


def survey_takes(
    files: Sequence[Path],
    against: Against,
    notes: str = "",
    names: str = "",
    reference: int | None = None,
    reference_hz: float | None = None,
    progress: Callable[[float], None] | None = None,
    *,
    invented: bool = False,
) -> list[Surveyed]:
    """Hear recordings and survey every channel of each.

    Parameters
    ----------
    files
        The recordings.
    against
        What is measured against.
    notes
        The notes played, as `parse_notes` reads them; empty for the nearest.
    names
        The channels' names with commas, the same for every file; empty for numbers.
    reference, reference_hz
        As `hear_take`.
    progress
        Is given the share done, 0 to 1.
    invented
        Whether the recordings are of the practice rig.

    Raises
    ------
    InputError
        Where a recording, a name or a note cannot be used, or no channel holds a note.
    """
    written = parse_notes(notes) if notes else None
    listed = _listed(names)
    surveyed: list[Surveyed] = []
    for place, file in enumerate(files):
        take = hear_take(
            file,
            notes=written,
            reference=reference,
            reference_hz=reference_hz,
            names=listed or None,
            a4_hz=against.a4_hz,
            progress=_part(progress, place, len(files)),
        )
        surveyed += _survey_channels(
            take, against, several=len(files) > 1, named=bool(listed), invented=invented
        )
    return surveyed


def survey_table(path: Path, against: Against, name: str = "") -> Surveyed:
    """Survey an oscillator from a table of voltages and frequencies; errors as `read_table`."""
    read = read_table(path, oscillator=name)
    if few := _too_few(read.points):
        raise InputError(few, str(path), _MORE_NOTES)
    survey = survey_oscillator(
        name or path.stem,
        read.points,
        target=against.target(read.points, ()),
        tolerances=against.tolerances,
        clock_ppm=against.clock_ppm,
    )
    return Surveyed(
        survey,
        read.points,
        path.name,
        doubts=read.remarks,
        reference="the instruments that made the table",
        instrument=survey.name,
        clock_ppm=against.clock_ppm,
    )


def _survey_channels(
    take: Take, against: Against, *, several: bool, named: bool, invented: bool
) -> list[Surveyed]:
    surveyed = []
    reasons = []
    for channel in take.channels:
        where = f"{take.path.name}, channel {channel.channel}"
        points = channel.points()
        if not any(point.kept for point in points):
            reason = " ".join(f"{doubt.rstrip('.')}." for doubt in channel.doubts)
            reasons.append(f"{where}: {reason or 'No note could be read.'}")
            continue
        if few := _too_few(points):
            reasons.append(f"{where}: {few}. {_MORE_NOTES}.")
            continue
        if channel.name.casefold() == against.follow.casefold():
            target = TargetCurve.flat(against.a4_hz)
        else:
            target = against.target(points, take.channels)
        clock_ppm = 0.0 if take.clock_cancels else against.clock_ppm
        instrument = channel.name if named else f"{take.path.stem}, {channel.name}"
        survey = survey_oscillator(
            instrument if several else channel.name,
            points,
            target=target,
            tolerances=against.tolerances,
            clock_ppm=clock_ppm,
        )
        surveyed.append(
            Surveyed(
                survey,
                points,
                where,
                doubts=tuple(f"{doubt.rstrip('.')}." for doubt in channel.doubts),
                passed_over=tuple((one.begin_s, one.end_s, one.why) for one in channel.passed_over),
                reference=_reference(take, against.clock_ppm),
                invented=invented,
                instrument=instrument,
                clock_ppm=clock_ppm,
            )
        )
    if not surveyed:
        raise InputError(reasons[0])
    if reasons:
        surveyed[0] = replace(surveyed[0], doubts=(*surveyed[0].doubts, *reasons))
    return surveyed


_FEWEST_NOTES = 3
"""Two notes always lie on a line: they cannot show that anything is wrong."""
_MORE_NOTES = "Play three notes or more, far apart; a single tone is for pitchwright read"


def _too_few(points: Sequence[Point]) -> str:
    """What is wrong where too few notes were read for a survey; empty where they are enough."""
    heard = sorted({point.note for point in points if point.kept})
    if len(heard) >= _FEWEST_NOTES:
        return ""
    names = " and ".join(note_name(note) for note in heard)
    return f"Only {'one note was' if len(heard) == 1 else 'two notes were'} read ({names})"


def _reference(take: Take, clock_ppm: float) -> str:
    clock = f"the recorder's clock, taken to be right within {clock_ppm:g} parts per million"
    if take.reference is None:
        return clock
    tone = f"the reference on channel {take.reference}"
    if take.clock_cancels:
        return f"{tone}, {take.reference_hz:.3f} Hz"
    return f"{tone}; its pitch by {clock}"


def _listed(names: str) -> list[str]:
    return [name.strip() for name in names.split(",")] if names.strip() else []


def _part(
    progress: Callable[[float], None] | None, place: int, count: int
) -> Callable[[float], None] | None:
    return None if progress is None else lambda share: progress((place + share) / count)

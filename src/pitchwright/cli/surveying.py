"""From files to surveys: what the commands that survey have in common."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from pitchwright.bench.table import read_table
from pitchwright.bench.take import Take, hear_take
from pitchwright.errors import InputError
from pitchwright.procedures.circumstances import Circumstances, Conditions
from pitchwright.procedures.outcomes import SurveyClosed
from pitchwright.procedures.surveyed import surveyed
from pitchwright.tracking import OscillatorSurvey, Point, TargetCurve
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

    def circumstances(
        self, names: Iterable[str], clock_ppm: float, conditions: Conditions
    ) -> Circumstances:
        """How the readings of these oscillators are to be understood.

        Raises
        ------
        InputError
            Where the one to follow is none of them.
        """
        named = {name.casefold(): name for name in names}
        follow = named.get(self.follow.casefold(), "") if self.follow else ""
        if self.follow and not follow:
            raise InputError(
                f"There is no channel called “{self.follow}” to follow",
                do=f"There are: {', '.join(named.values())}",
            )
        return Circumstances(
            target=TargetCurve.flat(self.a4_hz),
            own_middle=self.own,
            follow=follow,
            tolerances=self.tolerances,
            clock_ppm=clock_ppm,
            conditions=conditions,
        )


@dataclass(frozen=True, slots=True)
class Surveyed:
    """A survey, and where it comes from.

    Attributes
    ----------
    closed
        The readings, kept or not, and their circumstances.
    survey
        What they came to.
    where
        File and channel, for a person.
    doubts
        What a person should know about how it was heard, each a sentence.
    passed_over
        What sounds in the take but was left out, as (begin_s, end_s, why).
    invented
        Whether the instrument is of the practice rig.
    instrument
        What the logbook calls it: a channel without a name of its own goes by its file.
    """

    closed: SurveyClosed
    survey: OscillatorSurvey
    where: str
    doubts: tuple[str, ...] = ()
    passed_over: tuple[tuple[float, float, str], ...] = ()
    invented: bool = False
    instrument: str = ""

    @property
    def points(self) -> tuple[Point, ...]:
        """All readings, kept or not."""
        return self.closed.points

    @property
    def reference(self) -> str:
        """What the pitches were compared with, for a person."""
        under = self.closed.circumstances
        return "" if under is None else under.conditions.reference


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
    heard: list[Surveyed] = []
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
        heard += _survey_channels(
            take, against, several=len(files) > 1, named=bool(listed), invented=invented
        )
    return heard


def survey_table(path: Path, against: Against, name: str = "") -> Surveyed:
    """Survey an oscillator from a table of voltages and frequencies; errors as `read_table`."""
    read = read_table(path, oscillator=name)
    if few := _too_few(read.points):
        raise InputError(few, str(path), _MORE_NOTES)
    reference = Conditions(reference="the instruments that made the table")
    under = against.circumstances((), against.clock_ppm, reference)
    named = name or path.stem
    closed = SurveyClosed(
        named, read.points, circumstances=under.closing(named, {named: read.points})
    )
    return Surveyed(closed, surveyed(closed), path.name, doubts=read.remarks, instrument=named)


def _survey_channels(
    take: Take, against: Against, *, several: bool, named: bool, invented: bool
) -> list[Surveyed]:
    found: list[Surveyed] = []
    reasons = []
    clock_ppm = 0.0 if take.clock_cancels else against.clock_ppm
    reference = Conditions(reference=_reference(take, against.clock_ppm))
    read = {channel.name: channel.points() for channel in take.channels}
    common = against.circumstances(read, clock_ppm, reference)
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
        instrument = channel.name if named else f"{take.path.stem}, {channel.name}"
        under = common.closing(channel.name, {**read, channel.name: points})
        closed = SurveyClosed(instrument if several else channel.name, points, circumstances=under)
        found.append(
            Surveyed(
                closed,
                surveyed(closed),
                where,
                doubts=tuple(f"{doubt.rstrip('.')}." for doubt in channel.doubts),
                passed_over=tuple((one.begin_s, one.end_s, one.why) for one in channel.passed_over),
                invented=invented,
                instrument=instrument,
            )
        )
    if not found:
        raise InputError(reasons[0])
    if reasons:
        found[0] = replace(found[0], doubts=(*found[0].doubts, *reasons))
    return found


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

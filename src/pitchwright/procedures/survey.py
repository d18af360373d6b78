"""The survey: which notes, in which order, and the readings they gave.

Theory of operation. The reference note (middle C, or the note nearest to it), the lowest and the
highest are played first; the others go upwards, the reference again after every few of them, and
the lowest and the highest again at the end. A low, a middle and a high note played again show how
well a note comes back, and tell what moved all notes meanwhile from what bends the curve. A note
that gives no pitch is tried once more and then left out, with a sentence; a doubted reading is kept
with its doubt and does not count. The procedure asks for nothing else and decides nothing: its
result is the list of points, ready for ``tracking``.
"""

from __future__ import annotations

from collections.abc import Generator, Mapping
from dataclasses import dataclass

from pitchwright.errors import InputError
from pitchwright.procedures.circumstances import AS_USUAL, Circumstances
from pitchwright.procedures.outcomes import SurveyClosed
from pitchwright.procedures.requests import (
    Answer,
    Heard,
    NotePlayed,
    PlayNote,
    ReadingsTaken,
    Report,
    Request,
    TakeReadings,
    Tell,
    expect,
)
from pitchwright.tracking.point import Point
from pitchwright.units import MIDDLE_C, NOTE_AT_0_V, cv_of_note, note_name

__all__ = ["SurveySettings", "notes_of_range", "order", "survey"]


@dataclass(frozen=True, slots=True)
class SurveySettings:
    """What to survey.

    Attributes
    ----------
    oscillators
        Their names, all heard at once.
    notes
        MIDI note numbers.
    note_at_0_v
        The note that 0 V plays.
    settle_s
        How long a note may take to settle, seconds.
    reference_every
        After how many notes the reference note is played again.
    circumstances
        How the readings are to be understood.
    """

    oscillators: tuple[str, ...]
    notes: tuple[float, ...]
    note_at_0_v: float = NOTE_AT_0_V
    settle_s: float = 10.0
    reference_every: int = 6
    circumstances: Circumstances = AS_USUAL

    def __post_init__(self) -> None:
        """Refuse what cannot be surveyed."""
        if not self.oscillators:
            raise InputError("No oscillator to survey", do="Name at least one")
        if not self.notes:
            raise InputError("No note to play", do="Give a range such as C1 to C6")
        if self.reference_every < 1:
            raise InputError("The reference note must come again after one note or more")
        follow = self.circumstances.follow
        if follow and follow not in self.oscillators:
            raise InputError(
                f"{follow} is not surveyed, so nothing can follow it",
                do=f"There are: {', '.join(self.oscillators)}",
            )

    def closed(self, oscillator: str, read: Mapping[str, tuple[Point, ...]]) -> SurveyClosed:
        """The survey of one oscillator, from the readings of all."""
        under = self.circumstances.closing(oscillator, read)
        return SurveyClosed(oscillator, read[oscillator], circumstances=under)


def notes_of_range(low: float, high: float, step: float) -> tuple[float, ...]:
    """Notes from ``low`` to ``high`` in steps of semitones, both ends included."""
    if not low < high:
        raise InputError(f"A range from {note_name(low)} to {note_name(high)} holds no notes")
    if not step > 0.0:
        raise InputError("The step between notes must be above zero semitones")
    notes = [low]
    while notes[-1] + step < high - 0.5 * step:
        notes.append(notes[-1] + step)
    return (*notes, high)


def order(settings: SurveySettings) -> list[float]:
    """Order of play: reference, lowest and highest first, and all three again later.

    The rest goes upwards, with the reference in between; lowest and highest come again at the end.
    """
    lowest, highest = min(settings.notes), max(settings.notes)
    middle = MIDDLE_C if lowest < MIDDLE_C < highest else (lowest + highest) / 2.0
    inner = [note for note in settings.notes if lowest < note < highest] or [lowest]
    reference = min(inner, key=lambda note: (abs(note - middle), note))
    ends = [note for note in sorted({lowest, highest}) if note != reference]
    rest = sorted(note for note in set(settings.notes) if note not in (reference, *ends))
    played = [reference, *ends]
    for i, note in enumerate(rest, start=1):
        played.append(note)
        if (i + len(ends)) % settings.reference_every == 0 and i < len(rest):
            played.append(reference)
    again = [] if played.count(reference) > 1 else [reference]
    return [*played, *again, *ends]


def survey(
    settings: SurveySettings,
) -> Generator[Request, Answer, dict[str, tuple[Point, ...]]]:
    """Play and read every note; return the points of each oscillator in the order taken.

    Raises
    ------
    InputError
        Where an oscillator gave no pitch at any note.
    """
    points: dict[str, list[Point]] = {name: [] for name in settings.oscillators}
    seen: set[float] = set()
    for note in order(settings):
        again = note in seen
        seen.add(note)
        name = note_name(note)
        why = (
            f"{name} again, to tell drift from tracking."
            if again
            else f"{name}, to see where it lies."
        )
        heard = yield from listen(
            settings.oscillators, note, settings.note_at_0_v, settings.settle_s, why
        )
        for one in heard:
            points[one.oscillator].append(point_of(one, note, settings.note_at_0_v))
    for name, taken in points.items():
        if not any(point.kept for point in taken):
            raise InputError(
                f"{name} gave no pitch at any note",
                do="Check that its sound arrives and that the notes reach it",
            )
    read = {name: tuple(taken) for name, taken in points.items()}
    for name in read:
        yield Report(settings.closed(name, read))
    return read


def listen(
    oscillators: tuple[str, ...], note: float, note_at_0_v: float, settle_s: float, why: str
) -> Generator[Request, Answer, tuple[Heard, ...]]:
    """Play one note and read it; once more where a reading is missing or doubted."""
    cv_v = cv_of_note(note, note_at_0_v)
    name = note_name(note)
    expect((yield PlayNote(note, cv_v, f"Play {why}")), NotePlayed)
    read = TakeReadings(note, cv_v, oscillators, settle_s, f"Listening to {name}.")
    heard = expect((yield read), ReadingsTaken).heard
    _check(heard, oscillators, name)
    bad = [one for one in heard if one.f_hz is None or one.doubts]
    if bad:
        reason = bad[0].doubts[0] if bad[0].doubts else "there is no pitch"
        yield Tell("again", f"{bad[0].oscillator} at {name} is read once more: {reason}")
        second = expect((yield read), ReadingsTaken).heard
        _check(second, oscillators, name)
        heard = tuple(
            new if (old.f_hz is None or old.doubts) and new.f_hz is not None else old
            for old, new in zip(heard, second, strict=True)
        )
    return heard


def _check(heard: tuple[Heard, ...], oscillators: tuple[str, ...], name: str) -> None:
    if tuple(one.oscillator for one in heard) != oscillators:
        raise InputError(f"At {name} other oscillators were read than were asked for")
    for one in heard:
        if one.f_hz is not None and not (0.0 < one.f_hz < 1e6 and 0.0 < one.u_cents < float("inf")):
            raise InputError(f"{one.oscillator} at {name}: {one.f_hz} Hz is not a reading")


def point_of(heard: Heard, note: float, note_at_0_v: float) -> Point:
    """Turn one reading into a point, kept or not."""
    why = heard.doubts[0] if heard.doubts else ("" if heard.f_hz is not None else "no pitch")
    return Point(
        note=note,
        cv_v=cv_of_note(note, note_at_0_v),
        f_hz=heard.f_hz or 0.0,
        u_cents=heard.u_cents,
        t_s=heard.t_s,
        kept=heard.f_hz is not None and not heard.doubts,
        why=why,
    )

"""Fifty beat rates of equal-tempered intervals, A4 = 440 Hz.

Printed: *J. Neurosci.* 32(35):12251-12257 (2012), doi 10.1523/JNEUROSCI.0082-12.2012, table 1,
quoting B. Capleton, *Theory and Practice of Piano Tuning* (2007); read. The table prints no sign,
and the upper note of B♭-D wrongly as D♯. Computed: (upper partial) · f_upper - (lower partial) ·
f_lower.
"""

import pytest

from pitchwright.detune import Interval, beat_hz, cents_for_beat
from pitchwright.units import cents_between, note_to_hz, parse_note

# Lower note, upper note, lower and upper partial, computed with its sign, printed.
TABLE = (
    ("F3", "A3", 5, 4, 6.9294, 6.9),
    ("F#3", "A#3", 5, 4, 7.3415, 7.3),
    ("G3", "B3", 5, 4, 7.7780, 7.8),
    ("G#3", "C4", 5, 4, 8.2405, 8.2),
    ("A3", "C#4", 5, 4, 8.7305, 8.7),
    ("A#3", "D4", 5, 4, 9.2497, 9.2),
    ("B3", "D#4", 5, 4, 9.7997, 9.8),
    ("C4", "E4", 5, 4, 10.3824, 10.4),
    ("C#4", "F4", 5, 4, 10.9998, 11.0),
    ("D4", "F#4", 5, 4, 11.6539, 11.7),
    ("D#4", "G4", 5, 4, 12.3468, 12.3),
    ("F3", "A#3", 4, 3, 0.7892, 0.8),
    ("F#3", "B3", 4, 3, 0.8361, 0.8),
    ("G3", "C4", 4, 3, 0.8858, 0.9),
    ("G#3", "C#4", 4, 3, 0.9385, 0.9),
    ("A3", "D4", 4, 3, 0.9943, 1.0),
    ("A#3", "D#4", 4, 3, 1.0534, 1.1),
    ("B3", "E4", 4, 3, 1.1161, 1.1),
    ("C4", "F4", 4, 3, 1.1824, 1.2),
    ("C#4", "F#4", 4, 3, 1.2527, 1.3),
    ("D4", "G4", 4, 3, 1.3272, 1.3),
    ("F3", "C4", 3, 2, -0.5912, 0.6),
    ("F#3", "C#4", 3, 2, -0.6264, 0.6),
    ("G3", "D4", 3, 2, -0.6636, 0.7),
    ("G#3", "D#4", 3, 2, -0.7031, 0.7),
    ("A3", "E4", 3, 2, -0.7449, 0.7),
    ("A#3", "F4", 3, 2, -0.7892, 0.8),
    ("B3", "F#4", 3, 2, -0.8361, 0.8),
    ("C4", "G4", 3, 2, -0.8858, 0.9),
    ("F3", "D4", 5, 3, 7.9237, 7.9),
    ("F#3", "D#4", 5, 3, 8.3949, 8.4),
    ("G3", "E4", 5, 3, 8.8941, 8.9),
    ("G#3", "F4", 5, 3, 9.4230, 9.4),
    ("A3", "F#4", 5, 3, 9.9833, 10.0),
    ("A#3", "G4", 5, 3, 10.5769, 10.6),
    ("F3", "G#3", 6, 5, -9.4230, 9.4),
    ("F#3", "A3", 6, 5, -9.9833, 10.0),
    ("G3", "A#3", 6, 5, -10.5769, 10.6),
    ("G#3", "B3", 6, 5, -11.2058, 11.2),
    ("A3", "C4", 6, 5, -11.8722, 11.9),
    ("A#3", "C#4", 6, 5, -12.5781, 12.6),
    ("B3", "D4", 6, 5, -13.3261, 13.3),
    ("C4", "D#4", 6, 5, -14.1185, 14.1),
    ("F3", "C#4", 8, 5, -10.9998, 11.0),
    ("F#3", "D4", 8, 5, -11.6539, 11.7),
    ("G3", "D#4", 8, 5, -12.3468, 12.3),
    ("G#3", "E4", 8, 5, -13.0810, 13.1),
    ("A3", "F4", 8, 5, -13.8588, 13.9),
    ("A#3", "F#4", 8, 5, -14.6829, 14.7),
    ("B3", "G4", 8, 5, -15.5560, 15.6),
)


def test_the_table_is_whole() -> None:
    assert len(TABLE) == 50


@pytest.mark.parametrize(("lower", "upper", "p", "q", "computed_hz", "printed_hz"), TABLE)
def test_beat_rates(
    lower: str, upper: str, p: int, q: int, computed_hz: float, printed_hz: float
) -> None:
    lower_hz, upper_hz = (float(note_to_hz(parse_note(name))) for name in (lower, upper))
    interval = Interval(p, q)
    beats = beat_hz(lower_hz, upper_hz, interval)
    assert beats == pytest.approx(computed_hz, abs=6e-5)
    assert abs(beats) == pytest.approx(printed_hz, abs=0.0501)
    # And back: the tempered interval, in cents from just, is what beats so.
    from_just = cents_between(upper_hz, lower_hz) - interval.cents
    assert cents_for_beat(beats, lower_hz, interval) == pytest.approx(from_just, abs=1e-9)

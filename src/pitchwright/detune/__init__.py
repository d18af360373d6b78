"""Planned beating: target curves that make oscillators beat as wanted, and how far today's are.

Pure functions of notes, cents and beat rates; the guided trim takes the curves as its target.
"""

from pitchwright.detune.beats import Interval, beat_hz, cents_for_beat
from pitchwright.detune.distance import Distance, distance
from pitchwright.detune.plan import DetunePlan, PairBeats, Voice, constant, even, two_notes

__all__ = [
    "DetunePlan",
    "Distance",
    "Interval",
    "PairBeats",
    "Voice",
    "beat_hz",
    "cents_for_beat",
    "constant",
    "distance",
    "even",
    "two_notes",
]

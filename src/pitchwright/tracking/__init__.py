"""Readings to tracking curve, fitted model, reach, best possible and advice.

Pure functions of arrays and frozen dataclasses; knows nothing of sound, files or devices.
"""

from pitchwright.tracking.best import BestPossible, best_possible
from pitchwright.tracking.conformity import (
    CommonPart,
    Conformity,
    JudgedCurve,
    JudgedNote,
    judge,
    stands,
)
from pitchwright.tracking.coverage import expanded_u
from pitchwright.tracking.curve import CurveEntry, LeftOut, TrackingCurve
from pitchwright.tracking.minimax import Minimax, minimax
from pitchwright.tracking.model import Term, TermState, TrackingModel
from pitchwright.tracking.point import Point
from pitchwright.tracking.reach import Reach
from pitchwright.tracking.survey import OscillatorSurvey, survey_oscillator
from pitchwright.tracking.target import TargetCurve

__all__ = [
    "BestPossible",
    "CommonPart",
    "Conformity",
    "CurveEntry",
    "JudgedCurve",
    "JudgedNote",
    "LeftOut",
    "Minimax",
    "OscillatorSurvey",
    "Point",
    "Reach",
    "TargetCurve",
    "Term",
    "TermState",
    "TrackingCurve",
    "TrackingModel",
    "best_possible",
    "expanded_u",
    "judge",
    "minimax",
    "stands",
    "survey_oscillator",
]

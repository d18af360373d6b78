"""What is asked of bench and person, in which order: generators of frozen requests, no I/O.

A survey, a guided trim, a warm-up watch, an ensemble check; the event stream that records them;
replaying it resumes them.
"""

from pitchwright.procedures.ensemble_check import (
    EnsembleChecked,
    EnsembleSettings,
    ensemble_check,
)
from pitchwright.procedures.events import Event, Procedure, replay
from pitchwright.procedures.guided_trim import TrimResult, guided_trim
from pitchwright.procedures.settings import TrimSettings
from pitchwright.procedures.survey import SurveySettings, survey
from pitchwright.procedures.warmup_watch import WarmupWatched, WatchSettings, warmup_watch

__all__ = [
    "EnsembleChecked",
    "EnsembleSettings",
    "Event",
    "Procedure",
    "SurveySettings",
    "TrimResult",
    "TrimSettings",
    "WarmupWatched",
    "WatchSettings",
    "ensemble_check",
    "guided_trim",
    "replay",
    "survey",
    "warmup_watch",
]

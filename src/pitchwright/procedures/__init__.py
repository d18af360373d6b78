"""What is asked of bench and person, in which order: generators of frozen requests, no I/O.

A survey, a guided trim; the event stream that records them; replaying it resumes them.
"""

from pitchwright.procedures.events import Event, Procedure, replay
from pitchwright.procedures.guided_trim import TrimResult, guided_trim
from pitchwright.procedures.settings import TrimSettings
from pitchwright.procedures.survey import SurveySettings, survey

__all__ = [
    "Event",
    "Procedure",
    "SurveySettings",
    "TrimResult",
    "TrimSettings",
    "guided_trim",
    "replay",
    "survey",
]

"""What keeps instruments up over the years, the same for terminal and page.

It writes down what a bench measures, takes up what was interrupted, and brings logbook and
certificate together.
"""

from pitchwright.upkeep.recording import Recorder, RunRecord
from pitchwright.upkeep.resuming import (
    Stopped,
    give_up,
    stopped_surveys,
    stopped_trims,
    trimmers_as_known,
)

__all__ = [
    "Recorder",
    "RunRecord",
    "Stopped",
    "give_up",
    "stopped_surveys",
    "stopped_trims",
    "trimmers_as_known",
]

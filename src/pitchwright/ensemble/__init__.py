"""Several oscillators and sources together: whose error it is, who beats with whom, who follows.

Pure functions of surveys and tracking curves; what the patch between them does is route's.
"""

from pitchwright.ensemble.advice import Extra, advise
from pitchwright.ensemble.measured import Known, Meter, Sweep, Voltage
from pitchwright.ensemble.order import Turn, order
from pitchwright.ensemble.outputs import Feed, Output, Player, assign
from pitchwright.ensemble.overview import Follower, Overview, PairOff, overview
from pitchwright.ensemble.source_curve import points_by_trusted, points_of_voltages
from pitchwright.ensemble.steps import Step
from pitchwright.ensemble.whose import Evidence, Figure, Whose, whose_error

__all__ = [
    "Evidence",
    "Extra",
    "Feed",
    "Figure",
    "Follower",
    "Known",
    "Meter",
    "Output",
    "Overview",
    "PairOff",
    "Player",
    "Step",
    "Sweep",
    "Turn",
    "Voltage",
    "Whose",
    "advise",
    "assign",
    "order",
    "overview",
    "points_by_trusted",
    "points_of_voltages",
    "whose_error",
]

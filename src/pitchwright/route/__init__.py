"""Sources, splitters and loads: what a patch does to a control voltage on its way.

Pure functions of a described patch; what the oscillator makes of the voltage is elsewhere.
"""

from pitchwright.route.circuit import Arrival, arrivals
from pitchwright.route.instead import BufferedPart, Proposal, proposals
from pitchwright.route.patch import (
    Attenuator,
    BufferedMultiple,
    Oscillator,
    Part,
    PassiveMultiple,
    Patch,
    Source,
)
from pitchwright.route.report import Change, Delivery, RouteReport, report

__all__ = [
    "Arrival",
    "Attenuator",
    "BufferedMultiple",
    "BufferedPart",
    "Change",
    "Delivery",
    "Oscillator",
    "Part",
    "PassiveMultiple",
    "Patch",
    "Proposal",
    "RouteReport",
    "Source",
    "arrivals",
    "proposals",
    "report",
]

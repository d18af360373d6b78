"""The parts of guided trimming: what is known, reading, turning, and learning from a turn.

``guided_trim`` puts them together and explains how they work; each file here has one job.
"""

from pitchwright.procedures.trimming.learning import withdraw
from pitchwright.procedures.trimming.reading import read_note
from pitchwright.procedures.trimming.state import Trimming
from pitchwright.procedures.trimming.turning import turn

__all__ = ["Trimming", "read_note", "turn", "withdraw"]

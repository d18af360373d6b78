"""How trimmers act, the aim of the next move, and what a move did: all pure.

From the belief about a curve follow the next visit, its aim and window; from the readings after a
turn follow what happened; from both follows the verdict.
"""

from pitchwright.trim.belief import Wander
from pitchwright.trim.happened import Happened
from pitchwright.trim.kinds import TrimmerKind
from pitchwright.trim.trimmer import Known, Trimmer
from pitchwright.trim.verdict import Standing, Verdict

__all__ = ["Happened", "Known", "Standing", "Trimmer", "TrimmerKind", "Verdict", "Wander"]

"""The parts of guided trimming: what is known, reading, turning, learning, the hand's going."""

from pitchwright.procedures.trimming.hand_away import hand_away, withdraw
from pitchwright.procedures.trimming.reading import hear, read_note
from pitchwright.procedures.trimming.state import Trimming
from pitchwright.procedures.trimming.turning import turn

__all__ = ["Trimming", "hand_away", "hear", "read_note", "turn", "withdraw"]

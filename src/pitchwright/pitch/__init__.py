"""Sound to reading: the pitch of a steady tone, with its uncertainty and its doubts.

Pure functions of sample arrays; no files, devices or clocks.
"""

from pitchwright.pitch.read import HIGH_HZ, LOW_HZ, read
from pitchwright.pitch.reading import Flag, FlagKind, Reading

__all__ = ["HIGH_HZ", "LOW_HZ", "Flag", "FlagKind", "Reading", "read"]

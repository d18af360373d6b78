"""pitchwright: hear an oscillator, know its error, say what to turn and where to stop.

The rooms are listed in CONTRIBUTING.md; each room's own ``__init__`` says what it is for.
"""

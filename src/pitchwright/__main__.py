"""``python -m pitchwright``: the same as ``pitchwright``."""

from pitchwright.cli import main

main()

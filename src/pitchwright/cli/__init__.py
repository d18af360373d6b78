"""The terminal: one file a command, ``app`` to gather them, ``console`` for what is printed.

Nothing heavy is imported here or in ``app``: a command imports what it needs when it runs.
"""

from pitchwright.cli.app import main

__all__ = ["main"]

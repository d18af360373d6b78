"""Everything that happened, kept for years and never overwritten.

Entries are only ever added; what is current is read off them (the projection) and can be made
again from them at any time. SQLite for one bench, PostgreSQL for several.
"""

from pitchwright.logbook.entries import Entry
from pitchwright.logbook.store import Logbook, default_url

__all__ = ["Entry", "Logbook", "default_url"]

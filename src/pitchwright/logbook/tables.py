"""The tables: entries, which are only ever added to, and what is read off them.

``entry`` holds everything that ever happened, in the order it was written down. The other tables
are a projection of it: they can be thrown away and made again from the entries alone.
"""

from __future__ import annotations

from typing import Final

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    text,
)

__all__ = [
    "PROJECTED",
    "SCHEMA_VERSION",
    "entry",
    "instrument",
    "metadata",
    "procedure_run",
    "survey",
    "trimmer",
]

SCHEMA_VERSION: Final = "0002"
"""The newest migration; a logbook that names another one is older (migrate) or newer (refuse)."""

metadata = MetaData()

# SQLite numbers rows by itself only where the key is spelt INTEGER.
_RowNumber = BigInteger().with_variant(Integer, "sqlite")


def _index(name: str, column: str, where: str) -> Index:
    """An index of the rows that are looked up by it, and of no others."""
    return Index(name, column, sqlite_where=text(where), postgresql_where=text(where))


entry = Table(
    "entry",
    metadata,
    Column("id", _RowNumber, primary_key=True, autoincrement=True),
    Column("uid", String(32), nullable=False, unique=True),
    Column("at_utc", String(27), nullable=False),
    Column("bench", Text, nullable=False),
    Column("kind", String(40), nullable=False),
    Column("run", String(32)),
    Column("instrument", String(32)),
    Column("corrects", String(32), ForeignKey("entry.uid")),
    Column("body", Text, nullable=False),
    _index("entry_run", "run", "run IS NOT NULL"),
    _index("entry_alone", "id", "run IS NULL"),
    _index("entry_corrects", "corrects", "corrects IS NOT NULL"),
)

instrument = Table(
    "instrument",
    metadata,
    Column("uid", String(32), primary_key=True),
    Column("name", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("fed_by", Text, nullable=False),
    Column("described_at_utc", String(27), nullable=False),
    Column("described_by", String(32), ForeignKey("entry.uid"), nullable=False),
)

trimmer = Table(
    "trimmer",
    metadata,
    Column("instrument", String(32), primary_key=True),
    Column("name", String(200), primary_key=True),
    Column("known", Text, nullable=False),
    Column("learned_at_utc", String(27), nullable=False),
    Column("learned_by", String(32), ForeignKey("entry.uid"), nullable=False),
)

procedure_run = Table(
    "procedure_run",
    metadata,
    Column("uid", String(32), primary_key=True),
    Column("procedure", String(40), nullable=False),
    Column("instrument", String(32)),
    Column("begun_at_utc", String(27), nullable=False),
    Column("closed_at_utc", String(27)),
    Index("procedure_run_closed", "closed_at_utc"),
)

survey = Table(
    "survey",
    metadata,
    Column("uid", String(32), ForeignKey("entry.uid"), primary_key=True),
    Column("instrument", String(32)),
    Column("run", String(32)),
    Column("at_utc", String(27), nullable=False),
    Column("state", String(10), nullable=False),
    Column("base_cents", Float),
    Column("u_base_cents", Float),
    Column("scale_cents_per_oct", Float),
    Column("u_scale_cents_per_oct", Float),
    Column("high_cents_per_khz", Float),
    Column("u_high_cents_per_khz", Float),
    Column("tolerance_cents", Float),
    Column("reach_low", Float),
    Column("reach_high", Float),
    Column("temperature_c", Float),
    Column("withdrawn", Boolean, nullable=False),
    Index("survey_instrument_at", "instrument", "at_utc"),
)

PROJECTED: Final = (instrument, trimmer, procedure_run, survey)
"""The tables that `pitchwright.logbook.projection` fills."""

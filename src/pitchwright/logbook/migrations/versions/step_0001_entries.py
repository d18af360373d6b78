"""The first tables: entries that are only added to, and the projection read off them."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None

_REFUSAL = "entries are only added to, never changed or deleted"


def upgrade() -> None:
    """Make the tables, and have the database itself refuse to change or delete an entry."""
    number = sa.BigInteger().with_variant(sa.Integer, "sqlite")
    op.create_table(
        "entry",
        sa.Column("id", number, primary_key=True, autoincrement=True),
        sa.Column("uid", sa.String(32), nullable=False, unique=True),
        sa.Column("at_utc", sa.String(27), nullable=False),
        sa.Column("bench", sa.Text, nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("run", sa.String(32)),
        sa.Column("instrument", sa.String(32)),
        sa.Column("corrects", sa.String(32), sa.ForeignKey("entry.uid")),
        sa.Column("body", sa.Text, nullable=False),
    )
    op.create_index("entry_run", "entry", ["run"])
    op.create_index("entry_instrument_kind", "entry", ["instrument", "kind"])
    op.create_index("entry_bench_at", "entry", ["bench", "at_utc"])
    op.create_index("entry_corrects", "entry", ["corrects"])
    op.create_table(
        "instrument",
        sa.Column("uid", sa.String(32), primary_key=True),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("fed_by", sa.Text, nullable=False),
        sa.Column("described_at_utc", sa.String(27), nullable=False),
        sa.Column("described_by", sa.String(32), sa.ForeignKey("entry.uid"), nullable=False),
    )
    op.create_table(
        "trimmer",
        sa.Column("instrument", sa.String(32), primary_key=True),
        sa.Column("name", sa.String(200), primary_key=True),
        sa.Column("known", sa.Text, nullable=False),
        sa.Column("learned_at_utc", sa.String(27), nullable=False),
        sa.Column("learned_by", sa.String(32), sa.ForeignKey("entry.uid"), nullable=False),
    )
    op.create_table(
        "procedure_run",
        sa.Column("uid", sa.String(32), primary_key=True),
        sa.Column("procedure", sa.String(40), nullable=False),
        sa.Column("instrument", sa.String(32)),
        sa.Column("begun_at_utc", sa.String(27), nullable=False),
        sa.Column("closed_at_utc", sa.String(27)),
    )
    op.create_index("procedure_run_closed", "procedure_run", ["closed_at_utc"])
    op.create_table(
        "survey",
        sa.Column("uid", sa.String(32), sa.ForeignKey("entry.uid"), primary_key=True),
        sa.Column("instrument", sa.String(32)),
        sa.Column("run", sa.String(32)),
        sa.Column("at_utc", sa.String(27), nullable=False),
        sa.Column("state", sa.String(10), nullable=False),
        *(
            sa.Column(name, sa.Float)
            for name in (
                "base_cents",
                "u_base_cents",
                "scale_cents_per_oct",
                "u_scale_cents_per_oct",
                "high_cents_per_khz",
                "u_high_cents_per_khz",
                "tolerance_cents",
                "reach_low",
                "reach_high",
                "temperature_c",
            )
        ),
        sa.Column("withdrawn", sa.Boolean, nullable=False),
    )
    op.create_index("survey_instrument_at", "survey", ["instrument", "at_utc"])
    _guard_entries()


def _guard_entries() -> None:
    if op.get_bind().dialect.name == "sqlite":
        for what in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER entry_no_{what.lower()} BEFORE {what} ON entry "
                f"BEGIN SELECT RAISE(ABORT, '{_REFUSAL}'); END"
            )
        return
    op.execute(
        "CREATE FUNCTION entry_refuse() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION '{_REFUSAL}'; END $$"
    )
    op.execute(
        "CREATE TRIGGER entry_guard BEFORE UPDATE OR DELETE OR TRUNCATE ON entry "
        "FOR EACH STATEMENT EXECUTE FUNCTION entry_refuse()"
    )

"""Lighter indexes: two fewer to keep up with each entry, and one for what belongs to no run."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Index only what is looked up: runs and corrections where there are any."""
    op.drop_index("entry_bench_at", "entry")
    op.drop_index("entry_instrument_kind", "entry")  # the projected surveys say where theirs are
    for name, column, where in (
        ("entry_run", "run", "run IS NOT NULL"),
        ("entry_corrects", "corrects", "corrects IS NOT NULL"),
    ):
        op.drop_index(name, "entry")
        op.create_index(
            name, "entry", [column], sqlite_where=sa.text(where), postgresql_where=sa.text(where)
        )
    alone = sa.text("run IS NULL")
    op.create_index("entry_alone", "entry", ["id"], sqlite_where=alone, postgresql_where=alone)

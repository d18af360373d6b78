"""Names the dead-code check would call unused although something does use them, and what does.

The check looks at src/ only: a field that the tests or a reader of results uses is unused to it.
"""

# Called by their frameworks, never by us.
_top  # typer runs it before every command
revision  # alembic reads these two in every step
down_revision
isolation_level  # the sqlite3 driver reads it
__pydantic_config__  # pydantic reads it
trace  # the third argument every context manager is given

# Fields of results that --json prints field by field.
model_config  # pydantic reads it
hidden_cents
worst_before_cents
worst_after_cents
u_after_cents
planned_hz
crossing_probability
settles
u_cents_per_oct
needs_meter_gain
own_cents_per_oct
common_notes
reference_cents

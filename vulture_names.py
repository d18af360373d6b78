"""Names the dead-code check would call unused although something does use them, and what does.

The check looks at src/ only: a field that the tests or a reader of results uses is unused to it.
"""

# Called or read by their frameworks, never by us.
_top  # typer runs these two before the commands they stand above
list_commands  # typer calls these two when it prints the list of commands
format_commands
revision  # alembic reads these two in every step
down_revision
isolation_level  # the sqlite3 driver reads it
model_config  # pydantic reads it
trace  # the third argument every context manager is given

# What a result knows besides what our own commands print: tests, benchmarks and callers read it.
adev_cents
extremal
formula
hidden_scale_cents_per_oct
jointly_holds_cents
low_cents_hz
note_scatter_cents
pivot_now_v
reach_at
risk
scale_error
still_cv_v
u_rest_cents
visit_scatter_cents
undetermined

# The guided trim asks and answers with these; what shows them to a person is not there yet.
after_visit
as_found
at_note
caution
finding
from_dict
key
question
resumed
to_dict
u_best_cents
u_greatest_cents
unplayed_cents
wider_run
would_help

# Fields that go into JSON as they are, and the logbook's way in for what is measured.
because
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

# Called by pydantic when a bench file is read, and by the command line by its name.
_as_many
_complete
setup

# Read by the web server itself, which ends once it is set.
should_exit

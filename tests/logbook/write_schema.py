"""Write docs/schema/logbook.schema.json anew, from the kinds of entry there are."""

from __future__ import annotations

import json
from pathlib import Path

from pitchwright.logbook.exchange import lines_schema

SCHEMA = Path(__file__).parents[2] / "docs" / "schema" / "logbook.schema.json"


def schema_text() -> str:
    return json.dumps(lines_schema(), indent=1, ensure_ascii=False, sort_keys=True) + "\n"


if __name__ == "__main__":
    SCHEMA.write_text(schema_text(), encoding="utf-8")

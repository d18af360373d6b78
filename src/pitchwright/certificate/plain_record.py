"""Results as plain values for a program: what ``--json`` prints."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from typing import Any

__all__ = ["plain_record"]


def plain_record(result: Any) -> Any:
    """Turn dataclasses, tuples and mappings into dicts, lists and simple values.

    What is infinite or not a number becomes None: JSON has neither.
    """
    if dataclasses.is_dataclass(result) and not isinstance(result, type):
        fields = dataclasses.fields(result)
        return {field.name: plain_record(getattr(result, field.name)) for field in fields}
    if isinstance(result, Mapping):
        return {str(name): plain_record(item) for name, item in result.items()}
    if isinstance(result, list | tuple):
        return [plain_record(item) for item in result]
    if isinstance(result, float) and not math.isfinite(result):
        return None
    return result

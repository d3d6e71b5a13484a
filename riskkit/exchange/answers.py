"""An answer of the evidence room as JSON: its fields by name, unrounded; no end is written as null."""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Mapping
from typing import Any


def answer_json(answer: Any, **beside: Any) -> str:
    """A frozen answer as JSON, with further fields beside its own.

    Args:
        answer: A dataclass of the evidence room.
        beside: Fields that are added, such as the question.
    """
    return json.dumps({**beside, **answer_data(answer)}, ensure_ascii=False, indent=2)


def answer_data(value: Any) -> Any:
    """Dataclasses and mappings as objects, tuples as lists, an infinite end as null."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {field.name: answer_data(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {str(name): answer_data(each) for name, each in value.items()}
    if isinstance(value, tuple | list):
        return [answer_data(each) for each in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value

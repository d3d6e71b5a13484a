"""Which fields of a record say something else than before, in words; the spelling of a unit is no edit."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping

from pydantic import BaseModel

from riskkit.model.fields import From, Limit, Probability
from riskkit.units import Quantity

LONGEST = 60
"""Letters of a value that is quoted; a longer one is named by its field alone."""

MOST_FIELDS = 4
"""Fields that are told one by one."""


def same(one: object, other: object) -> bool:
    """Whether two values mean the same: 12 hPa and 1.2 kPa do, and so do 1 % and 1/100."""
    match one, other:
        case Quantity(), Quantity():
            return one.same_as(other) and _alike(one.plus_minus, other.plus_minus)
        case Probability(), Probability():
            return one.exact == other.exact
        case str(), str():
            return one.split() == other.split()
        case BaseModel(), BaseModel():
            return type(one) is type(other) and all(same(value, getattr(other, name)) for name, value in one)
        case Mapping(), Mapping():
            return one.keys() == other.keys() and all(same(value, other[key]) for key, value in one.items())
        case tuple() | list(), tuple() | list():
            return len(one) == len(other) and all(map(same, one, other))
        case _:
            return one == other


def _alike(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is other
    return abs(one - other) <= 1e-9 * max(abs(one), abs(other))


def edits(before: BaseModel, after: BaseModel) -> str:
    """What was edited: "mass 79 g instead of 83 g, and notes"; a few fields, and how many more; "" where nothing was."""
    found = list(dict.fromkeys(_fields(before, after, "")))
    told = found[:MOST_FIELDS]
    if len(found) > MOST_FIELDS:
        told.append(f"{len(found) - MOST_FIELDS} more")
    return told[0] if len(told) == 1 else f"{', '.join(told[:-1])} and {told[-1]}" if told else ""


def _fields(before: BaseModel, after: BaseModel, inside: str) -> Iterator[str]:
    for name, info in type(after).model_fields.items():
        label = (info.alias or name).replace("_", " ")
        yield from _value(f"{inside}{label}", getattr(before, name), getattr(after, name))


def _value(label: str, was: object, now: object) -> Iterator[str]:
    if same(was, now):
        return
    if isinstance(was, BaseModel) and isinstance(now, BaseModel) and type(was) is type(now):
        yield from _fields(was, now, f"{label}: ")
    elif isinstance(was, Mapping) and isinstance(now, Mapping):
        for key in dict.fromkeys((*was, *now)):
            yield from _value(f"{label} {key}", was.get(key), now.get(key))
    else:
        one, other = shown(was), shown(now)
        if one is None or other is None:
            yield label
        elif not one:
            yield f"{label} {other}, which was not stated"
        elif not other:
            yield f"{label} left out, which was {one}"
        else:
            yield f"{label} {other} instead of {one}"


def shown(value: object) -> str | None:
    """A short value as it is read aloud; "" where nothing is stated, None where it is too long to quote."""
    match value:
        case None | () | []:
            return ""
        case bool():
            return "yes" if value else "no"
        case Quantity() | Probability():
            return value.written
        case Limit():
            return f"`{value.sentence()}`"
        case From():
            return f"from {value.source}"
        case datetime.date():
            return value.isoformat()
        case int() | float():
            return f"{value:g}"
        case str():
            return f"`{value}`" if len(value) <= LONGEST else None
        case tuple() | list():
            parts = [shown(each) for each in value]
            told = ", ".join(part for part in parts if part)
            return told if None not in parts and len(told) <= LONGEST else None
        case _:
            return None

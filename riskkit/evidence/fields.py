"""One field of a table of readings: what it is, and what number stands in it. Knows no line and no column."""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Mapping
from functools import lru_cache
from types import MappingProxyType
from typing import Literal

from riskkit.units import UnitError
from riskkit.units.registry import unit_of

What = Literal["number", "missing", "stamp", "quantity", "thousands", "word"]

MISSING_WORDS = frozenset((
    "nan", "na", "n/a", "n.a.", "#n/a", "null", "none", "nil", "--", "---", "-", "?", ".", "*", "x", "missing",
    "void", "empty", "err", "error", "#err", "fail", "timeout", "ovf", "ovl", "overflow", "inf", "-inf", "+inf",
    "infinity", "-nan", "1.#qnan", "-1.#ind", "#value!", "#num!", "#div/0!",
))  # fmt: skip
"""Words, in small letters, that loggers write where a reading is missing."""

_POINT = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?$")
_COMMA = re.compile(r"[-+]?(?:\d+,?\d*|,\d+)(?:[eE][-+]?\d+)?$")
_THOUSANDS: Mapping[str, re.Pattern[str]] = MappingProxyType({
    ".": re.compile(r"[-+]?\d{1,3}(?:(?:,\d{3})+\.\d*|(?:,\d{3}){2,}|(?:[ '’\u00a0\u2009\u202f]\d{3})+(?:\.\d*)?)$"),
    ",": re.compile(r"[-+]?\d{1,3}(?:(?:\.\d{3})+,\d*|(?:\.\d{3}){2,}|(?:[ '’\u00a0\u2009\u202f]\d{3})+(?:,\d*)?)$"),
})  # fmt: skip
_DAY = r"(?P<year>\d{4})[-/.](?P<month>\d{1,2})[-/.](?P<day>\d{1,2})"
_TIME = r"(?P<hour>\d{1,2}):(?P<minute>[0-5]\d)(?::(?P<second>[0-5]?\d(?:[.,]\d*)?))?"
_CLOCK = re.compile(f"{_TIME}$")
_DATE = re.compile(f"{_DAY}$")
_STAMP = re.compile(rf"{_DAY}[T ]\s*{_TIME}\s*(?P<zone>Z|[+-]\d{{2}}:?\d{{2}})?$")
_QUANTITY = re.compile(r"([-+]?(?:\d+[.,]?\d*|[.,]\d+)(?:[eE][-+]?\d+)?)\s*([^\W\d_%]\S*|[%°µμ]\S*)$")

_UNIT = re.compile(r"(?:1/)?[A-Za-z°ºµμΩΩ℃℉%‰(](?:[A-Za-z°ºµμΩΩ%/*·^()²³⁻¹-]|\d(?!\d))*$")
"""What may be a unit at all: a file must not get a formula worked out by writing it where a unit stands."""


def what_is(field: str, decimal: str) -> What:
    """What a field holds; `decimal` is the sign before the decimals."""
    if not field or field.lower() in MISSING_WORDS:
        return "missing"
    if (_POINT if decimal == "." else _COMMA).match(field):
        return "number"
    if _THOUSANDS[decimal].match(field):
        return "thousands"
    if seconds_of(field) is not None:
        return "stamp"
    found = _QUANTITY.match(field)
    number = _POINT if decimal == "." else _COMMA
    return "quantity" if found is not None and number.match(found[1]) and is_unit(found[2]) else "word"


def number_of(field: str, decimal: str) -> float:
    """The number in a field that `what_is` calls a number; a number too large to hold is nan."""
    value = float(field.replace(",", ".") if decimal == "," else field)
    return value if math.isfinite(value) else math.nan


def quantity_of(field: str, decimal: str) -> tuple[float, str]:
    """Number and unit in a field that `what_is` calls a quantity."""
    found = _QUANTITY.match(field)
    assert found is not None
    return number_of(found[1], decimal), found[2]


def seconds_of(stamp: str) -> float | None:
    """A time stamp in seconds: since 1970 where it has a date, since midnight where it has none; None if it is none.

    A stamp without a zone is taken as UTC: only differences are used.
    """
    parts = stamp_parts(stamp)
    if parts is None:
        return None
    total = 0.0
    if "year" in parts:
        day = day_in_seconds(*(int(stamp[slice(*parts[name])]) for name in ("year", "month", "day")))
        if day is None:
            return None
        total += day
    for name, worth in (("hour", 3600.0), ("minute", 60.0), ("second", 1.0)):
        if name in parts:
            total += worth * float(stamp[slice(*parts[name])].replace(",", "."))
    return total - zone_in_seconds(stamp[slice(*parts["zone"])] if "zone" in parts else "")


def stamp_parts(stamp: str) -> dict[str, tuple[int, int]] | None:
    """Where year, month, day, hour, minute, second and zone stand in a time stamp; None if it is none."""
    if not stamp[:1].isdigit():
        return None
    found = _STAMP.match(stamp) or _CLOCK.match(stamp) or _DATE.match(stamp)
    if found is None:
        return None
    parts = {name: found.span(name) for name, text in found.groupdict().items() if text is not None}
    if "hour" in parts and "year" in parts and int(found["hour"]) > 24:
        return None
    return parts


def zone_in_seconds(zone: str) -> float:
    """How far a zone such as `+01:00` lies before UTC [s]."""
    if zone in ("", "Z"):
        return 0.0
    return float(zone[0] + "1") * (int(zone[1:3]) * 3600 + int(zone[-2:]) * 60)


def has_date(stamp: str) -> bool:
    """Whether a time stamp names a day."""
    return bool(_STAMP.match(stamp) or _DATE.match(stamp))


def is_date(stamp: str) -> bool:
    """Whether a field is a day without a time."""
    return _DATE.match(stamp) is not None


@lru_cache(maxsize=1000)
def day_in_seconds(year: int, month: int, day: int) -> float | None:
    """Seconds from 1970 to a day; None for a day that is in no calendar."""
    try:
        return (datetime.date(year, month, day).toordinal() - 719163) * 86400.0
    except ValueError:
        return None


@lru_cache(maxsize=500)
def is_unit(word: str) -> bool:
    """Whether a word is a unit that riskkit knows."""
    return unit_kind(word) is not None


@lru_cache(maxsize=500)
def unit_kind(word: str) -> str | None:
    """What a unit measures, or None where the word is no known unit."""
    if len(word) > 20 or not _UNIT.match(word) or word.count("^") > 2:
        return None
    try:
        unit = unit_of(word, None)
    except UnitError:
        return None
    return unit.kind if math.isfinite(unit.factor) and unit.factor > 0 else None


def change_unit(written: str, wanted: str) -> tuple[float, float] | None:
    """Factor and offset from one unit to another of the same kind; None where there are none."""
    if unit_kind(written) is None or unit_kind(written) != unit_kind(wanted):
        return None
    old, new = unit_of(written, None), unit_of(wanted, None)
    return old.factor / new.factor, (old.offset - new.offset) / new.factor

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
_CLOCK = re.compile(r"(\d{1,3}):([0-5]?\d)(?::([0-5]?\d(?:[.,]\d*)?))?$")
_DATE = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})$")
_STAMP = re.compile(
    r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})[T ]\s*(\d{1,2}):(\d{2})(?::(\d{2}(?:[.,]\d*)?))?\s*(Z|[+-]\d{2}:?\d{2})?$"
)
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
    if ":" not in stamp and stamp.count("-") + stamp.count("/") + stamp.count(".") != 2:
        return None
    found = _STAMP.match(stamp)
    if found is not None:
        day = _day(found[1], found[2], found[3])
        if day is None or int(found[4]) > 24 or int(found[5]) > 59:
            return None
        zone = found[7] or "Z"
        shift = 0.0 if zone == "Z" else float(zone[0] + "1") * (int(zone[1:3]) * 3600 + int(zone[-2:]) * 60)
        seconds = float((found[6] or "0").replace(",", "."))
        return day + int(found[4]) * 3600 + int(found[5]) * 60 + seconds - shift
    found = _CLOCK.match(stamp)
    if found is not None:
        first, second, third = found.groups()
        if third is None:
            return None if "." in stamp or "," in stamp else int(first) * 3600.0 + int(second) * 60.0
        return int(first) * 3600.0 + int(second) * 60.0 + float(third.replace(",", "."))
    found = _DATE.match(stamp)
    return None if found is None else _day(found[1], found[2], found[3])


def has_date(stamp: str) -> bool:
    """Whether a time stamp names a day."""
    return bool(_STAMP.match(stamp) or _DATE.match(stamp))


def is_date(stamp: str) -> bool:
    """Whether a field is a day without a time."""
    return _DATE.match(stamp) is not None


def _day(year: str, month: str, day: str) -> float | None:
    try:
        return (datetime.date(int(year), int(month), int(day)).toordinal() - 719163) * 86400.0
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

"""Headings of columns: the name and the unit in `pressure [hPa]`, `p_hPa`, `flow L/min`. Knows no numbers."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from riskkit.evidence.answers import EvidenceError
from riskkit.evidence.fields import is_unit, unit_kind

_BRACKETS = re.compile(r"^(.*?)\s*[\[(<{]\s*([^\])>}]*?)\s*[\])>}]\s*$")
_IN = re.compile(r"^(.+?)(?:\s+in\s+|\s*,\s*|\s+/\s*|\s*:\s*)(\S+)$")
_JOINED: Mapping[str, str] = MappingProxyType({
    "l_min": "L/min", "lmin": "L/min", "lpm": "L/min", "slpm": "slpm", "ml_min": "mL/min", "l_s": "L/s", "ml_s": "mL/s",
    "pct": "%", "percent": "%", "celsius": "°C", "degc": "°C", "seconds": "s", "secs": "s", "sec": "s", "millis": "ms",
    "msec": "ms", "minutes": "min", "volt": "V", "volts": "V", "amps": "A", "cmh20": "cmH2O", "mmh20": "mmH2O",
})  # fmt: skip
_UNITS_BEHIND_A_LINE = frozenset((
    "hPa", "kPa", "Pa", "mbar", "bar", "cmH2O", "mmH2O", "mmHg", "inH2O", "psi", "L/min", "mL/min", "L/s", "mL/s",
    "m3/h", "L", "mL", "s", "ms", "us", "min", "h", "V", "mV", "A", "mA", "W", "Wh", "Ah", "°C", "degC", "K",
    "rpm", "Hz", "kHz", "%", "ppm", "N", "mN", "g", "kg", "mm", "cm", "dB", "dBA", "ohm",
))  # fmt: skip
"""Units that a name may end in behind an underscore; other endings, such as `_p` or `_t`, belong to the name."""
_TIME_NAMES = frozenset((
    "t", "time", "times", "timestamp", "stamp", "date", "datetime", "clock", "elapsed", "seconds", "secs", "sec",
    "s", "ms", "millis", "msec", "micros", "us", "epoch", "unix", "uptime", "zeit", "temps", "tiempo", "tempo",
))  # fmt: skip


@dataclass(frozen=True, slots=True)
class Heading:
    """Name and unit of a column as written; the unit is empty where none is written, `skip` where it is not wanted."""

    name: str
    unit: str = ""
    skip: bool = False

    @property
    def is_time(self) -> bool:
        """Whether the name says that the column is the clock."""
        if unit_kind(self.unit) not in (None, "time"):
            return False
        words = re.split(r"[\s_\-.]+", self.name.lower())
        return bool(words) and (words[0] in _TIME_NAMES or words[-1] in {"time", "timestamp", "millis", "seconds"})


def heading(written: str) -> Heading:
    """Name and unit of one heading."""
    text = " ".join(written.strip().strip('"').split())
    found = _BRACKETS.match(text)
    if found is not None and (is_unit(_unit(found[2])) or text.endswith("]")):
        return Heading(found[1] or found[2], _unit(found[2]))
    if "_" in text:
        name, _, last = text.rpartition("_")
        pair, _, one_before = name.rpartition("_")
        joined = _JOINED.get(f"{one_before}_{last}".lower())
        if joined and pair:
            return Heading(pair, joined)
        unit = _unit(last)
        if name and unit in _UNITS_BEHIND_A_LINE:
            return Heading(name, unit)
    if text.lower() in _JOINED:
        return Heading(text, _unit(text))
    found = _IN.match(text)
    if found is not None and is_unit(_unit(found[2])):
        return Heading(found[1], _unit(found[2]))
    name, _, last = text.rpartition(" ")
    if name and is_unit(_unit(last)):
        return Heading(name, _unit(last))
    name, _, last = text.rpartition("/")
    if name and _unit(last) in _UNITS_BEHIND_A_LINE:
        return Heading(name, _unit(last))
    return Heading(text, text if text in _UNITS_BEHIND_A_LINE and len(text) > 1 and text != "min" else "")


def headings_given(columns: str) -> tuple[Heading, ...]:
    """Headings given from outside, such as `set point cmH2O, pressure cmH2O, -, flow L/min`; `-` skips a column.

    Raises:
        EvidenceError: where a name is empty or stands twice.
    """
    found = tuple(
        Heading("", "", True) if each.strip() == "-" else heading(each)
        for each in re.split(r",(?![^\[(]*[\])])", columns)
    )
    names = [each.name for each in found if not each.skip]
    if not names or not all(names):
        raise EvidenceError(
            f"`{columns}` leaves a column without a name", "name each column, such as `time s, pressure hPa, -`"
        )
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise EvidenceError(f"the column name `{twice}` is given twice", "give each column a name of its own")
    return found


def unit_row(fields: tuple[str, ...]) -> tuple[str, ...] | None:
    """The units in a row of units, or None where it is another row: every field is a unit or empty, most are units."""
    units = tuple(_unit(field.strip().strip("[](){}<>")) for field in fields)
    known = sum(1 for unit in units if is_unit(unit))
    blank = sum(1 for unit in units if unit in ("", "-", "--", "1", "none"))
    if known == 0 or known + blank < len(units) or (len(units) > 2 and 2 * known < len(units)):
        return None
    return tuple(unit if is_unit(unit) else "" for unit in units)


def _unit(word: str) -> str:
    return _JOINED.get(word.lower(), word)

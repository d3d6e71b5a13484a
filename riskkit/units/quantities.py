"""Numbers with units as people type them: `12 cmH2O`, `2h40`, `±0.5 hPa`, `AWG 18`, `68 degF`.

A quantity is read once at the door: the written form is kept for showing, the value is kept in SI
base units for working. What a unit is worth stands in `registry.py`; this file knows how people write.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import NamedTuple

from riskkit.units.kinds import KINDS, UnitError, readable
from riskkit.units.registry import plain, unit_of


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number with its unit.

    Attributes:
        written: The text as it was typed.
        value: The number in SI base units (kelvin for temperatures, decibel for sound levels).
        kind: What it is a quantity of, such as "pressure".
        unit: The unit as typed.
        plus_minus: Half width of the stated interval in SI base units, None where none is stated.
        note: What was assumed in reading it, in words; empty where nothing was.
    """

    written: str
    value: float
    kind: str
    unit: str
    plus_minus: float | None = None
    note: str = ""

    def to(self, unit: str) -> float:
        """The value in another unit of the same kind.

        Raises:
            UnitError: where the unit is unknown or of another kind.
        """
        other = unit_of(unit, self.kind)
        if other.kind != self.kind and {other.kind, self.kind} != {"energy", "torque"}:
            raise UnitError(
                f"`{unit}` measures a {other.kind}, and {self.written} is a {self.kind}", "name another unit"
            )
        return (self.value - other.offset) / other.factor

    def show(self, unit: str | None = None) -> str:
        """The value in a unit, to four digits; in the kind's own unit if none is named."""
        if unit is None:
            unit = KINDS[self.kind].shown_in if self.kind in KINDS else self.unit
            unit = "K" if self.unit == "K" else unit
        return f"{self.to(unit):.4g} {readable(unit)}"

    def same_as(self, other: Quantity, rel: float = 1e-9) -> bool:
        """Whether two quantities are of one kind and equal up to a relative difference."""
        return self.kind == other.kind and math.isclose(self.value, other.value, rel_tol=rel, abs_tol=1e-15)


def read_quantity(text: str | float, kind: str | None = None) -> Quantity:
    """Read a quantity.

    Args:
        text: What was typed; a bare number has no unit and is refused with a sentence.
        kind: The kind that is expected, a name in `KINDS`; None where any kind will do.

    Raises:
        UnitError: where it is no quantity or one of another kind.
    """
    written = str(text).strip()
    if isinstance(text, int | float):
        raise _nounit_of(written, kind)
    body, _, tolerance = plain(written).partition("±")
    body, tolerance = _unit_behind_a_share(body, tolerance)
    if kind == "fraction" and tolerance.strip().endswith("percent") and re.fullmatch(_NUMBER, body.strip()):
        body = f"{body.strip()} percent"  # `93±3 %` of a fraction: both are per cent
    if not body.strip() and tolerance:
        spread = _read(tolerance.strip(), written, kind)
        return Quantity(written, 0.0, spread.kind, spread.unit, abs(spread.value), spread.note)
    main = _read(body.strip(), written, kind, _unit_of(tolerance) if tolerance else "")
    if not tolerance:
        return Quantity(written, main.value, main.kind, main.unit, None, main.note)
    return Quantity(written, main.value, main.kind, main.unit, _spread(tolerance.strip(), main, written), main.note)


_SHARE_AND_UNIT = re.compile(r"\s*([\d.]+(?:[eE][-+]?\d+)?)\s*percent\s+(\S.*)$")


def _unit_behind_a_share(body: str, tolerance: str) -> tuple[str, str]:
    """`12±10 % hPa`: the unit belongs to the number, and the share is a share of it."""
    found = _SHARE_AND_UNIT.match(tolerance)
    if found is None or not re.fullmatch(_NUMBER, body.strip()):
        return body, tolerance
    return f"{body.strip()} {found[2]}", f"{found[1]} percent"


class _Reading(NamedTuple):
    value: float
    kind: str
    unit: str
    note: str


_NUMBER = r"[-+]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][-+]?\d+)?"
_WITH_UNIT = re.compile(rf"({_NUMBER})\s*(\S.*)?$")
_DECIMAL_COMMA = re.compile(r"^[-+]?\d+,\d+(?:\s|$|[^\d,])")
_CLOCK = re.compile(r"^\d{1,2}:\d{2}(?::\d{2})?(?:\s*\S*)?$")
_HOURS = re.compile(r"(\d+)\s*(?:h|hr|hours?)\s*(\d{1,2})\s*(?:m|min|minutes?)?$")
_MINUTES = re.compile(r"(\d+)\s*(?:m|min|minutes?)\s*(\d{1,2})\s*(?:s|sec|seconds?)$")
_WIRE = re.compile(r"(?:AWG\s*(\d{1,2}|1/0|2/0|3/0|4/0|0000|000|00)|(\d{1,2})\s*AWG)$", re.IGNORECASE)


def _read(body: str, written: str, kind: str | None, unit_if_none: str = "") -> _Reading:
    """One number with its unit, without its interval."""
    special = _duration(body) or _wire(body)
    if special is not None:
        if kind is not None and special.kind != kind:
            raise _wrong_kind(written, special.kind, kind)
        return special
    if _DECIMAL_COMMA.match(body):
        raise UnitError(f"`{written}` has a comma in the number", f"write {written.replace(',', '.', 1)}")
    if _CLOCK.match(body):
        raise UnitError(f"`{written}` looks like a time of day", "write a duration as `12 min 30 s` or `2h40`")
    found = _WITH_UNIT.match(body)
    if found is None:
        what = "no number" if not re.search(r"\d", body) else "no number at its beginning"
        raise UnitError(f"`{written}` has {what}", f"write {_example(kind)}")
    number, unit = float(found[1]), (found[2] or unit_if_none).strip()
    if not math.isfinite(number):
        raise UnitError(f"`{written}` is too large to be a reading", f"write {_example(kind)}")
    if not unit:
        raise _nounit_of(written, kind)
    if re.match(rf"(?:-|to|\.\.)\s*{_NUMBER}", unit):
        raise UnitError(f"`{written}` holds two numbers", "write a range as two quantities, such as [15 hPa, 18 hPa]")
    meant = unit_of(unit, kind)
    if kind is not None and meant.kind != kind and not _may_stand_for(meant.kind, kind):
        raise _wrong_kind(written, meant.kind, kind)
    value = meant.factor * number + meant.offset
    _refuse_impossible(written, meant.kind, value)
    return _Reading(value, kind or meant.kind, unit, meant.note)


def _duration(body: str) -> _Reading | None:
    for pattern, first, second in ((_HOURS, 3600, 60), (_MINUTES, 60, 1)):
        found = pattern.match(body)
        if found is not None:
            return _Reading(
                float(int(found[1]) * first + int(found[2]) * second), "time", "h" if first == 3600 else "min", ""
            )
    return None


def _wire(body: str) -> _Reading | None:
    """American wire gauge: diameter 0.127 mm x 92^((36 - n) / 39) (ASTM B258), as a cross-section."""
    found = _WIRE.match(body)
    if found is None:
        return None
    label = found[1] or found[2]
    number = (
        1 - int(label[0])
        if "/" in label
        else (1 - len(label) if set(label) == {"0"} and len(label) > 1 else int(label))
    )
    diameter = 0.127e-3 * 92 ** ((36 - number) / 39)
    return _Reading(math.pi * diameter**2 / 4, "area", "AWG", "solid wire of that gauge")


def _spread(tolerance: str, main: _Reading, written: str) -> float:
    if tolerance.endswith("percent"):
        share = re.match(rf"\s*({_NUMBER})\s*percent$", tolerance)
        if share is None:
            raise UnitError(f"`{written}` has no number behind ±", "write ± and a number, such as ±0.5 hPa or ±4 %")
        if main.kind != "fraction":
            return abs(float(share[1]) / 100 * main.value)
    found = _WITH_UNIT.match(tolerance)
    if found is None:
        raise UnitError(f"`{written}` has no number behind ±", "write ± and a number, such as ±0.5 hPa or ±4 %")
    unit = unit_of(
        found[2].strip() if found[2] else main.unit,
        "temperature difference" if main.kind == "temperature" else main.kind,
    )
    allowed = {main.kind, "temperature difference"} if main.kind == "temperature" else {main.kind}
    if unit.kind not in allowed and not _may_stand_for(unit.kind, main.kind):
        raise UnitError(
            f"`{written}` has a {unit.kind} behind ±, and a {main.kind} before it", "write both in one unit"
        )
    return abs(unit.factor * float(found[1]))


def _unit_of(tolerance: str) -> str:
    """`5.0 ± 0.7 hPa` gives the unit once, behind the interval."""
    found = _WITH_UNIT.match(tolerance.strip())
    unit = (found[2] or "").strip() if found else ""
    return "" if unit == "percent" else unit


def _refuse_impossible(written: str, kind: str, value: float) -> None:
    if kind == "temperature" and value < 0:
        raise UnitError(f"`{written}` is colder than absolute zero", "check the number and its unit")
    if value < 0 and kind in KINDS and not KINDS[kind].negative:
        raise UnitError(f"`{written}` is negative, and a {kind} cannot be", "take the minus out")


def _may_stand_for(kind: str, wanted: str) -> bool:
    return {kind, wanted} in ({"energy", "torque"}, {"fraction", "number"})


def _wrong_kind(written: str, kind: str, wanted: str) -> UnitError:
    return UnitError(f"`{written}` is a {kind}, and a {wanted} is expected", f"write {_example(wanted)}")


def _nounit_of(written: str, kind: str | None) -> UnitError:
    expected = f"; a {kind} is expected" if kind else ""
    example = KINDS[kind].shown_in if kind is not None and kind in KINDS else "hPa"
    return UnitError(
        f"`{written}` has no unit{expected}",
        f"write the unit behind the number, such as `{written} {readable(example)}`",
    )


def _example(kind: str | None) -> str:
    return (
        f"a number with its unit, such as `{KINDS[kind].example if kind is not None and kind in KINDS else '12 hPa'}`"
    )

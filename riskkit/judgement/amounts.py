"""Numbers in the unit in which somebody wrote them: values, differences, uncertainties."""

from __future__ import annotations

import math
from collections.abc import Sequence
from types import MappingProxyType

from riskkit.units import Quantity
from riskkit.units.kinds import readable
from riskkit.units.registry import unit_of

DIFFERENCE_OF = MappingProxyType({"temperature": "K"})
"""Kinds whose zero is a convention: a difference has a unit of its own."""


def in_unit(value: float, like: Quantity) -> float:
    """A value in SI base units, as a number in the unit of another quantity."""
    unit = unit_of(like.unit, like.kind)
    return (value - unit.offset) / unit.factor


def width_in_unit(value: float, like: Quantity) -> float:
    """A difference of two values in SI base units, as a number in the unit of a quantity; kelvin for temperatures."""
    return value if like.kind in DIFFERENCE_OF else value / unit_of(like.unit, like.kind).factor


def amount(value: float, like: Quantity, digits: int = 4) -> str:
    """A value in SI base units, in the unit of another quantity: "17.6 hPa"."""
    return f"{in_unit(value, like):.{digits}g} {readable(like.unit)}"


def difference(value: float, like: Quantity, digits: int = 2) -> str:
    """A difference of two values, in the unit of a quantity: "0.3 hPa"; kelvin for temperatures, minutes for short hours."""
    if like.kind == "time" and like.unit == "h" and abs(value) < 5400:
        return f"{value / 60:.{digits}g} min"
    return f"{width_in_unit(value, like):.{digits}g} {difference_unit(like)}"


def difference_unit(like: Quantity) -> str:
    """Unit of a difference of two such quantities: kelvin for temperatures."""
    return DIFFERENCE_OF.get(like.kind, readable(like.unit))


def half_width(spread: Quantity, reading: Quantity) -> float:
    """An uncertainty beside a reading, in SI base units: `0.3 hPa`, `±0.3 hPa`, `1 °C` (as a difference), `3 %` of it.

    Raises:
        ValueError: where the two are of different kinds, with the sentence.
    """
    if spread.kind == reading.kind or {spread.kind, reading.kind} == {"temperature", "temperature difference"}:
        return abs(_stated(spread) - unit_of(spread.unit, spread.kind).offset)
    if spread.kind == "fraction":
        if reading.kind in ("temperature", "sound level") and reading.unit != "K":
            raise ValueError(f"a share such as {spread.written} says nothing of a reading in {readable(reading.unit)}")
        return abs(_stated(spread) * reading.value)
    raise ValueError(f"the uncertainty {spread.written} is a {spread.kind}, and the reading a {reading.kind}")


def _stated(spread: Quantity) -> float:
    """The number of `0.3 hPa` as of `±0.3 hPa`."""
    return spread.plus_minus if spread.value == 0 and spread.plus_minus is not None else spread.value


def uncertainty_of_mean(expanded: float, values: Sequence[float]) -> float:
    """Expanded uncertainty (k = 2) of a mean: the instrument's, which all readings share, and their spread over sqrt(n).

    Args:
        expanded: Expanded uncertainty of one reading, in the unit of the values.
        values: The readings.
    """
    count = len(values)
    if count < 2:
        return expanded
    mean = sum(values) / count
    variance = sum((each - mean) ** 2 for each in values) / (count - 1)
    return math.hypot(expanded, 2 * math.sqrt(variance / count))

"""Readings that do not go together: results that disagree, and a liquid column that was read at one limb."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from riskkit.judgement.amounts import half_width, uncertainty_of_mean
from riskkit.judgement.verdicts import replaced_results
from riskkit.model.register import Register
from riskkit.model.verification import Result
from riskkit.units import Quantity

HALF = (1.8, 2.2)
"""A ratio in this span is taken for a factor of two."""


@dataclass(frozen=True, slots=True)
class Disagreement:
    """Two results of one test on one unit whose means differ by more than their joint uncertainty.

    Attributes:
        earlier: The result taken first.
        later: The other one.
        what: Name of the readings.
        means: Mean of each, in SI base units.
        uncertainty: Joint expanded uncertainty (k = 2) of the difference.
        like: A reading, for its unit.
    """

    earlier: str
    later: str
    what: str
    means: tuple[float, float]
    uncertainty: float
    like: Quantity


@dataclass(frozen=True, slots=True)
class HalfReading:
    """A pressure that is half of another one of the same thing, as of a U-tube that was read at one limb."""

    result: str
    what: str
    reading: Quantity
    other: Quantity
    other_what: str
    other_result: str

    @property
    def ratio(self) -> float:
        """The other reading over this one."""
        return self.other.value / self.reading.value


def disagreements(register: Register) -> Iterator[Disagreement]:
    """Every pair of results that count, of one test, unit, setting and configuration, that disagree.

    The difference of the means is compared with the root of the sum of squares of both uncertainties, in which
    the spread of the readings is part of each (the normalised error of ISO/IEC 17043, taken as above 1).
    """
    halves = {each.result for each in half_readings(register)}
    groups: dict[tuple[object, ...], list[Result]] = {}
    for result in _counting(register):
        if result.id not in halves and result.unit is not None:
            key = (result.test, result.unit, _settings(result), tuple(sorted(result.configuration.items())))
            groups.setdefault(key, []).append(result)
    for results in groups.values():
        results.sort(key=lambda result: result.on)
        for place, later in enumerate(results):
            for earlier in results[:place]:
                for what in earlier.readings:
                    found = _apart(earlier, later, what)
                    if found is not None:
                        yield found


def half_readings(register: Register) -> Iterator[HalfReading]:
    """Pressures that look like one limb of a liquid column: half of another reading of the same thing."""
    counting = _counting(register)
    for result in counting:
        if result.reading_mode is not None and "both" in result.reading_mode.casefold():
            continue
        for what, readings in result.readings.items():
            if not readings or readings[0].kind != "pressure":
                continue
            found = next(_doubles(result, what, readings, counting), None)
            if found is not None:
                yield found


def _counting(register: Register) -> tuple[Result, ...]:
    replaced = replaced_results(register)
    return tuple(result for result in register.results if result.id not in replaced)


def _doubles(
    result: Result, what: str, readings: Sequence[Quantity], counting: Sequence[Result]
) -> Iterator[HalfReading]:
    """Readings of the same thing that are twice as high: by another instrument in this result, or in another result."""
    small = _middle(readings)
    beside = [(name, result) for name in result.readings if name != what and _one_thing(name, what)]
    beside += [
        (what, other)
        for other in counting
        if other.id != result.id
        and (other.test, other.unit, _settings(other)) == (result.test, result.unit, _settings(result))
        and what in other.readings
    ]
    for name, other in beside:
        values = other.readings[name]
        if values and values[0].kind == "pressure" and small.value:
            large = _middle(values)
            if HALF[0] <= large.value / small.value <= HALF[1]:
                yield HalfReading(result.id, what, small, large, name, other.id)


def _one_thing(name: str, what: str) -> bool:
    """`lower level on the display` is the lower level, read elsewhere."""
    one, other = name.casefold(), what.casefold()
    return one.startswith(f"{other} ") or other.startswith(f"{one} ")


def _middle(readings: Sequence[Quantity]) -> Quantity:
    return sorted(readings, key=lambda each: each.value)[len(readings) // 2]


def _settings(result: Result) -> tuple[tuple[str, str], ...]:
    return tuple(sorted((name, f"{value.kind} {value.value:.9e}") for name, value in result.conditions.items()))


def _apart(earlier: Result, later: Result, what: str) -> Disagreement | None:
    one, other = earlier.readings[what], later.readings.get(what, ())
    spreads = earlier.uncertainty.get(what), later.uncertainty.get(what)
    if not one or not other or one[0].kind != other[0].kind or earlier.reported != later.reported:
        return None
    try:
        first, second = (
            half_width(spread, values[0]) if spread is not None else values[0].plus_minus
            for spread, values in zip(spreads, (one, other), strict=True)
        )
    except ValueError:
        return None
    if not first or not second:
        return None
    joint = math.hypot(_wide(first, one), _wide(second, other))
    means = _mean(one), _mean(other)
    if abs(means[0] - means[1]) <= joint * (1 + 1e-12):
        return None
    return Disagreement(earlier.id, later.id, what, means, joint, one[0])


def _mean(readings: Sequence[Quantity]) -> float:
    return sum(each.value for each in readings) / len(readings)


def _wide(expanded: float, readings: Sequence[Quantity]) -> float:
    return uncertainty_of_mean(expanded, [each.value for each in readings])

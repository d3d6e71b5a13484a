"""From a few measured values to a limit that most values of their kind stay within: normal tolerance limits.

The everyday factors stand in `tolerance-factors.json` beside this file, written by `make docs` and compared
by a test, so that a check of a register need not load scipy.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Literal

from riskkit.evidence.answers import EvidenceError, Sides, refuse_count, refuse_sides
from riskkit.evidence.refusals import (
    mean_and_spread,
    refuse_limits,
    refuse_number,
    refuse_readings,
    refuse_share,
    shown,
)

Method = Literal["exact", "howe", "natrella"]

TABLE = Path(__file__).with_name("tolerance-factors.json")
LEVELS = (0.80, 0.90, 0.95, 0.99)
READINGS = range(2, 61)
MOST_READINGS = 1_000_000_000
MOST_PLANNED = 1_000_000

_ONE_SIDED = "exact one-sided normal tolerance factor (noncentral t distribution)"
_TWO_SIDED = "exact two-sided normal tolerance factor (chi-square given the mean, integrated over the mean)"
_HOWE = "approximate two-sided normal tolerance factor (Howe 1969)"
_NATRELLA = "approximate one-sided normal tolerance factor (Natrella 1963)"


@dataclass(frozen=True, slots=True)
class ToleranceFactor:
    """The number of standard deviations between the mean and a tolerance limit.

    Attributes:
        factor: k of mean + k s. `float(answer)` gives it too.
        readings: Number of readings that mean and standard deviation come from.
        proportion: Share of all values that is to lie within the limit or limits.
        confidence: Share of repetitions of the whole test in which it does.
        sides: One limit (upper, lower) or two.
        method: Exact, or the name of an approximation.
    """

    factor: float
    readings: int
    proportion: float
    confidence: float
    sides: Sides
    method: str

    def __float__(self) -> float:
        return self.factor


@dataclass(frozen=True, slots=True)
class ToleranceLimits:
    """Limits that a share of all values of this kind stays within; values in the unit of the readings.

    Attributes:
        estimand: What is bounded.
        method: How; exact unless an approximation was asked for.
        confidence: Share of repetitions of the whole test in which the limits hold.
        proportion: Share of all single values within the limits.
        sides: One limit (upper, lower) or two.
        readings: Number of readings.
        mean: Their mean.
        spread: Their standard deviation, with n - 1.
        factor: k of mean + k s.
        lower: Lower tolerance limit; minus infinity for an upper one.
        upper: Upper tolerance limit; infinity for a lower one.
        unit: Unit of mean, spread and limits.
        caution: What must be said beside the limits: that they rest on normal values, or that no spread was seen.
    """

    estimand: str
    method: str
    confidence: float
    proportion: float
    sides: Sides
    readings: int
    mean: float
    spread: float
    factor: float
    lower: float
    upper: float
    unit: str
    caution: str


@dataclass(frozen=True, slots=True)
class ReadingsNeeded:
    """How many readings with the same mean and spread would show that a proportion lies within the limits.

    Attributes:
        readings: Smallest number of readings; None where no number would do, or none up to a million.
        factor: The factor at that number; None likewise.
        allowed: The factor that the limits leave room for: distance from mean to limit in standard deviations.
        proportion: Share of all single values that is to lie within the limits.
        confidence: Level of the tolerance limits.
        sides: The side of the limit given, or two-sided.
        method: Exact tolerance factors.
        because: One plain sentence.
    """

    readings: int | None
    factor: float | None
    allowed: float
    proportion: float
    confidence: float
    sides: Sides
    method: str
    because: str


def tolerance_factor(
    readings: int, proportion: float, confidence: float, sides: Sides = "upper", *, method: Method = "exact"
) -> ToleranceFactor:
    """The factor k of a normal tolerance limit mean + k s; the lower limit has the same factor, below the mean.

    Exact: for one side the noncentral t quantile, for two the exact integral (ISO 16269-6 subject; NIST
    e-Handbook 7.2.6.3). The approximations serve to compare with handbooks: `howe` for two sides,
    `natrella` for one.

    Args:
        readings: Number of independent normal readings, from 2.
        proportion: Share of all values to be within, between 0 and 1.
        confidence: Between 0 and 1.
        sides: "upper", "lower" or "two-sided".
        method: "exact", "howe" or "natrella".

    Raises:
        EvidenceError: fewer than two readings; a proportion or confidence that is not between 0 and 1.
    """
    readings = _refuse_readings_count(readings)
    proportion = refuse_share(proportion, "the proportion")
    confidence = refuse_share(confidence, "the confidence")
    sides = refuse_sides(sides)
    both = sides == "two-sided"
    if method == "exact":
        return ToleranceFactor(
            _exact(readings, proportion, confidence, both),
            readings,
            proportion,
            confidence,
            sides,
            _TWO_SIDED if both else _ONE_SIDED,
        )
    from riskkit.evidence import normal_factors

    if method == "howe" and both:
        factor, name = normal_factors.howe(readings, proportion, confidence), _HOWE
    elif method == "natrella" and not both:
        factor, name = normal_factors.natrella(readings, proportion, confidence), _NATRELLA
    else:
        raise EvidenceError(
            f"there is no {sides} factor by the method `{method}`",
            "leave the method out for the exact factor; howe is two-sided, natrella one-sided",
        )
    return ToleranceFactor(factor, readings, proportion, confidence, sides, name)


def tolerance_limits(
    values: Iterable[float] | None,
    proportion: float,
    confidence: float,
    sides: Sides,
    *,
    mean: float | None = None,
    spread: float | None = None,
    readings: int | None = None,
    unit: str = "",
    method: Method = "exact",
) -> ToleranceLimits:
    """Limits within which a proportion of all values lies, with confidence, from readings or from their summary.

    Args:
        values: Independent readings, at least two; None if mean, spread and readings are given instead.
        proportion: Share of all single values to be within, between 0 and 1.
        confidence: Between 0 and 1.
        sides: "upper", "lower" or "two-sided".
        mean: Mean of the readings, if values is None.
        spread: Their standard deviation (with n - 1), if values is None.
        readings: Their number, if values is None.
        unit: Unit of the values.
        method: "exact"; "howe" and "natrella" for comparison with handbooks.

    Raises:
        EvidenceError: one reading alone (it shows no spread); both or neither of values and summary; not a number.
    """
    summary = (mean, spread, readings)
    if values is not None and all(part is None for part in summary):
        numbers = refuse_readings(values, "the readings", least=1)
        readings = _refuse_readings_count(len(numbers))
        mean, spread = mean_and_spread(numbers)
    elif values is None and mean is not None and spread is not None and readings is not None:
        readings = _refuse_readings_count(readings)
        mean = refuse_number(mean, "the mean")
        spread = refuse_number(spread, "the standard deviation", least=0)
    else:
        raise EvidenceError(
            "tolerance limits come from readings, or from their mean, standard deviation and number",
            "give values alone, or None with mean, spread and readings",
        )
    found = tolerance_factor(readings, proportion, confidence, sides, method=method)
    within = {"upper": "below", "lower": "above", "two-sided": "within"}[found.sides]
    reach = found.factor * spread
    return ToleranceLimits(
        estimand=f"limit{'s' if within == 'within' else ''} {within} which {_percent(proportion)} of all single values lie",
        method=found.method,
        confidence=found.confidence,
        proportion=found.proportion,
        sides=found.sides,
        readings=readings,
        mean=mean,
        spread=spread,
        factor=found.factor,
        lower=-math.inf if found.sides == "upper" else mean - reach,
        upper=math.inf if found.sides == "lower" else mean + reach,
        unit=unit,
        caution=(
            "holds for independent readings of normally distributed values"
            if spread > 0
            else "rests on readings that are all the same, so no spread was seen: the limit is the reading itself and "
            "shows nothing beyond it; read with a finer instrument"
        ),
    )


def readings_needed(
    mean: float,
    spread: float,
    proportion: float,
    confidence: float,
    *,
    lower: float | None = None,
    upper: float | None = None,
) -> ReadingsNeeded:
    """Smallest number of readings with this same mean and spread whose tolerance limits would lie within the limits.

    With both limits the two-sided interval around the mean must lie within them. A plan, not a promise:
    more readings will show another mean and another spread.

    Args:
        mean: Mean so far, in the unit of the limits.
        spread: Standard deviation so far, above zero.
        proportion: Share of all single values to be within, between 0 and 1.
        confidence: From 0.5 up to 1, end left out.
        lower: Lower limit, or None.
        upper: Upper limit, or None.

    Raises:
        EvidenceError: no limit; no spread; a confidence below 0.5.
    """
    mean = refuse_number(mean, "the mean")
    spread = refuse_number(spread, "the standard deviation", above=0)
    proportion = refuse_share(proportion, "the proportion")
    confidence = refuse_share(confidence, "the confidence")
    if confidence < 0.5:
        raise EvidenceError(f"a confidence of {confidence:g} shows nothing", "give a confidence from 0.5")
    lower, upper = refuse_limits(lower, upper)
    sides: Sides = "two-sided" if lower is not None and upper is not None else "lower" if upper is None else "upper"
    rooms = ((upper - mean) if upper is not None else math.inf, (mean - lower) if lower is not None else math.inf)
    allowed = min(rooms) / spread
    within = " and ".join(
        f"{word} {shown(limit)}" for word, limit in (("above", lower), ("below", upper)) if limit is not None
    )
    claim = f"that {_percent(proportion)} of all values lie {within}, with {_percent(confidence)} confidence"
    method = _TWO_SIDED if sides == "two-sided" else _ONE_SIDED

    def answer(number: int | None, factor: float | None, because: str) -> ReadingsNeeded:
        return ReadingsNeeded(number, factor, allowed, proportion, confidence, sides, method, because)

    def shows(number: int) -> bool:
        return _exact(number, proportion, confidence, sides == "two-sided") <= allowed

    if allowed <= _endless(proportion, sides):
        words = f"with this mean and spread no number of readings would show {claim}"
        if _share_within(mean, spread, lower, upper) > proportion:
            reason = "the interval reaches as far to both sides, and one limit is too near; ask about that limit alone"
        else:
            reason = "too many values lie beyond; the thing itself must change"
        return answer(None, None, f"{words}: {reason}")
    if not shows(MOST_PLANNED):
        words = "with this mean and spread more than a million readings would be needed to show"
        return answer(None, None, f"{words} {claim}: the thing itself must change")
    low, high = 1, 2  # the factor falls as readings are added
    while not shows(high):
        low, high = high, min(2 * high, MOST_PLANNED)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if shows(middle) else (middle, high)
    factor = _exact(high, proportion, confidence, sides == "two-sided")
    return answer(high, factor, f"{high} readings with the same mean and spread would show {claim}")


def factor_table() -> dict[str, list[float]]:
    """Exact factors as `tolerance-factors.json` holds them: one list, for 2 to 60 readings, per side and levels."""
    from riskkit.evidence.normal_factors import one_sided, two_sided

    return {
        _row(both, proportion, confidence): [way(readings, proportion, confidence) for readings in READINGS]
        for both, way in ((False, one_sided), (True, two_sided))
        for proportion in LEVELS
        for confidence in LEVELS
    }


def write_factor_table(path: Path = TABLE) -> None:
    """Write the table, one row a line."""
    rows = (f"{json.dumps(name)}: {json.dumps(factors)}" for name, factors in factor_table().items())
    path.write_text("{\n" + ",\n".join(rows) + "\n}\n", encoding="utf-8")


@cache
def _table() -> Mapping[str, list[float]]:
    return MappingProxyType(json.loads(TABLE.read_text(encoding="utf-8")))


def _row(both: bool, proportion: float, confidence: float) -> str:
    return f"{'two-sided' if both else 'one-sided'} {proportion!r} {confidence!r}"


def _exact(readings: int, proportion: float, confidence: float, both: bool) -> float:
    if readings in READINGS and proportion in LEVELS and confidence in LEVELS:
        return _table()[_row(both, proportion, confidence)][readings - READINGS.start]
    from riskkit.evidence.normal_factors import one_sided, two_sided

    return (two_sided if both else one_sided)(readings, proportion, confidence)


def _endless(proportion: float, sides: Sides) -> float:
    """The factor that endlessly many readings would need: a quantile of the normal distribution."""
    from statistics import NormalDist

    if sides == "two-sided":
        return -NormalDist().inv_cdf((1 - proportion) / 2)
    return NormalDist().inv_cdf(proportion) if proportion < 0.5 else -NormalDist().inv_cdf(1 - proportion)


def _share_within(mean: float, spread: float, lower: float | None, upper: float | None) -> float:
    """Share of the values of a normal distribution with this mean and spread that lies within the limits."""
    from riskkit.evidence.wrong_passes import specific_risk

    return 1 - specific_risk(mean, spread, lower, upper)


def _refuse_readings_count(readings: int) -> int:
    number = refuse_count(int(refuse_number(readings, "the number of readings")), "the number of readings", least=0)
    if number != readings:
        raise EvidenceError(f"the number of readings is {readings}, and must be a whole number", "count them again")
    if number < 2:
        raise EvidenceError(
            f"{number} reading{'s' if number != 1 else ''} cannot show a spread, so no tolerance limit follows",
            "take at least two readings",
        )
    if number > MOST_READINGS:
        raise EvidenceError(f"{number} readings are more than this can answer for", "give at most 1000000000")
    return number


def _percent(share: float) -> str:
    return f"{100 * share:.10g} %"

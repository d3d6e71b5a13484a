"""Numbers that no answer can be built on are refused in one sentence: words, infinities, too few readings."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

from riskkit.evidence.answers import EvidenceError, refuse_probability

LARGEST = 1e150  # its square is still a number, and so is one over it


def refuse_number(value: Any, what: str, *, above: float | None = None, least: float | None = None) -> float:
    """The value as a float, if it is a finite number above `above` and of at least `least`.

    Raises:
        EvidenceError: naming what was expected.
    """
    try:
        number = float(value) if not isinstance(value, bool | str | bytes) else math.nan
    except (TypeError, ValueError, OverflowError):
        number = math.nan
    if not math.isfinite(number):
        raise EvidenceError(f"{what} is {value}, and must be a finite number", f"give {what} as a number")
    # What must be above a bound is divided by, so it may not be too small either.
    if abs(number) > LARGEST or (above is not None and 0 < abs(number) < 1 / LARGEST):
        size = "large" if abs(number) > 1 else "small"
        raise EvidenceError(f"{what} is {number:g}, too {size} to calculate with", "give it in another unit")
    if above is not None and not number > above:
        raise EvidenceError(f"{what} is {number:g}, and must be above {above:g}", f"give {what} again")
    if least is not None and not number >= least:
        raise EvidenceError(f"{what} is {number:g}, and must be at least {least:g}", f"give {what} again")
    return number


def refuse_share(value: Any, what: str) -> float:
    """The value as a float, if it is a number between 0 and 1, ends left out.

    Raises:
        EvidenceError: naming what was expected.
    """
    return refuse_probability(refuse_number(value, what), what)


def refuse_readings(values: Iterable[Any], what: str, *, least: int) -> tuple[float, ...]:
    """The values as floats, if there are at least `least` and every one is a finite number.

    Raises:
        EvidenceError: naming the first that is no number, or how many there are.
    """
    if isinstance(values, str | bytes) or not isinstance(values, Iterable):
        raise EvidenceError(f"{what} must be several numbers, not {values!r}", "give a list of numbers")
    numbers = tuple(refuse_number(value, f"number {place} of {what}") for place, value in enumerate(values, 1))
    if len(numbers) < least:
        raise EvidenceError(
            f"{what} hold {len(numbers)} number{'' if len(numbers) == 1 else 's'}, and at least {least} are needed",
            "take more readings",
        )
    return numbers


def refuse_limits(lower: float | None, upper: float | None) -> tuple[float | None, float | None]:
    """Both limits as floats, if there is at least one and they stand in order.

    Raises:
        EvidenceError: no limit, or the lower one not below the upper one.
    """
    if lower is None and upper is None:
        raise EvidenceError("there is no limit to judge against", "give a lower limit, an upper limit or both")
    lower = None if lower is None else refuse_number(lower, "the lower limit")
    upper = None if upper is None else refuse_number(upper, "the upper limit")
    if lower is not None and upper is not None and not lower < upper:
        raise EvidenceError(
            f"the lower limit {shown(lower)} is not below the upper limit {shown(upper)}", "give both limits again"
        )
    return lower, upper


def span(lower: float | None, upper: float | None) -> tuple[float, float]:
    """Two ends of which the missing ones are infinitely far away."""
    return -math.inf if lower is None else lower, math.inf if upper is None else upper


def mean_and_spread(numbers: tuple[float, ...]) -> tuple[float, float]:
    """Mean and standard deviation (with n - 1) of at least two numbers; the spread of equal numbers is exactly 0."""
    if min(numbers) == max(numbers):
        return numbers[0], 0.0
    mean = math.fsum(numbers) / len(numbers)
    return mean, math.hypot(*(number - mean for number in numbers)) / math.sqrt(len(numbers) - 1)


def shown(number: float) -> str:
    """A number as a sentence shows it: at most 12 digits, so that 17.7 is not 17.699999999999999."""
    return f"{number:.12g}"


def shown_chance(probability: float) -> str:
    """A probability in per cent with two digits; never "0 %" and never "100 %" for what is merely near."""
    if probability < 1e-4:
        return "less than 0.01 %"
    if probability > 0.99:
        return "more than 99 %"
    return f"{100 * probability:.2g} %"

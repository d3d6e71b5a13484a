"""Numbers that no answer can be built on are refused in one sentence: words, infinities, too few readings."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

from riskkit.evidence.answers import EvidenceError


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
    if above is not None and not number > above:
        raise EvidenceError(f"{what} is {number:g}, and must be above {above:g}", f"give {what} again")
    if least is not None and not number >= least:
        raise EvidenceError(f"{what} is {number:g}, and must be at least {least:g}", f"give {what} again")
    return number


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

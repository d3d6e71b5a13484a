"""What every statistic says about itself: what it estimates, by which method, at which level, on which side."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from riskkit.diagnostics import RiskkitError

Sides = Literal["two-sided", "upper", "lower"]
"""Two-sided: the stated confidence lies between both ends. Upper or lower: all of it lies on one side of one bound."""


class EvidenceError(RiskkitError, ValueError):
    """A question that the numbers given cannot answer: one sentence, and what to give instead."""


@dataclass(frozen=True, slots=True)
class Interval:
    """An interval or a one-sided bound, with everything that names it.

    Attributes:
        estimand: What is bounded, such as "probability of failure in one run".
        method: How, such as "Clopper-Pearson, exact binomial".
        confidence: The level, between 0 and 1; for a posterior the probability inside.
        sides: Two-sided, or the side of a one-sided bound.
        estimate: The point estimate; None where there is none.
        lower: Lower end; the natural end of the scale for an upper bound.
        upper: Upper end; the natural end of the scale (or infinity) for a lower bound.
        unit: Unit of estimate and ends; empty for a proportion.
    """

    estimand: str
    method: str
    confidence: float
    sides: Sides
    estimate: float | None
    lower: float
    upper: float
    unit: str = ""


def refuse_probability(value: float, what: str, *, ends: bool = False) -> float:
    """The value, if it is a probability strictly between 0 and 1; with `ends`, 0 and 1 too.

    Raises:
        EvidenceError: naming what was expected.
    """
    span = "from 0 to 1" if ends else "between 0 and 1, ends left out"
    try:
        number = float(value)
    except (TypeError, ValueError):
        number = math.nan
    if not (0 <= number <= 1 if ends else 0 < number < 1):
        raise EvidenceError(f"{what} is {value}, and must lie {span}", f"give {what} as a number such as 0.95")
    return number


def refuse_count(value: int, what: str, *, least: int = 0) -> int:
    """The value, if it is a whole number of at least `least`.

    Raises:
        EvidenceError: naming what was expected.
    """
    try:
        number = int(value)
        whole = not isinstance(value, bool) and number == value and number >= least
    except (TypeError, ValueError, OverflowError):
        whole = False
    if not whole:
        raise EvidenceError(f"{what} is {value}, and must be a whole number from {least}", f"count {what} again")
    return number


def refuse_sides(sides: str) -> Sides:
    """The word, if it is one of the three.

    Raises:
        EvidenceError: naming them.
    """
    if not isinstance(sides, str) or sides not in ("two-sided", "upper", "lower"):
        raise EvidenceError(f"sides cannot be `{sides}`", "give one of two-sided, upper, lower")
    return sides  # type: ignore[return-value]

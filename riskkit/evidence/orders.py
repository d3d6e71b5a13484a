"""What the smallest and largest of n readings bound, whatever the distribution: Wilks' numbers."""

from __future__ import annotations

import math
from dataclasses import dataclass

from riskkit.evidence.answers import EvidenceError, Sides, refuse_sides
from riskkit.evidence.binomial import fewest_runs, more_than
from riskkit.evidence.given import complement, count, probability

METHOD = "Wilks, distribution-free, exact binomial"


@dataclass(frozen=True, slots=True)
class OrderLimits:
    """What ordered readings bound.

    Attributes:
        readings: Number of readings.
        coverage: Proportion of the population between or beyond the limits.
        confidence: Confidence that these readings reach; where one was asked for, at least that.
        sides: "upper", "lower" or "two-sided".
        discard: Extreme readings set aside, in all.
        limits: Which readings are the limits, as words.
        method: How it was found; readings are independent, from one population with a continuous distribution.
    """

    readings: int
    coverage: float
    confidence: float
    sides: Sides
    discard: int
    limits: str
    method: str = METHOD


def wilks_readings(coverage: float, confidence: float, sides: Sides = "upper", discard: int = 0) -> OrderLimits:
    """Fewest readings whose extremes bound a proportion of the population, whatever its distribution.

    Args:
        coverage: Proportion of the population to be covered, between 0 and 1.
        confidence: Confidence between 0 and 1.
        sides: "upper" (below the largest), "lower" (above the smallest) or "two-sided" (between both).
        discard: Extreme readings set aside in all, at either end; fixed before anything is read.

    Returns:
        The number of readings and the confidence that it reaches.

    Raises:
        EvidenceError: for numbers that cannot be.

    Source: S. S. Wilks, Ann. Math. Stat. 12 (1941); ISO 16269-6 subject (distribution-free intervals).
    """
    coverage, confidence = probability(coverage, "coverage"), probability(confidence, "confidence")
    beyond = _beyond(refuse_sides(sides), count(discard, "discard"))
    outside = complement(coverage)
    readings = fewest_runs(math.log1p(-outside), complement(confidence), beyond)
    reached = more_than(beyond, readings, outside)
    return OrderLimits(readings, coverage, reached, sides, int(discard), _limits(sides, int(discard)))


def wilks_confidence(n: int, coverage: float, sides: Sides = "upper", discard: int = 0) -> OrderLimits:
    """Confidence with which the extremes of n readings bound a proportion of the population.

    Args:
        n: Number of readings.
        coverage: Proportion of the population, between 0 and 1.
        sides: "upper", "lower" or "two-sided".
        discard: Extreme readings set aside in all, at either end; fixed before anything was read.

    Raises:
        EvidenceError: for numbers that cannot be, and where no reading is left as a limit.

    Source: as `wilks_readings`.
    """
    n, coverage = count(n, "readings", least=1), probability(coverage, "coverage")
    beyond = _beyond(refuse_sides(sides), count(discard, "discard"))
    if n <= beyond:
        raise EvidenceError(f"of {n} readings none is left as a limit", f"give at least {beyond + 1} readings")
    reached = more_than(beyond, n, complement(coverage))
    return OrderLimits(n, coverage, reached, sides, int(discard), _limits(sides, int(discard)))


def _beyond(sides: Sides, discard: int) -> int:
    """Readings outside the coverage that are still too few: the limits hold if more than these lie outside."""
    return discard + (1 if sides == "two-sided" else 0)


def _limits(sides: Sides, discard: int) -> str:
    if sides == "two-sided":
        if discard == 0:
            return "smallest and largest reading"
        return f"r-th smallest and s-th largest reading, r + s = {discard + 2}, chosen before reading"
    end = "largest" if sides == "upper" else "smallest"
    return f"{end} reading" if discard == 0 else f"{end} reading after the {discard} {end} are set aside"

"""How often it fails per hour, from failures counted in time: exact Poisson bounds, and how long a test must run."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from riskkit.evidence.answers import EvidenceError, Interval, Sides, refuse_sides
from riskkit.evidence.given import count, number_above_zero, probability, tail

Ended = Literal["time", "failure"]
"""What ended the test: a time fixed before, or the last of a number of failures fixed before."""

_BY_TIME = "exact Poisson (Garwood), ended by time: chi-square, 2r and 2r + 2 degrees of freedom"
_BY_FAILURE = "exact, ended by failure: chi-square, 2r degrees of freedom at both ends"


@dataclass(frozen=True, slots=True)
class TimeNeeded:
    """How long a test must run to show a mean time between failures.

    Attributes:
        time: Hours in all, over all units, as the unit of `mean_time`.
        factor: The same as a multiple of `mean_time`.
        mean_time: Mean time between failures to be shown.
        confidence: One-sided confidence.
        failures: Failures with which the test still shows it.
        unit: Unit of the times.
        method: How it was found.
    """

    time: float
    factor: float
    mean_time: float
    confidence: float
    failures: int
    unit: str
    method: str = "constant failure rate, ended by time: chi-square with 2c + 2 degrees of freedom, halved"


def rate_interval(
    failures: int,
    hours: float,
    confidence: float = 0.95,
    sides: Sides = "upper",
    ended: Ended = "time",
    unit: str = "1/h",
) -> Interval:
    """Exact bound or interval on a constant rate of failures.

    Args:
        failures: Failures seen.
        hours: Time in all, over all units; above 0.
        confidence: Level between 0 and 1; one-sided for one bound, between both ends for two-sided.
        sides: "upper", "lower" or "two-sided".
        ended: "time" if the test ended at a time fixed before (chi-square with 2r and 2r + 2 degrees of freedom);
            "failure" if it ended at the r-th failure (2r for both ends).
        unit: Name of the unit of the rate, one over the unit of `hours`.

    Returns:
        Interval on the rate; the estimate is failures / hours.

    Raises:
        EvidenceError: for numbers that cannot be, and for a test ended by failure without one.

    Source: F. Garwood, Biometrika 28 (1936); NIST/SEMATECH e-Handbook 8.4.5.1.
    """
    failures, hours = count(failures, "failures"), number_above_zero(hours, "hours")
    confidence = probability(confidence, "confidence")
    more, method = 1, _BY_TIME
    if ended != "time":
        _refuse_ended(ended, failures)
        more, method = 0, _BY_FAILURE
    beyond, lower, upper = tail(confidence, sides), 0.0, math.inf
    if sides != "upper" and failures > 0:
        import scipy.special

        lower = float(scipy.special.gammaincinv(failures, beyond)) / hours
    if sides != "lower":
        if failures + more == 1:  # no scipy for the commonest question: no failure
            upper = -(math.log1p(-confidence) if sides == "upper" else math.log(beyond)) / hours
        else:
            import scipy.special

            upper = float(scipy.special.gammainccinv(failures + more, beyond)) / hours
    return Interval("rate of failures", method, confidence, sides, failures / hours, lower, upper, unit)


def mean_time_interval(
    failures: int,
    hours: float,
    confidence: float = 0.95,
    sides: Sides = "lower",
    ended: Ended = "time",
    unit: str = "h",
) -> Interval:
    """Exact bound or interval on the mean time between failures at a constant rate.

    Its lower end is one over the upper end of the rate, and the other way round. Without any failure there is no
    upper end: it is infinite, and the method says so.

    Args:
        failures: Failures seen.
        hours: Time in all, over all units; above 0.
        confidence: Level between 0 and 1; one-sided for one bound, between both ends for two-sided.
        sides: "lower", "upper" or "two-sided", of the mean time.
        ended: "time" or "failure", as for `rate_interval`.
        unit: Name of the unit of `hours`.

    Returns:
        Interval on the mean time between failures; the estimate is hours / failures, None without a failure.

    Raises:
        EvidenceError: as `rate_interval`.

    Source: NIST/SEMATECH e-Handbook 8.4.5.1.
    """
    swapped: dict[Sides, Sides] = {"two-sided": "two-sided", "upper": "lower", "lower": "upper"}
    rate = rate_interval(failures, hours, confidence, swapped[refuse_sides(sides)], ended)
    method = rate.method
    if rate.lower == 0 and sides != "lower":
        method += "; without any failure the mean time has no upper end"
    return Interval(
        "mean time between failures",
        method,
        rate.confidence,
        sides,
        1 / rate.estimate if rate.estimate else None,
        1 / rate.upper,
        1 / rate.lower if rate.lower else math.inf,
        unit,
    )


def test_time_needed(
    mean_time: float,
    confidence: float,
    failures: int = 0,  # noqa: PT028 (the trade's word, no pytest function)
    unit: str = "h",  # noqa: PT028
) -> TimeNeeded:
    """How long a test must run to show a mean time between failures, with so many failures or fewer.

    Args:
        mean_time: Mean time between failures to be shown; above 0.
        confidence: One-sided confidence between 0 and 1.
        failures: Failures with which the test still shows it.
        unit: Name of the unit of `mean_time`.

    Returns:
        The time over all units, in the unit of `mean_time`, and the factor: half of chi-square(C; 2c + 2).

    Raises:
        EvidenceError: for numbers that cannot be.

    Source: NIST/SEMATECH e-Handbook 8.3.1.1.
    """
    mean_time, failures = number_above_zero(mean_time, "mean time"), count(failures, "failures")
    confidence = probability(confidence, "confidence")
    if failures == 0:
        factor = -math.log1p(-confidence)
    else:
        from scipy.special import gammaincinv

        factor = float(gammaincinv(failures + 1, confidence))
    return TimeNeeded(factor * mean_time, factor, mean_time, confidence, failures, unit)


def _refuse_ended(ended: str, failures: int) -> None:
    if ended != "failure":
        raise EvidenceError(f"ended cannot be `{ended}`", "give time or failure: what ended the test")
    if failures == 0:
        raise EvidenceError(
            "a test ended by failure has at least one failure", "give ended=time, or count the failure that ended it"
        )

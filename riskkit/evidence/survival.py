"""How many still work after a time, where some units were stopped before they failed: Kaplan-Meier."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from riskkit.evidence.answers import EvidenceError
from riskkit.evidence.given import number, probability


@dataclass(frozen=True, slots=True)
class SurvivalStep:
    """One step of the curve, at a time at which units failed.

    Attributes:
        time: Time of the failures.
        at_risk: Units still on test just before.
        failures: Units that failed at this time.
        censored: Units stopped unfailed from this time on, before the next step.
        survival: Proportion still working after this time.
        error: Standard error of `survival` (Greenwood).
        lower: Lower end of the interval on `survival` at this time; None where nothing is left to reckon with.
        upper: Upper end.
    """

    time: float
    at_risk: int
    failures: int
    censored: int
    survival: float
    error: float
    lower: float | None
    upper: float | None


@dataclass(frozen=True, slots=True)
class SurvivalCurve:
    """The proportion still working, step by step.

    Attributes:
        steps: One step per time of failure, in order; before the first the curve is 1. Empty without a failure.
        units: Units on test.
        failures: Units that failed.
        censored: Units stopped unfailed.
        last_time: Longest time of any unit; the curve says nothing beyond.
        median: First time at which the curve is at 0.5 or below; None if it is not reached.
        median_words: The same as words.
        estimand: What the curve estimates.
        method: How curve and intervals were found.
        confidence: Level of the interval at each single time, not of the whole curve.
        sides: "two-sided".
    """

    steps: tuple[SurvivalStep, ...]
    units: int
    failures: int
    censored: int
    last_time: float
    median: float | None
    median_words: str
    confidence: float
    estimand: str = "proportion of units still working after the time"
    method: str = (
        "Kaplan-Meier; Greenwood variance, log-log interval at each time; "
        "a unit stopped at the time of a failure counts as at risk there (failures first)"
    )
    sides: str = "two-sided"


def kaplan_meier(times: Sequence[float], observed: Sequence[bool], confidence: float = 0.95) -> SurvivalCurve:
    """Product-limit estimate of the proportion still working, with stopped units counted as long as they ran.

    Stopping must have nothing to do with how close a unit is to failing.

    Args:
        times: Time of each unit until it failed or was stopped; 0 or more, all in one unit.
        observed: For each unit True if it failed at that time, False if it was stopped unfailed.
        confidence: Two-sided level of the interval at each time, between 0 and 1.

    Returns:
        The curve; where all units left fail at the last time it falls to 0, and no interval is defined there.

    Raises:
        EvidenceError: for no units, lists of different length, times below 0, marks that are not True or False.

    Source: E. L. Kaplan, P. Meier, J. Am. Stat. Assoc. 53 (1958); NIST/SEMATECH e-Handbook 8.2.1.5; log-log interval:
    J. D. Kalbfleisch, R. L. Prentice.
    """
    from statistics import NormalDist

    confidence = probability(confidence, "confidence")
    z = -NormalDist().inv_cdf((1 - confidence) / 2)
    leaving = _leaving(_listed(times, "times"), _listed(observed, "observed"))
    units = sum(failed + stopped for _, failed, stopped in leaving)
    falls: list[tuple[float, int, int, float, float]] = []
    at_risk, survival, hazard_variance = units, 1.0, 0.0
    begun, begun_with = 1.0, units  # the stretch since units were last stopped; within it the factors cancel exactly
    for time, failed, stopped in leaving:
        if failed:
            survival = begun * (at_risk - failed) / begun_with
            if failed < at_risk:
                hazard_variance += failed / (at_risk * (at_risk - failed))
            falls.append((time, at_risk, failed, survival, hazard_variance))
        at_risk -= failed + stopped
        if stopped:
            begun, begun_with = survival, at_risk
    steps = tuple(
        SurvivalStep(
            time,
            at_risk,
            failed,
            at_risk - failed - at_risk_next,
            survival,
            survival * math.sqrt(variance),
            *_log_log(survival, variance, z),
        )
        for (time, at_risk, failed, survival, variance), at_risk_next in zip(
            falls, [*(fall[1] for fall in falls[1:]), 0], strict=False
        )
    )
    # A curve that is 0.5 but for rounding counts as 0.5.
    median = next((step.time for step in steps if step.survival <= 0.5 * (1 + 1e-12)), None)
    failures = sum(step.failures for step in steps)
    return SurvivalCurve(
        steps,
        units,
        failures,
        units - failures,
        leaving[-1][0],
        median,
        "not reached" if median is None else f"{median:g}",
        confidence,
    )


def _log_log(survival: float, hazard_variance: float, z: float) -> tuple[float | None, float | None]:
    if survival == 0:
        return None, None
    spread = z * math.sqrt(hazard_variance) / -math.log(survival)
    # The power lies in the exponent of an exponent: a spread above 700 is a lower end of 0.
    return survival ** math.exp(min(spread, 700.0)), survival ** math.exp(-spread)


def _leaving(times: list[Any], observed: list[Any]) -> list[tuple[float, int, int]]:
    """Each distinct time in order, with how many units failed and how many were stopped."""
    if len(times) != len(observed):
        raise EvidenceError(
            f"{len(times)} times and {len(observed)} marks do not match", "give one time and one mark for each unit"
        )
    if not times:
        raise EvidenceError("no unit was on test", "give at least one time")
    counts: dict[float, list[int]] = {}
    for value, mark in zip(times, observed, strict=True):
        time = number(value, "a time")
        if time < 0:
            raise EvidenceError(f"a time is {time:g}, and must be 0 or more", "count times from the start of the test")
        if not (mark is True or mark is False) and mark not in (0, 1):
            raise EvidenceError(f"a mark is {mark!r}, and must be True or False", "say for each unit whether it failed")
        counts.setdefault(time, [0, 0])[0 if mark else 1] += 1
    return [(time, *counts[time]) for time in sorted(counts)]  # type: ignore[misc]


def _listed(values: Iterable[Any], what: str) -> list[Any]:
    try:
        return list(values)
    except TypeError:
        raise EvidenceError(f"{what} is no list", f"give {what} as a list, one entry for each unit") from None

"""What was believed before and what runs or hours add: beta and gamma updates with the prior stated."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from riskkit.evidence.answers import EvidenceError, Interval, Sides, refuse_sides
from riskkit.evidence.beta import lower_end, upper_end
from riskkit.evidence.given import count, number, number_above_zero, probability, tail
from riskkit.evidence.proportions import ESTIMAND
from riskkit.evidence.refusals import refuse_number

JEFFREYS_BETA = (0.5, 0.5)
"""Jeffreys prior for a probability of failure: a and b. Source: NASA/SP-2009-569, 4.2.1.2."""

JEFFREYS_GAMMA = (0.5, 0.0)
"""Jeffreys prior for a rate: shape and time; no distribution by itself. Source: NASA/SP-2009-569, 4.2.2.2."""


@dataclass(frozen=True, slots=True)
class Belief:
    """A distribution of an unknown probability or rate.

    Attributes:
        family: "beta" (of a probability) or "gamma" (of a rate).
        parameters: a and b of the beta; shape and time of the gamma.
        words: The distribution with its parameters, as a sentence part.
        mean: Mean; None for a prior that is no distribution by itself.
        interval: Interval with the stated probability inside; None as for the mean.
    """

    family: Literal["beta", "gamma"]
    parameters: tuple[float, float]
    words: str
    mean: float | None
    interval: Interval | None


@dataclass(frozen=True, slots=True)
class Posterior:
    """A belief after the data, beside the belief before.

    Attributes:
        estimand: What is believed about.
        method: Kind of update.
        prior: Belief before the data; it is part of the answer and needs a reason of its own.
        data: The data, as words.
        family: "beta" or "gamma".
        parameters: a and b of the beta; shape and time of the gamma.
        words: The posterior with its parameters.
        mean: Posterior mean.
        interval: Posterior interval, equal-tailed if two-sided; its estimate is the mean.
    """

    estimand: str
    method: str
    prior: Belief
    data: str
    family: Literal["beta", "gamma"]
    parameters: tuple[float, float]
    words: str
    mean: float
    interval: Interval


@dataclass(frozen=True, slots=True)
class MissionReliability:
    """Probability of no failure over a time, from a posterior on the rate.

    Attributes:
        mission_time: The time, in the unit of the posterior's time.
        at_mean_rate: exp(-mean rate x time): what handbooks print.
        expected: Mean of the reliability over the posterior, never below `at_mean_rate`.
        interval: Interval on the reliability from the ends of the interval on the rate.
        prior: The prior of the rate, as words.
    """

    mission_time: float
    at_mean_rate: float
    expected: float
    interval: Interval
    prior: str


def update_beta(
    prior_a: float,
    prior_b: float,
    failures: int,
    runs: int,
    probability: float = 0.90,
    sides: Sides = "two-sided",
) -> Posterior:
    """Update a beta prior on the probability of failure by failures among runs.

    Args:
        prior_a: First parameter of the prior, above 0: weight of failures.
        prior_b: Second parameter, above 0: weight of working runs.
        failures: Failures seen.
        runs: Runs made, 0 or more.
        probability: Probability inside the interval (two-sided, equal tails) or on the named side of the bound.
        sides: "two-sided", "upper" or "lower".

    Returns:
        Posterior Beta(a + failures, b + runs - failures) with mean and interval.

    Raises:
        EvidenceError: for parameters, counts or a probability that cannot be.

    Source: NASA/SP-2009-569, 4.2.1. Jeffreys prior: `update_beta(*JEFFREYS_BETA, ...)`.
    """
    a, b = number_above_zero(prior_a, "prior a"), number_above_zero(prior_b, "prior b")
    runs, failures = count(runs, "runs"), count(failures, "failures")
    if failures > runs:
        raise EvidenceError(f"failures is {failures}, more than the {runs} runs", "count both again; a run fails once")
    level, sides = _level(probability), refuse_sides(sides)
    before, after = _beta(a, b, level, sides), _beta(a + failures, b + (runs - failures), level, sides)
    return _posterior(ESTIMAND, "conjugate beta-binomial update", before, f"{failures} failures in {runs} runs", after)


def update_gamma(
    prior_shape: float,
    prior_time: float,
    failures: int,
    time: float,
    probability: float = 0.90,
    sides: Sides = "two-sided",
    unit: str = "1/h",
) -> Posterior:
    """Update a gamma prior on a constant rate of failures by failures counted in time.

    Args:
        prior_shape: Shape of the prior, above 0: weight of failures.
        prior_time: Time of the prior (one over its scale), 0 or more, in the unit of `time`.
        failures: Failures seen.
        time: Time in all, 0 or more.
        probability: Probability inside the interval (two-sided, equal tails) or on the named side of the bound.
        sides: "two-sided", "upper" or "lower".
        unit: Name of the unit of the rate.

    Returns:
        Posterior Gamma(shape + failures, prior time + time) with mean shape / time and interval.

    Raises:
        EvidenceError: for parameters or counts that cannot be, or where prior time and time are both 0.

    Source: NASA/SP-2009-569, 4.2.2. Jeffreys prior: `update_gamma(*JEFFREYS_GAMMA, ...)`.
    """
    shape, before_time = number_above_zero(prior_shape, "prior shape"), _time(prior_time, "prior time")
    failures, seen_time = count(failures, "failures"), _time(time, "time")
    if seen_time == 0 and (failures > 0 or before_time == 0):
        raise EvidenceError("no time is no data on a rate", "give the time over which failures were counted")
    level, sides = _level(probability), refuse_sides(sides)
    before = _gamma(shape, before_time, level, sides, unit)
    after = _gamma(shape + failures, before_time + seen_time, level, sides, unit)
    data = f"{failures} failures in a time of {seen_time:.12g}"
    return _posterior("rate of failures", "conjugate gamma-Poisson update", before, data, after)


def mission_reliability(posterior: Posterior, mission_time: float) -> MissionReliability:
    """Probability of no failure over a time at a constant rate that is known as the posterior says.

    Args:
        posterior: An answer of `update_gamma`.
        mission_time: Time in the unit of the posterior's time, 0 or more.

    Raises:
        EvidenceError: for a posterior on something else than a rate, or a time below 0.

    Source: NASA/SP-2009-569, 4.2.2 (reliability at the mean rate).
    """
    if not isinstance(posterior, Posterior) or posterior.family != "gamma":
        raise EvidenceError("a reliability over time needs a rate", "give an answer of update_gamma")
    mission = refuse_number(mission_time, "mission time", least=0)
    shape, time = posterior.parameters
    rate = posterior.interval
    flipped: dict[Sides, Sides] = {"two-sided": "two-sided", "upper": "lower", "lower": "upper"}
    expected = math.exp(-shape * math.log1p(mission / time))
    return MissionReliability(
        mission,
        math.exp(-posterior.mean * mission),
        expected,
        Interval(
            "probability of no failure over the mission time",
            f"{rate.method}, carried over by exp(-rate x time)",
            rate.confidence,
            flipped[rate.sides],
            expected,
            math.exp(-rate.upper * mission) if mission else 1.0,
            math.exp(-rate.lower * mission),
        ),
        posterior.prior.words,
    )


def _beta(a: float, b: float, level: float, sides: Sides) -> Belief:
    beyond = tail(level, sides)
    lower = 0.0 if sides == "upper" else lower_end(a, b, beyond)
    upper = 1.0 if sides == "lower" else upper_end(a, b, beyond)
    words, mean = f"Beta({a:.12g}, {b:.12g}) on the probability of failure in one run", a / (a + b)
    return Belief("beta", (a, b), words, mean, Interval(ESTIMAND, _method(sides), level, sides, mean, lower, upper))


def _gamma(shape: float, time: float, level: float, sides: Sides, unit: str) -> Belief:
    words = f"Gamma(shape {shape:.12g}, time {time:.12g}) on the rate of failures"
    if time == 0:
        return Belief("gamma", (shape, time), f"{words}, no distribution before there are data", None, None)
    from scipy.special import gammainccinv, gammaincinv

    beyond, mean = tail(level, sides), shape / time
    lower = 0.0 if sides == "upper" else float(gammaincinv(shape, beyond)) / time
    upper = math.inf if sides == "lower" else float(gammainccinv(shape, beyond)) / time
    interval = Interval("rate of failures", _method(sides), level, sides, mean, lower, upper, unit)
    return Belief("gamma", (shape, time), words, mean, interval)


def _posterior(estimand: str, method: str, prior: Belief, data: str, after: Belief) -> Posterior:
    assert after.mean is not None
    assert after.interval is not None
    return Posterior(
        estimand, method, prior, data, after.family, after.parameters, after.words, after.mean, after.interval
    )


def _method(sides: Sides) -> str:
    return (
        "equal-tailed interval of the distribution" if sides == "two-sided" else f"{sides} quantile of the distribution"
    )


def _level(value: float) -> float:
    return probability(value, "probability")


def _time(value: float, what: str) -> float:
    return number_above_zero(value, what) if number(value, what) else 0.0

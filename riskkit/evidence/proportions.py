"""How often it fails, from failures counted in runs: exact, approximate and Bayesian intervals."""

from __future__ import annotations

import math

from riskkit.evidence.answers import Interval, Sides
from riskkit.evidence.beta import lower_end, upper_end
from riskkit.evidence.given import failures_of_runs, probability, tail

ESTIMAND = "probability of failure in one run"


def clopper_pearson(failures: int, runs: int, confidence: float = 0.95, sides: Sides = "upper") -> Interval:
    """Exact binomial bound or interval: never less than the stated confidence, whatever the truth.

    Runs are independent, under the same conditions, with one and the same unknown probability of failure.

    Args:
        failures: Failures seen, from 0 to `runs`.
        runs: Runs made, at least 1.
        confidence: Level between 0 and 1; one-sided for one bound, between both ends for two-sided.
        sides: "upper", "lower" or "two-sided".

    Returns:
        Interval on the probability of failure in one run; the estimate is failures / runs.

    Raises:
        EvidenceError: for counts or a level that cannot be.

    Source: C. J. Clopper, E. S. Pearson, Biometrika 26 (1934); NIST/SEMATECH e-Handbook 7.2.4.1.
    """
    failures, runs = failures_of_runs(failures, runs)
    confidence = probability(confidence, "confidence")
    beyond = tail(confidence, sides)
    lower, upper = 0.0, 1.0
    # The closed forms at no failure and at nothing but failures need no scipy, which is slow to start.
    if sides != "upper" and failures > 0:
        if failures == runs:
            lower = math.exp(math.log(beyond) / runs)
        else:
            lower = lower_end(failures, runs - failures + 1, beyond)
    if sides != "lower" and failures < runs:
        if failures == 0:
            upper = -math.expm1((math.log1p(-confidence) if sides == "upper" else math.log(beyond)) / runs)
        else:
            upper = upper_end(failures + 1, runs - failures, beyond)
    return Interval(ESTIMAND, "Clopper-Pearson, exact binomial", confidence, sides, failures / runs, lower, upper)


def wilson(failures: int, runs: int, confidence: float = 0.95, sides: Sides = "upper") -> Interval:
    """Wilson's score bound or interval: close to the stated confidence on average, sometimes below it.

    A one-sided bound takes z of the one-sided level (1.645 for 95 %), not of the two-sided one.

    Args:
        failures: Failures seen, from 0 to `runs`.
        runs: Runs made, at least 1.
        confidence: Level between 0 and 1; one-sided for one bound, between both ends for two-sided.
        sides: "upper", "lower" or "two-sided".

    Returns:
        Interval on the probability of failure in one run, without continuity correction.

    Raises:
        EvidenceError: for counts or a level that cannot be.

    Source: E. B. Wilson, J. Am. Stat. Assoc. 22 (1927); NIST/SEMATECH e-Handbook 7.2.4.1.
    """
    from statistics import NormalDist

    failures, runs = failures_of_runs(failures, runs)
    confidence = probability(confidence, "confidence")
    beyond = tail(confidence, sides)
    z = -NormalDist().inv_cdf(beyond)
    fewer, more = _score_roots(failures, runs, z), 1.0 - _score_roots(runs - failures, runs, z)
    if z < 0:  # a level below one half puts the one-sided bound on the near side of the estimate
        fewer, more = more, fewer
    return Interval(
        ESTIMAND,
        "Wilson score, approximate",
        confidence,
        sides,
        failures / runs,
        0.0 if sides == "upper" else fewer,
        1.0 if sides == "lower" else more,
    )


def _score_roots(failures: int, runs: int, z: float) -> float:
    """The lesser root of (p - k/n)^2 = z^2 p (1 - p) / n, in the form that loses no digits near 0."""
    square = z * z
    spread = abs(z) * math.sqrt(failures * (runs - failures) / runs + square / 4)
    return failures * failures / runs / (failures + square / 2 + spread) if failures else 0.0


def jeffreys(failures: int, runs: int, confidence: float = 0.95, sides: Sides = "upper") -> Interval:
    """Bayesian interval with the Jeffreys prior Beta(1/2, 1/2): the quantiles of Beta(k + 1/2, n - k + 1/2).

    The ends are the plain equal-tailed quantiles at every count: with no failure the lower end of a two-sided
    interval is small but not 0, and with nothing but failures the upper end is not 1. Some authors put 0 and 1 there.

    Args:
        failures: Failures seen, from 0 to `runs`.
        runs: Runs made, at least 1.
        confidence: Posterior probability of what is named, between 0 and 1.
        sides: "upper", "lower" or "two-sided" (equal tails).

    Returns:
        Interval on the probability of failure in one run; the estimate is the posterior mean (k + 1/2) / (n + 1).

    Raises:
        EvidenceError: for counts or a level that cannot be.

    Source: NASA/SP-2009-569, 4.2.1.2; L. D. Brown, T. T. Cai, A. DasGupta, Statistical Science 16 (2001).
    """
    failures, runs = failures_of_runs(failures, runs)
    confidence = probability(confidence, "confidence")
    beyond = tail(confidence, sides)
    a, b = failures + 0.5, runs - failures + 0.5
    return Interval(
        ESTIMAND,
        "Jeffreys prior Beta(1/2, 1/2), equal-tailed posterior",
        confidence,
        sides,
        a / (runs + 1),
        0.0 if sides == "upper" else lower_end(a, b, beyond),
        1.0 if sides == "lower" else upper_end(a, b, beyond),
    )

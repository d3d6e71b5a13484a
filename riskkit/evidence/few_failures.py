"""The exact upper bound for a few failures, without scipy: a check asks for it at every start.

Loading scipy takes as long as a whole check. The bound is the same number as that of `clopper_pearson`, found
from the binomial sum itself; a test holds the two together to twelve digits.
"""

from __future__ import annotations

import math

MOST_FAILURES = 50
MOST_RUNS = 10_000


def upper_bound(failures: int, runs: int, confidence: float) -> float:
    """One-sided upper Clopper-Pearson bound on the probability of failure in one run.

    It solves P(at most `failures` of `runs` fail) = 1 - confidence; few failures and runs are summed here, more of
    them by scipy.

    Args:
        failures: Failures seen, from 0 to `runs`.
        runs: Runs made, at least 1.
        confidence: One-sided level between 0 and 1.

    Raises:
        EvidenceError: for counts or a level that cannot be.
    """
    if failures in (0, runs) or failures > MOST_FAILURES or runs > MOST_RUNS:
        from riskkit.evidence.proportions import clopper_pearson

        return clopper_pearson(failures, runs, confidence, sides="upper").upper
    beyond = 1 - confidence
    low, high = failures / runs, 1.0
    guess = (low + high) / 2
    for _ in range(200):
        below, slope = _at_most(failures, runs, guess)
        if below > beyond:
            low = guess
        else:
            high = guess
        step = (below - beyond) / slope if slope else 0.0
        following = guess + step if low < guess + step < high else (low + high) / 2
        if abs(following - guess) <= 4e-16 * guess:
            break
        guess = following
    return guess


def _at_most(failures: int, runs: int, failing: float) -> tuple[float, float]:
    """P(at most so many fail), and how fast it falls with the probability of failure."""
    works = 1 - failing
    term = math.exp(runs * math.log1p(-failing))
    total = term
    for number in range(failures):
        term *= (runs - number) / (number + 1) * failing / works
        total += term
    return total, (runs - failures) * term / works

"""Failures among independent runs: how likely at most so many are, and how many runs a claim needs."""

from __future__ import annotations

import math

from riskkit.evidence.answers import EvidenceError
from riskkit.evidence.given import MOST_RUNS

_TIE = 1e-13
"""A risk that exceeds the stated one by rounding only, counts as met (R 0.5, C 0.75: two runs, not three)."""


def at_most(failures: int, runs: int, failing: float) -> float:
    """Probability of at most so many failures where each run fails with probability `failing`."""
    if failures >= runs or failing == 0:
        return 1.0
    if failing == 1:
        return 0.0
    if failures == 0:
        return math.exp(runs * math.log1p(-failing))
    from scipy.special import betaincc

    return float(betaincc(failures + 1, runs - failures, failing))


def more_than(failures: int, runs: int, failing: float) -> float:
    """Probability of more than so many failures: 1 - at_most(...) without loss of digits."""
    if failures >= runs or failing == 0:
        return 0.0
    if failing == 1:
        return 1.0
    if failures == 0:
        return -math.expm1(runs * math.log1p(-failing))
    from scipy.special import betainc

    return float(betainc(failures + 1, runs - failures, failing))


def fewest_runs(log_success: float, risk: float, failures: int) -> int:
    """Smallest number of runs of which at most `failures` fail with a probability of no more than `risk`.

    Args:
        log_success: Natural logarithm of the probability that one run works; below 0.
        risk: 1 - confidence.
        failures: Failures allowed.

    Raises:
        EvidenceError: where more than 10^12 runs would be needed.
    """
    if failures == 0:
        needed = (math.log(risk) + _TIE) / log_success if log_success else math.inf
        if needed > MOST_RUNS:
            raise _too_many()
        return max(1, math.ceil(needed))
    failing, met = -math.expm1(log_success), risk * (1 + _TIE)
    few, step = failures, 1
    while at_most(failures, few + step, failing) > met:
        few += step
        step *= 2
        if few > MOST_RUNS:
            raise _too_many()
    enough = few + step
    while enough - few > 1:
        middle = (few + enough) // 2
        if at_most(failures, middle, failing) <= met:
            enough = middle
        else:
            few = middle
    return enough


def _too_many() -> EvidenceError:
    return EvidenceError("more than 10^12 runs would be needed", "ask for a lower proportion or a lower confidence")

"""What a decision rule lets through: the chance that a reading, or everything that is made, passes wrongly.

Specific risk looks at one reading, global risk at a whole process (JCGM 106:2012).
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

from riskkit.evidence.answers import EvidenceError
from riskkit.evidence.refusals import refuse_limits, refuse_number, span


@dataclass(frozen=True, slots=True)
class GlobalRisk:
    """What a decision rule does to everything that a process makes (JCGM 106:2012, global risk).

    Attributes:
        consumer_risk: Probability that an item lies outside the limits and is accepted (a wrong pass).
        producer_risk: Probability that an item lies inside the limits and is not accepted (a wrong rejection).
        conforming: Probability that an item lies inside the limits.
        accepted: Probability that the reading of an item lies inside the acceptance interval.
        method: How it was computed.
    """

    consumer_risk: float
    producer_risk: float
    conforming: float
    accepted: float
    method: str


def specific_risk(value: float, uncertainty: float, lower: float | None = None, upper: float | None = None) -> float:
    """Chance that the true value lies outside the limits, given this reading; nothing known beforehand.

    Normal distribution around the reading (JCGM 106:2012, specific risk). One minus it is the probability
    of conformity.

    Args:
        value: The reading, in the unit of the limits.
        uncertainty: STANDARD uncertainty u (not expanded), same unit, above zero.
        lower: Lower limit, or None.
        upper: Upper limit, or None.

    Raises:
        EvidenceError: no limit, limits in the wrong order, an uncertainty that is not above zero.
    """
    value = refuse_number(value, "the reading")
    uncertainty = refuse_number(uncertainty, "the standard uncertainty", above=0)
    lower, upper = refuse_limits(lower, upper)
    beyond = 0.0 if upper is None else _above((upper - value) / uncertainty)
    below = 0.0 if lower is None else _above((value - lower) / uncertainty)
    return min(1.0, beyond + below)


def global_risk(
    process_mean: float,
    process_sd: float,
    uncertainty: float,
    lower: float | None = None,
    upper: float | None = None,
    acceptance_lower: float | None = None,
    acceptance_upper: float | None = None,
) -> GlobalRisk:
    """Wrong passes and wrong rejections over all that a process makes, before any item is measured.

    True values are normal with the mean and spread of the process, readings normal around them
    (JCGM 106:2012, global risk); the product is integrated numerically.

    Args:
        process_mean: Mean of the true values, in the unit of the limits.
        process_sd: Standard deviation of the true values, above zero.
        uncertainty: STANDARD uncertainty u of a reading (not expanded), above zero.
        lower: Lower limit, or None.
        upper: Upper limit, or None.
        acceptance_lower: Lowest reading that is accepted; needed with a lower limit.
        acceptance_upper: Highest reading that is accepted; needed with an upper limit.

    Raises:
        EvidenceError: no limit, a limit without its acceptance limit, a spread that is not above zero.
    """
    mean = refuse_number(process_mean, "the process mean")
    spread = refuse_number(process_sd, "the process standard deviation", above=0)
    uncertainty = refuse_number(uncertainty, "the standard uncertainty", above=0)
    lower, upper = refuse_limits(lower, upper)
    for limit, acceptance, side in ((lower, acceptance_lower, "lower"), (upper, acceptance_upper, "upper")):
        if limit is not None and acceptance is None:
            raise EvidenceError(
                f"the {side} limit has no acceptance limit",
                f"give acceptance_{side}; without a guard band it is the limit itself",
            )
    low, high = span(lower, upper)
    accept_low, accept_high = span(
        None if acceptance_lower is None else refuse_number(acceptance_lower, "the lower acceptance limit"),
        None if acceptance_upper is None else refuse_number(acceptance_upper, "the upper acceptance limit"),
    )
    # In units of the process, so that the true value is a standard normal number.
    low, high, accept_low, accept_high = ((edge - mean) / spread for edge in (low, high, accept_low, accept_high))
    ratio = uncertainty / spread
    reading = math.hypot(1, ratio)
    consumer = _joint(-math.inf, low, accept_low, accept_high, ratio)
    consumer += _joint(high, math.inf, accept_low, accept_high, ratio)
    if accept_low > accept_high:
        producer = _between(low, high)
    else:
        producer = _joint(low, high, -math.inf, accept_low, ratio) + _joint(low, high, accept_high, math.inf, ratio)
    return GlobalRisk(
        consumer_risk=min(1.0, consumer),
        producer_risk=min(1.0, producer),
        conforming=_between(low, high),
        accepted=_between(accept_low / reading, accept_high / reading),
        method="normal process, normal readings, numerical integration (JCGM 106:2012)",
    )


def _joint(low: float, high: float, reads_low: float, reads_high: float, ratio: float) -> float:
    """Probability that a standard normal truth lies in one interval and its reading in another."""
    from scipy.integrate import quad

    # Beyond 38 standard deviations the density is below the smallest double.
    low, high = max(low, -38.0), min(high, 38.0)
    if not low < high or not reads_low < reads_high:
        return 0.0

    def density(truth: float) -> float:
        seen = _between((reads_low - truth) / ratio, (reads_high - truth) / ratio)
        return math.exp(-truth * truth / 2) / math.sqrt(2 * math.pi) * seen

    # The integrand bends within a few u of an acceptance limit, and within a few spreads of the mean.
    bends = {
        edge + step * ratio for edge in (reads_low, reads_high) for step in (-30, -8, -4, -2, -1, 0, 1, 2, 4, 8, 30)
    }
    bends |= {float(step) for step in (-16, -8, -6, -4, -2, -1, 0, 1, 2, 4, 6, 8, 16)}
    bends |= {end + sign * step for end in (low, high) for sign in (-1, 1) for step in (0.05, 0.3, 1.0, 3.0)}
    edges = [low, *sorted(bend for bend in bends if low < bend < high), high]
    parts = (quad(density, *piece, epsabs=0, epsrel=1e-11, full_output=1)[0] for piece in itertools.pairwise(edges))
    return math.fsum(parts)


def _above(distance: float) -> float:
    """Upper tail of the standard normal distribution, exact far out too."""
    return 0.5 * math.erfc(distance / math.sqrt(2))


def _between(low: float, high: float) -> float:
    """Standard normal probability between two numbers, taken on the side where the tails are small."""
    if not low < high:
        return 0.0
    return _above(low) - _above(high) if low > 0 else _above(-high) - _above(-low)

"""How often a control that can be broken unnoticed is broken when it is needed."""

from __future__ import annotations

import math


def dormant_unavailability(rate: float, interval: float) -> float:
    """Mean chance of being broken between two checks, simple form.  q = rate x interval / 2

    Args:
        rate: Failure rate [1/h]; constant, 0 or more.
        interval: Time between checks [h]; 0 or more.

    Returns:
        Mean unavailability; an upper bound of the exact average, good where rate x interval is far below 1.

    Source:
        Equation of IEC 61508-6 and ISA-TR84.00.02 for one channel, from memory.
    """
    return rate * interval / 2


def dormant_unavailability_exact(rate: float, interval: float) -> float:
    """The exact time average of 1 - exp(-rate x t) over one interval.

    Args:
        rate: Failure rate [1/h], or per any other unit of time.
        interval: Time between checks [h], in the same unit.

    Source:
        Integral of the exponential distribution over one interval.
    """
    exponent = rate * interval
    if exponent < 1e-4:
        # The difference would lose its digits: three terms of the series are exact to 1e-14 here.
        return exponent / 2 - exponent**2 / 6 + exponent**3 / 24
    return 1 + math.expm1(-exponent) / exponent

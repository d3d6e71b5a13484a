"""Ends of a beta distribution, right to the last digits for large counts too.

scipy's inverse is right to the last digit while a + b stays small. From about 10^5 on it loses digits, and at
some large counts (a 1000, b 10^9) it answers with another number; the distribution itself stays right. So the
inverse is checked against the distribution there, and found anew where it fails.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

CHECKED_FROM = 5e4
"""The sum of a and b from which the inverse is checked."""

_CLOSE = 1e-14


def lower_end(a: float, b: float, beyond: float) -> float:
    """The value below which a share `beyond` of Beta(a, b) lies."""
    import scipy.special

    found = float(scipy.special.betaincinv(a, b, beyond))
    if a + b < CHECKED_FROM:
        return found
    return _checked(found, scipy.special.betainc, a, b, beyond)


def upper_end(a: float, b: float, beyond: float) -> float:
    """The value above which a share `beyond` of Beta(a, b) lies."""
    import scipy.special

    found = float(scipy.special.betainccinv(a, b, beyond))
    if a + b < CHECKED_FROM:
        return found
    return _checked(found, scipy.special.betaincc, a, b, beyond)


def _checked(start: float, share: Callable[..., Any], a: float, b: float, beyond: float) -> float:
    """Newton's steps from scipy's answer; where they lead nowhere, halving of the whole span."""
    from scipy.special import betaln

    sign = 1 if share(a, b, 0.0) < share(a, b, 1.0) else -1
    scale, value = float(betaln(a, b)), start
    for _ in range(8):
        if not 0.0 < value < 1.0:
            break
        height = (a - 1) * math.log(value) + (b - 1) * math.log1p(-value) - scale
        miss = sign * (float(share(a, b, value)) - beyond)
        if height < -200:
            break
        step = miss / math.exp(height)
        if abs(step) <= _CLOSE * value or abs(miss) <= _CLOSE * beyond:
            return value
        value -= step
    low, high = 0.0, 1.0
    while low < (middle := (low + high) / 2) < high:
        if sign * (float(share(a, b, middle)) - beyond) < 0:
            low = middle
        else:
            high = middle
    return high

"""How many standard deviations beyond the mean of n readings a share of all values lies: exact, for normal values.

Readings must be independent and normal. One-sided factors are quantiles of the noncentral t distribution
divided by the square root of n; two-sided factors solve the exact integral over the mean (Odeh and Owen,
tables of normal tolerance limits; ISO 16269-6 subject). Both approximations of the handbooks stand beside
them, for comparison only.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING

from riskkit.evidence.answers import EvidenceError

if TYPE_CHECKING:
    from numpy import float64
    from numpy.typing import NDArray

    Numbers = NDArray[float64]

# Compared with 50 digits: up to here the noncentral t quantile is right to 1e-12 of the confidence (proportion and
# confidence up to 0.999999); at ten million readings it would lose five digits, and above this it is the slower way.
NONCENTRAL_T_HOLDS = 100_000


def one_sided(readings: int, proportion: float, confidence: float) -> float:
    """k with: mean + k s lies above `proportion` of all values, with `confidence`."""
    from scipy.special import nctdtrit, ndtri

    quantile = float(ndtri(proportion))
    if readings > NONCENTRAL_T_HOLDS:
        return _one_sided_of_many(readings, quantile, confidence)
    root = math.sqrt(readings)
    return _found(float(nctdtrit(readings - 1, quantile * root, confidence)) / root)


def two_sided(readings: int, proportion: float, confidence: float) -> float:
    """k with: mean - k s to mean + k s holds `proportion` of all values, with `confidence`."""
    import numpy as np
    from scipy.special import gammainc, gammaincc

    # Given the mean, off by z / sqrt(n), the interval holds enough if its half width k s is at least reach(z).
    # s is a chi variable, independent of the mean. By symmetry half of the z axis is enough; beyond 12
    # the normal density is 1e-32.
    places, weights = _nodes(0.0, 12.0, panels=24)
    weights = weights * np.exp(-places * places / 2) * math.sqrt(2 / math.pi)
    reach = _reach(places / math.sqrt(readings), proportion)
    half = (readings - 1) / 2
    small = confidence > 0.5  # the smaller of confidence and its complement keeps its digits

    def surplus(log_factor: float) -> float:
        argument = half * (reach * math.exp(-log_factor)) ** 2
        chance = float(weights @ (gammainc(half, argument) if small else gammaincc(half, argument)))
        wanted = 1 - confidence if small else confidence
        return math.log(chance / wanted) * (-1 if small else 1) if chance > 0 else (math.inf if small else -math.inf)

    return _found(math.exp(_rising_root(surplus, math.log(float(reach[0])))))


def howe(readings: int, proportion: float, confidence: float) -> float:
    """Two-sided factor by the approximation of Howe (1969), as the NIST e-Handbook 7.2.6.3 gives it."""
    from scipy.special import chdtri, ndtri

    freedom = readings - 1
    # chdtri inverts the upper tail: the quantile that a chi-square number exceeds with the confidence.
    chi_square = float(chdtri(freedom, confidence))
    return _found(float(ndtri((1 + proportion) / 2)) * math.sqrt(freedom * (1 + 1 / readings) / chi_square))


def natrella(readings: int, proportion: float, confidence: float) -> float:
    """One-sided factor by the approximation of Natrella (1963), as the NIST e-Handbook 7.2.6.3 gives it.

    Raises:
        EvidenceError: too few readings; the approximation has no answer there.
    """
    from scipy.special import ndtri

    share, level = float(ndtri(proportion)), float(ndtri(confidence))
    a = 1 - level**2 / (2 * (readings - 1))
    b = share**2 - level**2 / readings
    if a <= 0 or share**2 - a * b < 0:
        raise EvidenceError(f"the approximation of Natrella has no answer for {readings} readings", "use the exact one")
    return (share + math.sqrt(share**2 - a * b)) / a


def _one_sided_of_many(readings: int, quantile: float, confidence: float) -> float:
    """The same probability by integration over the standard deviation, which is sharply known by now."""
    import numpy as np
    from scipy.special import ndtr

    freedom = readings - 1
    places, weights = _nodes(-12.0, 12.0, panels=48)
    off = places / math.sqrt(2 * freedom)  # s / sigma - 1
    weights = weights * np.exp(freedom * (np.log1p(off) - off - off * off / 2) - np.log1p(off))
    weights /= weights.sum()
    root = math.sqrt(readings)
    small = confidence > 0.5

    def surplus(step: float) -> float:
        reached = root * (quantile * off + step / root * (1 + off))  # sqrt(n) (k s / sigma - z)
        chance = float(weights @ ndtr(-reached if small else reached))
        wanted = 1 - confidence if small else confidence
        return math.log(chance / wanted) * (-1 if small else 1) if chance > 0 else (math.inf if small else -math.inf)

    return _found(quantile + _rising_root(surplus, 0.0) / root)


def _reach(off: Numbers, proportion: float) -> Numbers:
    """Half width around a point `off` the mean of a standard normal that holds the proportion."""
    import numpy as np
    from scipy.special import ndtr, ndtri

    low = np.maximum(off - ndtri(1 - proportion), 0.0)
    high = off - ndtri((1 - proportion) / 2)
    outside = 1 - proportion
    for _ in range(64):
        middle = (low + high) / 2
        if proportion > 0.5:
            enough = ndtr(off - middle) + ndtr(-off - middle) <= outside
        else:
            enough = ndtr(off + middle) - ndtr(off - middle) >= proportion
        low, high = np.where(enough, low, middle), np.where(enough, middle, high)
    found: Numbers = (low + high) / 2
    return found


def _nodes(start: float, end: float, *, panels: int) -> tuple[Numbers, Numbers]:
    """Places and weights of a Gauss-Legendre rule with 20 points in each of several equal panels."""
    import numpy as np

    points, weights = np.polynomial.legendre.leggauss(20)
    edges = np.linspace(start, end, panels + 1)
    halves = np.diff(edges)[:, None] / 2
    return (edges[:-1, None] + halves * (points + 1)).ravel(), (halves * weights).ravel()


def _rising_root(function: Callable[[float], float], start: float) -> float:
    """Where a rising function crosses zero: bracketed from the start, then regula falsi with halving (Illinois)."""
    step = 0.25
    low = high = start
    at_low = at_high = function(start)
    while at_low > 0:
        low, step = low - step, step * 2
        at_low = function(low)
    step = 0.25
    while at_high < 0:
        high, step = high + step, step * 2
        at_high = function(high)
    side = 0
    for _ in range(300):
        if high - low <= 1e-15 * max(abs(low), abs(high), 1e-3):
            break
        straight = math.isfinite(at_low) and math.isfinite(at_high) and at_high > at_low
        middle = (low * at_high - high * at_low) / (at_high - at_low) if straight else (low + high) / 2
        if not low < middle < high:
            middle = (low + high) / 2
            if not low < middle < high:
                break
        at_middle = function(middle)
        if at_middle == 0:
            return middle
        if at_middle > 0:
            high, at_high = middle, at_middle
            at_low = at_low / 2 if side > 0 else at_low
            side = 1
        else:
            low, at_low = middle, at_middle
            at_high = at_high / 2 if side < 0 else at_high
            side = -1
    return low if abs(at_low) < abs(at_high) else high


def _found(factor: float) -> float:
    if not math.isfinite(factor):
        raise EvidenceError(
            "no tolerance factor can be computed so far out",
            "ask for a proportion and a confidence further from 0 and 1",
        )
    return factor

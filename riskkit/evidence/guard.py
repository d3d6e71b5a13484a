"""A reading, its uncertainty and a limit: meets, does not meet, or cannot tell.

Decision rule with a guard band (JCGM 106:2012, ISO 14253-1, ILAC-G8:09/2019). A check of a register asks
this room for every result, so nothing heavy is loaded here.
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist
from typing import Literal

from riskkit.evidence.answers import EvidenceError
from riskkit.evidence.refusals import refuse_limits, refuse_number, refuse_share, shown, shown_chance, span
from riskkit.evidence.wrong_passes import specific_risk

Word = Literal["meets", "does not meet", "cannot tell"]

# 18.0 - 0.30 is not the same binary number as 17.70. A reading this close to an edge counts as on it:
# a millionth of a millionth of the largest number in play, far below what any instrument resolves.
EDGE = 1e-12


@dataclass(frozen=True, slots=True)
class AcceptanceInterval:
    """Where a reading must lie to meet, and beyond which it does not meet; all in the unit of the limits.

    Attributes:
        lower: Lowest reading that meets; None without a lower limit.
        upper: Highest reading that meets; None without an upper limit.
        rejection_lower: A reading below it does not meet; None without a lower limit.
        rejection_upper: A reading above it does not meet; None without an upper limit.
        guard_band: Distance kept between limit and acceptance.
        empty: True where two limits lie closer together than two guard bands, so that no reading can meet.
    """

    lower: float | None
    upper: float | None
    rejection_lower: float | None
    rejection_upper: float | None
    guard_band: float
    empty: bool


@dataclass(frozen=True, slots=True)
class Judgement:
    """What one reading shows about its limit; numbers in the unit of the reading.

    Attributes:
        word: "meets", "does not meet" or "cannot tell".
        value: The reading.
        expanded_uncertainty: U, as stated; None where none is stated.
        lower: Lower limit, if any.
        upper: Upper limit, if any.
        acceptance_lower: Lowest reading that meets; None without lower limit or without uncertainty.
        acceptance_upper: Highest reading that meets; None without upper limit or without uncertainty.
        margin: Distance to the nearest limit, positive inside and negative outside.
        guard_band: Distance kept from the limit; None without uncertainty.
        probability_outside: Specific risk: chance that the true value lies outside the limits, for a normal
            distribution with standard uncertainty U / coverage factor around the reading; None without uncertainty.
        because: The reason, one plain sentence.
    """

    word: Word
    value: float
    expanded_uncertainty: float | None
    lower: float | None
    upper: float | None
    acceptance_lower: float | None
    acceptance_upper: float | None
    margin: float
    guard_band: float | None
    probability_outside: float | None
    because: str


def judge_reading(
    value: float,
    expanded_uncertainty: float | None,
    *,
    lower: float | None = None,
    upper: float | None = None,
    coverage_factor: float = 2.0,
    guard: float = 1.0,
    unit: str = "",
) -> Judgement:
    """Judge one reading against one or two limits with a guard band of `guard` times U.

    It meets if it lies within the limits by at least the guard band, it does not meet if it lies beyond a
    limit by more than the guard band, and otherwise nobody can tell. Source: JCGM 106:2012, ISO 14253-1.

    Args:
        value: The reading, in the unit of the limits.
        expanded_uncertainty: U of the reading, same unit; None if none is stated (the word is "cannot tell").
        lower: Lower limit, or None.
        upper: Upper limit, or None.
        coverage_factor: k of U = k u; 2 means about 95 % for a normal distribution.
        guard: Guard band as a multiple of U; 1 leaves a wrong pass on the edge 2.3 % (k = 2), 0 keeps no guard band.
        unit: Written behind the numbers of the sentence.

    Raises:
        EvidenceError: no limit; limits in the wrong order; an uncertainty that is not above zero; not a number.
    """
    value = refuse_number(value, "the reading")
    lower, upper = refuse_limits(lower, upper)
    refuse_number(coverage_factor, "the coverage factor", above=0)
    refuse_number(guard, "the guard factor", least=0)
    margin = min(side for side in (_less(upper, value), _less(value, lower)) if side is not None)
    if expanded_uncertainty is None:
        because = "no uncertainty is stated, so nobody can say on which side of the limit the true value lies"
        return Judgement("cannot tell", value, None, lower, upper, None, None, margin, None, None, because)
    interval = acceptance_interval(expanded_uncertainty, lower=lower, upper=upper, guard=guard)
    expanded_uncertainty = float(expanded_uncertainty)
    outside = specific_risk(value, expanded_uncertainty / coverage_factor, lower, upper)
    word = _word(value, interval, _edge(lower, upper, interval.guard_band))
    return Judgement(
        word,
        value,
        expanded_uncertainty,
        lower,
        upper,
        interval.lower,
        interval.upper,
        margin,
        interval.guard_band,
        outside,
        _because(word, value, margin, interval, _nearest(value, lower, upper), outside, unit),
    )


def acceptance_interval(
    expanded_uncertainty: float, *, lower: float | None = None, upper: float | None = None, guard: float = 1.0
) -> AcceptanceInterval:
    """The limits drawn in by `guard` times U, and widened by as much for a clear failure.

    Args:
        expanded_uncertainty: U, in the unit of the limits, above zero.
        lower: Lower limit, or None.
        upper: Upper limit, or None.
        guard: Guard band as a multiple of U, from 0; see `guard_factor_for`.

    Raises:
        EvidenceError: no limit, limits in the wrong order, an uncertainty that is not above zero.
    """
    lower, upper = refuse_limits(lower, upper)
    uncertainty = refuse_number(expanded_uncertainty, "the expanded uncertainty", above=0)
    band = refuse_number(guard, "the guard factor", least=0) * uncertainty
    acceptance_lower, acceptance_upper = _plus(lower, band), _plus(upper, -band)
    empty = (
        acceptance_lower is not None
        and acceptance_upper is not None
        and acceptance_lower - acceptance_upper > EDGE * _scale(lower, upper, band)
    )
    return AcceptanceInterval(acceptance_lower, acceptance_upper, _plus(lower, -band), _plus(upper, band), band, empty)


def guard_factor_for(wrong_pass_probability: float, *, coverage_factor: float = 2.0) -> float:
    """Guard band as a multiple of U that keeps a wrong pass, at worst, to the given probability.

    At worst means: the reading lies on the edge of acceptance, one limit matters, and the error is normal.
    The factor is z / k, so 0.05 gives 1.645 / 2 = 0.82 of U (JCGM 106:2012; ILAC-G8:09/2019).

    Args:
        wrong_pass_probability: Above 0 and at most 0.5, which needs no guard band.
        coverage_factor: k of U = k u.

    Raises:
        EvidenceError: a probability of 0 (no guard band is wide enough) or above 0.5.
    """
    wanted = refuse_share(wrong_pass_probability, "the probability of a wrong pass")
    if wanted > 0.5:
        raise EvidenceError(
            f"a wrong pass is to be allowed with probability {wanted:g}, and no guard band allows more than 0.5",
            "give a probability such as 0.05",
        )
    return abs(NormalDist().inv_cdf(wanted)) / refuse_number(coverage_factor, "the coverage factor", above=0)


def _less(minuend: float | None, subtrahend: float | None) -> float | None:
    return None if minuend is None or subtrahend is None else minuend - subtrahend


def _plus(limit: float | None, step: float) -> float | None:
    return None if limit is None else limit + step


def _scale(lower: float | None, upper: float | None, band: float) -> float:
    return max(abs(lower or 0), abs(upper or 0), band)


def _edge(lower: float | None, upper: float | None, band: float) -> float:
    """How close to an edge counts as on it; never so wide that it would swallow a guard band."""
    edge = EDGE * _scale(lower, upper, band)
    return min(edge, band / 100) if band else edge


def _word(value: float, interval: AcceptanceInterval, edge: float) -> Word:
    low, high = span(interval.lower, interval.upper)
    fail_low, fail_high = span(interval.rejection_lower, interval.rejection_upper)
    if not interval.empty and low - edge <= value <= high + edge:
        return "meets"
    if value < fail_low - edge or value > fail_high + edge:
        return "does not meet"
    return "cannot tell"


def _nearest(value: float, lower: float | None, upper: float | None) -> tuple[str, float]:
    """The limit that decides: the one with the smaller distance inside, or the one that is passed."""
    if upper is not None and (lower is None or upper - value <= value - lower):
        return "upper", upper
    assert lower is not None
    return "lower", lower


def _because(
    word: Word,
    value: float,
    margin: float,
    interval: AcceptanceInterval,
    nearest: tuple[str, float],
    outside: float,
    unit: str,
) -> str:
    def told(number: float) -> str:
        return f"{shown(number)} {unit}".rstrip()

    side, limit = nearest
    band = told(interval.guard_band)
    where = f"{told(value)} lies on the {side} limit"
    if margin:
        where = f"{told(value)} lies {told(abs(margin))} {'inside' if margin > 0 else 'outside'} the {side} limit {told(limit)}"
    chance = f"the chance that the true value lies outside is {shown_chance(outside)}"
    if interval.empty and word == "cannot tell":
        return f"the limits lie closer together than two guard bands of {band}, so with this uncertainty no reading can meet them; {where}, and {chance}"
    if interval.guard_band == 0:
        return f"{where}, and no guard band is kept: {chance}"
    if word == "meets":
        return f"{where}, at least the guard band of {band}; {chance}"
    if word == "does not meet":
        return f"{where}, more than the guard band of {band}; {chance}"
    return (
        f"{where}, within the guard band of {band}: the uncertainty hides which side the true value is on, and {chance}"
    )

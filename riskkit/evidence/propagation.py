"""From the uncertainties of the inputs to that of the answer, to first order.

Source: JCGM 100:2008, 5.1 and 5.2 (law of propagation of uncertainty), annex G (coverage factor).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from riskkit.evidence.answers import EvidenceError, refuse_probability
from riskkit.evidence.budgets import Budget
from riskkit.evidence.freedom import Rounding, combined_freedom, coverage_factor, covered_by, rounded_freedom
from riskkit.evidence.refusals import refuse_number
from riskkit.evidence.slopes import Bends, NoValue, bends_of, refuse_kinks, slopes_at, value_at

_METHOD = "first order, law of propagation of uncertainty (JCGM 100, 5.1 and 5.2); k from Student's t (annex G)"
_AGREED = "first order, law of propagation of uncertainty (JCGM 100, 5.1 and 5.2); k agreed beforehand"

NOTICED = 0.03
"""Terms of second order are spoken of where they change u by more than this share of it."""

ONE_RULES = 0.5
"""One input that is not normal and has this share of the variance keeps the answer from being normal."""


@dataclass(frozen=True, slots=True)
class Contribution:
    """What one input adds.

    Attributes:
        name: Name of the input.
        value: Its best estimate.
        u: Its standard uncertainty.
        freedom: Its degrees of freedom, infinite where nothing limits them.
        words: How it is known.
        sensitivity: Change of the answer per unit of the input.
        contribution: abs(sensitivity) * u, in the answer's unit.
        share: Part of the answer's variance; all of them add up to 1, and correlated inputs can have one below 0.
    """

    name: str
    value: float
    u: float
    freedom: float
    words: str
    sensitivity: float
    contribution: float
    share: float


@dataclass(frozen=True, slots=True)
class FirstOrder:
    """A value with its uncertainty to first order.

    Attributes:
        estimand: What is estimated.
        method: The law of propagation, and where the coverage factor comes from.
        confidence: Level of the two-sided interval from value - expanded to value + expanded.
        value: The formula at the best estimates.
        u: Combined standard uncertainty.
        effective_freedom: Degrees of freedom that k was taken at, infinite where nothing limits them.
        unrounded_freedom: The same before rounding.
        rounding: Rule by which they were rounded: "down", "nearest" or "none".
        k: Coverage factor.
        expanded: k * u.
        contributions: One per input, in the order of the inputs.
        biggest: Name of the input with the largest share of the variance.
        second_order_u: u with the terms of second order; None where they cannot be worked out.
        second_order_shift: By how much the mean lies above the value, to second order; None as above.
        notes: What must be known beside the numbers, one sentence each.
        unit: Unit of value, u, expanded and contributions.
    """

    estimand: str
    method: str
    confidence: float
    value: float
    u: float
    effective_freedom: float
    unrounded_freedom: float
    rounding: Rounding
    k: float
    expanded: float
    contributions: tuple[Contribution, ...]
    biggest: str
    second_order_u: float | None
    second_order_shift: float | None
    notes: tuple[str, ...]
    unit: str

    @property
    def lower(self) -> float:
        """Lower end of the coverage interval."""
        return self.value - self.expanded

    @property
    def upper(self) -> float:
        """Upper end of the coverage interval."""
        return self.value + self.expanded


def first_order(
    budget: Budget, confidence: float = 0.95, *, k: float | None = None, rounding: Rounding = "down"
) -> FirstOrder:
    """Combine the uncertainties of a budget's inputs to first order.

    Args:
        budget: Formula, inputs, correlations.
        confidence: Level of the coverage interval, between 0 and 1; worked out from `k` where that is given.
        k: A coverage factor that is agreed beforehand, such as 2.
        rounding: What becomes of a fraction of a degree of freedom: "down", "nearest" or "none".

    Raises:
        EvidenceError: where the formula has no value or slope at the best estimates, where no input is uncertain,
            or where first order sees nothing of the uncertainty there is.
    """
    refuse_probability(refuse_number(confidence, "confidence"), "confidence")
    if not any(known.u > 0 for known in budget.inputs.values()):
        raise EvidenceError("no input has an uncertainty", "say how well each measured input is known")
    refuse_kinks(budget)
    value, slopes = value_at(budget, budget.values), slopes_at(budget, budget.values)
    u = math.sqrt(max(math.fsum(_variances(budget, slopes).values()), 0.0))
    largest = max(abs(slopes[name]) * known.u for name, known in budget.inputs.items())
    if not u > 1e-9 * largest:
        raise EvidenceError(
            "first order sees no uncertainty here: all slopes are 0 at these values, or the inputs cancel each other",
            "ask for Monte Carlo",
        )
    contributions = tuple(_contributions(budget, slopes, u))
    freedom = combined_freedom(tuple(_independent(budget, slopes)))
    rounded = rounded_freedom(freedom, rounding)
    factor = coverage_factor(confidence, rounded) if k is None else refuse_number(k, "k", above=0)
    bends = _bends(budget, slopes)
    return FirstOrder(
        estimand=budget.estimand,
        method=_METHOD if k is None else _AGREED,
        confidence=confidence if k is None else covered_by(factor, rounded),
        value=value,
        u=u,
        effective_freedom=rounded,
        unrounded_freedom=freedom,
        rounding=rounding,
        k=factor,
        expanded=factor * u,
        contributions=contributions,
        biggest=max(contributions, key=lambda each: each.share).name,
        second_order_u=None if bends is None else bends.u,
        second_order_shift=None if bends is None else bends.shift,
        notes=tuple(_notes(budget, contributions, u, bends)),
        unit=budget.unit,
    )


def _variances(budget: Budget, slopes: Mapping[str, float]) -> dict[str, float]:
    """What each input adds to the variance: its own square, and half of each product with a correlated one, twice."""
    moved = {name: slopes[name] * known.u for name, known in budget.inputs.items()}
    added = {name: way * way for name, way in moved.items()}
    for (one, other), r in budget.correlations.items():
        product = r * moved[one] * moved[other]
        added[one] += product
        added[other] += product
    return added


def _contributions(budget: Budget, slopes: Mapping[str, float], u: float) -> Iterator[Contribution]:
    added = _variances(budget, slopes)
    for name, known in budget.inputs.items():
        yield Contribution(
            name=name,
            value=known.value,
            u=known.u,
            freedom=known.freedom,
            words=known.words,
            sensitivity=slopes[name],
            contribution=abs(slopes[name]) * known.u,
            share=added[name] / u**2,
        )


def _independent(budget: Budget, slopes: Mapping[str, float]) -> Iterator[tuple[float, float]]:
    """Uncertainty and freedom of each independent part; inputs that hang together are one, with the least freedom."""
    for group in budget.groups():
        if len(group) == 1:
            known = budget.inputs[group[0]]
            yield from ((abs(slopes[group[0]]) * part.u, part.freedom) for part in known.parts)
        else:
            inside = {pair: r for pair, r in budget.correlations.items() if pair[0] in group}
            moved = {name: slopes[name] * budget.inputs[name].u for name in group}
            variance = math.fsum(way * way for way in moved.values())
            variance += 2 * math.fsum(r * moved[one] * moved[other] for (one, other), r in inside.items())
            yield math.sqrt(max(variance, 0.0)), min(budget.inputs[name].freedom for name in group)


def _bends(budget: Budget, slopes: Mapping[str, float]) -> Bends | None:
    """Second-order terms; None where the formula ends within a fraction of the uncertainties, which a note says."""
    try:
        return bends_of(budget, slopes)
    except NoValue:
        return None


def _notes(budget: Budget, contributions: tuple[Contribution, ...], u: float, bends: Bends | None) -> Iterator[str]:
    if bends is None:
        yield (
            "Terms of second order cannot be worked out: the formula has no value close to the best estimates; "
            "compare with Monte Carlo."
        )
    elif abs(bends.u / u - 1) > NOTICED:
        change = 100 * (bends.u / u - 1)
        yield (
            f"Terms of second order make u {abs(change):.2g} % {'larger' if change > 0 else 'smaller'} "
            "(JCGM 100, note to 5.1.2): the formula bends within the uncertainties, and U does not hold them; "
            "compare with Monte Carlo."
        )
    if bends is not None and abs(bends.shift) > 0.1 * u:
        yield (
            f"The bend of the formula moves the mean by {bends.shift / u:+.2g} u away from the value, to second order."
        )
    joined = [group for group in budget.groups() if len(group) > 1]
    limited = [name for group in joined for name in group if budget.inputs[name].freedom < math.inf]
    if limited:
        yield (
            "The formula for effective degrees of freedom does not hold for correlated inputs "
            f"(JCGM 100, G.4.1): {'; '.join(' and '.join(group) for group in joined)} "
            "count as one part with the least degrees of freedom among them."
        )
    for each in contributions:
        shapes = {part.shape for part in budget.inputs[each.name].parts if part.u > 0.7 * each.u}
        if each.share > ONE_RULES and shapes - {"normal"}:
            yield (
                f"`{each.name}` is not normal and makes up {100 * each.share:.0f} % of the variance: "
                "k is a normal or Student's factor and covers more or less than is said; compare with Monte Carlo."
            )
    for name, known in budget.inputs.items():
        if any(part.type == "A" and part.u == 0 for part in known.parts):
            yield (
                f"All readings of `{name}` are alike, so they show no spread: add half of the last digit as a "
                "rectangular half width."
            )


def converted(answer: FirstOrder, unit: str, factor: float, offset: float = 0.0) -> FirstOrder:
    """The same answer in another unit: number = (value - offset) / factor; inputs keep theirs."""
    return replace(
        answer,
        value=(answer.value - offset) / factor,
        u=answer.u / factor,
        expanded=answer.expanded / factor,
        second_order_u=None if answer.second_order_u is None else answer.second_order_u / factor,
        second_order_shift=None if answer.second_order_shift is None else answer.second_order_shift / factor,
        contributions=tuple(
            replace(each, sensitivity=each.sensitivity / factor, contribution=each.contribution / factor)
            for each in answer.contributions
        ),
        unit=unit,
    )

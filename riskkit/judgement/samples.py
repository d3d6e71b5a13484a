"""What the sample of a test shows about the proportion that its plan claims.

Two roads, and either will do: counted runs by their exact binomial bound, or readings by a normal
tolerance limit (ISO 16269-6) that must lie inside the limit of the test.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from riskkit.evidence.answers import Sides
from riskkit.evidence.few_failures import upper_bound
from riskkit.evidence.tolerance import ToleranceLimits, tolerance_limits
from riskkit.judgement.amounts import amount
from riskkit.judgement.counted import Runs, at_least, counted_runs, failure_free_runs, percent, runs_of
from riskkit.judgement.verdicts import LimitVerdict, ResultVerdict
from riskkit.model.fields import Limit
from riskkit.model.policy import EvidenceRules
from riskkit.model.register import Register
from riskkit.model.verification import Result, SamplePlan, Test
from riskkit.units import Quantity


@dataclass(frozen=True, slots=True)
class CountShown:
    """What counted runs show: `proportion` is the lower bound of what holds, at the confidence of the plan.

    Runs on fewer units than the plan asks for do not show it: the spread from unit to unit is unseen.
    """

    counted: Runs
    proportion: float
    runs_needed: int
    units_planned: int
    shown: bool


@dataclass(frozen=True, slots=True)
class SpreadShown:
    """What the spread of readings shows about one limit, on one side or both.

    Attributes:
        limit: The limit of the test.
        result: The result whose readings these are.
        like: A reading, for its unit.
        tolerance: Mean, standard deviation, factor and ends, in SI base units.
        shown: Whether the tolerance limit lies inside the limit.
    """

    limit: Limit
    result: str
    like: Quantity
    tolerance: ToleranceLimits
    shown: bool


@dataclass(frozen=True, slots=True)
class SampleVerdict:
    """What a test's results show about the proportion that its plan claims.

    `unread` holds the limits of the test beside which no spread was seen, as sentences; `outside` the results that do
    not meet a limit. Neither leaves the spread of other readings able to show the claim.
    """

    test: str
    proportion: float
    confidence: float
    by_count: CountShown | None
    by_spread: tuple[SpreadShown, ...]
    unread: tuple[str, ...] = ()
    outside: tuple[str, ...] = ()

    @property
    def shown(self) -> bool:
        """Whether counted runs, or the spread of readings beside every limit, show the claim."""
        if self.by_count is not None and self.by_count.shown:
            return True
        if self.unread or self.outside:
            return False
        return bool(self.by_spread) and all(each.shown for each in self.by_spread)


def samples(
    register: Register, rules: EvidenceRules, by_test: Mapping[str, Sequence[ResultVerdict]]
) -> Mapping[str, SampleVerdict]:
    """Sample verdicts of all tests that claim a proportion at a confidence and have results, by test id."""
    found = {}
    for test in register.tests:
        judged = by_test.get(test.id, ())
        if judged and (verdict := sample(test, judged, register, rules)) is not None:
            found[test.id] = verdict
    return found


def sample(
    test: Test, judged: Sequence[ResultVerdict], register: Register, rules: EvidenceRules
) -> SampleVerdict | None:
    """What the results of one test show; None where its plan claims no proportion."""
    plan = test.plan
    if plan is None or plan.proportion is None or not 0 < plan.proportion.exact < 1:
        return None
    stated = plan.confidence or rules.confidence
    if not 0 < stated.exact < 1:
        return None
    confidence = float(stated.exact)
    proportion = float(plan.proportion.exact)
    runs = runs_of(test.id, judged, register)
    by_count = None
    if runs.runs:
        bound = upper_bound(runs.failures, runs.runs, confidence)
        needed = failure_free_runs(1 - plan.proportion.exact, stated.exact, strictly=False)
        units = plan.units if plan.units is not None and plan.units > 1 else 0
        enough = 1 - bound >= proportion - 1e-12 and len(runs.units) >= units
        by_count = CountShown(runs, 1 - bound, needed, units, enough)
    by_spread = tuple(
        shown
        for each in judged
        for limit in each.limits
        if (shown := _spread(limit, each, plan, proportion, confidence, register)) is not None
    )
    seen = [each.limit for each in by_spread]
    unread = tuple(limit.sentence() for limit in test.limit if limit not in seen)
    outside = tuple(each.result for each in judged if each.word == "does not meet")
    return SampleVerdict(test.id, proportion, confidence, by_count, by_spread, unread, outside)


def _spread(
    verdict: LimitVerdict,
    result: ResultVerdict,
    plan: SamplePlan,
    proportion: float,
    confidence: float,
    register: Register,
) -> SpreadShown | None:
    record = register.records[result.result]
    assert isinstance(record, Result)
    if verdict.kind != "readings" or record.reported != "each" or verdict.what is None:
        return None
    readings = record.readings[verdict.what]
    values = [each.value for each in readings]
    if len(values) < 2 or len(set(values)) == 1:
        return None
    sides = side_of(verdict.limit, plan)
    tolerance = tolerance_limits(values, proportion=proportion, confidence=confidence, sides=sides)
    low, high = ends_for(verdict.limit, sides)
    inside = (high is None or tolerance.upper <= high) and (low is None or tolerance.lower >= low)
    return SpreadShown(verdict.limit, result.result, readings[0], tolerance, inside)


def side_of(limit: Limit, plan: SamplePlan) -> Sides:
    """The side on which a proportion is claimed: that of the limit, or the one named by the plan."""
    if limit.at_most is not None:
        return "upper"
    if limit.at_least is not None:
        return "lower"
    named: Mapping[Literal["both ends", "upper end", "lower end"], Sides] = {
        "both ends": "two-sided",
        "upper end": "upper",
        "lower end": "lower",
    }
    return named[plan.side]


def ends_for(limit: Limit, sides: Sides) -> tuple[float | None, float | None]:
    """The ends that a tolerance limit is compared with, in SI base units."""
    low = limit.between[0] if limit.between else limit.at_least
    high = limit.between[1] if limit.between else limit.at_most
    return (
        low.value if low is not None and sides != "upper" else None,
        high.value if high is not None and sides != "lower" else None,
    )


def sample_sentences(found: SampleVerdict) -> Iterator[str]:
    """What the sample shows about the claim of its plan, sentence by sentence."""
    claim = f"{percent(found.proportion)} keep to the limit, at {percent(found.confidence)} confidence"
    yield f"The claim that {claim}, is {'shown' if found.shown else 'not shown'} by the sample on file."
    for spread in found.by_spread:
        told = spread_words(spread)
        yield f"{told[0].upper()}{told[1:]}, from {spread.tolerance.readings} readings; it {spread.tolerance.caution}."
    if found.by_spread and not found.shown:
        for limit in found.unread:
            yield f"No spread of readings is on file beside the limit {limit}."
        for result in found.outside:
            yield f"{result} does not meet its limit."
    if found.by_count is not None:
        yield f"{count_words(found.by_count)}."


def spread_words(spread: SpreadShown) -> str:
    """The tolerance limit beside the limit, in the middle of a sentence."""
    tolerance, limit = spread.tolerance, spread.limit
    name = f"`{limit.what}` of {spread.result}" if limit.what else spread.result
    if tolerance.sides == "two-sided":
        low, high = amount(tolerance.lower, spread.like), amount(tolerance.upper, spread.like)
        return f"the tolerance interval of {name} runs from {low} to {high}, and the limit is {limit.sentence()}"
    end = tolerance.upper if tolerance.sides == "upper" else tolerance.lower
    against = limit.quantities[-1 if tolerance.sides == "upper" else 0].written
    return f"the {tolerance.sides} tolerance limit of {name} is {amount(end, spread.like)}, and the limit is {against}"


def count_words(count: CountShown) -> str:
    """What the counted runs show, in the middle of a sentence."""
    failed = "without a failure" if not count.counted.failures else f"with {count.counted.failures} failed"
    told = f"{counted_runs(count.counted.runs)} {failed} show at least {at_least(count.proportion)}"
    if count.shown:
        return told
    if count.counted.runs < count.runs_needed or count.counted.failures:
        told += f", and {counted_runs(count.runs_needed)} without a failure are needed"
    if len(count.counted.units) < count.units_planned:
        told += f"; they were made on {len(count.counted.units)} of the {count.units_planned} units of the plan"
    return told

"""What a plan of runs can show before it is carried out, and what more readings of the same kind would show."""

from __future__ import annotations

from dataclasses import dataclass

from riskkit.evidence.answers import EvidenceError
from riskkit.evidence.plans import passing_probability, runs_needed
from riskkit.evidence.proportions import clopper_pearson
from riskkit.evidence.tolerance import ReadingsNeeded, readings_needed
from riskkit.judgement.samples import SampleVerdict, SpreadShown, ends_for
from riskkit.model.policy import EvidenceRules
from riskkit.model.verification import Test

TRUE_FAILURES = (0.01, 0.05, 0.10, 0.20)
"""True probabilities of failure for which the chance of passing is said."""


@dataclass(frozen=True, slots=True)
class Outlook:
    """What a number of runs can and cannot show.

    Attributes:
        runs: Runs of the plan.
        allowed: Failures at which the plan still passes.
        confidence: Confidence of `proportion_shown`, one-sided.
        proportion_shown: Lower bound of what holds if the plan just passes.
        proportion: Proportion that the plan claims; None where it claims none.
        runs_needed: Runs that would show the claimed proportion with the failures allowed; None where none is claimed.
        passes: True probability of failure -> chance that the plan passes all the same.
        readings_needed: Per limit: its sentence, and the number of readings of the same mean and spread that would
            show the claim (None where no number would), with the reason.
    """

    runs: int
    allowed: int
    confidence: float
    proportion_shown: float
    proportion: float | None
    runs_needed: int | None
    passes: tuple[tuple[float, float], ...]
    readings_needed: tuple[tuple[str, int | None, str], ...]


def outlook(test: Test, sample: SampleVerdict | None, rules: EvidenceRules) -> Outlook | None:
    """What the plan of a test can show; None where it plans no runs.

    Args:
        test: The test.
        sample: What its results show so far, for the readings that would be needed.
        rules: The policy's confidence, where the plan states none.
    """
    plan = test.plan
    if plan is None or plan.runs is None or plan.allowed_failures >= plan.runs:
        return None
    stated = plan.confidence or rules.confidence
    confidence = float(stated.exact)
    if not 0 < confidence < 1:
        return None
    proportion = None
    needed = None
    if plan.proportion is not None and 0 < plan.proportion.exact < 1:
        proportion = float(plan.proportion.exact)
        needed = runs_needed(proportion, confidence, plan.allowed_failures).runs
    return Outlook(
        runs=plan.runs,
        allowed=plan.allowed_failures,
        confidence=confidence,
        proportion_shown=1 - clopper_pearson(plan.allowed_failures, plan.runs, confidence, sides="upper").upper,
        proportion=proportion,
        runs_needed=needed,
        passes=tuple(
            (true, passing_probability(plan.runs, plan.allowed_failures, true).passing) for true in TRUE_FAILURES
        ),
        readings_needed=tuple(_more_readings(each, sample) for each in sample.by_spread) if sample is not None else (),
    )


def _more_readings(spread: SpreadShown, sample: SampleVerdict) -> tuple[str, int | None, str]:
    low, high = ends_for(spread.limit, spread.tolerance.sides)
    try:
        found: ReadingsNeeded = readings_needed(
            spread.tolerance.mean,
            spread.tolerance.spread,
            sample.proportion,
            sample.confidence,
            lower=low,
            upper=high,
        )
    except EvidenceError as why:
        return spread.limit.sentence(), None, why.headline
    return spread.limit.sentence(), found.readings, _plainly(found, spread)


def _plainly(found: ReadingsNeeded, spread: SpreadShown) -> str:
    of = f"with the mean and spread of {spread.result}"
    if found.readings is None:
        return f"no number of readings {of} would show it; the thing itself has to change"
    if found.readings <= spread.tolerance.readings:
        return f"{found.readings} readings {of} are enough"
    return f"{found.readings} readings {of} would show it"

"""Sample plans for runs that pass or fail: how many runs, what such a plan lets through, what done runs show."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from riskkit.evidence.answers import EvidenceError, Interval
from riskkit.evidence.beta import upper_end
from riskkit.evidence.binomial import at_most, fewest_runs, more_than
from riskkit.evidence.given import complement, count, failures_of_runs, probability as between_0_and_1
from riskkit.evidence.proportions import clopper_pearson
from riskkit.evidence.wording import counted, percent, percent_rounded_up

USUAL_PROPORTIONS = (0.8, 0.9, 0.95, 0.99, 0.999)
"""Proportions that people ask for; common practice, no source."""


@dataclass(frozen=True, slots=True)
class RunsNeeded:
    """The smallest plan that shows a proportion.

    Attributes:
        runs: Runs to make.
        proportion: Proportion of runs that work, which passing the plan shows.
        confidence: One-sided confidence asked for.
        failures: Failures among the runs with which the plan still passes.
        achieved_confidence: Confidence that this whole number of runs reaches, at least the one asked for.
        method: How it was found.
    """

    runs: int
    proportion: float
    confidence: float
    failures: int
    achieved_confidence: float
    method: str = "exact binomial: smallest n with P(at most the allowed failures) <= 1 - confidence"


@dataclass(frozen=True, slots=True)
class PassingProbability:
    """One point of the operating characteristic of a plan.

    Attributes:
        runs: Runs of the plan.
        allowed_failures: Failures with which the plan still passes.
        true_failure_probability: The assumed truth: probability of failure in one run.
        passing: Probability that the plan passes; a wrong pass where the assumed truth is too bad.
        rejecting: Probability that it does not; a wrong rejection where the assumed truth is good enough.
        words: The same as sentences.
        method: How it was found.
    """

    runs: int
    allowed_failures: int
    true_failure_probability: float
    passing: float
    rejecting: float
    words: str
    method: str = "exact binomial operating characteristic"


@dataclass(frozen=True, slots=True)
class QualityPassed:
    """The failure probability that a plan passes with a stated probability.

    Attributes:
        runs: Runs of the plan.
        allowed_failures: Failures with which the plan still passes.
        probability: Probability of passing.
        failure_probability: Probability of failure in one run at which the plan passes with that probability.
        method: How it was found.
    """

    runs: int
    allowed_failures: int
    probability: float
    failure_probability: float
    method: str = "exact binomial operating characteristic, solved for the failure probability"


@dataclass(frozen=True, slots=True)
class FurtherRuns:
    """How far runs already made are from showing a proportion.

    Attributes:
        proportion: Proportion of runs that work.
        shown: Whether the runs made show it.
        further: Runs without any failure that are still needed; 0 where it is shown.
        total: Runs made and further runs.
    """

    proportion: float
    shown: bool
    further: int
    total: int


@dataclass(frozen=True, slots=True)
class RunsShow:
    """What runs show and what they cannot show.

    Attributes:
        runs: Runs made.
        failures: Failures among them.
        confidence: One-sided confidence.
        failure_bound: Upper bound on the probability of failure in one run.
        proportion_shown: Proportion of runs that work, shown at this confidence: 1 - the bound.
        further: For each proportion asked for, lowest first, how many more runs without failure it takes.
        can: What may be claimed, as a sentence.
        cannot: What may not, as a sentence.
        assumptions: What the numbers rest on.
    """

    runs: int
    failures: int
    confidence: float
    failure_bound: Interval
    proportion_shown: float
    further: tuple[FurtherRuns, ...]
    can: str
    cannot: str
    assumptions: str = (
        "Independent runs under the same conditions, all counted, none left out; nothing is said about other "
        "conditions, nor about other units than those that were run. Further runs belong to the same plan: one that "
        "grows after each new failure shows less than its stated confidence."
    )


def runs_needed(proportion: float, confidence: float, failures: int = 0) -> RunsNeeded:
    """Fewest runs that show a proportion of working runs, when at most `failures` of them fail.

    Without failure this is the success-run number ln(1 - C) / ln(R), rounded up; a quotient that is whole but for
    rounding is not rounded up once more. Proportion and confidence are taken as the decimals that were written.

    Args:
        proportion: Proportion R of runs that work, to be shown; between 0 and 1.
        confidence: One-sided confidence C between 0 and 1.
        failures: Failures allowed among the runs.

    Raises:
        EvidenceError: for 0 or 1 (no number of runs shows that every run works), and above 10^12 runs.

    Source: success-run theorem, ISO 16269-6 subject (distribution-free); exact binomial distribution.
    """
    proportion, confidence = (
        between_0_and_1(proportion, "proportion", ends=True),
        between_0_and_1(confidence, "confidence", ends=True),
    )
    if proportion == 1 or confidence == 1:
        what = "every run works" if proportion == 1 else "anything for certain"
        raise EvidenceError(f"no number of runs shows {what}", "give proportion and confidence below 1")
    proportion, confidence = between_0_and_1(proportion, "proportion"), between_0_and_1(confidence, "confidence")
    failures = count(failures, "failures")
    failing, risk = complement(proportion), complement(confidence)
    runs = fewest_runs(math.log1p(-failing), risk, failures)
    return RunsNeeded(runs, proportion, confidence, failures, more_than(failures, runs, failing))


def passing_probability(runs: int, allowed_failures: int, true_failure_probability: float) -> PassingProbability:
    """How likely a plan passes, if one run truly fails with the given probability.

    Args:
        runs: Runs of the plan, at least 1.
        allowed_failures: Failures with which it still passes, from 0 to `runs`.
        true_failure_probability: Assumed probability of failure in one run, from 0 to 1.

    Raises:
        EvidenceError: for counts or a probability that cannot be.

    Source: operating characteristic of single sampling, ISO 2859-1 subject; exact binomial distribution.
    """
    allowed, runs = _plan(runs, allowed_failures)
    failing = between_0_and_1(true_failure_probability, "true failure probability", ends=True)
    passing, rejecting = at_most(allowed, runs, failing), more_than(allowed, runs, failing)
    words = (
        f"If {percent(failing)} of runs truly fail, a plan of {counted(runs, 'run')} with {counted(allowed, 'failure')} "
        f"allowed passes with probability {passing:.3g}. If that is more than the limit allows, this is the "
        f"probability of a wrong pass; if it is within the limit, the other {rejecting:.3g} is the probability of a "
        "wrong rejection."
    )
    if allowed == runs:
        words += " A plan that allows as many failures as it has runs rejects nothing."
    return PassingProbability(runs, allowed, failing, passing, rejecting, words)


def quality_passed(runs: int, allowed_failures: int, probability: float) -> QualityPassed:
    """The failure probability that a plan passes with the given probability.

    With 0.95 it is what the plan nearly always passes, with 0.10 what it still passes once in ten times.

    Args:
        runs: Runs of the plan, at least 1.
        allowed_failures: Failures with which it still passes, fewer than `runs`.
        probability: Probability of passing, between 0 and 1.

    Raises:
        EvidenceError: for counts or a probability that cannot be, and for a plan that passes everything.

    Source: operating characteristic of single sampling, ISO 2859-1 subject (MIL-STD-105E tables); exact binomial.
    """
    allowed, runs = _plan(runs, allowed_failures)
    passing = between_0_and_1(probability, "probability")
    if allowed == runs:
        raise EvidenceError(
            f"a plan of {runs} runs that allows {allowed} failures passes everything", "allow fewer failures than runs"
        )
    if allowed == 0:
        failing = -math.expm1(math.log(passing) / runs)
    else:
        failing = upper_end(allowed + 1, runs - allowed, passing)
    return QualityPassed(runs, allowed, passing, failing)


def what_runs_show(
    runs: int, failures: int = 0, confidence: float = 0.95, proportions: Sequence[float] = USUAL_PROPORTIONS
) -> RunsShow:
    """What runs already made show about the proportion that works, and how many more it takes for given ones.

    Args:
        runs: Runs made, at least 1.
        failures: Failures among them.
        confidence: One-sided confidence between 0 and 1.
        proportions: Proportions of working runs to look at, each between 0 and 1.

    Raises:
        EvidenceError: for counts or levels that cannot be.

    Source: Clopper-Pearson bound; the same binomial tail as `runs_needed`.
    """
    failures, runs = failures_of_runs(failures, runs)
    bound = clopper_pearson(failures, runs, confidence)
    shown = clopper_pearson(runs - failures, runs, confidence, "lower").lower
    further = []
    for proportion in sorted({between_0_and_1(value, "proportion") for value in proportions}):
        total = max(runs, runs_needed(proportion, bound.confidence, failures).runs)
        further.append(FurtherRuns(proportion, total == runs, total - runs, total))
    level = percent(bound.confidence)
    made = f"{counted(runs, 'run')} with {counted(failures, 'failure')}"
    if failures == runs:
        can = f"{made}: nothing is shown about a proportion that works."
        cannot = "No proportion of working runs can be claimed."
    else:
        can = (
            f"{made}: with {level} confidence (one-sided) at most {percent_rounded_up(bound.upper)} of runs fail "
            "under the same conditions."
        )
        cannot = f"A failure probability below {percent_rounded_up(bound.upper)} cannot be claimed at this confidence."
    missing = next((goal for goal in further if not goal.shown), None)
    if missing is not None:
        cannot += (
            f" For {percent(missing.proportion)} working, {counted(missing.further, 'further run')} "
            f"without any new failure would be needed, {missing.total} in all."
        )
    return RunsShow(runs, failures, bound.confidence, bound, shown, tuple(further), can, cannot)


def _plan(runs: int, allowed_failures: int) -> tuple[int, int]:
    runs, allowed = count(runs, "runs", least=1), count(allowed_failures, "allowed failures")
    if allowed > runs:
        raise EvidenceError(f"{allowed} allowed failures are more than the {runs} runs", "allow fewer failures")
    return allowed, runs

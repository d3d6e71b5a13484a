"""Sample plans against success-run tables, published sampling tables, scipy.stats and exact fractions."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given, settings, strategies as some
from scipy import stats

from riskkit.evidence import (
    EvidenceError,
    clopper_pearson,
    passing_probability,
    quality_passed,
    runs_needed,
    what_runs_show as shown_by,
)

# CV-23: standard success-run values, from memory (high confidence): confidence, proportion, runs.
SUCCESS_RUNS = [
    (0.95, 0.95, 59),
    (0.95, 0.90, 29),
    (0.90, 0.90, 22),
    (0.95, 0.99, 299),
    (0.90, 0.95, 45),
    (0.90, 0.99, 230),
    (0.99, 0.99, 459),
    (0.95, 0.80, 14),
    (0.90, 0.80, 11),
    (0.99, 0.90, 44),
    (0.99, 0.95, 90),
    (0.95, 0.999, 2995),
    (0.80, 0.80, 8),  # constructed: job description M19
]


@pytest.mark.parametrize(("confidence", "proportion", "runs"), SUCCESS_RUNS)
def test_success_runs(confidence: float, proportion: float, runs: int) -> None:
    found = runs_needed(proportion, confidence)
    assert found.runs == runs
    assert found.achieved_confidence >= confidence
    assert 1 - proportion ** (runs - 1) < confidence, "one run fewer is not enough"


def test_fifty_nine_of_fifty_nine() -> None:
    # CV-23: 59 of 59 at 95 % -> R >= 0.9505.
    assert shown_by(59).proportion_shown == pytest.approx(0.9505, abs=5e-5)


def test_one_failure_allowed() -> None:
    # Constructed: job description M19, exact binomial; the same number as Wilks' two-sided 95/95 (CV-25).
    assert runs_needed(0.95, 0.95, failures=1).runs == 93


@pytest.mark.parametrize(
    ("proportion", "confidence", "runs"),
    [(0.5, 0.75, 2), (0.1, 0.9, 1), (0.1, 0.99, 2), (0.1, 0.999, 3), (0.2, 0.96, 2), (0.9, 0.19, 2), (0.9, 0.271, 3)],
)
def test_a_quotient_that_is_whole_is_not_rounded_up_once_more(proportion: float, confidence: float, runs: int) -> None:
    # CV-23: guard the ceiling against rounding. Exact: R^n = 1 - C in decimals, e.g. 0.1^1 = 1 - 0.9.
    assert Fraction(str(proportion)) ** runs == 1 - Fraction(str(confidence))
    assert runs_needed(proportion, confidence).runs == runs


@settings(deadline=None, max_examples=300)
@given(tenths=some.integers(1, 99), level=some.integers(1, 999), failures=some.integers(0, 3))
def test_the_smallest_plan_is_the_smallest_in_exact_fractions(tenths: int, level: int, failures: int) -> None:
    success, risk = Fraction(tenths, 100), 1 - Fraction(level, 1000)

    def passes(runs: int) -> Fraction:
        ways = (math.comb(runs, k) * (1 - success) ** k * success ** (runs - k) for k in range(failures + 1))
        return sum(ways, Fraction(0))

    runs = runs_needed(tenths / 100, level / 1000, failures).runs
    assert runs > failures
    assert passes(runs) <= risk
    assert runs == failures + 1 or passes(runs - 1) > risk


@pytest.mark.parametrize(
    ("proportion", "confidence", "failures"),
    [(0.999999, 0.95, 0), (0.999999999, 0.95, 0), (0.999999, 0.999999, 2), (0.99999999, 0.9, 1), (0.99, 0.95, 1000)],
)
def test_large_plans_are_the_smallest(proportion: float, confidence: float, failures: int) -> None:
    import mpmath as mp

    with mp.workdps(40):
        failing, risk = 1 - mp.mpf(str(proportion)), 1 - mp.mpf(str(confidence))

        def passes(runs: int) -> mp.mpf:
            term = mp.exp(runs * mp.log1p(-failing))
            total = term
            for k in range(failures):
                term *= mp.mpf(runs - k) / (k + 1) * failing / (1 - failing)
                total += term
            return total

        runs = runs_needed(proportion, confidence, failures).runs
        # Slack of the last digits of the incomplete beta function: a few runs in 10^8.
        slack = 0 if failures == 0 else runs // 10**9
        assert passes(runs + slack) <= risk
        assert passes(runs - 1 - slack) > risk


# CV-47: MIL-STD-105E Table X-J, n 80; quality in percent defective passed with probability 99 ... 1 %; from memory
# (high confidence), 0.6 % relative or one unit in the last digit.
PASSED_WITH = (0.99, 0.95, 0.90, 0.75, 0.50, 0.25, 0.10, 0.05, 0.01)
TABLE_X_J = {
    0: (".013", ".064", ".132", ".359", ".863", "1.72", "2.84", "3.68", "5.59"),
    2: (".550", "1.03", "1.38", "2.16", "3.33", "4.84", "6.52", "7.66", "10.1"),
}


@pytest.mark.parametrize("allowed", TABLE_X_J)
def test_operating_characteristic_of_a_published_table(allowed: int) -> None:
    for probability, printed in zip(PASSED_WITH, TABLE_X_J[allowed], strict=True):
        last_digit = 10.0 ** -len(printed.split(".")[1])
        found = quality_passed(80, allowed, probability)
        assert found.failure_probability * 100 == pytest.approx(float(printed), rel=0.006, abs=last_digit)
        back = passing_probability(80, allowed, found.failure_probability)
        assert back.passing == pytest.approx(probability, rel=1e-12)


@pytest.mark.parametrize(("truth", "passing"), [(0.10, 0.047101), (0.05, 0.225936), (0.01, 0.747172)])
def test_what_29_of_29_shows(truth: float, passing: float) -> None:
    # CV-49, elementary: (1 - p)^29.
    found = passing_probability(29, 0, truth)
    assert found.passing == pytest.approx(passing, abs=5e-7)
    assert found.passing + found.rejecting == pytest.approx(1, abs=1e-15)
    assert "wrong pass" in found.words
    assert "wrong rejection" in found.words


def test_a_plan_of_twenty_passes_a_design_that_fails_in_five_percent() -> None:
    # Constructed: job description M19: 0.95^20 = 0.36.
    assert passing_probability(20, 0, 0.05).passing == pytest.approx(0.36, abs=0.005)


@settings(deadline=None, max_examples=200)
@given(runs=some.integers(1, 5000), allowed=some.integers(0, 20), truth=some.floats(1e-6, 0.999))
def test_passing_agrees_with_scipy(runs: int, allowed: int, truth: float) -> None:
    allowed = min(allowed, runs)
    found = passing_probability(runs, allowed, truth)
    assert found.passing == pytest.approx(float(stats.binom.cdf(allowed, runs, truth)), rel=1e-9, abs=1e-200)
    assert found.rejecting == pytest.approx(float(stats.binom.sf(allowed, runs, truth)), rel=1e-9, abs=1e-200)


def test_ends_of_the_operating_characteristic() -> None:
    assert passing_probability(20, 1, 0).passing == 1
    assert passing_probability(20, 1, 1).passing == 0
    assert passing_probability(1, 0, 0.25).passing == 0.75
    everything = passing_probability(3, 3, 0.9)
    assert everything.passing == 1
    assert "rejects nothing" in everything.words


def test_what_twenty_runs_show_and_what_they_do_not() -> None:
    # Constructed: job description M19 (0 of 20 -> 0.139; 59 runs for 95 %).
    found = shown_by(20, 0, 0.95, (0.8, 0.95))
    assert found.failure_bound == clopper_pearson(0, 20)
    assert found.failure_bound.upper == pytest.approx(0.139, abs=5e-4)
    assert [(goal.proportion, goal.shown, goal.further, goal.total) for goal in found.further] == [
        (0.8, True, 0, 20),
        (0.95, False, 39, 59),
    ]
    # 0.13911 is rounded up, never down to the better side.
    assert "at most 14.0 % of runs fail" in found.can
    assert "39 further runs" in found.cannot
    assert "units" in found.assumptions


def test_what_one_failed_run_shows() -> None:
    found = shown_by(1, 1)
    assert found.proportion_shown == 0
    assert "nothing is shown" in found.can


@settings(deadline=None, max_examples=100)
@given(runs=some.integers(1, 3000), failures=some.integers(0, 5), level=some.sampled_from([0.8, 0.95, 0.999999]))
def test_shown_means_the_bound_is_low_enough(runs: int, failures: int, level: float) -> None:
    failures = min(failures, runs)
    found = shown_by(runs, failures, level)
    assert found.proportion_shown == pytest.approx(1 - found.failure_bound.upper, abs=1e-12)
    for goal in found.further:
        assert goal.shown == (found.proportion_shown >= goal.proportion)
        if goal.further:
            assert shown_by(goal.total, failures, level, (goal.proportion,)).further[0].shown
            assert not shown_by(goal.total - 1, failures, level, (goal.proportion,)).further[0].shown


@settings(deadline=None, max_examples=100)
@given(proportion=some.floats(0.01, 0.999999), confidence=some.floats(0.01, 0.999999), failures=some.integers(0, 50))
def test_more_is_needed_to_show_more(proportion: float, confidence: float, failures: int) -> None:
    runs = runs_needed(proportion, confidence, failures).runs
    assert runs_needed(proportion, confidence, failures + 1).runs > runs
    assert runs_needed((1 + proportion) / 2, confidence, failures).runs >= runs
    assert runs_needed(proportion, (1 + confidence) / 2, failures).runs >= runs


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        (lambda: runs_needed(1, 0.95), "no number of runs shows every run works"),
        (lambda: runs_needed(0.95, 1), "no number of runs shows anything for certain"),
        (lambda: runs_needed(0, 0.95), "proportion is 0"),
        (lambda: runs_needed(0.95, 0), "confidence is 0"),
        (lambda: runs_needed(0.95, math.nan), "confidence is nan"),
        (lambda: runs_needed(0.95, 0.95, -1), "failures is -1"),
        (lambda: runs_needed(0.95, 0.95, 1.5), "failures is 1.5"),  # type: ignore[arg-type]
        (lambda: runs_needed(1 - 1e-15, 0.95), "more than 10^12 runs"),
        (lambda: runs_needed(1 - 1e-15, 0.95, 2), "more than 10^12 runs"),
        (lambda: passing_probability(20, 21, 0.1), "21 allowed failures are more than the 20 runs"),
        (lambda: passing_probability(20, 1, 1.1), "true failure probability is 1.1"),
        (lambda: passing_probability(0, 0, 0.1), "runs is 0"),
        (lambda: quality_passed(20, 20, 0.1), "passes everything"),
        (lambda: quality_passed(20, 1, 1), "probability is 1"),
        (lambda: shown_by(20, 21), "more than the 20 runs"),
        (lambda: shown_by(20, 0, 0.95, (1,)), "proportion is 1"),
    ],
)
def test_what_cannot_be_planned_is_refused(ask, words: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(EvidenceError) as refused:
        ask()
    assert words in refused.value.headline
    assert refused.value.help

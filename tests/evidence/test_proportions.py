"""Bounds on a probability of failure, against handbook pages, scipy.stats, statsmodels and mpmath."""

from __future__ import annotations

import math
import subprocess
import sys
from fractions import Fraction

import mpmath as mp
import numpy as np
import pytest
from hypothesis import given, settings, strategies as some
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from riskkit.evidence import EvidenceError, Interval, clopper_pearson, jeffreys, wilson

COUNTS = [(0, 1), (1, 1), (0, 20), (1, 20), (4, 20), (20, 20), (26, 200), (3, 1000), (999, 1000), (50_000, 100_000)]
LEVELS = [0.5, 0.8, 0.9, 0.95, 0.99, 0.999999]


def test_four_defects_in_twenty() -> None:
    # CV-26. NIST/SEMATECH e-Handbook 7.2.4.1 (read): pL 0.071354, pU 0.401029.
    found = clopper_pearson(4, 20, 0.90, "two-sided")
    assert found.lower == pytest.approx(0.071354, abs=2e-6)
    assert found.upper == pytest.approx(0.401029, abs=2e-6)
    # The same, recomputed to more digits in the reference.
    assert found.lower == pytest.approx(0.0713538843, abs=1e-10)
    assert found.upper == pytest.approx(0.4010281173, abs=1e-10)
    # PRINT TRAP: the closing sentence of the page says (0.071, 0.400).
    assert f"{found.upper:.3f}" == "0.401"


def test_the_answer_names_estimand_method_level_and_side() -> None:
    found = clopper_pearson(4, 20, 0.90, "two-sided")
    assert isinstance(found, Interval)
    assert found.estimand == "probability of failure in one run"
    assert found.method == "Clopper-Pearson, exact binomial"
    assert (found.confidence, found.sides, found.estimate, found.unit) == (0.90, "two-sided", 0.2, "")


def test_wilson_one_sided_lower_limit() -> None:
    # CV-27. NIST/SEMATECH e-Handbook 7.2.4.1 (read): p 0.13, n 200, z -1.645 -> 0.09577.
    found = wilson(26, 200, 0.95, "lower")
    assert found.lower == pytest.approx(0.09577, abs=5e-6)
    assert found.upper == 1
    # The trap is to take z of the two-sided level, 1.960.
    assert wilson(26, 200, 0.95, "two-sided").lower < 0.0906


def test_no_event_in_sixty() -> None:
    # CV-29, elementary: 1 - 0.05^(1/60) one-sided, 1 - 0.025^(1/60) two-sided. Trap: which sidedness.
    assert clopper_pearson(0, 60).upper == pytest.approx(0.0487, abs=5e-5)
    assert clopper_pearson(0, 60, 0.95, "two-sided").upper == pytest.approx(0.059629, abs=5e-7)
    assert clopper_pearson(0, 60).upper < 3 / 60, "the rule of three is an approximation from above"


@pytest.mark.parametrize(("failures", "bound"), [(0, 0.139), (1, 0.216)])
def test_upper_bounds_after_twenty_runs(failures: int, bound: float) -> None:
    # Constructed: job description M19, exact binomial.
    assert clopper_pearson(failures, 20).upper == pytest.approx(bound, abs=6e-4)


def test_jeffreys_prior_for_a_probability() -> None:
    # CV-38. Rule (x + 0.5) / (n + 1) from NASA/SP-2009-569, 4.2.1.2 (read); numbers recomputed in the reference.
    none = jeffreys(0, 30, 0.95, "upper")
    assert none.estimate == pytest.approx(0.016129, abs=5e-7)
    assert none.upper == pytest.approx(0.0615167, abs=5e-8)
    one = jeffreys(1, 75, 0.90, "two-sided")
    assert one.estimate == pytest.approx(0.0197368, abs=5e-8)
    assert one.lower == pytest.approx(0.00235074, abs=5e-9)
    assert one.upper == pytest.approx(0.0509309, abs=5e-8)


@pytest.mark.parametrize(("failures", "runs"), COUNTS)
@pytest.mark.parametrize("level", LEVELS)
def test_the_exact_interval_agrees_with_scipy(failures: int, runs: int, level: float) -> None:
    test = stats.binomtest(failures, runs)
    two = test.proportion_ci(level, "exact")
    found = clopper_pearson(failures, runs, level, "two-sided")
    # scipy looks for the ends with an absolute tolerance of 2e-12; the digits below are checked by mpmath further down.
    assert (found.lower, found.upper) == pytest.approx((two.low, two.high), rel=1e-9, abs=2e-12)
    upper = stats.binomtest(failures, runs, alternative="less").proportion_ci(level, "exact").high
    assert clopper_pearson(failures, runs, level).upper == pytest.approx(upper, rel=1e-9)
    lower = stats.binomtest(failures, runs, alternative="greater").proportion_ci(level, "exact").low
    assert clopper_pearson(failures, runs, level, "lower").lower == pytest.approx(lower, rel=1e-9, abs=2e-12)


@pytest.mark.parametrize(("failures", "runs"), COUNTS)
@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize(("ours", "theirs"), [(clopper_pearson, "beta"), (wilson, "wilson"), (jeffreys, "jeffreys")])
def test_two_sided_intervals_agree_with_statsmodels(ours, theirs: str, failures: int, runs: int, level: float) -> None:  # type: ignore[no-untyped-def]
    lower, upper = proportion_confint(failures, runs, 1 - level, theirs)
    found = ours(failures, runs, level, "two-sided")
    assert found.lower == pytest.approx(float(lower), rel=1e-9, abs=1e-15)
    assert found.upper == pytest.approx(float(upper), rel=1e-9)


@pytest.mark.parametrize(("failures", "runs"), COUNTS)
def test_wilson_one_sided_agrees_with_scipy(failures: int, runs: int) -> None:
    upper = stats.binomtest(failures, runs, alternative="less").proportion_ci(0.95, "wilson").high
    assert wilson(failures, runs).upper == pytest.approx(upper, rel=1e-9)


def at_most(failures: int, runs: int, failing: float) -> mp.mpf:
    """P(X <= failures) with 40 digits, summed from the largest term downward."""
    p = mp.mpf(failing)
    ways = mp.loggamma(runs + 1) - mp.loggamma(failures + 1) - mp.loggamma(runs - failures + 1)
    term = mp.exp(ways + failures * mp.log(p) + (runs - failures) * mp.log1p(-p))
    total, k = term, failures
    while k > 0 and term > total * mp.mpf(10) ** -30:
        term *= mp.mpf(k) / (runs - k + 1) * (1 - p) / p
        total, k = total + term, k - 1
    return total


# The last two are where scipy's inverse alone gives another number: betaincinv(1000, 10^9, 0.05) is twice the truth.
CORNERS = [
    (0, 1),
    (1, 20),
    (3, 1000),
    (1, 60),
    (1, 10**6),
    (20, 10**6),
    (999, 10**6),
    (3, 10**9),
    (999, 10**9),
    (1000, 10**9),
]


@pytest.mark.parametrize(("failures", "runs"), CORNERS)
@pytest.mark.parametrize("level", [0.95, 0.999999])
def test_hard_corners_hold_their_level_to_many_digits(failures: int, runs: int, level: float) -> None:
    with mp.workdps(40):
        risk = 1 - mp.mpf(level)
        upper = clopper_pearson(failures, runs, level, "upper").upper
        assert float(at_most(failures, runs, upper) / risk) == pytest.approx(1, abs=1e-10)
        if failures:
            lower = clopper_pearson(failures, runs, level, "lower").lower
            assert float((1 - at_most(failures - 1, runs, lower)) / risk) == pytest.approx(1, abs=1e-10)


@pytest.mark.parametrize("runs", [1, 2, 60, 10**6, 10**9])
@pytest.mark.parametrize("level", [0.95, 0.999999])
def test_closed_forms_at_no_and_at_only_failures(runs: int, level: float) -> None:
    with mp.workdps(40):
        root = mp.exp(mp.log(1 - mp.mpf(level)) / runs)
        assert clopper_pearson(0, runs, level).upper == pytest.approx(float(1 - root), rel=1e-14)
        assert clopper_pearson(runs, runs, level, "lower").lower == pytest.approx(float(root), rel=1e-14)
    assert clopper_pearson(0, runs, level, "two-sided").lower == 0
    assert clopper_pearson(runs, runs, level, "two-sided").upper == 1
    assert clopper_pearson(runs, runs, level).upper == 1


ANY_SIDES = some.sampled_from(["upper", "lower", "two-sided"])


@some.composite
def counted(draw) -> tuple[int, int]:  # type: ignore[no-untyped-def]
    runs = draw(some.one_of(some.integers(1, 200), some.integers(1, 10**9)))
    return draw(some.integers(0, runs)), runs


@pytest.mark.parametrize("kind", [clopper_pearson, wilson, jeffreys])
@settings(deadline=None, max_examples=100)
@given(counts=counted(), level=some.floats(0.01, 0.999999), sides=ANY_SIDES)
def test_ends_lie_in_order_between_0_and_1(kind, counts, level, sides) -> None:  # type: ignore[no-untyped-def]
    found = kind(*counts, level, sides)
    assert 0 <= found.lower <= found.upper <= 1
    if level >= 0.5 and kind is not jeffreys:
        assert found.lower <= found.estimate * (1 + 1e-12)
        assert found.estimate <= found.upper * (1 + 1e-12)


@pytest.mark.parametrize("kind", [clopper_pearson, wilson, jeffreys])
@settings(deadline=None, max_examples=100)
@given(counts=counted(), level=some.floats(0.01, 0.999999))
def test_counting_successes_instead_mirrors_the_interval(kind, counts, level) -> None:  # type: ignore[no-untyped-def]
    failures, runs = counts
    mirrored = kind(runs - failures, runs, level, "lower").lower
    assert kind(failures, runs, level, "upper").upper == pytest.approx(1 - mirrored, rel=1e-9, abs=1e-12)


@pytest.mark.parametrize("kind", [clopper_pearson, wilson, jeffreys])
@settings(deadline=None, max_examples=100)
@given(counts=counted(), level=some.floats(0.5, 0.99))
def test_more_failures_fewer_runs_or_more_confidence_raise_the_bound(kind, counts, level) -> None:  # type: ignore[no-untyped-def]
    failures, runs = counts
    bound = kind(failures, runs, level).upper * (1 - 1e-12)
    assert kind(failures, runs, level + 0.009).upper >= bound
    assert kind(failures + 1, runs + 1, level).upper >= bound
    assert kind(failures, runs + 1, level).upper <= kind(failures, runs, level).upper * (1 + 1e-12)


@pytest.mark.parametrize("kind", [clopper_pearson, wilson, jeffreys])
@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((3, 2), "failures is 3, more than the 2 runs"),
        ((-1, 2), "failures is -1"),
        ((0, 0), "runs is 0"),
        ((0.5, 2), "failures is 0.5"),
        ((True, 2), "failures is True"),
        ((0, math.nan), "runs is nan"),
        ((0, math.inf), "runs is inf"),
        ((0, "many"), "runs is many"),
        ((0, None), "runs is None"),
        ((0, 10**400), "runs is above"),
        ((0, 20, 0), "confidence is 0"),
        ((0, 20, 1), "confidence is 1"),
        ((0, 20, 95), "confidence is 95"),
        ((0, 20, 1e-300), "confidence is 1e-300, too near to 0"),
        ((0, 20, 10**400), "confidence is too large a number"),
        ((0, 20, math.nan), "confidence is nan"),
        ((0, 20, "0.95"), "confidence is 0.95"),
        ((0, 20, 0.95, "both"), "sides cannot be `both`"),
    ],
)
def test_what_cannot_be_is_refused_in_one_sentence(kind, arguments, words: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(EvidenceError) as refused:
        kind(*arguments)
    assert words in refused.value.headline
    assert "\n" not in refused.value.headline
    assert refused.value.help


def test_numbers_of_other_types_are_numbers() -> None:
    assert clopper_pearson(np.int64(1), 20.0) == clopper_pearson(1, 20)  # type: ignore[arg-type]
    for kind in (clopper_pearson, wilson, jeffreys):
        found = kind(1, 20, Fraction(19, 20))  # type: ignore[arg-type]
        assert found == kind(1, 20, 0.95)
        assert type(found.confidence) is float


def test_bounds_without_a_failure_start_without_scipy() -> None:
    code = (
        "from riskkit.evidence import clopper_pearson, rate_interval, runs_needed\n"
        "clopper_pearson(0, 60); clopper_pearson(0, 60, 0.9, 'two-sided'); clopper_pearson(60, 60, 0.9, 'lower')\n"
        "rate_interval(0, 72); runs_needed(0.95, 0.95)\n"
        "import sys; print(*{'numpy', 'scipy', 'uncertainties'} & set(sys.modules))"
    )
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split() == []

"""Bayesian updates against the worked examples of a handbook, and against scipy.stats and mpmath."""

from __future__ import annotations

import math

import mpmath as mp
import pytest
from hypothesis import given, settings, strategies as some
from scipy import stats

from riskkit.evidence import (
    JEFFREYS_BETA,
    JEFFREYS_GAMMA,
    EvidenceError,
    jeffreys,
    mission_reliability,
    update_beta,
    update_gamma,
)


def two_digits(value: float) -> str:
    return f"{value:.1e}"


def test_beta_update_of_a_handbook() -> None:
    # CV-34. NASA/SP-2009-569, 4.2.1.1, Example 1 (read).
    found = update_beta(1.24, 189_075, failures=2, runs=285, probability=0.90)
    assert found.prior.interval is not None
    assert found.prior.mean == pytest.approx(6.56e-6, abs=5e-9)
    assert two_digits(found.prior.interval.lower) == "5.4e-07"
    assert two_digits(found.prior.interval.upper) == "1.8e-05"
    assert two_digits(found.mean) == "1.7e-05"
    assert two_digits(found.interval.lower) == "5.0e-06"
    assert two_digits(found.interval.upper) == "3.5e-05"
    # Recomputed in the reference.
    assert found.mean == pytest.approx(1.711015e-5, abs=5e-12)
    assert found.interval.lower == pytest.approx(4.980187e-6, abs=5e-13)
    assert found.interval.upper == pytest.approx(3.513054e-5, abs=5e-12)
    # PRINT TRAP: the copy prints 189 226 for the second parameter.
    assert found.parameters == (3.24, 189_358)
    assert "Beta(1.24, 189075)" in found.prior.words
    assert found.data == "2 failures in 285 runs"


def test_gamma_update_of_a_handbook() -> None:
    # CV-35. NASA/SP-2009-569, 4.2.2.1, Example 3 (read): 200 days without a failure.
    found = update_gamma(1.6, 365_000, failures=0, time=200 * 24, probability=0.90)
    assert found.parameters == (1.6, 369_800)
    # PRINT TRAP: the first mention prints 4.3e-9.
    assert found.mean == pytest.approx(4.33e-6, abs=5e-9)
    assert two_digits(found.interval.lower) == "5.6e-07"
    assert two_digits(found.interval.upper) == "1.1e-05"
    # Recomputed in the reference.
    assert found.mean == pytest.approx(4.326663e-6, abs=5e-13)
    assert found.interval.lower == pytest.approx(5.626933e-7, abs=5e-14)
    assert found.interval.upper == pytest.approx(1.103121e-5, abs=6e-12)
    mission = mission_reliability(found, 1000)
    assert mission.at_mean_rate == pytest.approx(0.996, abs=5e-4)
    assert mission.at_mean_rate == pytest.approx(0.9956827, abs=5e-8)
    assert mission.expected >= mission.at_mean_rate
    assert mission.interval.lower == pytest.approx(math.exp(-1000 * found.interval.upper))
    assert mission.interval.upper == pytest.approx(math.exp(-1000 * found.interval.lower))
    assert mission.prior == found.prior.words


def test_jeffreys_priors() -> None:
    # CV-38. Rules (x + 0.5) / (n + 1), (x + 0.5) / t from NASA/SP-2009-569, 4.2.1.2 and 4.2.2.2 (read); numbers
    # recomputed in the reference.
    none = update_beta(*JEFFREYS_BETA, 0, 30, 0.95, "upper")
    assert none.mean == pytest.approx(0.5 / 31, rel=1e-15)
    assert none.interval.upper == pytest.approx(0.0615167, abs=5e-8)
    one = update_beta(*JEFFREYS_BETA, 1, 75, 0.90)
    assert one.mean == pytest.approx(0.0197368, abs=5e-8)
    assert (one.interval.lower, one.interval.upper) == pytest.approx((0.00235074, 0.0509309), abs=5e-8)
    hours = update_gamma(*JEFFREYS_GAMMA, 0, 1000, 0.95, "upper")
    assert hours.mean == 5e-4
    assert hours.interval.upper == pytest.approx(1.920729e-3, abs=6e-10)
    assert hours.prior.mean is None
    assert hours.prior.interval is None
    assert "no distribution before there are data" in hours.prior.words


@settings(deadline=None, max_examples=100)
@given(runs=some.integers(1, 10**6), share=some.floats(0, 1), level=some.floats(0.01, 0.999))
def test_the_jeffreys_update_is_the_jeffreys_interval(runs: int, share: float, level: float) -> None:
    failures = round(share * runs)
    updated = update_beta(*JEFFREYS_BETA, failures, runs, level, "two-sided").interval
    plain = jeffreys(failures, runs, level, "two-sided")
    assert (updated.estimate, updated.lower, updated.upper) == (plain.estimate, plain.lower, plain.upper)


@settings(deadline=None, max_examples=150)
@given(a=some.floats(0.1, 1e4), b=some.floats(0.1, 1e4), runs=some.integers(0, 10**4), level=some.floats(0.1, 0.999))
def test_beta_posteriors_agree_with_scipy(a: float, b: float, runs: int, level: float) -> None:
    failures = runs // 7
    found = update_beta(a, b, failures, runs, level)
    outside = stats.beta(a + failures, b + runs - failures)
    assert found.mean == pytest.approx(outside.mean(), rel=1e-12)
    assert found.interval.lower == pytest.approx(outside.ppf((1 - level) / 2), rel=1e-9)
    assert found.interval.upper == pytest.approx(outside.isf((1 - level) / 2), rel=1e-9)
    assert update_beta(a, b, failures, runs, level, "upper").interval.upper == pytest.approx(
        outside.isf(1 - level), rel=1e-9
    )


@settings(deadline=None, max_examples=150)
@given(
    shape=some.floats(0.1, 1e4),
    before=some.floats(1e-3, 1e6),
    events=some.integers(0, 10**4),
    time=some.floats(1e-3, 1e6),
    level=some.floats(0.1, 0.999),
)
def test_gamma_posteriors_agree_with_scipy(shape, before, events, time, level) -> None:  # type: ignore[no-untyped-def]
    found = update_gamma(shape, before, events, time, level)
    outside = stats.gamma(shape + events, scale=1 / (before + time))
    assert found.mean == pytest.approx(outside.mean(), rel=1e-12)
    assert found.interval.lower == pytest.approx(outside.ppf((1 - level) / 2), rel=1e-9)
    assert found.interval.upper == pytest.approx(outside.isf((1 - level) / 2), rel=1e-9)


@pytest.mark.parametrize(("shape", "time", "mission"), [(1.6, 369_800.0, 1000.0), (0.5, 10.0, 100.0), (50.0, 3.0, 0.1)])
def test_expected_reliability_is_the_mean_over_the_posterior(shape: float, time: float, mission: float) -> None:
    with mp.workdps(30):
        weight = lambda rate: rate ** (shape - 1) * mp.exp(-rate * time)  # noqa: E731
        points = [0, shape / time, 3 * shape / time, 40 * (shape + 5) / time]
        mean = mp.quad(lambda rate: mp.exp(-rate * mission) * weight(rate), points) / mp.quad(weight, points)
    found = mission_reliability(update_gamma(shape, time, 0, 0), mission)
    assert found.expected == pytest.approx(float(mean), rel=1e-6)


def test_no_data_leave_the_prior_as_it_was() -> None:
    for found in (update_beta(2, 8, 0, 0), update_gamma(2, 8, 0, 0)):
        assert (found.mean, found.interval) == (found.prior.mean, found.prior.interval)
    still = mission_reliability(update_gamma(2, 8, 0, 0), 0)
    assert (still.at_mean_rate, still.expected, still.interval.lower, still.interval.upper) == (1, 1, 1, 1)


@settings(deadline=None, max_examples=100)
@given(events=some.integers(0, 1000), time=some.floats(1, 1e5), mission=some.floats(0, 1e5))
def test_more_failures_mean_a_higher_rate_and_a_lower_reliability(events: int, time: float, mission: float) -> None:
    fewer, more = (update_gamma(*JEFFREYS_GAMMA, count, time) for count in (events, events + 1))
    assert more.mean > fewer.mean
    assert more.interval.lower > fewer.interval.lower
    assert more.interval.upper > fewer.interval.upper
    assert mission_reliability(more, mission).expected <= mission_reliability(fewer, mission).expected <= 1


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        (lambda: update_beta(0, 1, 0, 10), "prior a is 0"),
        (lambda: update_beta(1, -1, 0, 10), "prior b is -1"),
        (lambda: update_beta(1, math.nan, 0, 10), "prior b is nan"),
        (lambda: update_beta(1, 1, 11, 10), "more than the 10 runs"),
        (lambda: update_beta(1, 1, 0, 10, 1), "probability is 1"),
        (lambda: update_beta(1, 1, 0, 10, 0.9, "both"), "sides cannot be"),  # type: ignore[arg-type]
        (lambda: update_gamma(0, 1, 0, 10), "prior shape is 0"),
        (lambda: update_gamma(1, -1, 0, 10), "prior time is -1"),
        (lambda: update_gamma(1, 1, 0, -10), "time is -10"),
        (lambda: update_gamma(1, 1, 2, 0), "no time is no data"),
        (lambda: update_gamma(0.5, 0, 0, 0), "no time is no data"),
        (lambda: mission_reliability(update_beta(1, 1, 0, 10), 5), "needs a rate"),
        (lambda: mission_reliability(update_gamma(1, 1, 0, 10), -5), "mission time is -5"),
    ],
)
def test_what_cannot_be_is_refused(ask, words: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(EvidenceError) as refused:
        ask()
    assert words in refused.value.headline
    assert refused.value.help

"""Bounds on a failure rate and on the mean time between failures, against handbook pages, tables and scipy.stats."""

from __future__ import annotations

import math

import mpmath as mp
import pytest
from hypothesis import given, settings, strategies as some
from scipy import stats

from riskkit.evidence import EvidenceError, mean_time_interval, rate_interval, rates


def test_two_failures_in_eight_hundred_hours() -> None:
    # CV-30. NIST/SEMATECH e-Handbook 8.4.5.1 (formulas and the number 127.0690 read): chi2(.95; 6), chi2(.05; 4).
    found = mean_time_interval(2, 800, 0.90, "two-sided")
    assert found.estimate == 400
    assert found.lower == pytest.approx(127.0690, abs=5e-5)
    assert found.upper == pytest.approx(2251.23, abs=5e-3)
    # Factors on the estimate: 0.3177 and 5.6281.
    assert found.lower / 400 == pytest.approx(0.3177, abs=5e-4)
    assert found.upper / 400 == pytest.approx(5.6281, abs=5e-4)
    assert (found.estimand, found.unit, found.sides) == ("mean time between failures", "h", "two-sided")


@pytest.mark.parametrize(("level", "divisor"), [(0.95, 2.9957), (0.90, 2.3026)])
def test_without_a_failure_there_is_a_lower_bound_only(level: float, divisor: float) -> None:
    # CV-31. NIST/SEMATECH e-Handbook 8.4.5.1 (read): T / (-ln alpha); 95 % -> T / 2.9957. The second is elementary.
    found = mean_time_interval(0, 1000, level)
    assert 1000 / found.lower == pytest.approx(divisor, abs=5e-5)
    assert found.upper == math.inf
    assert found.estimate is None
    both = mean_time_interval(0, 1000, level, "two-sided")
    assert both.upper == math.inf
    assert "no upper end" in both.method
    assert mean_time_interval(0, 1000, level, "upper").upper == math.inf


def test_length_of_a_test_with_up_to_four_failures() -> None:
    # CV-32. NIST/SEMATECH e-Handbook 8.3.1.1, from memory (high confidence): factor 6.72, 3360 h; computed 3360.49.
    found = rates.test_time_needed(500, 0.80, 4)
    assert found.factor == pytest.approx(6.72, abs=5e-3)
    assert found.time == pytest.approx(3360, abs=0.6)
    assert (found.unit, found.failures, found.confidence) == ("h", 4, 0.80)


# CV-50. Poisson exact 95 % two-sided, standard table (Garwood 1936), from memory (high confidence).
@pytest.mark.parametrize(("events", "lower", "upper"), [(0, 0, 3.6889), (1, 0.02532, 5.5716), (3, 0.61867, 8.7673)])
def test_garwood_table(events: int, lower: float, upper: float) -> None:
    found = rate_interval(events, 1, 0.95, "two-sided")
    assert (found.lower, found.upper) == pytest.approx((lower, upper), abs=5e-5)


def test_seventy_two_hours_without_a_failure() -> None:
    # Constructed: job description M19, chi2(C; 2r + 2) / 2T: 90 % -> 0.032 per hour.
    found = rate_interval(0, 72, 0.90)
    assert found.upper == pytest.approx(0.032, abs=5e-4)
    assert (found.unit, found.lower, found.estimate) == ("1/h", 0, 0)


EVENTS = [0, 1, 2, 3, 10, 1000, 10**6]
LEVELS = [0.01, 0.5, 0.8, 0.95, 0.999999]


@pytest.mark.parametrize("events", EVENTS)
@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("ended", ["time", "failure"])
def test_bounds_agree_with_chi_square_of_scipy(events: int, level: float, ended) -> None:  # type: ignore[no-untyped-def]
    if ended == "failure" and events == 0:
        return
    freedom = 2 * events + (2 if ended == "time" else 0)
    for sides, beyond in (("upper", 1 - level), ("lower", 1 - level), ("two-sided", (1 - level) / 2)):
        found = rate_interval(events, 250, level, sides, ended)  # type: ignore[arg-type]
        if sides != "lower":
            assert found.upper == pytest.approx(stats.chi2.isf(beyond, freedom) / 500, rel=1e-9)
        if sides != "upper" and events:
            assert found.lower == pytest.approx(stats.chi2.ppf(beyond, 2 * events) / 500, rel=1e-9)
    needed = rates.test_time_needed(100, level, events)
    assert needed.factor == pytest.approx(stats.chi2.ppf(level, 2 * events + 2) / 2, rel=1e-9)


def test_a_statsmodels_exact_poisson_interval_is_the_same() -> None:
    from statsmodels.stats.rates import confint_poisson

    for events in (1, 5, 200):
        found = rate_interval(events, 40, 0.9, "two-sided")
        assert (found.lower, found.upper) == pytest.approx(
            tuple(map(float, confint_poisson(events, 40, method="exact-c", alpha=0.1))), rel=1e-9
        )


@pytest.mark.parametrize("events", [1, 3, 50, 1000])
@pytest.mark.parametrize("level", [0.95, 0.999999])
def test_hard_corners_hold_their_level_to_many_digits(events: int, level: float) -> None:
    with mp.workdps(40):
        risk = 1 - mp.mpf(level)
        upper = mp.mpf(rate_interval(events, 1, level).upper)
        assert float(mp.gammainc(events + 1, upper, mp.inf, regularized=True) / risk) == pytest.approx(1, abs=1e-12)
        lower = mp.mpf(rate_interval(events, 1, level, "lower").lower)
        assert float(mp.gammainc(events, 0, lower, regularized=True) / risk) == pytest.approx(1, abs=1e-12)


@settings(deadline=None, max_examples=150)
@given(
    events=some.integers(0, 10**6),
    hours=some.floats(1e-6, 1e9),
    level=some.floats(0.01, 0.99),
    sides=some.sampled_from(["upper", "lower", "two-sided"]),
)
def test_rate_and_mean_time_are_each_others_reciprocal(events, hours, level, sides) -> None:  # type: ignore[no-untyped-def]
    other = {"upper": "lower", "lower": "upper"}.get(sides, sides)
    rate, time = rate_interval(events, hours, level, sides), mean_time_interval(events, hours, level, other)
    assert 0 <= rate.lower <= rate.upper
    assert time.lower * rate.upper == pytest.approx(1) if rate.upper < math.inf else time.lower == 0
    assert time.upper * rate.lower == pytest.approx(1) if rate.lower else time.upper == math.inf
    if sides == "upper":
        assert rate_interval(events + 1, hours, level).upper > rate.upper
        assert rate_interval(events, hours * 2, level).upper == pytest.approx(rate.upper / 2)
        assert rate_interval(events, hours, level + 0.009).upper > rate.upper


@settings(deadline=None, max_examples=100)
@given(mean=some.floats(1e-3, 1e9), level=some.floats(0.01, 0.999999), failures=some.integers(0, 500))
def test_a_test_of_the_needed_length_shows_the_mean_time(mean: float, level: float, failures: int) -> None:
    needed = rates.test_time_needed(mean, level, failures)
    assert mean_time_interval(failures, needed.time, level, "lower").lower == pytest.approx(mean, rel=1e-9)


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        (lambda: rate_interval(0, 100, ended="failure"), "ended by failure has at least one failure"),
        (lambda: mean_time_interval(0, 100, ended="failure"), "ended by failure has at least one failure"),
        (lambda: rate_interval(0, 100, ended="lunch"), "ended cannot be `lunch`"),  # type: ignore[arg-type]
        (lambda: rate_interval(1, 0), "hours is 0"),
        (lambda: rate_interval(1, -5), "hours is -5"),
        (lambda: rate_interval(1, math.inf), "hours is inf"),
        (lambda: rate_interval(1, math.nan), "hours is nan"),
        (lambda: rate_interval(1, "72 h"), "hours is 72 h"),  # type: ignore[arg-type]
        (lambda: rate_interval(1.5, 10), "failures is 1.5"),  # type: ignore[arg-type]
        (lambda: rate_interval(1, 10, 1), "confidence is 1"),
        (lambda: mean_time_interval(1, 10, 0.9, "both"), "sides cannot be `both`"),  # type: ignore[arg-type]
        (lambda: rates.test_time_needed(0, 0.9), "mean time is 0"),
        (lambda: rates.test_time_needed(1, 0), "confidence is 0"),
    ],
)
def test_what_cannot_be_is_refused(ask, words: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(EvidenceError) as refused:
        ask()
    assert words in refused.value.headline
    assert refused.value.help

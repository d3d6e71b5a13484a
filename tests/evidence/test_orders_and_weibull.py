"""Wilks' numbers and Weibull demonstrations, against tables, direct sums and closed forms."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings, strategies as some
from scipy import stats

from riskkit.evidence import (
    EvidenceError,
    clopper_pearson,
    runs_needed,
    weibull_test_time,
    weibull_units,
    wilks_confidence,
    wilks_readings,
)


# CV-25. Wilks two-sided (smallest, largest): coverage, confidence, readings; exact values, from memory (high confidence).
@pytest.mark.parametrize(
    ("coverage", "confidence", "readings"), [(95, 95, 93), (90, 95, 46), (99, 95, 473), (90, 90, 38)]
)
def test_two_sided_wilks_numbers(coverage: int, confidence: int, readings: int) -> None:
    found = wilks_readings(coverage / 100, confidence / 100, "two-sided")
    assert found.readings == readings
    assert found.confidence >= confidence / 100
    # Closed form of the same: 1 - c^n - n (1 - c) c^(n - 1).
    c, n = coverage / 100, readings
    assert found.confidence == pytest.approx(1 - c**n - n * (1 - c) * c ** (n - 1), rel=1e-9)
    assert wilks_confidence(readings - 1, c, "two-sided").confidence < confidence / 100
    assert found.limits == "smallest and largest reading"


# The one-sided number is the success-run number, CV-23: from memory (high confidence).
@pytest.mark.parametrize(
    ("coverage", "confidence", "readings"), [(95, 95, 59), (90, 95, 29), (99, 95, 299), (95, 99, 90)]
)
@pytest.mark.parametrize("sides", ["upper", "lower"])
def test_one_sided_wilks_numbers(coverage: int, confidence: int, readings: int, sides) -> None:  # type: ignore[no-untyped-def]
    assert wilks_readings(coverage / 100, confidence / 100, sides).readings == readings


@settings(deadline=None, max_examples=100)
@given(
    n=some.integers(1, 5000),
    coverage=some.floats(0.01, 0.9999),
    discard=some.integers(0, 10),
    sides=some.sampled_from(["upper", "lower", "two-sided"]),
)
def test_the_confidence_is_that_of_the_order_statistics(n, coverage, discard, sides) -> None:  # type: ignore[no-untyped-def]
    beyond = discard + 1 + (sides == "two-sided")
    if n < beyond:
        with pytest.raises(EvidenceError, match="none is left"):
            wilks_confidence(n, coverage, sides, discard)
        return
    # The share between r-th smallest and s-th largest of n uniform readings is Beta(n + 1 - r - s, r + s).
    outside = stats.beta(n + 1 - beyond, beyond).sf(coverage)
    found = wilks_confidence(n, coverage, sides, discard)
    assert found.confidence == pytest.approx(float(outside), rel=1e-9, abs=1e-200)
    assert found.discard == discard


@settings(deadline=None, max_examples=100)
@given(coverage=some.floats(0.01, 0.9999), confidence=some.floats(0.01, 0.9999), discard=some.integers(0, 5))
def test_the_fewest_readings_are_the_fewest(coverage: float, confidence: float, discard: int) -> None:
    found = wilks_readings(coverage, confidence, "two-sided", discard)
    assert found.confidence >= confidence * (1 - 1e-12)
    if found.readings > discard + 2:
        assert wilks_confidence(found.readings - 1, coverage, "two-sided", discard).confidence < confidence
    assert found.readings == runs_needed(coverage, confidence, discard + 1).runs
    assert "r + s" in found.limits or discard == 0


def test_a_single_reading() -> None:
    assert wilks_confidence(1, 0.95).confidence == pytest.approx(0.05)
    assert wilks_readings(0.95, 0.05).readings == 1
    assert wilks_readings(0.5, 0.999999).readings == 20  # 2^-20 < 1e-6 < 2^-19


# Zero-failure demonstration; closed form n = ln(1 - C) / ((t / L)^shape ln R), elementary; the numbers are constructed:
# at t = L it is the success-run number (CV-23); at t = 2 L and shape 2 every unit counts for four.
@pytest.mark.parametrize(
    ("test_time", "shape", "reliability", "confidence", "units"),
    [
        (500, 2, 0.9, 0.9, 22),
        (1000, 2, 0.9, 0.9, 6),
        (1000, 1, 0.9, 0.9, 11),
        (250, 1, 0.95, 0.95, 117),
        (500, 3, 0.95, 0.95, 59),
    ],
)
def test_units_without_failure(test_time, shape, reliability, confidence, units) -> None:  # type: ignore[no-untyped-def]
    found = weibull_units(500, test_time, shape, reliability, confidence)
    factor = (test_time / 500) ** shape
    assert units == math.ceil(math.log(1 - confidence) / (factor * math.log(reliability)))
    assert found.units == units
    assert found.achieved_confidence >= confidence
    assert f"shape {shape}" in found.assumption
    assert "assumed" in found.assumption


@settings(deadline=None, max_examples=200)
@given(
    units=some.integers(1, 2000),
    failures=some.integers(0, 10),
    shape=some.floats(0.3, 8),
    reliability=some.floats(0.05, 0.9999),
    confidence=some.floats(0.05, 0.9999),
)
def test_the_time_shows_the_reliability_with_just_the_confidence(
    units, failures, shape, reliability, confidence
) -> None:  # type: ignore[no-untyped-def]
    if failures >= units:
        with pytest.raises(EvidenceError, match="show nothing"):
            weibull_test_time(units, 500, shape, reliability, confidence, failures)
        return
    found = weibull_test_time(units, 500, shape, reliability, confidence, failures)
    # A Weibull whose reliability at 500 is just R: then the plan passes with probability 1 - C.
    scale = 500 / (-math.log(reliability)) ** (1 / shape)
    failing = stats.weibull_min(shape, scale=scale).cdf(found.test_time)
    assert stats.binom.cdf(failures, units, failing) == pytest.approx(1 - confidence, rel=1e-6)
    assert clopper_pearson(failures, units, confidence).upper == pytest.approx(failing, rel=1e-6)
    needed = weibull_units(500, found.test_time * (1 + 1e-9), shape, reliability, confidence, failures).units
    assert needed <= units


def test_the_sentence_says_which_way_the_assumption_errs() -> None:
    assert "smaller" in weibull_units(500, 1000, 2, 0.9, 0.9).assumption
    assert "larger" in weibull_units(500, 100, 2, 0.9, 0.9).assumption
    assert "does not matter" in weibull_units(500, 500, 2, 0.9, 0.9).assumption
    # And it is so: planned with shape 2, true shape 1, beyond the life.
    planned = weibull_units(500, 1000, 2, 0.9, 0.9)
    assert weibull_units(500, 1000, 1, 0.9, 0.9).units > planned.units
    assert weibull_units(500, 100, 3, 0.9, 0.9).units > weibull_units(500, 100, 2, 0.9, 0.9).units


def test_extreme_shapes_and_times_are_answered_or_refused() -> None:
    assert weibull_units(1, 10, 1000, 0.9, 0.9, 3).units == 4, "every unit would fail, if the reliability were so low"
    assert weibull_test_time(1, 100, 1, 0.9, 0.9).test_time == pytest.approx(100 * math.log(0.1) / math.log(0.9))
    with pytest.raises(EvidenceError, match=r"more than 10\^12"):
        weibull_units(10, 1, 1000, 0.9, 0.9)
    with pytest.raises(EvidenceError, match="beyond any number"):
        weibull_test_time(1, 100, 1e-3, 0.9, 0.9)


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        (lambda: wilks_readings(1, 0.95), "coverage is 1"),
        (lambda: wilks_readings(0.95, 0), "confidence is 0"),
        (lambda: wilks_readings(0.95, 0.95, "both"), "sides cannot be"),  # type: ignore[arg-type]
        (lambda: wilks_readings(0.95, 0.95, "upper", -1), "discard is -1"),
        (lambda: wilks_confidence(0, 0.95), "readings is 0"),
        (lambda: wilks_confidence(1, 0.95, "two-sided"), "give at least 2"),
        (lambda: weibull_units(0, 1, 2, 0.9, 0.9), "life is 0"),
        (lambda: weibull_units(1, 0, 2, 0.9, 0.9), "test time is 0"),
        (lambda: weibull_units(1, 1, 0, 0.9, 0.9), "shape is 0"),
        (lambda: weibull_units(1, 1, 2, 1, 0.9), "reliability is 1"),
        (lambda: weibull_units(1, 1, 2, 0.9, 1), "confidence is 1"),
        (lambda: weibull_test_time(0, 1, 2, 0.9, 0.9), "units is 0"),
        (lambda: weibull_test_time(2, 1, math.inf, 0.9, 0.9), "shape is inf"),
    ],
)
def test_what_cannot_be_is_refused(ask, words: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(EvidenceError) as refused:
        ask()
    assert words in f"{refused.value.headline} {refused.value.help}"
    assert refused.value.help

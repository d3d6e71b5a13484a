"""Simulated benches: do limits and intervals hold as often as they say? Seeded; the Monte Carlo error stands beside."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import ndtr

from riskkit.evidence.agreement import compare_results, limits_of_agreement
from riskkit.evidence.guard import judge_reading
from riskkit.evidence.tolerance import tolerance_factor

DRAWS = 200_000


def monte_carlo_error(probability: float, draws: int = DRAWS) -> float:
    """One standard deviation of the share of hits seen in so many draws."""
    return math.sqrt(probability * (1 - probability) / draws)


def samples(readings: int, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Means and standard deviations of simulated samples of standard normal readings, every reading drawn."""
    random = np.random.default_rng(seed)
    blocks = [random.normal(size=(DRAWS // 10, readings)) for _ in range(10)]
    means = np.concatenate([block.mean(axis=1) for block in blocks])
    spreads = np.concatenate([block.std(axis=1, ddof=1) for block in blocks])
    return means, spreads


@pytest.mark.parametrize("readings", [2, 5, 20])
@pytest.mark.parametrize(("proportion", "confidence"), [(0.95, 0.95), (0.8, 0.99), (0.5, 0.6)])
def test_tolerance_limits_hold_as_often_as_they_say(readings: int, proportion: float, confidence: float) -> None:
    means, spreads = samples(readings, seed=16269 + readings)
    near = 4 * monte_carlo_error(confidence)
    upper = means + tolerance_factor(readings, proportion, confidence, "upper").factor * spreads
    assert abs((ndtr(upper) >= proportion).mean() - confidence) < near
    lower = means - tolerance_factor(readings, proportion, confidence, "lower").factor * spreads
    assert abs((ndtr(-lower) >= proportion).mean() - confidence) < near
    reach = tolerance_factor(readings, proportion, confidence, "two-sided").factor * spreads
    held = ndtr(means + reach) - ndtr(means - reach)
    assert abs((held >= proportion).mean() - confidence) < near


def test_the_approximation_of_howe_can_be_told_from_the_exact_factor() -> None:
    """The simulation is sharp enough to see the difference: with few readings Howe's factor holds too seldom."""
    means, spreads = samples(2, seed=1969)

    def held(factor: float) -> float:
        return float(((ndtr(means + factor * spreads) - ndtr(means - factor * spreads)) >= 0.5).mean())

    near = 4 * monte_carlo_error(0.9)
    assert abs(held(tolerance_factor(2, 0.5, 0.9, "two-sided").factor) - 0.9) < near
    assert abs(held(tolerance_factor(2, 0.5, 0.9, "two-sided", method="howe").factor) - 0.9) > near


@pytest.mark.parametrize("pairs", [3, 17])
@pytest.mark.parametrize("confidence", [0.95, 0.7])
def test_intervals_of_limits_of_agreement_hold_as_often_as_they_say(pairs: int, confidence: float) -> None:
    means, spreads = samples(pairs, seed=1986 + pairs)
    unit = limits_of_agreement(mean=0, spread=1, pairs=pairs, confidence=confidence)
    true = 1.959963984540054
    near = 4 * monte_carlo_error(confidence)
    upper = (means + unit.upper.lower * spreads <= true) & (true <= means + unit.upper.upper * spreads)
    lower = (means + unit.lower.lower * spreads <= -true) & (-true <= means + unit.lower.upper * spreads)
    bias = (means + unit.bias.lower * spreads <= 0) & (means + unit.bias.upper * spreads >= 0)
    for hits in (upper, lower, bias):
        assert abs(hits.mean() - confidence) < near


def test_an_item_on_its_limit_is_passed_wrongly_as_often_as_the_guard_band_says() -> None:
    # The true value lies on the limit, where a wrong pass is most frequent; U = 2u, guard = U: 2.275 % (ILAC-G8).
    random = np.random.default_rng(8)
    draws = 20_000
    for guard, wanted in ((1.0, 0.02275), (0.5, 0.158655)):
        readings = random.normal(18.0, 0.15, draws)
        passed = sum(judge_reading(value, 0.30, upper=18.0, guard=guard).word == "meets" for value in readings)
        assert abs(passed / draws - wanted) < 4 * monte_carlo_error(wanted, draws)


def test_results_of_the_same_thing_agree_as_often_as_two_sigma_says() -> None:
    # U = 2u for both and errors correlated by 0.6: |E_n| <= 1 in 95.45 % of comparisons.
    random = np.random.default_rng(13528)
    draws, one, two, shared = 20_000, 0.15, 0.2, 0.6
    errors = random.multivariate_normal([0, 0], [[one**2, shared * one * two], [shared * one * two, two**2]], draws)
    agreed = sum(compare_results(a, 2 * one, b, 2 * two, shared).word == "agree" for a, b in errors)
    assert abs(agreed / draws - 0.9545) < 4 * monte_carlo_error(0.9545, draws)

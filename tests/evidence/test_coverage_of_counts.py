"""How often the intervals on counts hold the truth.

Where counts are binomial or Poisson, every outcome is enumerated, so that coverage is exact and there is no Monte Carlo
error. Elsewhere it is simulated with a fixed seed: among m trials the standard error of a coverage C is
sqrt(C (1 - C) / m), and the tolerance is four of them. All numbers are constructed; what they are compared with is the
stated level.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from scipy import stats

from riskkit.evidence import (
    Interval,
    clopper_pearson,
    jeffreys,
    kaplan_meier,
    mean_time_interval,
    rate_interval,
    rates,
    runs_needed,
    update_beta,
    update_gamma,
    weibull_test_time,
    weibull_units,
    wilks_readings,
    wilson,
)

LEVELS = [0.8, 0.95, 0.999]
SIDES = ["upper", "lower", "two-sided"]
TRUTHS = np.unique(
    np.concatenate([np.linspace(0.0005, 0.9995, 801), 10.0 ** np.arange(-6, -1), 1 - 10.0 ** np.arange(-6, -1)])
)


def four_errors(level: float, trials: int) -> float:
    return 4 * math.sqrt(level * (1 - level) / trials)


def coverage(kind: Callable[..., Interval], runs: int, level: float, sides: str) -> np.ndarray:
    """Exact coverage at each of TRUTHS, over all outcomes of `runs` runs."""
    ends = [kind(failures, runs, level, sides) for failures in range(runs + 1)]
    lower, upper = np.array([end.lower for end in ends]), np.array([end.upper for end in ends])
    held = (lower[None, :] <= TRUTHS[:, None]) & (TRUTHS[:, None] <= upper[None, :])
    weights = stats.binom.pmf(np.arange(runs + 1)[None, :], runs, TRUTHS[:, None])
    return np.asarray((weights * held).sum(axis=1))


@pytest.mark.parametrize("runs", [1, 2, 5, 20, 60])
@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("sides", SIDES)
def test_the_exact_interval_never_covers_less_than_stated(runs: int, level: float, sides: str) -> None:
    """Enumerated, no Monte Carlo error."""
    assert coverage(clopper_pearson, runs, level, sides).min() >= level - 1e-12


def test_the_exact_bound_is_not_wastefully_wide() -> None:
    """A bound that always answered 1 would cover too; this one comes down to its level somewhere. Enumerated."""
    for sides in ("upper", "lower"):
        assert coverage(clopper_pearson, 60, 0.95, sides).min() < 0.952


@pytest.mark.parametrize("level", LEVELS)
def test_wilson_covers_about_its_level_on_average_and_less_in_places(level: float) -> None:
    """Enumerated. It is an approximation and says so: near 0 and 1 it dips well below its level."""
    found = coverage(wilson, 60, level, "two-sided")
    inner = (TRUTHS > 0.05) & (TRUTHS < 0.95)
    assert found[inner].mean() == pytest.approx(level, abs=0.01)
    assert found.min() < level


@pytest.mark.parametrize("runs", [1, 20, 60])
@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("sides", SIDES)
def test_jeffreys_covers_its_level_averaged_over_its_prior(runs: int, level: float, sides: str) -> None:
    """Enumerated over outcomes, weighed with the prior Beta(1/2, 1/2) by the tails of each posterior."""
    total = 0.0
    for failures in range(runs + 1):
        found = jeffreys(failures, runs, level, sides)  # type: ignore[arg-type]
        posterior = stats.beta(failures + 0.5, runs - failures + 0.5)
        inside = posterior.cdf(found.upper) - posterior.cdf(found.lower)
        total += stats.betabinom.pmf(failures, runs, 0.5, 0.5) * inside
    assert total == pytest.approx(level, abs=1e-9)


def test_jeffreys_covers_about_its_level_at_fixed_truths() -> None:
    """Enumerated: on average over the middle, not at each truth; with a lower end above 0 it misses a truth near 0."""
    found = coverage(jeffreys, 60, 0.95, "two-sided")
    inner = (TRUTHS > 0.05) & (TRUTHS < 0.95)
    assert found[inner].mean() == pytest.approx(0.95, abs=0.01)
    assert found.min() < 0.95


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("sides", SIDES)
@pytest.mark.parametrize("bounds", [rate_interval, mean_time_interval])
def test_bounds_on_a_rate_never_cover_less_than_stated(bounds, level: float, sides: str) -> None:  # type: ignore[no-untyped-def]
    """Time-ended; enumerated over Poisson counts up to where nothing is left."""
    most = 150
    ends = [bounds(failures, 100.0, level, sides) for failures in range(most)]
    for expected in (0.01, 0.3, 1.0, 3.0, 10.0, 42.0):
        truth = expected / 100 if bounds is rate_interval else 100 / expected
        held = np.array([end.lower <= truth <= end.upper for end in ends])
        weights = stats.poisson.pmf(np.arange(most), expected)
        assert weights.sum() == pytest.approx(1, abs=1e-12)
        assert (weights * held).sum() >= level - 1e-12


@pytest.mark.parametrize("sides", SIDES)
@pytest.mark.parametrize("failures", [1, 4])
def test_failure_ended_bounds_cover_just_their_level(sides: str, failures: int) -> None:
    """Simulated: the time to the r-th failure is a sum of exponential times; here the coverage is exact, not at least."""
    trials, level, rate = 10_000, 0.9, 0.02
    times = np.random.default_rng(811).gamma(failures, 1 / rate, trials)
    unit = rate_interval(failures, 1.0, level, sides, "failure")  # type: ignore[arg-type]
    held = (unit.lower / times <= rate) & (rate <= unit.upper / times)
    assert held.mean() == pytest.approx(level, abs=four_errors(level, trials))


@pytest.mark.parametrize("failures", [0, 4])
def test_a_test_of_the_needed_length_rarely_passes_a_worse_mean_time(failures: int) -> None:
    """Enumerated: at the very mean time it passes with probability 1 - C."""
    needed = rates.test_time_needed(500, 0.8, failures)
    assert stats.poisson.cdf(failures, needed.time / 500) == pytest.approx(0.2, abs=1e-12)


@pytest.mark.parametrize("sides", SIDES)
def test_posterior_intervals_hold_what_was_drawn_from_the_prior(sides: str) -> None:
    """Simulated: draw the truth from the prior, then data, and look whether the posterior interval holds the truth."""
    trials, level = 4_000, 0.9
    rng = np.random.default_rng(421)
    truths = rng.beta(1.5, 20, trials)
    failures = rng.binomial(40, truths)
    known = {int(k): update_beta(1.5, 20, int(k), 40, level, sides).interval for k in set(failures.tolist())}  # type: ignore[arg-type]
    held = [known[int(k)].lower <= truth <= known[int(k)].upper for k, truth in zip(failures, truths, strict=True)]
    assert np.mean(held) == pytest.approx(level, abs=four_errors(level, trials))
    truths = rng.gamma(1.6, 1 / 365, trials)
    failures = rng.poisson(truths * 500)
    known = {int(k): update_gamma(1.6, 365, int(k), 500, level, sides).interval for k in set(failures.tolist())}  # type: ignore[arg-type]
    held = [known[int(k)].lower <= truth <= known[int(k)].upper for k, truth in zip(failures, truths, strict=True)]
    assert np.mean(held) == pytest.approx(level, abs=four_errors(level, trials))


@pytest.mark.parametrize(("proportion", "confidence", "failures"), [(0.95, 0.95, 0), (0.9, 0.9, 2), (0.8, 0.999, 5)])
def test_a_plan_rarely_passes_what_is_just_too_bad(proportion: float, confidence: float, failures: int) -> None:
    """Enumerated."""
    runs = runs_needed(proportion, confidence, failures).runs
    assert stats.binom.cdf(failures, runs, 1 - proportion) <= 1 - confidence
    assert stats.binom.cdf(failures, runs - 1, 1 - proportion) > 1 - confidence


@pytest.mark.parametrize("sides", ["upper", "lower", "two-sided"])
@pytest.mark.parametrize("discard", [0, 1])
@pytest.mark.parametrize(
    "population", [stats.lognorm(0.8), stats.uniform(), stats.norm()], ids=["lognormal", "uniform", "normal"]
)
def test_wilks_limits_cover_whatever_the_distribution(sides: str, discard: int, population) -> None:  # type: ignore[no-untyped-def]
    """Simulated: the share of the population between the limits is at least the coverage in C of all trials."""
    trials, share = 4_000, 0.9
    plan = wilks_readings(share, 0.9, sides, discard)  # type: ignore[arg-type]
    readings = np.sort(population.rvs((trials, plan.readings), random_state=np.random.default_rng(941)), axis=1)
    high = population.cdf(readings[:, -1 - discard])
    low = population.cdf(readings[:, discard if sides == "lower" else 0])
    between = {"upper": high, "lower": 1 - low, "two-sided": high - low}[sides]
    assert (between >= share).mean() == pytest.approx(plan.confidence, abs=four_errors(plan.confidence, trials))


@pytest.mark.parametrize("failures", [0, 2])
@pytest.mark.parametrize("test_time", [300.0, 900.0])
def test_a_weibull_plan_rarely_passes_what_is_just_too_bad(failures: int, test_time: float) -> None:
    """Simulated: units whose reliability at the life is just the one to be shown, shape as assumed."""
    trials, shape, life, reliability, confidence = 10_000, 2.2, 500.0, 0.85, 0.9
    scale = life / (-math.log(reliability)) ** (1 / shape)
    rng = np.random.default_rng(61649)
    plan = weibull_units(life, test_time, shape, reliability, confidence, failures)
    failed = (scale * rng.weibull(shape, (trials, plan.units)) < test_time).sum(axis=1)
    passing = (failed <= failures).mean()
    risk = 1 - plan.achieved_confidence
    assert risk <= 1 - confidence + 1e-12
    assert passing == pytest.approx(risk, abs=four_errors(risk, trials))
    timed = weibull_test_time(12, life, shape, reliability, confidence, failures)
    failed = (scale * rng.weibull(shape, (trials, 12)) < timed.test_time).sum(axis=1)
    assert (failed <= failures).mean() == pytest.approx(1 - confidence, abs=four_errors(confidence, trials))


def test_survival_intervals_cover_about_their_level_at_a_time() -> None:
    """Simulated: 60 exponential lives, stopped at random; at the time of half survival.

    The log-log interval is approximate: 0.015 is allowed for that besides the four Monte Carlo errors.
    """
    trials, level, truth = 1_000, 0.95, 0.5
    rng = np.random.default_rng(8215)
    when, held = math.log(2), 0
    for _ in range(trials):
        lives, stops = rng.exponential(1, 60), rng.exponential(2, 60)
        curve = kaplan_meier(np.minimum(lives, stops), lives <= stops, level)  # type: ignore[arg-type]
        step = [each for each in curve.steps if each.time <= when][-1]
        assert step.lower is not None
        assert step.upper is not None
        held += step.lower <= truth <= step.upper
    assert held / trials == pytest.approx(level, abs=four_errors(level, trials) + 0.015)

"""Kaplan-Meier against a handbook's life test, statsmodels and sums by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings, strategies as some
from statsmodels.duration.survfunc import SurvfuncRight

from riskkit.evidence import EvidenceError, kaplan_meier

FAILED, REMOVED = [10, 32, 56, 98, 122, 181], [50, 100, 125, 150, *[200] * 10]


def test_life_test_of_a_handbook() -> None:
    # CV-45. NIST/SEMATECH e-Handbook 8.2.1.5 (data and product read in a secondary copy).
    found = kaplan_meier(FAILED + REMOVED, [True] * 6 + [False] * 14)
    assert [step.time for step in found.steps] == FAILED
    assert [step.at_risk for step in found.steps] == [20, 19, 17, 16, 14, 11]
    expected = [0.95, 0.90, 0.847059, 0.794118, 0.737395, 0.670359]
    assert [step.survival for step in found.steps] == pytest.approx(expected, abs=5e-7)
    # The same as exact fractions: 19/20 18/19 16/17 15/16 13/14 10/11.
    assert found.steps[-1].survival == pytest.approx(18 / 20 * 15 / 17 * 13 / 14 * 10 / 11, rel=1e-15)
    assert (found.units, found.failures, found.censored, found.last_time) == (20, 6, 14, 200)
    assert [step.censored for step in found.steps] == [0, 1, 0, 1, 2, 10]
    assert found.median is None
    assert found.median_words == "not reached"
    assert "Greenwood" in found.method
    assert "log-log" in found.method
    assert "failures first" in found.method


@some.composite
def units_on_test(draw) -> tuple[list[float], list[bool]]:  # type: ignore[no-untyped-def]
    times = draw(some.lists(some.integers(1, 30), min_size=1, max_size=60))
    marks = draw(some.lists(some.booleans(), min_size=len(times), max_size=len(times)))
    return [float(time) for time in times], marks


@settings(deadline=None, max_examples=200)
@given(data=units_on_test(), level=some.sampled_from([0.5, 0.9, 0.95, 0.999999]))
def test_curve_error_and_interval_agree_with_statsmodels(data, level) -> None:  # type: ignore[no-untyped-def]
    times, marks = data
    found = kaplan_meier(times, marks, level)
    if not any(marks):
        assert found.steps == ()
        assert found.median is None
        return
    with np.errstate(all="ignore"):
        outside = SurvfuncRight(np.array(times), np.array(marks, dtype=int))
        steps = {step.time: step for step in found.steps}
        from scipy.stats import norm

        z = norm.isf((1 - level) / 2)
        for time, survival, error, at_risk, events in zip(
            outside.surv_times, outside.surv_prob, outside.surv_prob_se, outside.n_risk, outside.n_events, strict=True
        ):
            if events == 0:
                continue
            step = steps.pop(float(time))
            assert step.survival == pytest.approx(survival, rel=1e-9, abs=1e-15)
            assert (step.at_risk, step.failures) == (at_risk, events)
            if survival == 0:
                assert (step.lower, step.upper) == (None, None)
                continue
            assert step.error == pytest.approx(error, rel=1e-9)
            # log(-log S) is taken as normal, with the error of S carried over by the delta method.
            spread = z * error / (survival * abs(math.log(survival)))
            assert step.lower == pytest.approx(survival ** math.exp(spread), rel=1e-6, abs=1e-15)
            assert step.upper == pytest.approx(survival ** math.exp(-spread), rel=1e-6)
            assert 0 <= step.lower < survival < step.upper <= 1
        assert not steps


def test_median_agrees_with_statsmodels_where_the_curve_jumps_across_one_half() -> None:
    rng = np.random.default_rng(45)
    compared = 0
    for _ in range(80):
        times, marks = rng.exponential(100, 21), rng.random(21) < 0.8
        outside = SurvfuncRight(times, marks.astype(int)).quantile(0.5)
        curve = kaplan_meier(times, marks)
        if any(step.survival == 0.5 for step in curve.steps):
            continue  # a curve that lies just at 0.5: statsmodels takes the next step, we the first time there
        compared += 1
        assert (curve.median is None) == math.isnan(outside)
        assert curve.median is None or curve.median == outside
    assert compared > 40


def test_a_curve_that_is_just_one_half_has_its_median_there() -> None:
    # Constructed: the first time at which the curve is at 0.5 or below.
    assert kaplan_meier([1, 2, 3, 4], [True] * 4).median == 2
    assert kaplan_meier([1, 2, 3], [True] * 3).median == 2
    assert kaplan_meier([1, 2, 2, 3], [True, False, False, False]).median_words == "not reached"


def test_failures_come_before_units_stopped_at_the_same_time() -> None:
    # Constructed by hand: of 4 units one fails and one is stopped at 5, so 4 are at risk: 3/4.
    found = kaplan_meier([5, 5, 9, 9], [False, True, True, True])
    assert [(step.at_risk, step.survival) for step in found.steps] == [(4, 0.75), (2, 0.0)]
    assert (found.steps[1].lower, found.steps[1].upper) == (None, None)
    assert found.steps[1].error == 0


def test_without_stopped_units_the_curve_is_the_share_still_working() -> None:
    found = kaplan_meier(range(1, 101), [1] * 100)
    assert [step.survival for step in found.steps] == [(100 - k) / 100 for k in range(1, 101)]
    # Greenwood is then the binomial error.
    assert found.steps[29].error == pytest.approx(math.sqrt(0.7 * 0.3 / 100), rel=1e-12)


def test_one_unit() -> None:
    assert kaplan_meier([7], [True]).steps[0].survival == 0
    assert kaplan_meier([7], [False]).steps == ()


def test_a_hundred_thousand_units_take_no_pairwise_work() -> None:
    times = np.random.default_rng(7).exponential(1, 100_000)
    found = kaplan_meier(times, times < 1)
    assert found.steps[-1].survival == pytest.approx(math.exp(-1), abs=0.006)  # four standard errors of 0.0015


@pytest.mark.parametrize(
    ("times", "marks", "level", "words"),
    [
        ([], [], 0.95, "no unit was on test"),
        ([1, 2], [True], 0.95, "2 times and 1 marks"),
        ([1, -2], [True, True], 0.95, "a time is -2"),
        ([1, math.nan], [True, True], 0.95, "a time is nan"),
        ([1, "2 h"], [True, True], 0.95, "a time is 2 h"),
        ([1, 2], [True, 2], 0.95, "a mark is 2"),
        ([1, 2], [True, "yes"], 0.95, "a mark is 'yes'"),
        ([1, 2], [True, None], 0.95, "a mark is None"),
        ([1, 2], [True, True], 1, "confidence is 1"),
        (5, [True], 0.95, "times is no list"),
    ],
)
def test_what_cannot_be_is_refused(times, marks, level, words: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(EvidenceError) as refused:
        kaplan_meier(times, marks, level)
    assert words in refused.value.headline
    assert refused.value.help

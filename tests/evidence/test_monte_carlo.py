"""Monte Carlo against the worked examples of JCGM 101 and against exact distributions.

Every run states its own scatter (twice the standard deviation of the least steady of mean, u and ends); that and
half a unit of the last printed digit are the tolerances here.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy import stats

from riskkit.evidence import (
    Budget,
    EvidenceError,
    Input,
    MonteCarlo,
    Part,
    compare_first_order,
    first_order,
    monte_carlo,
)
from riskkit.evidence.draws import drawn
from riskkit.evidence.trials import numerical_tolerance, shortest_ends, symmetric_ends


def four(*inputs: Input) -> Budget:
    return Budget("a + b + c + d", dict(zip("abcd", inputs, strict=True)))


def ends(answer: MonteCarlo) -> tuple[float, float]:
    return answer.symmetric.lower, answer.symmetric.upper


def test_four_normal_inputs_add_up_to_a_normal_one() -> None:
    # JCGM 101, 9.2.2 (results from memory): +-3.92.
    answer = monte_carlo(four(*[Input(0, u=1)] * 4), seed=7)
    assert answer.stable
    assert answer.tolerance == 0.05
    assert answer.scatter <= answer.tolerance / 5
    assert answer.u == pytest.approx(2, abs=answer.scatter)
    assert ends(answer) == pytest.approx((-3.92, 3.92), abs=0.005 + answer.scatter)
    assert compare_first_order(first_order(four(*[Input(0, u=1)] * 4)), answer).first_order_holds == "yes"


def test_four_rectangular_inputs_have_the_exact_interval() -> None:
    # JCGM 101, 9.2.3: +-3.88; exactly 2 sqrt 3 (2 - (3/5)^(1/4)) = 3.879407.
    budget = four(*[Input(0, half_width=math.sqrt(3))] * 4)
    exact = 2 * math.sqrt(3) * (2 - (3 / 5) ** 0.25)
    answer = monte_carlo(budget)
    assert ends(answer) == pytest.approx((-exact, exact), abs=answer.scatter)
    first = first_order(budget)
    assert first.expanded == pytest.approx(3.92, abs=0.005)
    # The ends differ by .04, which is within the tolerance of two digits (.05).
    assert compare_first_order(first, answer).first_order_holds == "yes"


def test_one_dominating_rectangular_input_breaks_first_order() -> None:
    # JCGM 101, 9.2.4: Monte Carlo +-17.0 (17.0158 by exact convolution), law of propagation +-19.9.
    wide = Input(0, half_width=10 * math.sqrt(3))
    budget = four(*[Input(0, half_width=math.sqrt(3))] * 3, wide)
    answer, first = monte_carlo(budget, seed=2), first_order(budget)
    assert ends(answer) == pytest.approx((-17.0158, 17.0158), abs=answer.scatter)
    assert first.expanded == pytest.approx(19.9, abs=0.05)
    assert compare_first_order(first, answer).first_order_holds == "no"
    assert any("is not normal" in note for note in first.notes)


def test_the_mass_has_the_published_interval() -> None:
    # JCGM 101, 9.3, tables 5 and 6 (results from memory): u .0754, shortest interval [1.0834, 1.3825], tolerance .004.
    budget = Budget(
        "(m_rc + dm_rc) * (1 + (rho_a - 1.2) * (1 / rho_w - 1 / rho_r)) - 100000",
        {
            "m_rc": Input(100_000, u=0.050),
            "dm_rc": Input(1.234, u=0.020),
            "rho_a": Input(1.20, half_width=0.10),
            "rho_w": Input(8000, half_width=1000),
            "rho_r": Input(8000, half_width=50),
        },
    )
    answer = monte_carlo(budget, most_trials=1_000_000)
    assert answer.mean == pytest.approx(1.2340, abs=answer.scatter + 5e-5)
    assert answer.u == pytest.approx(0.0754, abs=answer.scatter + 1e-4)
    assert (answer.shortest.lower, answer.shortest.upper) == pytest.approx((1.0834, 1.3825), abs=0.004)
    assert compare_first_order(first_order(budget), answer).first_order_holds == "no"


def test_the_end_gauge_is_less_certain_than_first_order_says() -> None:
    # JCGM 101, 9.5 (from memory): Monte Carlo u 36 nm against 32 nm to first and 34 nm to second order.
    budget = Budget(
        "ls + d0 + d1 + d2 - ls * (d_alpha * (theta + swing) + alpha * d_theta)",
        {
            "ls": Input(50_000_623, u=25, freedom=18),
            "d0": Input(215, pooled_s=13.4, count=5, freedom=24),
            "d1": Input(0, u=4, freedom=5),
            "d2": Input(0, u=7, freedom=8),
            "alpha": Input(11.5e-6, half_width=2e-6),
            "theta": Input(-0.1, u=0.2),
            "swing": Input(0, half_width=0.5, shape="U-shaped"),
            "d_alpha": Input(0, half_width=1e-6, freedom=50),
            "d_theta": Input(0, half_width=0.05, freedom=2),
        },
    )
    answer = monte_carlo(budget, 0.99, most_trials=500_000)
    assert answer.mean == pytest.approx(50_000_838, abs=0.5)
    assert answer.u == pytest.approx(36, abs=0.5)


def test_a_sum_of_squares_at_its_bottom_has_the_exact_distribution() -> None:
    # JCGM 101, 9.4, x1 = x2 = 0, u = .005: x1^2 + x2^2 is u^2 times chi-square with two degrees of freedom.
    budget = Budget("x1**2 + x2**2", {"x1": Input(0, u=0.005), "x2": Input(0, u=0.005)})
    answer = monte_carlo(budget, digits=1)
    exact = stats.chi2(2, scale=0.005**2)
    assert answer.mean == pytest.approx(exact.mean(), abs=answer.scatter)
    assert answer.u == pytest.approx(exact.std(), abs=answer.scatter)
    assert ends(answer) == pytest.approx(exact.interval(0.95), abs=answer.scatter)
    # The shortest interval begins at 0: JCGM 101, table 9 (from memory), [0, 150] x 1e-6.
    assert (answer.shortest.lower, answer.shortest.upper) == pytest.approx((0, 150e-6), abs=1e-6 + answer.scatter)
    with pytest.raises(EvidenceError, match="sees no uncertainty"):
        first_order(budget)


@pytest.mark.parametrize(
    ("known", "exact"),
    [
        (Input(5, u=2), stats.norm(5, 2)),
        (Input(5, half_width=2), stats.uniform(3, 4)),
        (Input(5, half_width=2, shape="triangular"), stats.triang(0.5, 3, 4)),
        (Input(5, half_width=2, shape="U-shaped"), stats.arcsine(3, 4)),
        (Input(5, half_width=2, shape="normal", level=0.9), stats.norm(5, 2 / stats.norm.isf(0.05))),
        (Input(5, expanded=2, k=2, freedom=9), stats.t(9, 5, 1)),
        (Input(readings=[4.0, 6.0, 5.0, 5.5, 4.5]), stats.t(4, 5, stats.sem([4.0, 6.0, 5.0, 5.5, 4.5]))),
    ],
    ids=[
        "normal",
        "rectangular",
        "triangular",
        "U-shaped",
        "normal half width",
        "certificate with freedom",
        "readings",
    ],
)
def test_every_way_of_knowing_is_drawn_from_its_distribution(known: Input, exact: Any) -> None:
    # JCGM 101, 6.4; Kolmogorov-Smirnov test of 50,000 seeded draws: fails for a wrong shape, once in 1000 seeds else.
    values = drawn(Budget("x", {"x": known}), np.random.default_rng(3), 50_000)["x"]
    assert stats.kstest(values, exact.cdf).pvalue > 1e-3


def test_a_half_width_that_is_itself_uncertain_is_drawn_as_well() -> None:
    # JCGM 101, 6.4.3.4: a rectangular shape with ends known within d has variance a^2 / 3 + d^2 / 9.
    values = drawn(Budget("x", {"x": Input(0, half_width=1, freedom=2)}), np.random.default_rng(3), 400_000)["x"]
    exact = math.sqrt(1 / 3 + 0.5**2 / 9)
    assert np.std(values) == pytest.approx(exact, abs=4 * exact / math.sqrt(2 * 400_000))
    assert 1.4 < np.max(values) <= 1.5


def test_correlated_inputs_are_drawn_together() -> None:
    inputs = {"a": Input(1, u=0.3), "b": Input(2, u=0.2), "c": Input(3, half_width=1)}
    budget = Budget("a * b + c", inputs, {("a", "b"): -0.7})
    values = drawn(budget, np.random.default_rng(5), 200_000)
    # Standard deviation of a correlation coefficient: (1 - r^2) / sqrt n = .0011; of an independent one .0022.
    assert np.corrcoef(values["a"], values["b"])[0, 1] == pytest.approx(-0.7, abs=0.005)
    assert np.corrcoef(values["a"], values["c"])[0, 1] == pytest.approx(0, abs=0.01)
    answer = monte_carlo(Budget("a - b", {n: inputs[n] for n in "ab"}, {("a", "b"): -0.7}), digits=1)
    exact = math.sqrt(0.09 + 0.04 + 2 * 0.7 * 0.06)
    assert answer.u == pytest.approx(exact, abs=answer.scatter)


@pytest.mark.parametrize("known", [Input(1, half_width=1), Input(1, u=1, freedom=5), Input(readings=[1, 2, 3])])
def test_correlated_inputs_that_are_not_normal_are_refused(known: Input) -> None:
    budget = Budget("a + b", {"a": known, "b": Input(1, u=1)}, {("a", "b"): 0.5})
    with pytest.raises(EvidenceError, match="`a` is correlated and not normal"):
        monte_carlo(budget)


def test_the_same_seed_gives_the_same_answer_and_another_seed_another() -> None:
    budget = four(*[Input(0, u=1)] * 4)
    assert monte_carlo(budget, seed=4, digits=1) == monte_carlo(budget, seed=4, digits=1)
    assert monte_carlo(budget, seed=4, digits=1).mean != monte_carlo(budget, seed=5, digits=1).mean


def test_intervals_hold_what_they_say_over_many_seeds() -> None:
    # 20 runs of 100,000 trials: the share that an interval truly covers scatters around .95 by
    # sqrt(.95 x .05 / 100,000) = .0007, the mean of 20 by .00016.
    exact = stats.norm(0, 2)
    shares = []
    for seed in range(20):
        low, high = ends(monte_carlo(four(*[Input(0, u=1)] * 4), seed=seed, digits=1))
        shares.append(exact.cdf(high) - exact.cdf(low))
    assert np.mean(shares) == pytest.approx(0.95, abs=6e-4)


def test_three_readings_have_an_interval_and_no_standard_deviation() -> None:
    # Student's t with two degrees of freedom has no variance; its interval is exact.
    readings = [10.1, 10.3, 9.9]
    answer = monte_carlo(Budget("x", {"x": Input(readings=readings)}), digits=1, most_trials=1_000_000)
    assert answer.u is None
    assert ends(answer) == pytest.approx(stats.t(2, 10.1, stats.sem(readings)).interval(0.95), abs=answer.scatter)
    assert any("no standard deviation" in note for note in answer.notes)
    two = monte_carlo(Budget("x", {"x": Input(readings=[1.0, 2.0])}), digits=1, most_trials=500_000)
    assert two.u is None
    assert two.mean == pytest.approx(1.5, abs=two.scatter)


@pytest.mark.parametrize("kind", ["arrays", "plain numbers"])
def test_a_python_function_of_either_kind_is_worked_out(kind: str) -> None:
    def of_arrays(x: Any, y: Any) -> Any:
        return np.sqrt(x) * y

    def of_numbers(x: float, y: float) -> float:
        return math.sqrt(x) * y if x > 0 else 0.0

    inputs = {"x": Input(4, u=0.1), "y": Input(1, u=0.1)}
    told = monte_carlo(Budget("sqrt(x) * y", inputs), digits=1)
    asked = monte_carlo(Budget(of_arrays if kind == "arrays" else of_numbers, inputs), digits=1)
    assert asked.mean == pytest.approx(told.mean, rel=1e-12)
    assert asked.symmetric.upper == pytest.approx(told.symmetric.upper, rel=1e-12)


def test_kinks_need_no_slope() -> None:
    # |x| of a standard normal: mean sqrt(2/pi), upper end of a symmetric interval the .975 quantile of the half normal.
    answer = monte_carlo(Budget("max(abs(x), 0)", {"x": Input(0, u=1)}), digits=1)
    assert answer.mean == pytest.approx(math.sqrt(2 / math.pi), abs=answer.scatter)
    assert ends(answer) == pytest.approx(stats.halfnorm.interval(0.95), abs=answer.scatter)


def test_a_run_that_ends_early_says_so() -> None:
    answer = monte_carlo(four(*[Input(0, u=2.4)] * 4), digits=3, most_trials=100_000)
    assert not answer.stable
    assert any("ended before" in note for note in answer.notes)
    assert answer.trials == 100_000


@pytest.mark.parametrize(
    ("formula", "inputs", "words"),
    [
        ("sqrt(x)", {"x": Input(1, u=1)}, "no value in .* trials"),
        ("log(x)", {"x": Input(0.1, u=1)}, "no value in .* trials"),
        ("x / y", {"x": Input(1, u=1), "y": Input(0)}, "no value in 10000 of 10000"),
        ("x", {"x": Input(1)}, "no input has an uncertainty"),
    ],
)
def test_trials_without_a_value_are_refused(formula: str, inputs: dict[str, Input], words: str) -> None:
    with pytest.raises(EvidenceError, match=words):
        monte_carlo(Budget(formula, inputs))


@pytest.mark.parametrize(
    "asked",
    [
        {"probability": 0.9999999},
        {"probability": 1},
        {"seed": -1},
        {"seed": 1.5},
        {"digits": 0},
        {"digits": 5},
        {"most_trials": 10},
        {"most_trials": 10**12},
    ],
)
def test_impossible_runs_are_refused(asked: dict[str, Any]) -> None:
    with pytest.raises(EvidenceError):
        monte_carlo(Budget("x", {"x": Input(1, u=1)}), **asked)


def test_other_levels_cannot_be_compared() -> None:
    budget = four(*[Input(0, u=1)] * 4)
    with pytest.raises(EvidenceError, match="first order covers"):
        compare_first_order(first_order(budget, 0.99), monte_carlo(budget, 0.95, digits=1))


@pytest.mark.parametrize(
    ("u", "digits", "tolerance"),
    # JCGM 101, 7.9.2, examples (from memory): 0.00035 to two digits: 35 x 1e-5, .000005; 2 K to one digit: .5.
    [(0.00035, 2, 0.000005), (2, 1, 0.5), (9.96, 2, 0.5), (0.0754, 2, 0.0005), (0, 2, 0)],
)
def test_the_numerical_tolerance_is_half_a_unit_of_the_last_digit(u: float, digits: int, tolerance: float) -> None:
    assert numerical_tolerance(u, digits) == pytest.approx(tolerance, rel=1e-12)


def test_intervals_of_ordered_values_hold_the_stated_share() -> None:
    values = np.arange(1000.0)
    low, high = symmetric_ends(values, 0.95)
    assert np.count_nonzero((values > low) & (values <= high)) == 950
    skewed = np.sort(stats.expon.ppf((np.arange(1000) + 0.5) / 1000))
    assert shortest_ends(skewed, 0.95)[0] == skewed[0]


def test_parts_of_different_shape_are_added() -> None:
    known = Input(0, parts=[Part(half_width=math.sqrt(3)), Part(half_width=math.sqrt(3))])
    answer = monte_carlo(Budget("x", {"x": known}), digits=1)
    # The sum of two alike rectangular shapes is triangular with half width 2 sqrt 3.
    exact = stats.triang(0.5, -2 * math.sqrt(3), 4 * math.sqrt(3)).interval(0.95)
    assert ends(answer) == pytest.approx(exact, abs=answer.scatter)


def test_correlated_inputs_that_cancel_leave_no_uncertainty_to_state() -> None:
    # Constructed: two readings with one and the same error, subtracted; what the trials show is rounding alone.
    same = {("a", "b"): 1.0}
    with pytest.raises(EvidenceError, match="cancel each other"):
        monte_carlo(Budget("a - b", {"a": Input(10, u=0.1), "b": Input(9, u=0.1)}, same))
    kept = monte_carlo(Budget("a - b", {"a": Input(10, u=0.1), "b": Input(9, u=0.2)}, same), digits=1)
    assert kept.u == pytest.approx(0.1, rel=0.01)

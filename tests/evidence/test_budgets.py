"""Uncertainty budgets to first order, against published examples and against general-purpose libraries."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st
from scipy import stats
from uncertainties import correlated_values, umath

from riskkit.evidence import Budget, EvidenceError, Input, Part, coverage_factor, effective_freedom, first_order
from riskkit.evidence.rounding import rounded_together

# -- JCGM 100:2008, H.1: the end gauge ------------------------------------------------------------


def end_gauge(**changed: Input) -> Budget:
    """Lengths in nm. Inputs: JCGM 100, H.1, table H.1 (a public copy); degrees of freedom from memory."""
    inputs = {
        "ls": Input(50_000_623, u=25, freedom=18),
        "d": Input(215, parts=[Part(u=5.8, freedom=24), Part(u=3.9, freedom=5), Part(u=6.7, freedom=8)]),
        "alpha": Input(11.5e-6, half_width=2e-6),
        "theta": Input(-0.1, parts=[Part(u=0.2), Part(half_width=0.5, shape="U-shaped")]),
        "d_alpha": Input(0, half_width=1e-6, freedom=50),
        "d_theta": Input(0, half_width=0.05, freedom=2),
    }
    return Budget("ls + d - ls * (d_alpha * theta + alpha * d_theta)", inputs | changed)


def test_the_end_gauge_has_the_published_budget() -> None:
    answer = first_order(end_gauge(), 0.99)
    assert answer.value == pytest.approx(50_000_838, abs=0.5)
    added = {each.name: each.contribution for each in answer.contributions}
    # JCGM 100, H.1: components 25, 9.7, 2.9 and 16.6 nm; u = 32 nm (31.71 printed with rounded components).
    assert added["ls"] == pytest.approx(25, abs=0.05)
    assert added["d"] == pytest.approx(9.7, abs=0.05)
    assert added["d_alpha"] == pytest.approx(2.9, abs=0.05)
    assert added["d_theta"] == pytest.approx(16.6, abs=0.05)
    assert answer.u == pytest.approx(31.71, abs=0.06)
    # effective degrees of freedom 16.7, cut off to 16; t99 = 2.92; U = 93 nm (92.62).
    assert answer.unrounded_freedom == pytest.approx(16.7, abs=0.1)
    assert answer.effective_freedom == 16
    assert answer.k == pytest.approx(2.92, abs=0.005)
    assert answer.expanded == pytest.approx(92.62, abs=0.2)
    assert answer.biggest == "ls"


def test_a_rounded_combined_uncertainty_would_give_another_expanded_one() -> None:
    """Trap: 32 nm x 2.92 is 93.4 nm; the published 93 nm is 92.62 with u not rounded."""
    answer = first_order(end_gauge(), 0.99)
    assert answer.expanded < 92.8
    assert 32 * answer.k > 93.4


def test_temperature_and_expansion_enter_the_end_gauge_at_second_order_only() -> None:
    """Trap of JCGM 100, H.1.7: second-order terms 11.7 and 1.7 nm raise u from 32 to 34 nm (33.91)."""
    answer = first_order(end_gauge(), 0.99)
    shares = {each.name: each.share for each in answer.contributions}
    assert shares["theta"] == shares["alpha"] == 0
    assert answer.second_order_u == pytest.approx(33.91, abs=0.12)
    assert answer.second_order_u is not None
    assert math.sqrt(answer.second_order_u**2 - answer.u**2) == pytest.approx(math.hypot(11.7, 1.7), abs=0.05)
    assert any("second order make u 6.8 % larger" in note for note in answer.notes)


# -- JCGM 101:2008, 9.3: mass calibration, to first and second order ------------------------------


def mass() -> Budget:
    """Inputs read in a public copy of JCGM 101, 9.3; masses in mg, densities in kg/m3."""
    return Budget(
        "(m_rc + dm_rc) * (1 + (rho_a - 1.2) * (1 / rho_w - 1 / rho_r)) - 100000",
        {
            "m_rc": Input(100_000, u=0.050),
            "dm_rc": Input(1.234, u=0.020),
            "rho_a": Input(1.20, half_width=0.10),
            "rho_w": Input(8000, half_width=1000),
            "rho_r": Input(8000, half_width=50),
        },
    )


def test_first_order_misses_a_third_of_the_uncertainty_of_the_mass() -> None:
    # JCGM 101, tables 5 and 6 (from memory): 1.2340, u .0539 [1.1285, 1.3395]; second order u .0750.
    answer = first_order(mass())
    assert answer.value == pytest.approx(1.2340, abs=5e-5)
    assert answer.u == pytest.approx(0.0539, abs=5e-5)
    assert (answer.lower, answer.upper) == pytest.approx((1.1285, 1.3395), abs=1e-4)
    assert answer.second_order_u == pytest.approx(0.0750, abs=5e-5)
    assert any("39 % larger" in note for note in answer.notes)


@pytest.mark.parametrize("convert", [lambda value: value, float], ids=["takes anything", "takes plain numbers only"])
def test_a_python_function_gives_what_the_formula_gives(convert: Callable[[Any], Any]) -> None:
    def calibrated(m_rc: Any, dm_rc: Any, rho_a: Any, rho_w: Any, rho_r: Any) -> Any:
        return convert((m_rc + dm_rc) * (1 + (rho_a - 1.2) * (1 / rho_w - 1 / rho_r)) - 100_000)

    told, asked = first_order(mass()), first_order(Budget(calibrated, mass().inputs))
    assert asked.u == pytest.approx(told.u, rel=1e-6)
    assert asked.second_order_u == pytest.approx(told.second_order_u, rel=1e-6)


def test_second_order_terms_are_those_of_the_series() -> None:
    # y = x^2 of a normal x: variance 4 x^2 u^2 + 2 u^4, mean x^2 + u^2, exactly.
    answer = first_order(Budget("x**2", {"x": Input(1, u=0.3)}))
    assert answer.second_order_u == pytest.approx(math.sqrt(4 * 0.09 + 2 * 0.3**4), rel=1e-9)
    assert answer.second_order_shift == pytest.approx(0.09, rel=1e-9)
    # y = exp(x) at 0: variance u^2 + 3/2 u^4 + ... (lognormal distribution, series of exp(u^2) (exp(u^2) - 1)).
    answer = first_order(Budget("exp(x)", {"x": Input(0, u=0.1)}))
    assert answer.second_order_u == pytest.approx(math.sqrt(0.01 + 1.5e-4), rel=1e-7)


def test_second_order_with_correlation_is_exact_for_a_product_of_normals() -> None:
    # Variance of x y for jointly normal x, y: mx^2 sy^2 + my^2 sx^2 + 2 mx my c + sx^2 sy^2 + c^2 (textbook identity).
    mx, my, sx, sy, r = 1.0, 2.0, 0.4, 0.3, 0.6
    answer = first_order(Budget("x * y", {"x": Input(mx, u=sx), "y": Input(my, u=sy)}, {("x", "y"): r}))
    c = r * sx * sy
    exact = mx**2 * sy**2 + my**2 * sx**2 + 2 * mx * my * c + sx**2 * sy**2 + c**2
    assert answer.second_order_u == pytest.approx(math.sqrt(exact), rel=1e-9)
    assert answer.second_order_shift == pytest.approx(c, rel=1e-9)


# -- degrees of freedom and coverage factor -------------------------------------------------------


def test_the_rounding_rule_of_degrees_of_freedom_decides_the_published_case() -> None:
    """JCGM 100, G.4.1 (from memory): relative u .25, .57, .82 %, n 10, 5, 15 -> printed 19.0, t95 2.09, U 2.2 %.

    Trap: unrounded it is 18.9987. "down", as the text of G.4.1 asks, makes 18 of it; the print rounds to 19.
    """
    parts, freedoms = [0.25, 0.57, 0.82], [9, 4, 14]
    assert effective_freedom(parts, freedoms, rounding="none") == pytest.approx(18.9987, abs=5e-5)
    assert effective_freedom(parts, freedoms) == 18
    assert effective_freedom(parts, freedoms, rounding="nearest") == 19
    assert math.hypot(*parts) == pytest.approx(1.03, abs=0.005)
    for freedom, t in ((18, 2.10), (19, 2.09)):
        assert coverage_factor(0.95, freedom) == pytest.approx(t, abs=0.005)
        assert math.hypot(*parts) * t == pytest.approx(2.2, abs=0.05)


@pytest.mark.parametrize(
    ("rounding", "freedom", "k"), [("down", 18, 2.1009), ("nearest", 19, 2.0930), ("none", 18.9987, 2.0930)]
)
def test_the_product_example_goes_through_a_whole_budget(rounding: Any, freedom: float, k: float) -> None:
    inputs = {
        name: Input(1, u=share / 100, freedom=free)
        for name, share, free in (("x1", 0.25, 9), ("x2", 0.57, 4), ("x3", 0.82, 14))
    }
    answer = first_order(Budget("7 * x1 * x2 * x3", inputs), rounding=rounding)
    assert answer.u / answer.value == pytest.approx(0.0103, abs=5e-5)
    assert answer.effective_freedom == pytest.approx(freedom, abs=1e-4)
    assert answer.k == pytest.approx(k, abs=5e-5)  # scipy.stats.t
    assert answer.rounding == rounding


def test_floating_point_does_not_cost_a_degree_of_freedom() -> None:
    # Constructed: three alike parts of n degrees of freedom have 3 n; in floating point a little less or more.
    for n in range(1, 200):
        assert effective_freedom([0.1, 0.1, 0.1], [n, n, n]) == 3 * n
    assert effective_freedom([0.1], [7]) == 7
    assert effective_freedom([0.1, 0.0], [7, 1]) == 7
    assert effective_freedom([0.1, 0.2], [math.inf, math.inf]) == math.inf


@pytest.mark.parametrize(
    ("freedom", "t"),
    [(1, 12.71), (2, 4.30), (3, 3.18), (5, 2.57), (10, 2.23), (20, 2.09), (50, 2.01), (math.inf, 1.960)],
)
def test_the_coverage_factor_is_that_of_the_table(freedom: float, t: float) -> None:
    # JCGM 100, table G.2, 95 % (from memory).
    assert coverage_factor(0.95, freedom) == pytest.approx(t, abs=0.005)


@pytest.mark.parametrize("freedom", [1, 1.5, 2, 18.9987, 1e6])
@pytest.mark.parametrize("confidence", [0.5, 0.95, 0.999999])
def test_the_coverage_factor_equals_scipy(freedom: float, confidence: float) -> None:
    assert coverage_factor(confidence, freedom) == pytest.approx(stats.t.isf((1 - confidence) / 2, freedom), rel=1e-9)


def test_the_coverage_factor_in_the_far_tail_is_that_of_the_cauchy_distribution() -> None:
    # One degree of freedom: k = tan(pi p / 2), exactly; at 0.999999 that is 636619.7723...
    assert coverage_factor(0.999999, 1) == pytest.approx(1 / math.tan(math.pi * 1e-6 / 2), rel=1e-12)


# -- worked examples of analytical chemistry ------------------------------------------------------


def test_the_calibration_standard_has_the_published_uncertainty() -> None:
    # QUAM:2012, A1 (a public copy): 1002.7 mg/L, u .9 (.8637), U 1.8 with k = 2.
    inputs = {"m": Input(100.28, u=0.05), "P": Input(0.9999, u=0.000058), "V": Input(100.0, u=0.07)}
    answer = first_order(Budget("1000 * m * P / V", inputs), k=2)
    assert answer.value == pytest.approx(1002.7, abs=0.05)
    assert answer.u == pytest.approx(0.8637, abs=5e-5)
    assert answer.expanded == pytest.approx(1.8, abs=0.08)
    assert answer.confidence == pytest.approx(0.9545, abs=5e-5)
    assert answer.biggest == "V"


def test_the_rounded_volume_of_the_calibration_standard_is_a_trap() -> None:
    """QUAM A1: u(V) from .1 / sqrt 6, .02 and 100 x 4 x 2.1e-4 / sqrt 3 is .0665 and is printed, and used, as .07."""
    volume = Input(
        100.0, parts=[Part(half_width=0.1, shape="triangular"), Part(u=0.02), Part(half_width=100 * 4 * 2.1e-4)]
    )
    assert volume.u == pytest.approx(0.0665, abs=5e-5)
    inputs = {"m": Input(100.28, u=0.05), "P": Input(0.9999, half_width=0.0001), "V": volume}
    answer = first_order(Budget("1000 * m * P / V", inputs))
    assert answer.u == pytest.approx(1002.7 * math.hypot(0.05 / 100.28, 0.000058 / 0.9999, 0.0665 / 100), abs=5e-4)
    assert answer.u < 0.84, "not the .8637 that follows from the rounded volume"


def test_the_titration_standard_has_the_published_uncertainty() -> None:
    # QUAM A2 (from memory): .10214 mol/L, u .00010.
    inputs = {
        "rep": Input(1.0, u=0.0005),
        "m": Input(0.3888, u=0.00013),
        "P": Input(1.0, u=0.00029),
        "M": Input(204.2212, u=0.0038),
        "V": Input(18.64, u=0.013),
    }
    answer = first_order(Budget("rep * 1000 * m * P / (M * V)", inputs))
    assert answer.value == pytest.approx(0.10214, abs=5e-6)
    assert answer.u == pytest.approx(0.00010, abs=5e-6)
    assert answer.biggest == "V"


def test_the_u_tube_is_known_to_four_pascal() -> None:
    # Constructed: 100 mm of water at 20 C; 978.9064 Pa, u 4.1659 Pa.
    inputs = {
        "rho": Input(998.2067),
        "slope": Input(-0.2068),
        "dt": Input(0, half_width=2),
        "g": Input(9.80665, half_width=0.02),
        "h": Input(0.1, half_width=1e-3, shape="triangular"),
    }
    answer = first_order(Budget("(rho + slope * dt) * g * h", inputs, estimand="pressure", unit="Pa"))
    assert answer.value == pytest.approx(978.9064, abs=5e-4)
    assert answer.value / 98.0665 == pytest.approx(9.982067, abs=5e-6)
    assert answer.u == pytest.approx(4.1659, abs=1e-3)
    assert answer.biggest == "h"
    assert any("`h` is not normal" in note for note in answer.notes)


def test_bag_and_stopwatch() -> None:
    # Constructed: 10 L within 3 %, rectangular, and 10 s with u = 0.3 s: 60 L/min, u 3.5 %, U (k = 2) 4.2 L/min.
    inputs = {"volume": Input(10, half_width=0.3), "time": Input(10, u=0.3)}
    answer = first_order(Budget("60 * volume / time", inputs), k=2)
    assert answer.u / answer.value == pytest.approx(0.035, abs=5e-4)
    assert answer.expanded == pytest.approx(4.2, abs=0.05)


# -- correlations ---------------------------------------------------------------------------------


def test_resistance_from_correlated_readings_has_the_published_uncertainty() -> None:
    # JCGM 100, H.2 (from memory): V 4.9990 (.0032), I .019661 (.0000095), phi 1.04446 (.00075);
    # r -.36, .86, -.65 -> R 127.732, u .071; X 219.847, u .295; Z 254.260, u .236.
    inputs = {"V": Input(4.9990, u=0.0032), "I": Input(0.019661, u=0.0000095), "phi": Input(1.04446, u=0.00075)}
    pairs = {("V", "I"): -0.36, ("V", "phi"): 0.86, ("I", "phi"): -0.65}
    resistance = first_order(Budget("V / I * cos(phi)", inputs, pairs))
    reactance = first_order(Budget("V / I * sin(phi)", inputs, pairs))
    impedance = first_order(Budget("V / I", {n: inputs[n] for n in "VI"}, {("V", "I"): -0.36}))
    # Tolerance: the printed inputs and r are rounded to two digits.
    assert (resistance.value, resistance.u) == pytest.approx((127.732, 0.071), abs=2e-3)
    assert (reactance.value, reactance.u) == pytest.approx((219.847, 0.295), abs=2e-3)
    assert (impedance.value, impedance.u) == pytest.approx((254.260, 0.236), abs=2e-3)
    assert math.fsum(each.share for each in resistance.contributions) == pytest.approx(1, rel=1e-12)


def test_ten_resistors_of_one_calibration_add_up_and_independent_ones_do_not() -> None:
    # JCGM 100, 5.2.2, example (from memory): ten of 1000 ohm, u 100 mohm each: 1 ohm together, .32 ohm if independent.
    names = [f"R{place}" for place in range(10)]
    inputs = {name: Input(1000, u=0.1) for name in names}
    pairs = {(one, other): 1.0 for place, one in enumerate(names) for other in names[:place]}
    assert first_order(Budget("+".join(names), inputs, pairs)).u == pytest.approx(1.0, rel=1e-12)
    assert first_order(Budget("+".join(names), inputs)).u == pytest.approx(0.32, abs=0.005)


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 2**32 - 1))
def test_correlated_budgets_equal_the_uncertainties_package(seed: int) -> None:
    generator = np.random.default_rng(seed)
    square = generator.normal(size=(3, 3))
    covariance = square @ square.T
    u = np.sqrt(np.diag(covariance))
    values = generator.uniform(1, 3, 3)
    a, b, c = correlated_values(values, covariance)
    expected = a * b / umath.sqrt(c) + umath.sin(a) - umath.exp(b / 5)
    names = ("a", "b", "c")
    pairs = {(names[i], names[j]): covariance[i, j] / (u[i] * u[j]) for i in range(3) for j in range(i)}
    inputs = {name: Input(value, u=each) for name, value, each in zip(names, values, u, strict=True)}
    answer = first_order(Budget("a * b / sqrt(c) + sin(a) - exp(b / 5)", inputs, pairs))
    assert answer.value == pytest.approx(expected.nominal_value, rel=1e-12)
    assert answer.u == pytest.approx(expected.std_dev, rel=1e-8)


def test_degrees_of_freedom_of_correlated_inputs_are_spoken_of() -> None:
    readings = {"a": Input(1, u=0.1, freedom=4), "b": Input(2, u=0.1, freedom=9), "c": Input(1, u=0.05, freedom=20)}
    answer = first_order(Budget("a + b + c", readings, {("a", "b"): 0.5}))
    assert any("does not hold for correlated inputs" in note for note in answer.notes)
    # Paired readings are one part: u^2 = .01 + .01 + 2 x .5 x .01 = .03 with 4, and .0025 with 20 degrees of freedom.
    assert answer.unrounded_freedom == pytest.approx(0.0325**2 / (0.03**2 / 4 + 0.0025**2 / 20), rel=1e-12)
    unlimited = {name: Input(known.value, u=known.u) for name, known in readings.items()}
    assert not first_order(Budget("a + b + c", unlimited, {("a", "b"): 0.5})).notes


@pytest.mark.parametrize(
    ("pairs", "words"),
    [
        ({("a", "b"): 0.9, ("b", "c"): 0.9, ("a", "c"): -0.9}, "contradict each other"),
        ({("a", "b"): 1.2}, "from -1 to 1"),
        ({("a", "a"): 0.5}, "with itself"),
        ({("a", "x"): 0.5}, "`x`, which is no input"),
        ({("a", "b"): 0.5, ("b", "a"): 0.5}, "twice"),
        ({("a", "exact"): 0.5}, "exact and cannot"),
        ({("a", "b"): math.nan}, "finite number"),
    ],
)
def test_impossible_correlations_are_refused(pairs: dict[tuple[str, str], float], words: str) -> None:
    inputs = {"a": Input(1, u=1), "b": Input(1, u=1), "c": Input(1, u=1), "exact": Input(2)}
    with pytest.raises(EvidenceError, match=words):
        Budget("a + b + c + exact", inputs, pairs)


def test_full_correlation_with_the_difference_leaves_nothing_to_first_order() -> None:
    inputs = {"a": Input(3, u=0.1), "b": Input(1, u=0.1)}
    with pytest.raises(EvidenceError, match="sees no uncertainty"):
        first_order(Budget("a - b", inputs, {("a", "b"): 1}))


# -- how an input is known ------------------------------------------------------------------------


def test_every_way_of_knowing_gives_its_standard_uncertainty() -> None:
    # JCGM 100, 4.3: expanded / k; rectangular a / sqrt 3 (4.3.7); triangular a / sqrt 6 (4.3.9); normal with 50 % and
    # two thirds inside (4.3.5: u = 1.48 a; 4.3.6: u = a); U-shaped a / sqrt 2 (JCGM 101, 6.4.6).
    assert Input(1, expanded=240e-6, k=3).u == pytest.approx(80e-6)
    assert Input(1, half_width=3).u == pytest.approx(math.sqrt(3))
    assert Input(1, half_width=6, shape="triangular").u == pytest.approx(math.sqrt(6))
    assert Input(1, half_width=2, shape="U-shaped").u == pytest.approx(math.sqrt(2))
    assert Input(1, half_width=1, shape="normal", level=0.5).u == pytest.approx(1.48, abs=0.005)
    assert Input(1, half_width=1, shape="normal", level=2 / 3).u == pytest.approx(1, abs=0.04)
    assert Input(1, half_width=1.96, shape="normal").u == pytest.approx(1, abs=1e-4)


def test_readings_give_mean_spread_and_degrees_of_freedom() -> None:
    readings = [10.1, 10.3, 9.9]
    known = Input(readings=readings)
    assert known.value == pytest.approx(np.mean(readings))
    assert known.u == pytest.approx(stats.sem(readings), rel=1e-12)
    assert known.freedom == 2
    pooled = Input(readings=readings, pooled_s=0.13, freedom=24)
    assert (pooled.u, pooled.freedom) == (pytest.approx(0.13 / math.sqrt(3)), pytest.approx(24))
    # JCGM 100, H.1.3.2: pooled s 13 nm of 25 readings, five averaged: u = 5.8 nm.
    assert Part(pooled_s=13, count=5, freedom=24).u == pytest.approx(5.8, abs=0.05)
    with_scale = Input(readings=readings, parts=[Part(half_width=0.05)])
    assert with_scale.u == pytest.approx(math.hypot(known.u, 0.05 / math.sqrt(3)))


def test_readings_that_are_all_alike_are_spoken_of() -> None:
    answer = first_order(Budget("a + b", {"a": Input(readings=[5, 5, 5]), "b": Input(1, u=0.1)}))
    assert any("All readings of `a` are alike" in note for note in answer.notes)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Input(1, u=-1), "at least 0"),
        (lambda: Input(math.nan, u=1), "finite number"),
        (lambda: Input(1, u=math.inf), "finite number"),
        (lambda: Input("83 mm", u=1), "finite number"),
        (lambda: Input(1, u=1, half_width=1), "exactly one way"),
        (lambda: Input(1, expanded=1), "without its coverage factor"),
        (lambda: Input(1, expanded=1, k=0), "above 0"),
        (lambda: Input(1, u=1, k=2), "k belongs to expanded"),
        (lambda: Input(1, half_width=1, shape="round"), "shape cannot be"),
        (lambda: Input(1, half_width=1, shape="normal", level=1), "no ends"),
        (lambda: Input(1, half_width=1, level=0.9), "level belongs to a normal shape"),
        (lambda: Input(1, u=1, freedom=0), "at least 1"),
        (lambda: Input(1, pooled_s=1), "without its degrees of freedom"),
        (lambda: Input(readings=[1.0]), "shows no spread"),
        (lambda: Input(readings=[]), "at least 1"),
        (lambda: Input(1, readings=[1, 2]), "either a value or readings"),
        (lambda: Input(u=1), "either a value or readings"),
        (lambda: Part(), "none is given"),
    ],
)
def test_what_cannot_be_known_that_way_is_refused(make: Callable[[], Any], words: str) -> None:
    with pytest.raises(EvidenceError, match=words):
        make()


# -- budgets that cannot be worked out ------------------------------------------------------------


@pytest.mark.parametrize(
    ("formula", "inputs", "words"),
    [
        ("a / b", {"a": Input(1, u=1), "b": Input(0, u=1)}, "no value"),
        ("sqrt(a)", {"a": Input(-1, u=1)}, "no value"),
        ("sqrt(a)", {"a": Input(0, u=1)}, "no slope"),
        ("log(a)", {"a": Input(0, u=1)}, "no value"),
        ("a ** 0.5", {"a": Input(-4, u=1)}, "no value"),
        ("exp(a)", {"a": Input(1e6, u=1)}, "no value"),
        ("9 ** 9 ** 9 ** a", {"a": Input(9, u=1)}, "no value"),
        ("a + b", {"a": Input(1), "b": Input(2)}, "no input has an uncertainty"),
        ("a ** 2", {"a": Input(0, u=1)}, "sees no uncertainty"),
        ("max(a, 0)", {"a": Input(1, u=1)}, "kink"),
        ("abs(a)", {"a": Input(1, u=1)}, "kink"),
        (lambda b: b, {"a": Input(1, u=1)}, "takes? .*by name|cannot be called"),
    ],
)
def test_a_budget_without_an_answer_is_refused_in_a_sentence(
    formula: Any, inputs: dict[str, Input], words: str
) -> None:
    with pytest.raises(EvidenceError, match=words):
        first_order(Budget(formula, inputs))


@pytest.mark.parametrize(
    ("formula", "inputs", "words"),
    [
        ("a + c", {"a": Input(1, u=1), "b": Input(1, u=1)}, "`c` stands in the formula"),
        ("a", {"a": Input(1, u=1), "b": Input(1, u=1)}, "`b` does not stand in the formula"),
        ("1 + 1", {}, "no inputs"),
        ("a", {"a": 3}, "must be an Input"),
        ("a", {"a b": Input(1)}, "cannot be the name"),
        ("a", {"sqrt": Input(1)}, "meaning of its own"),
        ("a", {"lambda": Input(1)}, "meaning of its own"),
    ],
)
def test_a_budget_that_does_not_fit_is_refused_when_it_is_made(formula: str, inputs: Any, words: str) -> None:
    with pytest.raises(EvidenceError, match=words):
        Budget(formula, inputs)


@pytest.mark.parametrize("confidence", [0, 1, -0.1, 95, math.nan])
def test_a_level_that_is_none_is_refused(confidence: float) -> None:
    with pytest.raises(EvidenceError, match="confidence"):
        first_order(mass(), confidence)


def test_far_from_its_kink_abs_is_a_formula_like_any_other() -> None:
    assert first_order(Budget("abs(a)", {"a": Input(-10, u=1)})).value == 10
    assert first_order(Budget("abs(a)", {"a": Input(-10, u=1)})).contributions[0].sensitivity == -1


def test_a_root_that_ends_nearby_has_no_second_order_and_says_so() -> None:
    answer = first_order(Budget("sqrt(a)", {"a": Input(0.1, u=1)}))
    assert answer.second_order_u is None
    assert any("cannot be worked out" in note for note in answer.notes)


# -- how an answer is written ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "u", "written"),
    [
        # JCGM 100, 7.2.2 (from memory): 100.02147 g with u .35 mg is written 100.02147(35) g.
        (100.021470, 0.00035, ("100.02147", "0.00035")),
        (978.9064, 8.165, ("978.9", "8.2")),
        (978_906.4, 8165, ("978900", "8200")),
        (0.0999, 0.0996, ("0.10", "0.10")),
        (-0.0004, 0.1, ("0.00", "0.10")),
        (12, 0, ("12", "0")),
        (1.2345e-9, 2.2e-11, ("1.234e-9", "2.2e-11")),
    ],
)
def test_value_and_uncertainty_are_written_to_the_same_place(value: float, u: float, written: tuple[str, str]) -> None:
    assert rounded_together(value, u) == written

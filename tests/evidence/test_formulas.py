"""Formulas hold arithmetic and nothing else, and their units must fit."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, strategies as st

from riskkit.evidence import Budget, EvidenceError, Input, first_order, read_formula
from riskkit.evidence.dimensions import dimension_of
from riskkit.evidence.draws import worked_out
from riskkit.evidence.slopes import value_at
from riskkit.units import scale_of


def value_of(text: str, **values: float) -> float:
    return value_at(Budget(text, {name: Input(value) for name, value in values.items()}), values)


def test_a_formula_is_worked_out_as_python_does_it() -> None:
    x, y = 0.3, 2.5
    assert value_of("(x + y) * 2 - x / y", x=x, y=y) == (x + y) * 2 - x / y
    assert value_of("-x ** 2 + +y", x=x, y=y) == -(x**2) + y
    assert value_of("2 ** y ** x", x=x, y=y) == 2**y**x
    assert value_of("1.5e-3 * x * pi", x=x) == 1.5e-3 * x * math.pi
    assert value_of("min(x, y, 1) + max(x, y) + abs(-x)", x=x, y=y) == x + y + x
    for name in ("sqrt", "exp", "log", "log10", "sin", "cos", "tan", "asin", "acos", "atan"):
        assert value_of(f"{name}(x)", x=x) == getattr(math, name)(x)


def test_signs_as_people_type_them_are_read() -> None:
    assert value_of("ρ·g × h − 1 ÷ 2", ρ=2, g=3, h=4) == 23.5
    assert read_formula("a +\n  b").text == "a + b"


def test_names_are_listed_in_the_order_of_the_formula() -> None:
    assert read_formula("b * sin(a) + pi * b / c").names == ("b", "a", "c")


def test_arrays_and_single_numbers_agree() -> None:
    text = "min(x, 0.4) + max(x, y) * abs(x - y) + atan(x) ** 2 / log10(y + 2) + sqrt(y)"
    x, y = np.linspace(-1, 1, 7), np.linspace(0.1, 2, 7)
    budget = Budget(text, {"x": Input(0, u=1), "y": Input(1, u=1)})
    one_by_one = [value_at(budget, {"x": float(a), "y": float(b)}) for a, b in zip(x, y, strict=True)]
    assert worked_out(budget, {"x": x, "y": y}) == pytest.approx(one_by_one, rel=1e-14)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "empty"),
        ("   ", "empty"),
        ("x.real", "has a dot"),
        ("math.sqrt(x)", "has a dot|not arithmetic"),
        ("__import__('os').system('true')", "has a dot|not arithmetic"),
        ("().__class__", "has a dot"),
        ("eval('1')", "no function `eval`"),
        ("cosh(x)", "no function `cosh`"),
        ("sqrt(x, y)", "works on one value"),
        ("sqrt()", "works on one value"),
        ("max(x)", "two or more"),
        ("max(*x, 1)", "two or more"),
        ("log(x, base=2)", "not arithmetic"),
        ("x if y else z", "not arithmetic"),
        ("[x for x in y]", "not arithmetic"),
        ("lambda: 1", "not arithmetic|word of the language"),
        ("(a := 1)", "not arithmetic|equals"),
        ("x[0]", "not arithmetic"),
        ("x < y", "not arithmetic"),
        ("x and y", "not arithmetic"),
        ("'text'", "not a number"),
        ("True", "not a number"),
        ("2j", "not a number"),
        ("1e999", "not a number"),
        ("x // y", "a sign that a formula does not know"),
        ("x % y", "a sign that a formula does not know"),
        ("x @ y", "a sign that a formula does not know"),
        ("x ^ 2", "is no power"),
        ("~x", "a sign that a formula does not know"),
        ("0,5 * x", "a comma"),
        ("2 x", "cannot be read"),
        ("p = x * y", "equals sign"),
        ("x +", "cannot be read"),
        ("(x", "cannot be read"),
        ("x # times y", "a #"),
        ("in * x", "word of the language"),
        ("x\0", "cannot be read"),
        ("(" * 400 + "x" + ")" * 400, "cannot be read"),
        ("x" * 1001, "1000 is the most"),
    ],
)
def test_anything_but_arithmetic_is_refused_in_a_sentence(text: str, words: str) -> None:
    with pytest.raises(EvidenceError, match=words) as caught:
        read_formula(text)
    assert "\n" not in caught.value.headline
    assert caught.value.help


def test_a_misspelt_function_is_guessed() -> None:
    with pytest.raises(EvidenceError) as caught:
        read_formula("sqr(x)")
    assert caught.value.help == "did you mean `sqrt`?"


@given(st.text(max_size=60))
def test_no_text_at_all_breaks_the_reader(text: str) -> None:
    try:
        formula = read_formula(text)
    except EvidenceError:
        return
    values = dict.fromkeys(formula.names, 1.5)
    try:
        budget = Budget(formula, {name: Input(value, u=0.1) for name, value in values.items()})
        first_order(budget)
    except EvidenceError:
        pass


def test_a_long_sum_is_worked_out() -> None:
    assert value_of("+".join(["x"] * 400), x=0.5) == 200


# -- units ----------------------------------------------------------------------------------------


def dimension(text: str, **units: str) -> str:
    named = {name: scale_of(unit).dimension for name, unit in units.items()}
    return dimension_of(read_formula(text), named).words


def test_the_answer_of_a_formula_has_the_unit_of_physics() -> None:
    assert (
        dimension("(rho_w - rho_a) * g * h * cos(tilt)", rho_w="kg/m3", rho_a="g/L", g="m/s2", h="mm", tilt="deg")
        == "a pressure"
    )
    assert dimension("volume / time", volume="L", time="s") == "a flow"
    assert dimension("sqrt(2 * p / rho)", p="hPa", rho="kg/m3") == "a speed"
    assert dimension("pi / 4 * d ** 2", d="mm") == "an area"
    assert dimension("d ** -(1 + 1)", d="m") == "something in 1/m²"
    assert dimension("t - t0", t="degC", t0="degC") == "a temperature"
    assert dimension("max(a, b) / abs(a)", a="mm", b="in") == "a plain number"
    assert dimension("exp(-t / tau) * x ** n", t="s", tau="min", x="%", n="1") == "a plain number"
    assert dimension("U * I * t", U="V", I="A", t="h") == "an energy"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("h + p", "`h` is a length and `p` is a pressure: they cannot be added"),
        ("h - 2", "`h` is a length and `2` is a plain number: they cannot be subtracted"),
        ("min(h, p)", "cannot be compared"),
        ("sin(h)", "`sin` works on a plain number, and `h` is a length"),
        ("log(h)", "`log` works on a plain number"),
        ("2 ** h", "an exponent is a plain number"),
        ("h ** n", "not a fixed number"),
        ("h ** (1 / 0)", "is not a plain number"),
    ],
)
def test_units_that_do_not_fit_are_named_with_their_place_in_the_formula(text: str, words: str) -> None:
    named = {name: scale_of(unit).dimension for name, unit in (("h", "mm"), ("p", "hPa"), ("n", "1"))}
    with pytest.raises(EvidenceError) as caught:
        dimension_of(read_formula(text), named)
    assert words in caught.value.headline

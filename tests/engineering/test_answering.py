"""What every model shares: uncertainty, ranges, refusals, solving backwards, sweeping.

The models here are made for the test: their answers are elementary, so that what is expected is known without riskkit.
"""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given as drawn_from, strategies as some
from scipy import optimize

from riskkit.engineering import (
    Check,
    EngineeringError,
    Found,
    Given,
    Model,
    Outcome,
    all_models,
    calculate,
    evaluate,
    model,
    prove,
    slopes_of,
    solve_for,
    sweep,
)
from riskkit.engineering.proving import summary
from riskkit.evidence import Budget, Input, monte_carlo
from riskkit.units import UnitError


def a_model(function: Any, *givens: Given, finds: tuple[Found, ...] = (), checks: tuple[Check, ...] = ()) -> Model:
    """A model of plain numbers."""
    return Model(
        name="of-a-test",
        title="something elementary",
        formula="y = f(x)",
        source="elementary",
        holds="numbers",
        givens=givens,
        finds=finds or (Found("y", "number", "", "answer"),),
        function=function,
        checks=checks,
        example={each.name: "1" for each in givens if each.default is None},
    )


def number(name: str = "x", **more: Any) -> Given:
    return Given(name, "number", f"number {name}", **more)


SUM = a_model(lambda a, b, c, d: Outcome({"y": a + b + c + d}), *(number(name) for name in "abcd"))
PRODUCT = a_model(lambda x, z: Outcome({"y": x * z}), number("x"), number("z"))
SQUARE = a_model(lambda x: Outcome({"y": x * x}), number(low="-5", high="5"))
LOGARITHM = a_model(lambda x: Outcome({"y": math.log(x)}), number())
ROOT = a_model(lambda x: Outcome({"y": x**0.5}), number())
JUMP = a_model(lambda x: Outcome({"y": 1.0 if x > 0.3 else -1.0}), number(low="0", high="1"))
POLE = a_model(lambda x: Outcome({"y": 1 / (x - 0.3)}), number(low="0", high="1"))


# Uncertainty


def test_four_equal_inputs_add_as_squares() -> None:
    # JCGM 101:2008, 9.2.2: four standard normal inputs, additive: u = 2.0; published, from memory. Here U = 2 u each.
    found = calculate(SUM, a="0±2", b="0±2", c="0±2", d="0±2").main
    assert found.uncertainty == pytest.approx(4.0, rel=1e-9)
    assert [each.share for each in found.contributions] == pytest.approx([0.25] * 4)
    assert not found.remarks


def test_relative_uncertainties_of_a_product_add_as_squares() -> None:
    # JCGM 100:2008, 5.1.6: (u(y)/y)² = Σ (u(x)/x)² for a product; 3 % and 4 % give 5 %.
    found = calculate(PRODUCT, x="10±3%", z="2±4%").main
    assert found.uncertainty == pytest.approx(0.05 * 20, rel=1e-9)
    assert [each.name for each in found.contributions] == ["z", "x"]
    assert found.contributions[0].share == pytest.approx(16 / 25)
    assert found.written == "20.0 ± 1.0"


def test_no_stated_uncertainty_is_no_uncertainty_of_zero() -> None:
    found = calculate(PRODUCT, x="10", z="2").main
    assert found.uncertainty is None
    assert found.written == "20"


@pytest.mark.parametrize(("spread", "rough"), [("0.02", False), ("0.1", False), ("1", True), ("0.5", True)])
def test_a_bend_inside_the_uncertainty_is_said(spread: str, rough: bool) -> None:
    # x² at 1 ± U reaches 1 ± 2U + U²: the bend U² against 2U is U/2.
    told = calculate(SQUARE, x=f"1±{spread}").main.remarks
    assert any("far from linear in x" in remark for remark in told) == rough


def test_on_a_summit_u_is_not_zero() -> None:
    # x² at 0 ± 1: the slope is 0, and the answer reaches 1.
    found = calculate(SQUARE, x="0±1").main
    assert found.uncertainty == pytest.approx(1.0)
    assert any("far from linear" in remark for remark in found.remarks)


def test_an_uncertainty_that_reaches_where_there_is_no_answer_is_said() -> None:
    told = calculate(LOGARITHM, x="1±1.5").main
    assert told.uncertainty == pytest.approx(math.log(1.75 / 0.25), rel=1e-9)
    assert any("reaches beyond" in remark for remark in told.remarks)


def test_an_input_that_cannot_be_moved_is_not_left_out_in_silence() -> None:
    def only_at_one(x: float) -> Outcome:
        if x != 1:
            raise EngineeringError("only 1", "give 1")
        return Outcome({"y": 1.0})

    told = calculate(a_model(only_at_one, number()), x="1±0.5").main
    assert told.uncertainty is None
    assert any("cannot be carried" in remark for remark in told.remarks)


@pytest.mark.parametrize(
    ("name", "inputs"),
    [
        ("u-tube", {"reading": "83±2 mm", "temperature": "24±4 degC"}),
        ("heat-into-gas", {"power": "14±1 W", "flow": "60±3 L/min"}),
    ],
)
def test_first_order_agrees_with_monte_carlo_where_a_model_is_near_linear(name: str, inputs: dict[str, str]) -> None:
    found = calculate(name, **{**model(name).example, **inputs})
    main = found.main
    assert main.uncertainty is not None
    assert not main.remarks
    fixed = {each.given.name: each.value for each in found.inputs}
    known = {
        each.given.name: Input(each.value, expanded=each.uncertainty, k=2) for each in found.inputs if each.uncertainty
    }
    budget = Budget(lambda **moved: evaluate(name, **{**fixed, **moved}).values[main.found.name], known)
    trials = monte_carlo(budget, 0.9545, digits=1, most_trials=100_000)
    # 100000 trials: the standard deviation is known to 0.22 %, five times that is allowed beside the bend.
    assert trials.u is not None
    assert main.uncertainty == pytest.approx(2 * trials.u, rel=0.015)


@drawn_from(some.floats(-1e3, 1e3), some.floats(1e-3, 1e2), some.floats(-50, 50))
def test_the_uncertainty_of_a_straight_line_is_its_slope_times_that_of_the_input(
    x: float, wide: float, slope: float
) -> None:
    line = a_model(lambda x: Outcome({"y": slope * x + 7}), number())
    found = calculate(line, x=f"{x!r}±{wide!r}").main
    assert found.uncertainty == pytest.approx(abs(slope) * wide, rel=1e-6, abs=1e-9)
    assert not found.remarks


def test_slopes_are_told_for_every_input_in_their_units() -> None:
    # Hydrostatics: 1 mm more of water of 998.2067 kg/m3 (Tanaka 2001, 20 °C) less air of 1.2 is 9.777 Pa.
    slopes = slopes_of(calculate("u-tube", reading="83 mm", temperature="20 degC"), "pressure")
    assert slopes["reading"] == pytest.approx((998.2067 - 1.2) * 9.80665 / 1000 / 100, rel=1e-5)
    assert slopes["gravity"] == pytest.approx((998.2067 - 1.2) * 0.083 / 100, rel=1e-5)
    assert "density" not in slopes
    assert "limbs" not in slopes


def test_an_answer_that_is_not_there_for_these_inputs_is_refused() -> None:
    finds = (Found("y", "number", "", "answer"), Found("z", "number", "", "second answer"))
    some_of_both = a_model(
        lambda x: Outcome({"y": x} if x < 1 else {"y": x, "z": 2 * x} if x < 2 else {}), number(), finds=finds
    )
    assert calculate(some_of_both, x="1").value("z").value == 2
    with pytest.raises(EngineeringError, match="gives no second answer"):
        calculate(some_of_both, x="0").value("z")
    with pytest.raises(EngineeringError, match="no answer for these inputs"):
        calculate(some_of_both, x="3")


def test_a_plain_number_may_be_shown_as_a_share() -> None:
    assert calculate(ROOT, x="0.25").main.converted("%").number == pytest.approx(50)


# Numbers as they are read


@pytest.mark.parametrize(
    ("typed", "written"),
    [
        ("20±0.098", "20.000 ± 0.098"),
        ("20±0.0996", "20.00 ± 0.10"),
        ("1234±123.4", "1230 ± 120"),
        ("0.00012±0.00001", "0.000120 ± 0.000010"),
        ("0±1", "0.0 ± 1.0"),
        ("9999.6", "10000"),
        ("123456", "123456"),
        ("0.65", "0.65"),
    ],
)
def test_u_has_two_digits_and_the_value_the_same_place(typed: str, written: str) -> None:
    # JCGM 100:2008, 7.2.6: U to two significant digits at most, the estimate rounded to agree with it.
    assert calculate(a_model(lambda x: Outcome({"y": x}), number()), x=typed).main.written == written


def test_an_answer_is_shown_in_any_unit_of_its_kind() -> None:
    # Conventional units: NIST SP 811 (2008), B.8, from memory: 1 mmHg = 133.3224 Pa, 1 cmH2O = 98.0665 Pa.
    found = calculate("u-tube", reading="1±0.001 m", density="13595.1 kg/m3", air="0 kg/m3").main
    assert found.in_unit("mmHg") == pytest.approx(1000, rel=1e-6)
    assert found.in_unit("cmH2O") == pytest.approx(1359.51, rel=1e-6)
    assert found.converted("mmHg").width == pytest.approx(1.0, rel=1e-6)
    with pytest.raises(UnitError, match="measures a volume"):
        found.converted("L")


def test_a_temperature_changes_its_zero_and_its_uncertainty_does_not() -> None:
    air = a_model(
        lambda t: Outcome({"t": t}),
        Given("t", "temperature", "temperature", "degC"),
        finds=(Found("t", "temperature", "degC", "temperature"),),
    )
    found = calculate(air, t="20±1 degC").main.converted("degF")
    assert found.number == pytest.approx(68)
    assert found.width == pytest.approx(1.8)


# Ranges


@pytest.mark.parametrize(
    ("typed", "validity"), [("3", "inside"), ("5", "inside"), ("5±0.1", "at the edge"), ("6", "outside")]
)
def test_marked_ranges(typed: str, validity: str) -> None:
    marked = a_model(lambda x: Outcome({"y": x}), number(low="1", high="5", outside="marked"))
    found = calculate(marked, x=typed)
    assert found.validity == validity
    assert bool(found.because) == (validity != "inside")


@pytest.mark.parametrize("typed", ["5.001", "0.999", "-1", "1e300"])
def test_refused_ranges(typed: str) -> None:
    with pytest.raises(EngineeringError, match="takes the number x"):
        calculate(a_model(lambda x: Outcome({"y": x}), number(low="1", high="5")), x=typed)


def test_every_item_of_a_list_has_to_lie_in_the_range() -> None:
    levels = Given("levels", "list", "levels", "mm", items=("length",), low="0 mm", high="10 mm")
    total = a_model(lambda levels: Outcome({"y": sum(levels)}), levels)
    assert calculate(total, levels="1 mm, 2 mm").main.value == pytest.approx(0.003)
    with pytest.raises(EngineeringError, match="up to 10 mm"):
        calculate(total, levels="1 mm, 20 mm")


# Refusals


@pytest.mark.parametrize(
    ("typed", "held"),
    [("nan", LOGARITHM), ("inf", LOGARITHM), ("-1", LOGARITHM), ("0", LOGARITHM), ("-1", ROOT), ("0.3", POLE)],
)
def test_what_has_no_value_is_one_sentence(typed: str, held: Model) -> None:
    with pytest.raises(EngineeringError) as refused:
        calculate(held, x=typed)
    assert refused.value.help


def test_evaluate_refuses_what_it_cannot_work_with() -> None:
    with pytest.raises(EngineeringError, match="needs `reading`"):
        evaluate("u-tube")
    with pytest.raises(EngineeringError, match="no input `readin`"):
        evaluate("u-tube", readin=0.1)
    with pytest.raises(EngineeringError, match="is text"):
        evaluate("u-tube", reading="83 mm")
    with pytest.raises(EngineeringError, match="no finite value"):
        evaluate("u-tube", reading=math.nan)


def test_evaluate_works_with_a_model_that_is_on_no_shelf() -> None:
    own = a_model(lambda x, z: Outcome({"y": x + (z or 0)}), number(), number("z", default=""))
    assert evaluate(own, x=2.0).values["y"] == 2.0
    assert evaluate(own, x=2.0, z=1.0).values["y"] == 3.0


# Backwards


def test_both_roots_of_a_square_are_found() -> None:
    solved = solve_for(SQUARE, "x", "4")
    assert solved.value == pytest.approx(-2, rel=1e-9)
    assert [float(each) for each in solved.others] == pytest.approx([2])


@pytest.mark.parametrize("target", ["25", "0"])
def test_roots_at_the_ends_and_at_a_turning_point_on_the_grid(target: str) -> None:
    assert abs(solve_for(SQUARE, "x", target).value) == pytest.approx(math.sqrt(float(target)), abs=1e-9)


@pytest.mark.parametrize(("held", "target"), [(JUMP, "0"), (POLE, "0")])
def test_a_jump_is_no_root(held: Model, target: str) -> None:
    with pytest.raises(EngineeringError, match="no number x"):
        solve_for(held, "x", target)


def test_a_root_beside_a_pole_is_found() -> None:
    assert solve_for(POLE, "x", "100").value == pytest.approx(0.31, rel=1e-9)


def _of_whole_numbers(x: float) -> Outcome:
    if x != round(x):
        raise EngineeringError("whole numbers only", "give one")
    return Outcome({"y": 1 / 2**x})


def test_a_model_of_whole_numbers_is_solved_and_says_between_which_two_it_jumps() -> None:
    bits = a_model(_of_whole_numbers, number(low="1", high="32"))
    assert solve_for(bits, "x", "0.0009765625").value == 10
    with pytest.raises(EngineeringError) as refused:
        solve_for(bits, "x", "0.001")
    assert "between 9 and 10" in refused.value.help


def test_what_cannot_be_reached_says_what_can() -> None:
    with pytest.raises(EngineeringError) as refused:
        solve_for(SQUARE, "x", "26")
    assert "from 0 to 25" in refused.value.help


def test_an_input_that_may_be_left_out_can_be_solved_for() -> None:
    # 100 mm of a liquid of 1018.4 + 1.2 kg/m3: 1018.4 x 9.80665 x 0.1 = 998.709 Pa.
    solved = solve_for("u-tube", "density", "998.709236 Pa", reading="100 mm")
    assert solved.value == pytest.approx(1019.6, rel=1e-6)


@pytest.mark.parametrize(
    ("wanted", "target", "sentence"),
    [
        ("limbs", "8 hPa", "is a word"),
        ("nothing", "8 hPa", "no input `nothing`"),
        ("reading", "8 L", "is a volume"),
        ("reading", "8", "has no unit"),
        ("reading", "soon", "no number"),
    ],
)
def test_solving_refuses_in_one_sentence(wanted: str, target: str, sentence: str) -> None:
    with pytest.raises(EngineeringError, match=sentence):
        solve_for("u-tube", wanted, target, reading="83 mm")


NUMBERS = [
    (each, taken.given.name)
    for each in all_models()
    for taken in calculate(each, **each.example).inputs
    if taken.given.kind not in ("word", "list", "table") and taken.value is not None
]


@pytest.mark.parametrize("each", all_models(), ids=lambda each: each.name)
def test_every_model_is_solved_back_to_its_example(each: Model) -> None:
    main = calculate(each, **each.example).main
    target = f"{main.number!r} {main.found.unit}".strip()
    for held, wanted in NUMBERS:
        if held is each:
            answer = solve_for(each, wanted, target, **each.example).answer.main
            assert answer.value == pytest.approx(main.value, rel=1e-6, abs=1e-12), wanted


@pytest.mark.parametrize("each", all_models(), ids=lambda each: each.name)
def test_no_input_is_called_like_an_argument_of_the_functions(each: Model) -> None:
    assert not {"answer", "points"} & {given.name for given in each.givens}


# Along


def test_a_sweep_has_its_ends_and_even_steps() -> None:
    swept = sweep(SQUARE, "x", "-2", "2", 5)
    assert [point.value for point in swept.points] == [-2, -1, 0, 1, 2]
    assert [point.answers[0] for point in swept.points] == pytest.approx([4, 1, 0, 1, 4])


def test_a_sweep_may_fall() -> None:
    assert [point.value for point in sweep(SQUARE, "x", "2", "0", 3).points] == [2, 1, 0]


def test_a_point_without_an_answer_says_why() -> None:
    low, high = sweep(SQUARE, "x", "0", "10", 2).points
    assert (low.validity, low.because) == ("inside", "")
    assert (high.validity, high.answers) == ("no answer", (None,))
    assert "up to 5" in high.because


@pytest.mark.parametrize(
    ("along", "first", "last", "points", "sentence"),
    [
        ("x", "1", "1", 5, "both ends"),
        ("x", "0", "1", 1, "1 points"),
        ("x", "0", "1", 10**9, "points"),
        ("x", "7", "8", 5, "up to 5"),
        ("x", "a", "1", 5, "no plain number"),
        ("y", "0", "1", 5, "no input `y`"),
    ],
)
def test_a_sweep_refuses_in_one_sentence(along: str, first: str, last: str, points: int, sentence: str) -> None:
    with pytest.raises(EngineeringError, match=sentence):
        sweep(SQUARE, along, first, last, points)


# Checks


def test_a_wrong_check_and_a_refused_one_do_not_hold() -> None:
    held = a_model(
        lambda x: Outcome({"y": x * x}),
        number(high="5"),
        checks=(
            Check({"x": "2"}, "y", "4", "published", "elementary arithmetic"),
            Check({"x": "2"}, "y", "4.1", "published", "a wrong value"),
            Check({"x": "6"}, "y", "36", "limit", "outside of the range"),
        ),
    )
    proofs = prove(held)
    assert [proof.holds for proof in proofs] == [True, False, False]
    assert "up to 5" in proofs[2].refusal
    assert summary(held, proofs) == "2 of 3 checks do not hold here"


def test_a_model_without_a_value_from_outside_is_not_verified() -> None:
    held = a_model(
        lambda x: Outcome({"y": x}), number(), checks=(Check({"x": "1"}, "y", "1", "constructed", "by hand"),)
    )
    assert not held.is_verified
    assert summary(held, prove(held)) == "not verified: 1 check, none of them from outside"


# -- at the ends of what may be typed --------------------------------------------------------------


def test_a_slope_is_one_sided_where_the_formula_is_complex_beyond_the_end() -> None:
    # A smooth wall is the default; a roughness below 0 to the power of 1.11 is no real number. Value: Colebrook (1939)
    # for a smooth wall at Re 1e5, solved here by scipy.
    answer = calculate("friction-factor", reynolds=1e5)
    smooth = optimize.brentq(lambda f: 1 / math.sqrt(f) + 2 * math.log10(2.51 / (1e5 * math.sqrt(f))), 0.01, 0.03)
    assert answer.value("friction").number == pytest.approx(smooth, rel=1e-9)
    assert slopes_of(answer, "friction")["roughness"] > 0


@pytest.mark.parametrize("typed", ["0.65±", "0.65±nan", "0.65±inf", "6_5e-2", "0.65±0_1"])
def test_half_a_number_is_refused(typed: str) -> None:
    with pytest.raises(EngineeringError, match="no plain number"):
        calculate("orifice", pressure="5 hPa", diameter="2 mm", coefficient=typed)


def test_a_bare_share_is_not_taken_for_a_hundredth_of_itself() -> None:
    with pytest.raises(EngineeringError, match="has no unit") as refused:
        calculate("oxygen-mix", air="20 L/min", oxygen="5 L/min", source_fraction="0.93")
    assert refused.value.help == "write `93 %` for the share 0.93, or `0.93 %`"

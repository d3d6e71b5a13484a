"""`riskkit budget` as a person meets it: the table, the JSON, and what it says of a file with a mistake."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from typer.testing import CliRunner

from riskkit.cli.budgeting import show_budget
from riskkit.cli.commands import app
from riskkit.diagnostics import RiskkitError
from riskkit.evidence import first_order
from riskkit.evidence.propagation import converted
from riskkit.text.budgets import load_budget

EXAMPLES = Path(__file__).parent.parent.parent / "catalogs" / "examples" / "budgets"


class Done(NamedTuple):
    """What a run of the program comes to."""

    returncode: int
    stdout: str
    stderr: str


def run(*arguments: object, columns: int = 100) -> Done:
    """The command in this process; a refusal is told as the program tells it."""
    runner = CliRunner(env={"COLUMNS": str(columns)})
    done = runner.invoke(app, ["budget", *map(str, arguments)])
    if isinstance(done.exception, RiskkitError):
        return Done(2, done.stdout, f"riskkit: {done.exception.headline}\n  {done.exception.help}\n")
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return Done(done.exit_code, done.stdout, done.stderr)


def answer_of(path: Path, *arguments: object) -> Any:
    done = run(path, "--format", "json", *arguments)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def written(folder: Path, text: str) -> Path:
    path = folder / "b.yaml"
    path.write_text(text)
    return path


def one(known: str, *, formula: str = "x", unit: str = "mm") -> str:
    return f"budget:\n  unit: {unit}\n  formula: {formula}\n  inputs:\n    x: {known}\n"


# -- the answer -----------------------------------------------------------------------------------


def test_the_table_names_value_uncertainty_factor_rule_and_the_biggest_contributor() -> None:
    told = run(EXAMPLES / "end-gauge.yaml").stdout
    # JCGM 100, H.1: 50.000838 mm, U99 = 93 nm (92.6 with components that are not rounded), k 2.92, 16 degrees.
    assert "length = (50.000838 ± 0.000092) mm, covering 99 %, two-sided" in told
    assert "k = 2.921" in told
    assert "effective degrees of freedom: 16 (16.7571, cut off to the next lower whole number)" in told
    assert "U is rounded to two significant digits and the value to the same place" in told
    assert "The biggest contributor is ls, with 62 % of the variance" in told
    assert "Terms of second order make u 6.8 % larger" in told
    assert told.splitlines()[3].split() == [
        "input",
        "value",
        "u",
        "known",
        "as",
        "sensitivity",
        "adds,",
        "in",
        "mm",
        "share",
    ]


@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*.yaml")), ids=lambda path: path.stem)
def test_every_example_is_an_estimate_of_a_bench_measurement(path: Path) -> None:
    for columns in (44, 72, 100):
        done = run(path, columns=columns)
        assert done.returncode == 0
        assert max(map(len, done.stdout.splitlines())) <= columns
        assert "This is an estimate of a bench measurement" in done.stdout
        assert "nothing about a use on a person" in " ".join(done.stdout.split())
        assert done.stderr == ""


def test_the_json_carries_every_number_unrounded_with_unit_estimand_method_and_level() -> None:
    answer = answer_of(EXAMPLES / "end-gauge.yaml")
    first = answer["first_order"]
    assert first["u"] == pytest.approx(31.66e-6, rel=1e-3)
    assert len(repr(first["u"])) > 12
    assert (first["unit"], first["estimand"], first["confidence"], first["sides"]) == (
        "mm",
        "length",
        0.99,
        "two-sided",
    )
    assert "JCGM 100" in first["method"]
    assert (first["effective_freedom"], first["freedom_rounding"]) == (16, "down")
    assert first["unrounded_freedom"] == pytest.approx(16.757, abs=1e-3)
    assert first["expanded"] == first["k"] * first["u"]
    assert sum(each["share"] for each in first["contributions"]) == pytest.approx(1)
    by_name = {each["name"]: each for each in answer["inputs"]}
    assert (by_name["d"]["unit"], by_name["d"]["value"]) == ("nm", pytest.approx(215))
    assert len(by_name["d"]["parts"]) == 3
    assert by_name["alpha"]["freedom"] is None
    assert answer["monte_carlo"] is None
    assert "bench measurement" in answer["caution"]


def test_sensitivities_and_contributions_are_in_typed_units() -> None:
    answer = answer_of(EXAMPLES / "u-tube.yaml")
    by_name = {each["name"]: each for each in answer["first_order"]["contributions"]}
    # By hand: 997 kg/m3 x 9.81 m/s2 = 9780.57 Pa/m = .0978057 hPa/mm; x 1 mm / sqrt 6 = .039929 hPa.
    assert by_name["h"]["sensitivity"] == pytest.approx(0.0978057, rel=1e-6)
    assert by_name["h"]["sensitivity_unit"] == "(hPa)/(mm)"
    assert by_name["h"]["contribution"] == pytest.approx(0.0399290, rel=1e-5)
    assert answer["first_order"]["value"] == pytest.approx(8.1178731, rel=1e-7)
    assert answer["first_order"]["biggest"] == "h"


def test_monte_carlo_is_the_same_for_the_same_seed(tmp_path: Path) -> None:
    path = written(tmp_path, one("{value: 83 mm, u: 1.1 mm}"))
    first, again = (answer_of(path, "--monte-carlo", "--seed", 3)["monte_carlo"] for _ in range(2))
    other = answer_of(path, "--monte-carlo", "--seed", 4)["monte_carlo"]
    assert first == again
    assert first["mean"] != other["mean"]
    assert (first["seed"], first["probability"], first["unit"]) == (3, 0.95, "mm")
    assert first["stable"]
    assert first["symmetric"]["lower"] == pytest.approx(83 - 1.96 * 1.1, abs=first["scatter"] + 5e-3)
    assert first["mean"] == pytest.approx(83, abs=first["scatter"])
    told = run(path, "--monte-carlo", "--seed", 3).stdout
    assert "seed 3; stable to 0.05 mm" in told
    assert "First order holds" in told


def test_the_level_can_be_asked_for() -> None:
    path = EXAMPLES / "disc-valve.yaml"
    for typed in ("99%", "99 %", "0.99"):
        first = answer_of(path, "--confidence", typed)["first_order"]
        assert first["confidence"] == 0.99
        assert first["k"] == pytest.approx(2.5758, abs=5e-5)
    for typed in ("99", "0", "1", "-5%", "much", "nan"):
        done = run(path, "--confidence", typed)
        assert done.returncode == 2
        assert "--confidence cannot be" in done.stderr


def test_correlated_inputs_share_their_variance() -> None:
    # Two masses with r = .8: u(m) = .5 sqrt(2 + 2 x .8) = .9487 g of 83 g; bore .05 of 24 mm counts twice.
    first = answer_of(EXAMPLES / "disc-valve.yaml")["first_order"]
    assert first["u"] / first["value"] == pytest.approx(((0.9486833 / 83) ** 2 + (2 * 0.05 / 24) ** 2) ** 0.5, rel=1e-6)
    assert "The biggest contributors are m_disc and m_weight" in run(EXAMPLES / "disc-valve.yaml").stdout


def test_what_first_order_cannot_see_is_left_to_monte_carlo(tmp_path: Path) -> None:
    path = written(tmp_path, one("{value: 0 mm, u: 1 mm}", formula="x**2", unit="mm2"))
    done = run(path)
    assert done.returncode == 2
    assert "b.yaml:3:" in done.stderr
    assert "--monte-carlo" in done.stderr
    asked = answer_of(path, "--monte-carlo")
    assert asked["first_order"] is None
    assert asked["monte_carlo"]["mean"] == pytest.approx(1, abs=0.01)
    assert "First order gives no answer" in run(path, "--monte-carlo").stdout


# -- what can be typed ----------------------------------------------------------------------------


def value_of(folder: Path, text: str) -> tuple[float, float]:
    """Value and standard uncertainty in the unit asked for."""
    file = load_budget(written(folder, text))
    answer = converted(first_order(file.budget), file.scale.unit, file.scale.factor, file.scale.offset)
    return answer.value, answer.u


@pytest.mark.parametrize(
    ("known", "u"),
    [
        ("{value: 83 mm, u: 0.5 mm}", 0.5),
        ("{value: 8.3 cm, u: 500 um}", 0.5),
        ("{value: 83 mm, u: 1 %}", 0.83),
        ("{value: 83 mm, half_width: 3 %, shape: rectangular}", 0.03 * 83 / 3**0.5),
        ("{value: 83 mm, half_width: 1 mm, shape: U-shaped}", 0.5**0.5),
        ("{value: 83 mm, half_width: 1.96 mm, shape: normal, level: 95 %}", 1.0),
        ("{value: 83 mm, expanded: 1 mm, k: 2}", 0.5),
        ("{value: 83 mm, expanded: 1e-3 m, k: 2, freedom: 12}", 0.5),
        ("{value: 83 mm, pooled_s: 1 mm, count: 4, freedom: 20}", 0.5),
        ("{readings: [82 mm, 83 mm, 8.4 cm]}", 3**-0.5),
        ("{readings: [82 mm, 83 mm, 84 mm], parts: [{u: 1 mm}]}", (1 / 3 + 1) ** 0.5),
        ("{readings: [82 mm, 84 mm], pooled_s: 1 mm, freedom: 9}", 0.5**0.5),
        ("{value: 83 mm, u: 3 mm, parts: [{u: 4 mm, because: two}]}", 5.0),
    ],
)
def test_every_way_of_knowing_can_be_typed(known: str, u: float, tmp_path: Path) -> None:
    told = value_of(tmp_path, one(known))
    assert told == (pytest.approx(83, rel=1e-12), pytest.approx(u, rel=1e-4))


def test_temperatures_have_an_offset_and_their_uncertainties_have_none(tmp_path: Path) -> None:
    for u in ("2 K", "2 °C", "3.6 degF"):
        told = value_of(tmp_path, one(f"{{value: 21 °C, u: {u}}}", unit="°C"))
        assert told == (pytest.approx(21, abs=1e-9), pytest.approx(2, abs=1e-9))
    # 21 degC is 69.8 degF (NIST SP 811, B.8).
    assert value_of(tmp_path, one("{value: 21 °C, u: 2 K}", unit="degF")) == (pytest.approx(69.8), pytest.approx(3.6))
    rise = "budget:\n  unit: K\n  formula: a - b\n  inputs:\n    a: {value: 30 °C, u: 0.3 K}\n    b: {value: 21 °C, u: 0.4 K}\n"
    assert value_of(tmp_path, rise) == (pytest.approx(9), pytest.approx(0.5))
    below = one("{value: -0.1 K, u: 0.4 K}", unit="K")
    assert value_of(tmp_path, below) == (pytest.approx(-0.1), pytest.approx(0.4))


def test_a_temperature_in_degrees_says_how_it_enters_the_formula(tmp_path: Path) -> None:
    told = " ".join(run(written(tmp_path, one("{value: 21 °C, u: 2 K}", unit="°C"))).stdout.split())
    assert "21 °C enters the formula as 294.15 K" in told


def test_plain_numbers_percent_and_angles(tmp_path: Path) -> None:
    ratio = "budget:\n  formula: x * y\n  inputs:\n    x: {value: 0.5, u: 0.01}\n    y: 2\n"
    assert value_of(tmp_path, ratio) == (pytest.approx(1), pytest.approx(0.02))
    relative = "budget:\n  formula: x\n  inputs:\n    x: {value: 0.5, u: 2 %}\n"
    assert value_of(tmp_path, relative) == (pytest.approx(0.5), pytest.approx(0.01))
    points = one("{value: 50 %, u: 2 %}", unit='"%"')
    assert value_of(tmp_path, points) == (pytest.approx(50), pytest.approx(2))
    # d sin / d angle at 60 degrees is .5; one degree is pi / 180.
    sine = "budget:\n  formula: sin(x)\n  inputs:\n    x: {value: 60 deg, u: 1 deg}\n"
    assert value_of(tmp_path, sine) == (pytest.approx(0.8660254), pytest.approx(0.5 * 3.14159265 / 180))


def test_the_titration_standard_is_worked_out_with_its_units(tmp_path: Path) -> None:
    # QUAM:2012, A2 (from memory): .10214 mol/L, u .00010; with units no factor of 1000 is needed.
    text = """
budget:
  unit: mol/L
  formula: rep * m * P / (M * V)
  k: 2
  inputs:
    rep: {value: 1.0, u: 0.0005}
    m: {value: 0.3888 g, u: 0.00013 g}
    P: {value: 1.0, u: 0.00029}
    M: {value: 204.2212 g/mol, u: 0.0038 g/mol}
    V: {value: 18.64 mL, u: 0.013 mL}
"""
    assert value_of(tmp_path, text) == (pytest.approx(0.10214, abs=5e-6), pytest.approx(0.00010, abs=5e-6))
    assert answer_of(written(tmp_path, text))["first_order"]["k"] == 2


def test_what_is_taken_for_granted_is_said(tmp_path: Path) -> None:
    told = run(written(tmp_path, one("{value: 83 mm, half_width: 1 mm}"))).stdout
    assert "no shape is stated, so its half width is taken as rectangular" in told
    told = run(written(tmp_path, one("{value: 83 mm, half_width: 1 mm, shape: normal}"))).stdout
    assert "95 % are taken to lie inside" in told


# -- files with a mistake -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "line", "words", "help"),
    [
        ("budgets:\n  formula: x\n", 0, "no section `budget:`", "`budget:` in place of `budgets:`"),
        ("", 0, "no section `budget:`", "below `budget:`"),
        ("budget: 3\n", 1, "should be a group of fields", "formula"),
        ("budget:\n  formula: x\n  inputs: {x: 1}\nhazards: {}\n", 4, "no section `hazards` here", "alone"),
        ("budget:\n  formula: x\n", 1, "`inputs` is missing", "inputs"),
        ("budget:\n  inputs: {x: {value: 1, u: 1}}\n", 1, "`formula` is missing", "formula"),
        ("budget:\n  formula: x\n  inputs: {}\n", 3, "at least one entry", "inputs"),
        ("budget:\n  formula: x\n  inputs: [1]\n", 3, "should be a group", "name: value"),
        (one("{value: 83 mm, halfwidth: 1 mm}"), 5, "no field `halfwidth`", "`half_width:`"),
        (one("{value: 83 mm, u: 1}"), 5, "`1` has no unit", "`1 mm`"),
        (one("{value: 83, u: 1 mm}"), 5, "is a length, and the value `83` is a plain number", "its unit"),
        (one("{value: 83 mm, u: 1 hPa}"), 5, "is a pressure, and the value `83 mm` is a length", "in mm"),
        (one("{value: 83 mm, u: -1 mm}"), 5, "negative", "minus"),
        (one("{value: 0 mm, u: 3 %}"), 5, "of a value of 0 is 0", "unit"),
        (one("{value: 21 °C, u: 3 %}", unit="°C"), 5, "of a temperature means nothing", "K"),
        (one("{value: 83 mm}"), 5, "nothing says how well", "half_width"),
        (one("{u: 1 mm}"), 5, "neither a value nor readings", "value"),
        (one("{value: 83 mm, u: 1 mm, expanded: 2 mm, k: 2}"), 5, "known in one way", "parts"),
        (one("{value: 83 mm, expanded: 2 mm}"), 5, "coverage factor is missing", "k: 2"),
        (one("{value: 83 mm, u: 1 mm, k: 2}"), 5, "`k` belongs to `expanded`", "take it out"),
        (one("{value: 83 mm, expanded: 2 mm, k: 0}"), 5, "above 0", ""),
        (one("{value: 83 mm, half_width: 2 mm, shape: round}"), 5, "cannot be `round`", "rectangular"),
        (one("{value: 83 mm, half_width: 2 mm, shape: triangle}"), 5, "cannot be `triangle`", "write `triangular`"),
        (one("{value: 83 mm, u: 1 mm, freedom: 0}"), 5, "degrees of freedom from 1", "freedom: 12"),
        (one("{value: 83 mm, u: 1 mm, freedom: true}"), 5, "degrees of freedom from 1", "freedom: 12"),
        (one("{readings: [83 mm]}"), 5, "shows no spread", "pooled_s"),
        (one("{readings: [83 mm, 84 hPa]}"), 5, "is a pressure, and the value `83 mm`", "mm"),
        (one("{readings: [83 mm, 84]}"), 5, "`84` has no unit", "`84 mm`"),
        (one("{readings: [83 mm, 84 mm], freedom: 3}"), 5, "readings have their own", "take it out"),
        (one("{readings: [83 mm, 84 mm], value: 83 mm}"), 5, "mean of the readings", "take `value` out"),
        (one("{value: 83 mm, u: 1 mm, exact: true}"), 5, "exact number has no uncertainty", "exact"),
        (one("{value: 83 ± 1 mm, u: 1 mm}"), 5, "does not say what stands behind", "half_width"),
        (one("{value: 8,3 mm, u: 1 mm}"), 5, "", ""),
        (one("{value: 83 splorch, u: 1 mm}"), 5, "not a unit", ""),
        (one("{value: 83 0.5, u: 1 mm}"), 5, "holds two numbers", "`83 mm`"),
        (one("{value: 83 mm, u: 1 mm}") + "    because: {value: 1, uu: 2}\n", 6, "no field `uu`", "`u:`"),
        (one("{value: yes, u: 1 mm}"), 5, "no number", ""),
        (one("{value: [1], u: 1 mm}"), 5, "a number with its unit is expected", ""),
        (one("{value: 1e400 mm, u: 1 mm}"), 5, "too large", ""),
        (one("{value: 83 mm, parts: [{because: nothing}]}"), 5, "how well something is known", "half_width"),
        (one("{value: 83 mm, parts: [{u: 1 mm}, {u: 1 hPa}]}"), 5, "is a pressure", "mm"),
        (one("12 mm"), 3, "no input has an uncertainty", "known"),
        (one("{value: 83 mm, u: 1 mm}", formula="x + 2"), 3, "is a length and `2` is a plain number", "input"),
        (one("{value: 83 mm, u: 1 mm}", formula="x ^ 2"), 3, "no power", "h**2"),
        (one("{value: 83 mm, u: 1 mm}", formula="sqr(x)"), 3, "no function `sqr`", "`sqrt`"),
        (one("{value: 83 mm, u: 1 mm}", formula="x.real"), 3, "has a dot", "sqrt"),
        (one("{value: 83 mm, u: 1 mm}", formula="X"), 3, "`X` stands in the formula", "`x`"),
        (one("{value: 83 mm, u: 1 mm}", formula="1 / (x - x)", unit="1/mm"), 3, "no value", "division"),
        (one("{value: 83 mm, u: 1 mm}", unit="hPa"), 2, "gives a length", "unit"),
        (one("{value: 83 mm, u: 1 mm}", unit="splorch"), 2, "not a unit", ""),
        ("budget:\n  formula: x\n  inputs: {x: {value: 83 mm, u: 1 mm}}\n", 2, "no unit is named", "unit: m"),
        (one("{value: 83 mm, u: 1 mm}") + "    y: 3\n", 6, "`y` does not stand in the formula", "take it out"),
        (one("{value: 83 mm, u: 1 mm}") + "    a b: 3\n", 6, "cannot be the name", "rho_w"),
        (one("{value: 83 mm, u: 1 mm}") + "  coverage: 95\n", 6, "no level between 0 and 100 %", "`95 %`"),
        (one("{value: 83 mm, u: 1 mm}") + "  coverage: 100 %\n", 6, "ends left out", "95 %"),
        (one("{value: 83 mm, u: 1 mm}") + "  coverage: 95 %\n  k: 2\n", 7, "either a level or a factor", "out"),
        (one("{value: 83 mm, u: 1 mm}") + "  freedom_rounding: up\n", 6, "cannot be `up`", "down"),
        (one("{value: 83 mm, u: 1 mm}") + "  correlations: [{between: [x, z], r: 0.5}]\n", 6, "`z` is no input", "x"),
        (one("{value: 83 mm, u: 1 mm}") + "  correlations: [{between: [x, x], r: 0.5}]\n", 6, "with itself", ""),
        (one("{value: 83 mm, u: 1 mm}") + "  correlations: [{between: [x], r: 0.5}]\n", 6, "two inputs", "[one, other]"),
        (one("{value: 83 mm, u: 1 mm}") + "  correlations: [{between: [x, x], r: 2}]\n", 6, "from -1 to 1", ""),
        ("budget:\n  formula: [x\n", 2, "not closed", "bracket"),
        ("budget:\n  formula: x\n  formula: y\n", 3, "", ""),
    ],
)  # fmt: skip
def test_a_mistake_is_one_sentence_with_its_line_and_what_to_type(
    text: str, line: int, words: str, help: str, tmp_path: Path
) -> None:
    path = written(tmp_path, text)
    with pytest.raises(RiskkitError) as caught:
        show_budget(path, "json", None, 1, monte_carlo=False)
    headline = caught.value.headline
    assert headline.startswith(f"{path}:{line}:" if line else str(path)), headline
    assert words in headline
    assert help in caught.value.help
    assert caught.value.help
    assert "\n" not in headline


def test_correlations_that_contradict_each_other_are_refused_at_their_line(tmp_path: Path) -> None:
    text = "budget:\n  formula: a + b + c\n  inputs:\n" + "".join(f"    {n}: {{value: 1, u: 1}}\n" for n in "abc")
    text += "  correlations:\n    - {between: [a, b], r: 0.9}\n    - {between: [b, c], r: 0.9}\n    - {between: [a, c], r: -0.9}\n"
    done = run(written(tmp_path, text))
    assert done.returncode == 2
    assert "b.yaml:7:" in done.stderr
    assert "contradict each other" in done.stderr
    repeated = text.replace("[a, c], r: -0.9", "[b, a], r: 0.9")
    assert "named twice" in run(written(tmp_path, repeated)).stderr


def test_the_program_itself_ends_with_2_and_no_traceback(tmp_path: Path) -> None:
    for path in (tmp_path / "none.yaml", tmp_path, written(tmp_path, "budget: 3\n")):
        done = subprocess.run(
            [sys.executable, "-m", "riskkit", "budget", str(path)], capture_output=True, text=True, check=False
        )
        assert done.returncode == 2
        assert done.stdout == ""
        assert done.stderr.startswith("riskkit: ")
        assert "budget" in done.stderr
        assert "Traceback" not in done.stderr


def test_a_format_that_is_none_is_refused() -> None:
    done = run(EXAMPLES / "u-tube.yaml", "--format", "xml")
    assert done.returncode == 2
    assert "--format cannot be" in done.stderr


def test_an_undrawable_budget_is_refused_at_its_line(tmp_path: Path) -> None:
    text = "budget:\n  formula: a + b\n  inputs:\n    a: {value: 1, half_width: 1, shape: rectangular}\n    b: {value: 1, u: 1}\n"
    text += "  correlations: [{between: [a, b], r: 0.5}]\n"
    assert run(written(tmp_path, text)).returncode == 0
    done = run(written(tmp_path, text), "--monte-carlo")
    assert done.returncode == 2
    assert "`a` is correlated and not normal" in done.stderr


def test_the_how_to_page_can_be_followed(tmp_path: Path) -> None:
    page = (EXAMPLES.parent.parent.parent / "docs" / "how-to" / "uncertainty-budget.md").read_text(encoding="utf-8")
    sheet = page.split("```yaml\n")[1].split("```")[0]
    first = answer_of(written(tmp_path, sheet))["first_order"]
    assert (first["value"], first["biggest"]) == (pytest.approx(8.118, abs=5e-4), "h")
    code = page.split("```python\n")[1].split("```")[0]
    done = subprocess.run([sys.executable, "-W", "error", "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert "Interval(" in done.stdout

"""`riskkit calc` as a person meets it: the answer, the help of every model, backwards, along, checks, mistakes."""

from __future__ import annotations

import json
import math
import re
import shlex
import subprocess
import sys
from pathlib import Path
from typing import Any, NamedTuple
from xml.etree import ElementTree

import pytest
import typer
from typer.testing import CliRunner

from riskkit.cli.calculation_words import curve_envelope
from riskkit.cli.commands import app
from riskkit.diagnostics import RiskkitError
from riskkit.dossier.sweepfigure import Axis, Dot, sweep_figure
from riskkit.engineering import Check, Model, all_models, calculate, catalog, model, solve_for, sweep
from riskkit.engineering.answering import STANDING
from riskkit.exchange.calculations import example_line

MODELS = all_models()

ONLY = typer.Typer(add_completion=False, pretty_exceptions_enable=False)
"""The command alone: building all others at each of two hundred runs takes longer than running it."""

ONLY.registered_commands = [
    each for each in app.registered_commands if each.callback is not None and each.callback.__name__ == "calc"
]


class Done(NamedTuple):
    """What a run of the program comes to."""

    returncode: int
    stdout: str
    stderr: str


def run(*arguments: str, columns: int = 100) -> Done:
    """The command in this process; a refusal is told as the program tells it."""
    done = CliRunner(env={"COLUMNS": str(columns)}).invoke(ONLY, arguments)
    if isinstance(done.exception, RiskkitError):
        return Done(2, done.stdout, f"riskkit: {done.exception.headline}\n  {done.exception.help}\n")
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return Done(done.exit_code, done.stdout, done.stderr)


def told(*arguments: str) -> dict[str, Any]:
    done = run(*arguments, "--format", "json")
    assert done.returncode == 0, done.stderr
    found: dict[str, Any] = json.loads(done.stdout)
    return found


# One line in, one line out


# NIST SP 811 (2008), B.8, conventional columns of mercury and water at 0 °C and 4 °C, from memory.
@pytest.mark.parametrize(
    ("inputs", "unit", "expected"),
    [
        (("reading=1 m", "density=13595.1 kg/m3"), "Pa", 133322.4),
        (("reading=1 m", "density=13595.1 kg/m3"), "mmHg", 1000.0),
        (("reading=1 m", "density=13595.1 kg/m3"), "psi", 133322.4 / 6894.757),
        (("reading=1 m", "density=1000 kg/m3"), "cmH2O", 100.0),
        (("reading=12 in", "density=1000 kg/m3"), "inH2O", 12.0),
    ],
)
def test_columns_of_water_and_mercury(inputs: tuple[str, ...], unit: str, expected: float) -> None:
    found = told("u-tube", *inputs, "air=0 kg/m3", "--unit", unit)
    assert found["value"] == pytest.approx(expected, rel=2e-6)
    assert found["unit"] == unit


def test_the_json_has_its_keys() -> None:
    found = told("u-tube", "reading=83±1 mm", "temperature=24±2 degC")
    assert {
        "model", "value", "unit", "uncertainty", "coverage", "contributors", "validity", "formula", "source",
    } <= found.keys()  # fmt: skip
    assert found["model"] == "u-tube"
    # 83 mm of water of 24 °C is 8.11 hPa (worked by hand); 1 mm of it 0.0977 hPa, 2 K move it by 0.004 hPa.
    assert found["value"] == pytest.approx(8.11, abs=0.005)
    assert found["uncertainty"] == pytest.approx(math.hypot(0.0977, 0.0040), rel=2e-3)
    assert found["contributors"][0]["name"] == "reading"
    assert sum(each["share"] for each in found["contributors"]) == pytest.approx(1)
    assert found["validity"] == "inside"
    assert {each["name"]: each["origin"] for each in found["inputs"]}["tilt"] == "default"


def test_without_a_stated_uncertainty_there_is_none() -> None:
    found = told("u-tube", "reading=83 mm")
    assert found["uncertainty"] is None
    assert found["contributors"] == []
    assert "no input states" in found["coverage"]


@pytest.mark.parametrize(
    "reading", ["83±1 mm", "83+-1mm", "83 mm ± 1 mm", "8.3±0.1 cm", "0.083±0.001 m", "83 +/- 1 mm", "83000±1000 um"]
)
def test_any_spelling_gives_the_same_answer(reading: str) -> None:
    found = told("u-tube", f"reading={reading}")
    assert found["value"] == pytest.approx(told("u-tube", "reading=83 mm")["value"], rel=1e-12)
    assert found["uncertainty"] == pytest.approx(0.09777, rel=1e-3)


def test_the_first_line_is_the_answer_and_the_last_the_standing_sentence() -> None:
    lines = run("u-tube", "reading=83±1 mm", "temperature=24 degC").stdout.splitlines()
    assert lines[0] == "pressure = 8.108 ± 0.098 hPa"
    assert lines[-1].strip() == STANDING
    for head in ("Expanded uncertainty, k = 2", "Validity: inside", "Formula:", "Source:", "Remark:", "Inputs:"):
        assert any(head in line for line in lines), head


def test_one_limb_is_said_and_is_half() -> None:
    done = run("u-tube", "reading=41.5 mm", "temperature=24 degC", "limbs=one")
    assert "pressure = 8.108 hPa" in done.stdout
    assert "one limb was read" in done.stdout


def test_outside_of_where_a_model_holds_the_answer_is_marked() -> None:
    # A hole at 60 hPa is beyond small pressures: the model answers and marks it.
    done = run("orifice", "pressure=60 hPa", "area=12.57 mm2")
    assert done.returncode == 0
    assert "Validity: OUTSIDE: orifice takes the pressure across the hole up to 50 hPa" in done.stdout
    assert told("orifice", "pressure=60 hPa", "area=12.57 mm2")["validity"] == "outside"


def test_blanks_hyphens_and_case_of_a_model_do_not_matter() -> None:
    assert told("U_Tube", "reading=83 mm")["model"] == "u-tube"


def test_lines_fit_a_narrow_terminal() -> None:
    for line in run("u-tube", "reading=83±1 mm", columns=60).stdout.splitlines():
        assert len(line) <= 60, line


# Every model


def test_every_model_is_listed_on_one_line() -> None:
    lines = run("--list").stdout.splitlines()
    assert [line.split()[0] for line in lines] == [each.name for each in MODELS]
    for line, each in zip(lines, MODELS, strict=True):
        assert ("(not verified)" in line) == (not each.is_verified)
    assert [each["model"] for each in told("--list")["models"]] == [each.name for each in MODELS]


@pytest.mark.parametrize("each", MODELS, ids=lambda each: each.name)
def test_the_example_of_a_model_runs_as_it_stands_in_its_help(each: Model) -> None:
    program, calc, *arguments = shlex.split(example_line(each))
    assert (program, calc) == ("riskkit", "calc")
    done = run(*arguments)
    assert done.returncode == 0, done.stderr
    assert calculate(each, **each.example).main.written in done.stdout.splitlines()[0]
    assert STANDING in done.stdout


@pytest.mark.parametrize("each", MODELS, ids=lambda each: each.name)
def test_a_model_says_everything_of_itself(each: Model) -> None:
    page = run(each.name, "--help").stdout
    assert example_line(each) in page
    plain = " ".join(page.split())
    for words in (each.title, each.formula, each.source, each.holds, *each.traps, STANDING):
        assert " ".join(words.split()) in plain
    for given in each.givens:
        assert given.name in page
        assert given.words in plain
    for check in each.checks:
        assert " ".join(check.source.split()) in plain
    assert ("Not verified" in page) == (not each.is_verified)


# May stand in a sentence about something that is bought, such as "certified supply", in a question to ask.
PROMISES = re.compile(
    r"\b(is safe|safe to|approved|medical grade|clinically proven|ready for use|acceptable risk)\b", re.I
)


@pytest.mark.parametrize("each", MODELS, ids=lambda each: each.name)
def test_no_model_promises_anything(each: Model) -> None:
    page = run(each.name, "--help").stdout + run(*shlex.split(example_line(each))[2:]).stdout
    assert PROMISES.search(page) is None


# Backwards


def test_solving_for_a_reading() -> None:
    found = told("u-tube", "temperature=24 degC", "--solve-for", "reading", "--target", "8.11 hPa")
    # p / ((density - air) g), water of 24 °C 997.295 kg/m3 (Tanaka 2001).
    assert found["solved"]["value"] == pytest.approx(811 / ((997.295 - 1.2) * 9.80665) * 1000, rel=1e-5)
    assert found["solved"]["unit"] == "mm"
    assert found["value"] == pytest.approx(8.11, rel=1e-9)


def test_a_target_may_be_typed_in_any_unit_and_an_input_on_the_line_is_set_aside() -> None:
    # 811 Pa / ((998.2067 - 1.2) kg/m3 x 9.80665 m/s2), water of 20 °C (Tanaka 2001).
    done = run("u-tube", "reading=1 mm", "--solve-for", "reading", "--target", "811 Pa")
    assert done.stdout.startswith("reading = 82.947")
    assert "reading=1 mm was set aside" in done.stdout


def test_what_is_solved_is_the_answer_that_is_given_for_these_inputs() -> None:
    # Without a flow a hood has no steady state, and its first answer is the time to the mark:
    # V = 0.25 L/min x 58 s / (3 % - 0.46 %) = 9.5 L (a balance by hand).
    inputs = ("carbon_dioxide=0.25 L/min", "begins=0.46%", "mark=3%")
    found = told("well-mixed-space", *inputs, "--solve-for", "volume", "--target", "58 s")
    assert found["answer"] == "time_to_mark"
    assert found["solved"]["value"] == pytest.approx(0.25 * 58 / 60 / 0.0254, rel=1e-3)


# Along


def test_a_sweep_is_a_table_and_a_plot() -> None:
    done = run("u-tube", "temperature=24 degC", "--sweep", "reading=0..100 mm", "--points", "5")
    rows = [line.split() for line in done.stdout.splitlines() if line.rstrip().endswith("inside")]
    assert [float(row[0]) for row in rows] == [0, 25, 50, 75, 100]
    for row in rows:
        assert float(row[1]) == pytest.approx(
            calculate("u-tube", reading=f"{row[0]} mm", temperature="24 degC").main.number, rel=1e-3
        )
    assert "Plot: pressure in hPa against reading" in done.stdout
    assert "0 mm" in done.stdout.splitlines()[-5] + done.stdout
    assert STANDING in done.stdout


@pytest.mark.parametrize(
    "span", ["reading=0 mm..100 mm", "reading=0..100mm", "reading=0 cm .. 10 cm", "reading=0..0.1 m"]
)
def test_a_span_may_be_typed_in_many_ways(span: str) -> None:
    points = told("u-tube", "--sweep", span, "--points", "3")["points"]
    assert [each["value"] for each in points] == pytest.approx([0, 50, 100])


def test_answers_that_are_never_there_take_no_column() -> None:
    done = run("u-tube", "--sweep", "reading=0..100 mm")
    assert "tilt_effect" not in done.stdout
    assert "tilt_effect" in run("u-tube", "tilt=5 deg", "--sweep", "reading=0..100 mm").stdout


def test_a_span_may_begin_below_zero() -> None:
    points = told("u-tube", "reading=83 mm", "--sweep", "temperature=-5..35 degC", "--points", "3")["points"]
    assert [each["value"] for each in points] == pytest.approx([-5, 15, 35])
    assert points[0]["validity"] == "no answer"
    assert points[0]["answers"]["pressure"] is None
    assert "from 0 degC" in points[0]["because"]


def test_a_sweep_is_shown_in_the_unit_that_is_asked_for() -> None:
    found = told("u-tube", "--sweep", "reading=0..100 mm", "--points", "2", "--answer", "pressure", "--unit", "cmH2O")
    # 100 mm of water of 20 °C: (998.2067 - 1.2) x 9.80665 x 0.1 / 98.0665 cmH2O (Tanaka 2001; NIST SP 811, from memory).
    assert found["points"][1]["answers"]["pressure"] == pytest.approx((998.2067 - 1.2) / 100, rel=1e-5)
    assert found["answers"][0]["unit"] == "cmH2O"


def test_the_figure_is_vector_has_words_and_is_readable_in_grey(tmp_path: Path) -> None:
    file = tmp_path / "sweep.svg"
    done = run("u-tube", "--sweep", "reading=-20..100 mm", "--points", "7", "--svg", str(file))
    assert done.returncode == 0, done.stderr
    root = ElementTree.fromstring(file.read_text(encoding="utf-8"))
    space = "{http://www.w3.org/2000/svg}"
    alt = root.findtext(f"{space}title") or ""
    assert "pressure [hPa] against distance between both menisci [mm], -20 to 100" in alt
    assert "at 1 of 7 points the model has no answer" in alt
    assert len(root.findall(f"{space}circle")) == 6
    assert not root.findall(f".//{space}image")


def test_beyond_the_range_the_line_is_dashed_and_the_dot_hollow() -> None:
    dots = [Dot(0, 1.0), Dot(1, 2.0), Dot(2, 3.0, inside=False), Dot(3, None), Dot(4, 1.0)]
    figure = sweep_figure(dots, Axis("flow", "L/min"), Axis("pressure", "hPa"))
    assert figure.svg.count("stroke-dasharray") == 1
    assert figure.svg.count("<circle") == 4
    assert len(re.findall(r'<circle[^>]*fill="#ffffff"', figure.svg)) == 1
    assert "1 of 5 points lie at the edge or outside" in figure.alt
    assert figure.svg == sweep_figure(dots, Axis("flow", "L/min"), Axis("pressure", "hPa")).svg


def test_a_level_answer_can_be_drawn() -> None:
    figure = sweep_figure([Dot(0, 0.0), Dot(1, 0.0)], Axis("x"), Axis("y"))
    assert "lowest 0 at 0, highest 0 at 0" in figure.alt


def test_the_plot_joins_points_and_leaves_holes() -> None:
    shape = curve_envelope([(0, 0.0), (1, 10.0), (2, None), (3, 5.0)], 30)
    assert (shape.low, shape.high) == (0.0, 10.0)
    assert all(low is not None for low in shape.lows[:10])
    assert all(shape.gaps[11:29])
    assert shape.highs[5] == pytest.approx(5.5)


# Draws


def test_monte_carlo_agrees_where_the_model_is_a_straight_line() -> None:
    found = told("u-tube", "reading=83±1 mm", "--monte-carlo")
    drawn = found["monte_carlo"]
    assert drawn["first_order_holds"] is True
    assert drawn["lower"] == pytest.approx(found["value"] - found["uncertainty"], abs=0.003)
    assert drawn["trials"] >= 100_000


def test_monte_carlo_says_where_first_order_does_not_hold() -> None:
    found = told("heat-into-gas", "power=14 W", "flow=60±20 L/min", "--monte-carlo")
    # P / (density Q c): the ends at Q ± U are 3/4 and 3/2 of the answer, and not 1 ± 1/3 of it.
    assert found["monte_carlo"]["lower"] == pytest.approx(found["value"] * 0.75, rel=0.01)
    assert found["monte_carlo"]["upper"] == pytest.approx(found["value"] * 1.5, rel=0.01)
    assert found["monte_carlo"]["first_order_holds"] is False
    assert any("far from linear in flow" in remark for remark in found["remarks"])


def test_the_sentence_says_whether_first_order_holds() -> None:
    assert "First order holds: the ends differ by up to" in run("u-tube", "reading=83±1 mm", "--monte-carlo").stdout
    summit = run("u-tube", "reading=83 mm", "tilt=0±8 deg", "--monte-carlo").stdout
    assert "First order does not hold, state this interval" in summit


def test_a_seed_gives_its_own_draws_again() -> None:
    line = ("u-tube", "reading=83±1 mm", "--monte-carlo", "--seed", "7")
    assert told(*line)["monte_carlo"] == told(*line)["monte_carlo"]


# Checks


def test_all_checks_hold_here() -> None:
    done = run("--verify")
    assert done.returncode == 0, done.stdout
    lines = done.stdout.splitlines()
    assert len(lines) == len(MODELS) + 1
    for line, each in zip(lines, MODELS, strict=False):
        assert ("not verified" in line) == (not each.is_verified)
        assert ("from outside" in line) or not each.is_verified


def test_one_model_is_verified_by_name() -> None:
    found = told("u-tube", "--verify")["models"]
    assert [each["model"] for each in found] == ["u-tube"]
    assert found[0]["holds"] is True
    assert all(check["holds"] for check in found[0]["checks"])


def test_a_check_that_does_not_hold_is_named_and_ends_in_a_status(monkeypatch: pytest.MonkeyPatch) -> None:
    import dataclasses

    wrong = Check({"reading": "100 mm"}, "pressure", "9.9 hPa", "published", "a value made wrong for this test")
    broken = dataclasses.replace(model("u-tube"), checks=(wrong,))
    monkeypatch.setattr(catalog, "all_models", lambda: (broken,))
    done = run("--verify")
    assert done.returncode == 1
    assert "1 of 1 check does not hold here" in done.stdout
    assert "expected 9.9 hPa" in done.stdout
    assert "made wrong for this test" in done.stdout


# Mistakes


@pytest.mark.parametrize(
    ("line", "headline", "help"),
    [
        ("u-tube", "needs `reading`", "reading="),
        ("utub reading=83mm", "no model `utub`", "u-tube"),
        ("reading=83mm", "no model is named", "--list"),
        ("u-tube 83mm", "`83mm` is no input", "name=value"),
        ("u-tube reading=83 mm", "`mm` is no input", 'reading="83 mm"'),
        ("u-tube =83mm", "is no input", "name=value"),
        ("u-tube reading=", "`reading` has no value", "reading=VALUE"),
        ("u-tube reading=83mm reading=84mm", "given twice", "leave one out"),
        ("u-tube reading=83", "has no unit", "83 mm"),
        ("u-tube reading=-83mm", "from 0 mm", "inside of that"),
        ("u-tube reading=83hPa", "is a pressure", "mm"),
        ("u-tube readin=83mm", "no input `readin`", "reading"),
        ("u-tube reading=83mm temperature=60degC", "up to 40 degC", "inside of that"),
        ("u-tube reading=83mm tilt=5mm", "tilt", "deg"),
        ("u-tube reading=83mm limbs=three", "cannot be `three`", "one"),
        ("u-tube reading=83mm --unit L", "measures a volume", "hPa"),
        ("u-tube reading=83mm --unit furlongs/fortnight^5", "--unit", ""),
        ("u-tube reading=83mm --answer flow", "no answer `flow`", "pressure"),
        ("u-tube reading=83mm --solve-for tilt", "needs an input to look for", "--target"),
        ("u-tube reading=83mm --target 8hPa", "needs an input to look for", "--solve-for"),
        ("u-tube --solve-for reading --target 800hPa", "no distance", "it goes from 0 hPa to"),
        ("u-tube --solve-for reading --target 8L", "is a volume", "hPa"),
        ("u-tube --sweep reading", "is no span", "reading=0 mm..100 mm"),
        ("u-tube --sweep reading=0mm", "is no span", "reading=0 mm..100 mm"),
        ("u-tube --sweep reading=0..100", "has no unit", "mm"),
        ("u-tube --sweep reading=0..100hPa", "pressure", "mm"),
        ("u-tube --sweep limbs=one..both", "cannot be swept", "another"),
        ("u-tube --sweep reading=0..9mm --points 1", "1 points", "2 to"),
        ("u-tube --sweep reading=0..9mm --unit L", "measures a volume", "hPa"),
        ("u-tube --sweep reading=0..9mm --monte-carlo", "one answer", "--sweep"),
        ("u-tube --sweep reading=0..9mm --svg /nowhere/at/all.svg", "cannot be written", "another file"),
        ("u-tube reading=83mm --answer tilt_effect", "gives no", "pressure"),
        ("u-tube --sweep reading=0..9mm --answer tilt_effect --svg a.svg", "gives no", "--answer"),
        ("u-tube reading=83mm --points 5", "--points belongs to --sweep", "--sweep"),
        ("u-tube reading=83mm --svg a.svg", "--svg belongs to --sweep", "--sweep"),
        ("u-tube reading=83mm --monte-carlo", "nothing to draw", "±"),
        ("u-tube reading=83mm --format xml", "--format cannot be `xml`", "json"),
        ("nothing --help", "no model `nothing`", ""),
        ("nothing --verify", "no model `nothing`", ""),
    ],
)
def test_a_mistake_gets_one_sentence(line: str, headline: str, help: str) -> None:
    done = run(*shlex.split(line))
    assert done.returncode == 2
    first, second, *rest = done.stderr.splitlines()
    assert first.startswith("riskkit: ")
    assert headline in first
    assert help in second
    assert not rest


def test_as_a_process_it_ends_in_a_status_and_needs_no_register(tmp_path: Path) -> None:
    def process(*arguments: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-m", "riskkit", "calc", *arguments],
            capture_output=True,
            text=True,
            check=False,
            cwd=tmp_path,
        )

    good, bad = process("u-tube", "reading=83 mm", "temperature=24 degC"), process("u-tube", "reading=83")
    assert good.returncode == 0
    assert good.stdout.startswith("pressure = 8.108 hPa")
    assert bad.returncode == 2
    assert bad.stderr.count("\n") == 2
    assert "Traceback" not in bad.stderr


def test_the_how_to_shows_what_is_really_said() -> None:
    page = (Path(__file__).parent.parent.parent / "docs" / "how-to" / "work-out-a-number.md").read_text(
        encoding="utf-8"
    )
    lines = [line.strip() for line in page.splitlines() if line.startswith("    riskkit calc ")]
    assert len(lines) >= 4
    for line in lines:
        arguments = [each for each in shlex.split(line)[2:] if each not in ("--svg", "reading.svg")]
        done = run(*arguments)
        assert done.returncode == 0, f"{line}: {done.stderr}"
    first = run(*shlex.split(lines[0])[2:]).stdout.splitlines()[0]
    assert first in page


def test_python_and_the_command_line_say_the_same() -> None:
    assert solve_for("u-tube", "reading", "8 hPa").value * 1000 == pytest.approx(
        told("u-tube", "--solve-for", "reading", "--target", "8 hPa")["solved"]["value"]
    )
    points = told("u-tube", "--sweep", "reading=0..10 mm", "--points", "3")["points"]
    assert [each["answers"]["pressure"] for each in points] == [
        point.answers[0] for point in sweep("u-tube", "reading", "0 mm", "10 mm", 3).points
    ]

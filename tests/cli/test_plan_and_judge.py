"""`plan` and `judge` from the command line, against standard values."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

HOOD = Path(__file__).parent.parent.parent / "catalogs" / "examples" / "hood"


def run(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "riskkit", *arguments],
        capture_output=True,
        text=True,
        check=False,
        env=os.environ | {"COLUMNS": "100"},
    )


def answer(*arguments: str) -> dict[str, Any]:
    done = run(*arguments, "--format", "json")
    assert done.returncode == 0, done.stderr
    told: dict[str, Any] = json.loads(done.stdout)
    return told


# Standard values; where a source is not named it is elementary, or a standard table from memory.
@pytest.mark.parametrize(
    ("question", "field", "expected"),
    [
        ("runs --proportion 95% --confidence 95%", "runs", 59),
        ("runs --proportion 99.9% --confidence 0.95", "runs", 2995),
        ("runs --proportion 0.9 --confidence 90% --failures 0", "runs", 22),
        ("runs --proportion 95% --confidence 95% --failures 1", "runs", 93),
        # NIST/SEMATECH e-Handbook 7.2.4.1, 4 defects in 20, 90 % two-sided.
        ("shows --runs 20 --failures 4 --confidence 90% --sides two-sided", "upper", 0.4010281173),
        ("shows --runs 20 --failures 4 --confidence 90% --sides two-sided", "lower", 0.0713538843),
        # The same page: Wilson, 0.13 of 200, lower 95 % with z = 1.645.
        ("shows --runs 200 --failures 26 --sides lower --method wilson", "lower", 0.09577),
        ("shows --runs 30 --failures 0 --method jeffreys", "upper", 0.0615167),
        # NIST e-Handbook 8.4.5.1: 800 h, 2 failures, time-ended, 90 % two-sided.
        ("hours --hours 800 --failures 2 --confidence 90% --sides two-sided --of mean-time", "lower", 127.0690),
        ("hours --hours 800 --failures 2 --confidence 90% --sides two-sided --of mean-time", "upper", 2251.23),
        ("hours --hours 72 --confidence 90%", "upper", 0.0319803),
        # NIST e-Handbook 8.3.1.1 (from memory): 500 h, 80 %, up to 4 failures: 3360 h.
        ("test-hours --mean-time 500 --confidence 80% --failures 4", "time", 3360.49),
        ("tolerance --readings 10 --proportion 95%", "factor", 2.911),
        # NIST e-Handbook 7.2.6.3, n 43: Howe's approximation, and the exact value recomputed.
        (
            "tolerance --readings 43 --proportion 90% --confidence 99% --sides two-sided --method howe",
            "factor",
            2.2173159,
        ),
        ("tolerance --readings 43 --proportion 90% --confidence 99% --sides two-sided", "factor", 2.222825),
        ("order --proportion 95% --confidence 95% --sides two-sided", "readings", 93),
        ("order --proportion 99% --confidence 95% --sides two-sided", "readings", 473),
        # NASA/SP-2009-569, 4.2.1.1 example 1.
        ("update --prior 1.24,189075 --failures 2 --runs 285", "mean", 1.711015e-5),
        ("life --life 1000 --test-time 1000 --shape 2 --proportion 95%", "units", 59),
    ],
)
def test_plan_gives_standard_values(question: str, field: str, expected: float) -> None:
    assert answer("plan", *question.split())[field] == pytest.approx(expected, rel=2e-4)


def test_every_answer_names_its_estimand_method_and_level() -> None:
    told = answer("plan", "shows", "--runs", "20")
    assert told["estimand"] == "probability of failure in one run"
    assert told["method"] == "Clopper-Pearson, exact binomial"
    assert (told["sides"], told["confidence"]) == ("upper", 0.95)
    assert {each["proportion"]: each["runs_in_all"] for each in told["further"]}[0.95] == 59


def test_what_a_plan_lets_through() -> None:
    # P(pass) of 29 of 29 at true 10 %, 5 %, 1 % failures: 0.9^29, 0.95^29, 0.99^29 (elementary).
    told = answer("plan", "passes", "--runs", "29", "--true", "10%", "--true", "5%", "--true", "1%")
    assert [each["passing"] for each in told["points"]] == pytest.approx([0.047101, 0.225936, 0.747172], abs=1e-6)


@pytest.mark.parametrize(
    ("question", "words"),
    [
        ("runs --proportion 100%", "no number of runs shows"),
        ("runs --proportion often", "`often` is not a probability"),
        ("shows --runs 20 --failures 30", "more than the 20 runs"),
        ("hours --hours -5", "hours"),
        ("tolerance --readings 1 --proportion 95%", "reading"),
        ("tolerance --values 1,zwei --proportion 95%", "no list of numbers"),
        ("tolerance --proportion 95%", "nothing to work with"),
        ("life --life 10 --shape 2 --proportion 90%", "one of time and units"),
        ("update --prior 1 --runs 5", "no prior"),
        ("shows --runs 20 --sides left", "sides"),
        ("test T99 .", "no YAML file"),
    ],
)
def test_what_cannot_be_answered_is_said_in_one_sentence(question: str, words: str, tmp_path: Path) -> None:
    done = run("plan", *[str(tmp_path) if part == "." else part for part in question.split()])
    assert done.returncode == 2
    assert words in done.stderr
    assert "Traceback" not in done.stderr
    assert len(done.stderr.strip().splitlines()) <= 2


def test_plan_of_a_test_says_what_it_can_show() -> None:
    told = answer("plan", "test", "T07", str(HOOD))
    assert (told["runs"], told["runs_needed"]) == (20, 59)
    assert told["proportion_shown_if_none_fails"] == pytest.approx(0.860892, abs=1e-6)
    # A 20-run plan passes a 5 % faulty design with probability 0.95^20 = 0.358.
    passes = {each["true_failure_probability"]: each["probability_of_passing"] for each in told["passes_wrongly"]}
    assert passes[0.05] == pytest.approx(0.358486, abs=1e-6)


def test_judging_the_five_discs() -> None:
    told = answer("judge", "T07", str(HOOD))
    readings = next(each for each in told["results"] if each["id"] == "R07-2")["limits"][0]["readings"]
    assert [each["word"] for each in readings] == ["meets", "meets", "meets", "cannot tell", "meets"]
    spread = told["sample"]["by_spread"][0]
    assert spread["upper"] == pytest.approx(18.65, abs=0.005)
    assert not spread["shown"]
    assert told["outlook"]["readings_needed"][0]["readings"] > 100


def test_judging_in_words() -> None:
    said = run("judge", "T07", str(HOOD)).stdout
    assert "17.9 hPa ± 0.3 hPa lies 0.1 hPa inside" in said
    assert "is not shown by the sample on file" in said
    assert "nothing about use on a person" in said


def test_judging_a_reading_without_a_register() -> None:
    # JCGM 106:2012 (from memory): -5.47 V, u 0.05 V, upper limit -5.40 V: conformance probability 0.92.
    options = ["--reading", "-5.47 V", "--uncertainty", "0.10 V", "--at-most", "-5.40 V"]
    told = answer("judge", *options)["readings"][0]
    assert 1 - told["probability_outside"] == pytest.approx(0.919243, abs=1e-6)
    assert told["word"] == "cannot tell"
    assert told["margin"] == pytest.approx(0.07)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ([], "a test or readings are needed"),
        (["--reading", "17 hPa"], "no limit is given"),
        (["--reading", "17 hPa", "--at-most", "18 s"], "is a pressure"),
        (["--reading", "17", "--at-most", "18 hPa"], "--reading"),
        (["--reading", "17 hPa", "--at-most", "18 hPa", "--uncertainty", "1 s"], "1 s"),
        (["--reading", "17 hPa", "--at-most", "18 hPa", "--uncertainty", "0 hPa"], "uncertainty"),
        (["T7", str(HOOD)], "there is no test T7"),
    ],
)
def test_judge_refuses_in_one_sentence(options: list[str], words: str) -> None:
    done = run("judge", *options)
    assert done.returncode == 2
    assert words in done.stderr
    assert "Traceback" not in done.stderr

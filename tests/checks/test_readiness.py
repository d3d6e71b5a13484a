"""Whether a unit may go to the next step: every way of answering, and that the order of mending does not matter."""

from __future__ import annotations

import json
from collections.abc import Callable
from itertools import permutations
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from riskkit.assess import Assessment
from riskkit.checks.readiness import Readiness, readiness
from riskkit.cli.commands import app
from riskkit.diagnostics import RiskkitError
from riskkit.model.upkeep import Gate, Unit

Project = Callable[..., Assessment]
HOOD = Path(__file__).parent.parent.parent / "catalogs" / "examples" / "hood"

BENCH = """
gates:
  G1: {title: bench only, order: 1, questions: [{ask: Are the warnings on, needs: a look}]}
  G2:
    title: open to review
    order: 2
    questions:
      - {ask: Does the level hold, tests: T36}
      - {ask: Was the torque checked by two, steps: torque}
      - {ask: Is every deviation judged, rules: deviation-not-judged}
  G3: {title: copy by others, order: 3, questions: [{ask: Is the relief tested, tests: T07}]}
tests:
  T36: {title: level, scope: every unit, limit: {shows: it holds}}
  T07: {title: relief, limit: {shows: it opens}}
units:
  U01:
    title: first unit
    checks: [{step: torque, reading: 1.2 N·m, two_people: true, by: builder-1, second: SECOND}]
    deviations: [{text: stiffer springJUDGED}]
    answers: [ANSWER]
  U02: {title: second unit}
results:
  R01: {test: T36, on: 2026-11-01, unit: UNIT, inspection: as it should be}
"""

MENDED = {
    "SECOND": "builder-2",
    "JUDGED": ", judged: {verdict: no matter, by: biomedical engineer, on: 2026-11-02}",
    "ANSWER": "{gate: G1, ask: are the  warnings on, answer: 'yes', by: builder-1, on: 2026-11-02}",
    "UNIT": "U01",
}
BROKEN = {"SECOND": "builder-1", "JUDGED": "", "ANSWER": "", "UNIT": "U02"}


def asked(project: Project, mended: set[str], to: str = "G2", text: str = BENCH) -> Readiness:
    for name in MENDED:
        text = text.replace(name, (MENDED if name in mended else BROKEN)[name])
    assessment = project(text)
    unit, gate = assessment.register.get("U01", Unit), assessment.register.get(to, Gate)
    assert unit is not None
    assert gate is not None
    return readiness(unit, gate, assessment.context, assessment.open_findings)


def test_every_question_answered_is_a_yes(project: Project) -> None:
    found = asked(project, set(MENDED))
    assert (found.word, found.reasons, found.path) == ("yes", (), ())


@pytest.mark.parametrize(
    ("missing", "word", "because"),
    [
        ("SECOND", "cannot tell", "needs two people"),
        ("JUDGED", "no", "nobody has judged"),
        ("ANSWER", "cannot tell", "nobody has answered"),
        ("UNIT", "cannot tell", "no result of T36 (level) on U01"),
    ],
)
def test_one_thing_missing_is_one_reason(project: Project, missing: str, word: str, because: str) -> None:
    found = asked(project, set(MENDED) - {missing})
    assert found.word == word
    (reason,) = found.reasons
    assert because in reason.because
    assert found.path == (reason.mend,)


def test_the_order_of_mending_does_not_matter(project: Project) -> None:
    by_state: dict[frozenset[str], Readiness] = {}
    for order in permutations(MENDED):
        for count in range(len(order) + 1):
            state = frozenset(order[:count])
            if state not in by_state:
                by_state[state] = asked(project, set(state))
            # Mending one thing takes its reasons away and leaves the others as they are.
            assert len(by_state[state].reasons) == len(MENDED) - len(state)
    everything = set(by_state[frozenset()].path)
    for state, found in by_state.items():
        assert set(found.path) <= everything
        assert (found.word == "yes") == (len(state) == len(MENDED))


def test_a_gate_before_it_has_to_hold_as_well(project: Project) -> None:
    found = asked(project, set(MENDED), to="G3")
    assert found.word == "cannot tell"
    assert [each.gate for each in found.reasons] == ["G3"]
    assert {each.gate for each in asked(project, set(), to="G3").reasons} == {"G1", "G2", "G3"}


def test_a_no_by_a_role_is_a_no(project: Project) -> None:
    found = asked(project, set(MENDED), text=BENCH.replace("ANSWER", MENDED["ANSWER"].replace("'yes'", "'no'")))
    assert found.word == "no"
    assert "builder-1 answered" in found.reasons[0].because


def test_a_result_that_fails_or_is_stale_or_of_another_unit_is_no_yes(project: Project) -> None:
    failing = asked(project, set(MENDED), text=BENCH.replace("as it should be", "not as it should be"))
    assert failing.word == "no"
    stale = BENCH.replace("scope: every unit", "scope: every unit, configuration: P05").replace(
        "unit: UNIT,", "unit: UNIT, configuration: {P05: old},"
    )
    stale += "parts:\n  P05: {title: controller, version: new}\n"
    found = asked(project, set(MENDED), text=stale)
    assert found.word == "cannot tell"
    assert "stale" in found.reasons[0].because


def test_a_unit_out_of_use_goes_nowhere(project: Project) -> None:
    found = asked(
        project, set(MENDED), text=BENCH.replace("title: first unit", "title: first unit\n    retired: 2026-11-03")
    )
    assert found.word == "no"


# -- the command ----------------------------------------------------------------------------------


def run(*arguments: object) -> str:
    done = CliRunner(env={"COLUMNS": "80"}).invoke(app, ["gate", *map(str, arguments), "--today", "2026-11-25"])
    if done.exception is not None:
        raise done.exception
    return done.stdout


def answer(unit: str, to: str) -> Any:
    return json.loads(run(HOOD, "--unit", unit, "--to", to, "--format", "json"))


def test_the_units_of_the_demo() -> None:
    second, third = answer("U02", "G2"), answer("U03", "open to review")
    assert second["answer"] == "no"
    assert any("stiffer" in each for each in second["reasons"])
    assert third["answer"] == "no"
    assert any("0.9.2" in each for each in third["reasons"])
    assert any("torque" in each for each in third["path"])
    for told in (second, third):
        assert len(told["reasons"]) <= 5
        assert "nothing about use on a person" in told["caution"]


def test_the_answer_is_read_aloud() -> None:
    told = " ".join(run(HOOD, "--unit", "U02", "--to", "review").split())
    assert told.startswith("May U02 go to `open to review` (G2)? No.")
    assert told.endswith("This gate is about showing the unit. It says nothing about use on a person.")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--unit", "U09", "--to", "G2"), "there is no unit U09"),
        (("--unit", "U02", "--to", "G9"), "there is no gate G9"),
        (("--unit", "U02", "--to", "o"), "may be more than one gate"),
        (("--unit", "U02"), "one unit and one step"),
    ],
)
def test_what_is_not_there_is_refused(arguments: tuple[str, ...], words: str) -> None:
    with pytest.raises(RiskkitError) as refused:
        run(HOOD, *arguments)
    assert words in refused.value.headline
    assert refused.value.help


NEWEST = """
gates:
  G1: {title: bench only, order: 1, questions: [{ask: Does the level hold, tests: T36}]}
parts:
  P05: {title: controller, version: new}
tests:
  T36: {title: level, scope: every unit, configuration: P05, limit: {what: level, at_most: 10 hPa}}
units:
  U01: {title: first unit, parts: {P05: new}}
results:
  R01: {test: T36, on: 2026-11-01, unit: U01, configuration: {P05: FIRST}, readings: {level: [READ]}, uncertainty: {level: 0.5 hPa}}
"""
AGAIN = "  R02: {test: T36, on: 2026-11-02, unit: U01, configuration: {P05: new}, readings: {level: [9.0 hPa]}, uncertainty: {level: 0.5 hPa}MORE}\n"


@pytest.mark.parametrize(
    ("first", "read", "more", "alone", "then"),
    [
        ("old", "9.0 hPa", "", "cannot tell", "yes"),  # stale, and done again
        ("new", "9.8 hPa", "", "cannot tell", "yes"),  # could not be told, and read with a better gauge
        ("new", "11.0 hPa", "", "no", "no"),  # a failure is not outvoted by another try
        ("new", "11.0 hPa", ", supersedes: R01, superseded_because: the hose was off", "no", "yes"),
    ],
)
def test_doing_what_the_path_says_clears_the_reason(
    project: Project, first: str, read: str, more: str, alone: str, then: str
) -> None:
    text = NEWEST.replace("FIRST", first).replace("READ", read)
    for added, word in (("", alone), (AGAIN.replace("MORE", more), then)):
        assessment = project(text + added)
        unit, gate = assessment.register.get("U01", Unit), assessment.register.get("G1", Gate)
        assert unit is not None
        assert gate is not None
        found = readiness(unit, gate, assessment.context, assessment.open_findings)
        assert found.word == word
        if word == "no":
            assert any("supersedes: R01" in step for step in found.path)

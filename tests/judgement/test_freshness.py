"""Results that leaned on what is not there any more, and what a change would make stale."""

from __future__ import annotations

import datetime
import json
from collections.abc import Callable
from pathlib import Path

import pytest
from typer.testing import CliRunner

from riskkit import load
from riskkit.assess import Assessment, assess
from riskkit.cli.commands import app
from riskkit.diagnostics import RiskkitError
from riskkit.judgement.changes import change_of
from riskkit.judgement.freshness import memories
from riskkit.model.verification import Test

Project = Callable[..., Assessment]
HOOD = Path(__file__).parent.parent.parent / "catalogs" / "examples" / "hood"

BENCH = """
parts:
  P05: {title: controller, version: firmware 0.9.4}
  P11: {title: blow-off, version: lot B, ratings: {mass: 83 g, diameter: 24 mm}}
hazards:
  H01: {title: overpressure, condition: normal, harm: {text: injury, severity: 4}, controls: [C01], tests: [T07]}
controls:
  C01: {title: blow-off, kind: protective, depends_on: [P11]}
instruments:
  I03: {title: gauge, uncertainty: 0.3 hPa, calibrations: [{on: 2026-06-01, outcome: passed}]}
calculations:
  K03:
    title: opening pressure
    model: weighted-relief
    source: weight over area
    owner: builder-1
    inputs: {mass: {from: P11, what: mass}, disc: {from: P11, what: diameter}}
    gives: {opening pressure: opening_pressure}
tests:
  T07:
    title: opening pressure
    proves: [C01]
    shows: [implementation, effectiveness]
    limit: {what: opening pressure, at_most_from: {from: K03, what: opening pressure}}
    conditions: {flow: 20 L/min}
    configuration: [P05, P11]
    instruments: [I03]
    calculation: K03
    time: 20 min
results:
  R07:
    test: T07
    on: 2026-10-01
    configuration: {P05: firmware 0.9.4, P11: lot B}
    instruments: [I03]
    readings: {opening pressure: [17.2 hPa]}
    uncertainty: {opening pressure: 0.3 hPa}
    remembers: MEMORY
"""


def remembering(project: Project) -> str:
    """The register with the fingerprints that `record` would write today."""
    plain = project(BENCH.replace("MEMORY", "{}"))
    test = plain.register.get("T07", Test)
    assert test is not None
    written = memories(test, ["I03"], plain.register, plain.worked)
    assert set(written) == {"T07", "I03", "K03"}
    return BENCH.replace("MEMORY", json.dumps(written))


@pytest.mark.parametrize(
    ("was", "now", "record"),
    [
        ("version: firmware 0.9.4}", "version: firmware 0.9.5}", "P05"),
        ("version: lot B,", "version: lot C,", "P11"),
        ("mass: 83 g", "mass: 79 g", "T07"),  # the limit is calculated, and moves
        ("mass: 83 g", "mass: 79 g", "K03"),
        ("{flow: 20 L/min}", "{flow: 40 L/min}", "T07"),
        ("uncertainty: 0.3 hPa, cal", "uncertainty: 0.5 hPa, cal", "I03"),
        ("outcome: passed}]", "outcome: passed}, {on: 2026-11-01, outcome: failed}]", "I03"),
        ("outcome: passed}]", "outcome: passed}, {on: 2026-11-01, outcome: adjusted}]", "I03"),
    ],
)
def test_an_edit_makes_it_stale_and_undoing_it_makes_it_fresh(
    project: Project, was: str, now: str, record: str
) -> None:
    text = remembering(project)
    assert was in text
    before, after, again = project(text), project(text.replace(was, now, 1)), project(text)
    assert not before.freshness["R07"].is_stale
    assert after.freshness["R07"].is_stale
    assert record in {each.record for each in after.freshness["R07"].lapses}
    assert any(each.rule == "result-is-stale" and each.record == "R07" for each in after.report)
    assert again.statuses == before.statuses
    assert again.verdicts == before.verdicts


@pytest.mark.parametrize(
    ("was", "now"),
    [
        ("83 g", "0.083 kg"),
        ("20 L/min", "1.2 m3/h"),
        ("title: opening pressure\n    proves", "title: when it opens\n    owner: builder-1\n    proves"),
        ("uncertainty: 0.3 hPa, cal", "uncertainty: 0.3 hPa, notes: wiped, cal"),
        ("firmware 0.9.4}", "Firmware  0.9.4}"),
        (
            "outcome: passed}]",
            "outcome: passed}, {on: 2026-11-01, outcome: passed}, {on: 2026-11-02, outcome: failed}]",
        ),
    ],
)
def test_what_says_the_same_leaves_it_fresh(project: Project, was: str, now: str) -> None:
    text = remembering(project)
    assert was in text
    assert not project(text.replace(was, now, 1)).freshness["R07"].is_stale


def test_a_stale_result_carries_nothing(project: Project) -> None:
    text = remembering(project)
    fresh, stale = project(text), project(text.replace("version: firmware 0.9.4}", "version: firmware 0.9.5}"))
    assert fresh.statuses["H01"].word != "controlled, unverified"
    assert stale.statuses["H01"].word == "controlled, unverified"


def test_a_judgement_excuses_it_until_its_end(project: Project) -> None:
    text = remembering(project).replace("version: firmware 0.9.4}", "version: firmware 0.9.5}")
    judged = text + "    still_valid: {because: same valve, by: biomedical engineer, on: 2026-10-20, until: UNTIL}\n"
    lasting, ended = project(judged.replace("UNTIL", "2027-04-20")), project(judged.replace("UNTIL", "2026-11-01"))
    assert not lasting.freshness["R07"].is_stale
    assert ended.freshness["R07"].is_stale
    (found,) = [each for each in ended.report if each.rule == "result-is-stale"]
    assert "ended on 2026-11-01" in found.headline


def test_a_change_makes_no_result_fresher(project: Project) -> None:
    text = remembering(project).replace("version: firmware 0.9.4}", "version: firmware 0.9.5}")
    for was, now in (("83 g", "79 g"), ("lot B,", "lot C,"), ("0.3 hPa, cal", "0.5 hPa, cal")):
        assert project(text.replace(was, now, 1)).freshness["R07"].is_stale


# -- what a change touches ------------------------------------------------------------------------


def hood() -> Assessment:
    return assess(load(HOOD), today=datetime.date(2026, 11, 25))


def test_the_planted_gap_of_the_demo_is_the_only_stale_result() -> None:
    found = hood().freshness
    assert [id for id, each in found.items() if each.is_stale] == ["R20"]
    assert found["R18"].lapses
    assert found["R18"].excused is not None


def test_a_new_disc_makes_the_tests_of_the_blow_off_stale_and_no_other() -> None:
    assessment = hood()
    change = change_of("P11", assessment.register, assessment.trace, assessment.freshness)
    assert {each.test for each in change.stale} == {"T07", "T08", "T09"}
    assert {each.path for each in change.stale if each.test == "T07"} == {
        ("R07-1", "T07", "P11"),
        ("R07-2", "T07", "P11"),
    }
    assert change.units == ("U01", "U02", "U03")
    assert change.cover.is_smallest
    assert all(tests & set(change.cover.chosen) for tests in change.claims.values())


@pytest.mark.parametrize("record", ["P05", "P11", "I03", "K03", "A01", "C07", "T07", "U01", "H05"])
def test_what_goes_stale_also_leans_on_the_record(record: str) -> None:
    assessment = hood()
    change = change_of(record, assessment.register, assessment.trace, assessment.freshness)
    leaning = {each.record for each in change.leaning} | {record}
    for each in change.stale:
        assert each.result in leaning or record in assessment.register.get(each.test, Test).proves  # type: ignore[union-attr]
        assert each.path[0] == each.result
        assert each.path[-1] == record


def run(*arguments: str) -> str:
    done = CliRunner(env={"COLUMNS": "80"}).invoke(app, ["change", *arguments, "--today", "2026-11-25"])
    if done.exception is not None:
        raise done.exception
    return done.stdout


def test_the_folder_may_stand_before_the_id_or_behind_it() -> None:
    first = json.loads(run(str(HOOD), "P11", "--format", "json"))
    assert first == json.loads(run("P11", str(HOOD), "--format", "json"))
    assert first["retest"] == ["T07", "T08", "T09"]
    assert first["minutes"] == 450
    assert {"record": "R09", "test": "T09", "path": ["R09", "T09", "P11"], "already": False} in first["stale"]


def test_the_list_is_read_aloud() -> None:
    told = " ".join(run("P11", str(HOOD)).split())
    assert "Do again, 7 h 30 min at the bench" in told
    assert "T40 need not be done for that" in " ".join(run("I03", str(HOOD)).split())
    assert "No cheaper set of tests shows all of it." in told


def test_a_record_that_is_not_there_is_refused() -> None:
    with pytest.raises(RiskkitError, match="there is no record P99"):
        run("P99", str(HOOD))

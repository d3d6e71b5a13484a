"""Built units: the same reading on a poorer gauge, photos by hash, firmware as read back, re-tests of deviations."""

from __future__ import annotations

import datetime
import hashlib
from collections.abc import Callable
from pathlib import Path

import pytest

from riskkit.assess import Assessment, assess
from riskkit.checks.readiness import readiness
from riskkit.judgement.as_built import proposals, step_verdict
from riskkit.judgement.loosening import steps
from riskkit.model.upkeep import Gate, Unit
from riskkit.text.reader import read, with_evidence
from riskkit.text.snapshot import read_folder

Project = Callable[..., Assessment]
DAY = datetime.date(2026, 11, 25)

CHECK = """
gates: {{G1: {{title: bench only, order: 1, questions: [{{ask: Does the level hold, steps: level}}]}}}}
instruments: {{I01: {{title: column, uncertainty: 0.18 hPa}}}}
units:
  U01:
    title: first
    checks: [{{step: level, kind: pressure, {fields}, by: builder-1, on: 2026-11-02}}]
"""


@pytest.mark.parametrize(
    ("fields", "word", "answer"),
    [  # limit 5.7 hPa, reading 5.3 hPa: 0.4 hPa inside; a guard band of U on that side decides (ISO 14253-1)
        ("limit: {at_most: 5.7 hPa}, reading: 5.3 hPa, uncertainty: 0.18 hPa", "meets", "yes"),
        ("limit: {at_most: 5.7 hPa}, reading: 5.3 hPa, uncertainty: 0.6 hPa", "cannot tell", "cannot tell"),
        ("limit: {at_most: 5.7 hPa}, reading: 5.3 hPa ± 0.6 hPa", "cannot tell", "cannot tell"),
        ("limit: {at_most: 5.7 hPa}, reading: 5.3 hPa, instrument: I01", "cannot tell", "cannot tell"),
        ("limit: {at_most: 5.7 hPa}, reading: 6.3 hPa, uncertainty: 0.18 hPa", "does not meet", "no"),
        ("limit: {at_most: 5.7 hPa}, reading: 0.54 kPa, uncertainty: 2 %", "meets", "yes"),
        ("limit: {at_most: 5.7 hPa}, reading: 3 mm, uncertainty: 1 mm", "cannot tell", "cannot tell"),
        ("limit: {at_most: 5.7 hPa}", "cannot tell", "cannot tell"),
        ("limit: {shows: flap falls free}, inspection: as it should be", "meets", "yes"),
        ("limit: {shows: flap falls free}, outcome: it did", "cannot tell", "cannot tell"),
        ("inspection: not as it should be", "does not meet", "no"),
        ("outcome: done", None, "yes"),
    ],
)
def test_a_check_is_judged_with_its_uncertainty_and_the_gate_says_the_same(
    project: Project, fields: str, word: str | None, answer: str
) -> None:
    assessment = project(CHECK.format(fields=fields))
    unit, gate = assessment.register.get("U01", Unit), assessment.register.get("G1", Gate)
    assert unit is not None
    assert gate is not None
    verdict = step_verdict(unit.checks[0], assessment.register, assessment.policy.evidence)
    assert (verdict.word if verdict is not None else None) == word
    assert readiness(unit, gate, assessment.context, assessment.open_findings).word == answer
    rules = {each.rule for each in assessment.report if each.rule.startswith("build-check")}
    expected = {"does not meet": {"build-check-outside-limit"}, "cannot tell": {"build-check-cannot-be-told"}}
    assert rules == expected.get(word or "", set())


DEVIATION = """
parts:
  P09: {title: spring valve}
  P11: {title: relief}
controls:
  C01: {title: relief, kind: protective, depends_on: [P09]}
  C02: {title: old relief, kind: protective, depends_on: [P09], withdrawn: {on: 2026-01-01, because: gone}}
calculations: {K01: {title: point, parts: [P09]}}
tests:
  T01: {title: levels, scope: every unit, limit: {shows: it holds}, configuration: [P09]}
  T02: {title: relief, limit: {shows: it opens}, proves: [C01]}
  T03: {title: leak, limit: {shows: it holds}, calculation: K01}
  T04: {title: sound, limit: {shows: it is quiet}, configuration: [P11]}
  T05: {title: old relief, limit: {shows: it opens}, proves: [C02]}
units:
  U02:
    title: second
    deviations:
      - {text: stiffer spring, parts: P09JUDGED}
results:
  R01: {test: T01, on: 2026-10-30, unit: U02, inspection: as it should be}
  R02: {test: T01, on: 2026-11-09, unit: U01, inspection: as it should be}
"""
JUDGED = ", judged: {verdict: repeat, by: biomedical engineer, on: 2026-11-02, repeat: [T01, T02]}"


def test_an_unjudged_deviation_proposes_the_tests_that_lean_on_its_parts(project: Project) -> None:
    assessment = project(DEVIATION.replace("JUDGED", ""))
    unit = assessment.register.get("U02", Unit)
    assert unit is not None
    found = proposals(unit.deviations[0], assessment.register, assessment.trace)
    assert {each.test: each.because for each in found} == {
        "T01": "is sensitive to P09",
        "T02": "is meant to show C01, which depends on P09",
        "T03": "takes its limit from K01, which takes inputs from P09",
    }
    (told,) = [each for each in assessment.report if each.rule == "deviation-not-judged"]
    assert "T01, T02, T03" in told.help


@pytest.mark.parametrize(
    ("more", "waits_for"),
    [
        ("", ["T01", "T02"]),
        ("  R03: {test: T01, on: 2026-11-02, unit: U02, inspection: as it should be}", ["T02"]),
        ("  R03: {test: T01, on: 2026-11-03, unit: U02, inspection: not as it should be}", ["R03", "T02"]),
        ("  R03: {test: T01, on: 2026-11-03, unit: U02}", ["R03", "T02"]),
        (
            "  R03: {test: T01, on: 2026-11-03, unit: U02, inspection: as it should be}\n"
            "  R04: {test: T02, on: 2026-11-03, unit: U02, inspection: as it should be}",
            [],
        ),
    ],
)
def test_a_judged_deviation_waits_for_its_re_tests_on_this_unit(
    project: Project, more: str, waits_for: list[str]
) -> None:
    found = project(DEVIATION.replace("JUDGED", JUDGED) + more).report
    told = [each.headline for each in found if each.rule == "deviation-not-tested-again"]
    assert bool(told) is bool(waits_for)
    for name in waits_for:
        assert name in told[0]


def test_a_re_test_counts_from_the_day_of_the_deviation_where_it_is_written_down(project: Project) -> None:
    text = DEVIATION.replace("JUDGED", JUDGED.replace("[T01, T02]", "T01"))
    since = text.replace("stiffer spring,", "stiffer spring, on: 2026-10-29,")
    rules = [{each.rule for each in project(each).report} for each in (text, since)]
    assert "deviation-not-tested-again" in rules[0]
    assert "deviation-not-tested-again" not in rules[1]


def test_photos_of_a_unit_and_of_a_check_are_held_against_their_hashes(tmp_path: Path) -> None:
    for name in ("kept", "edited"):
        (tmp_path / f"{name}.jpg").write_bytes(name.encode())
    good = hashlib.sha256(b"kept").hexdigest()
    (tmp_path / "r.yaml").write_text(f"""
units:
  U01:
    title: first
    evidence: {{file: kept.jpg, sha256: {good}}}
    checks:
      - step: seal
        by: builder-1
        evidence:
          - {{file: edited.jpg, sha256: {good}}}
          - {{file: lost.jpg, sha256: {good}}}
          - {{file: kept.jpg}}
          - {{file: ../outside.jpg, sha256: {good}}}
""")
    snapshot, troubles = read_folder(tmp_path)
    found = assess(with_evidence(read(snapshot, troubles), tmp_path), today=DAY).report
    told = {each.rule: (each.place.line, each.headline) for each in found if each.rule.startswith("evidence")}
    assert {rule: line for rule, (line, _) in told.items()} == {
        "evidence-changed": 10,
        "evidence-missing": 11,
        "evidence-without-hash": 12,
        "evidence-outside-folder": 13,
    }
    assert all("the check `seal` of U01" in headline for _, headline in told.values())


def test_firmware_that_calls_itself_the_same_and_is_not_is_found(project: Project) -> None:
    text = """
parts: {P05: {title: controller, version: 0.9.4, firmware_sha256: DRAWN}}
units: {U01: {title: first, parts: {P05: FITTED}, firmware_sha256: {P05: READ}MORE}}
"""

    def found(drawn: str, fitted: str, read: str, more: str = "") -> bool:
        said = text.replace("DRAWN", drawn).replace("FITTED", fitted).replace("READ", read).replace("MORE", more)
        return "firmware-read-back-differs" in {each.rule for each in project(said).report}

    one, other = "ab12cd34" * 8, "ab12cd35" * 8
    assert not found(one, "0.9.4", one.upper())
    assert not found(one, "0.9.4", f"'{one[:8]}'")
    assert found(one, "0.9.4", other)
    assert found(one, "0.9.4", "'ab12'"), "four digits say nothing"
    assert not found(one, "0.9.2", other), "another version has another hash, and another rule says so"
    assert not found(one, "0.9.4", other, ", deviations: {text: own build, parts: P05}")


def test_a_comparison_names_a_check_whose_limit_was_widened_or_dropped_and_a_re_test_that_is_gone(
    project: Project,
) -> None:
    text = """
units:
  U01:
    title: first
    checks: [{step: level, limit: LIMIT, reading: 5 hPa}]
    deviations: {text: own spring, judged: {verdict: again, by: engineer, on: 2026-11-02, repeat: REPEAT}}
tests: {T01: {title: a, limit: {shows: x}}, T02: {title: b, limit: {shows: x}}}
"""

    def unit(limit: str, repeat: str = "[T01, T02]") -> Unit:
        read = text.replace("limit: LIMIT, " if not limit else "LIMIT", limit).replace("REPEAT", repeat)
        found = project(read).register.get("U01", Unit)
        assert found is not None
        return found

    def said(after: Unit) -> list[tuple[str, str]]:
        return [(each.word, each.words) for each in steps(unit("{at_most: 6 hPa}"), after)]

    assert said(unit("{at_most: 6.0 hPa}")) == []
    ((word, words),) = said(unit("{at_most: 7 hPa}"))
    assert (word, "at `level`" in words) == ("loosened", True)
    ((word, _),) = said(unit("{at_most: 5 hPa}"))
    assert word == "tightened"
    assert said(unit("")) == [("loosened", "no longer asks for `at most 6 hPa` at `level`")]
    assert said(unit("{at_most: 6 hPa}", "T01")) == [("loosened", "no longer asks to repeat T02")]

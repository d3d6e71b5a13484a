"""Every rule is run on the YAML of its own docstring: found at the marked lines, and nowhere else."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest

from riskkit.assess import Assessment
from riskkit.checks import Rule, all_rules

RULES = all_rules()
NEEDS_FILES = frozenset({"evidence-missing", "evidence-changed", "adopted-entry-outdated"})
"""Their examples are run in tests/text, in test_evidence_files.py and test_catalogs.py, beside what they speak of."""
RETIRED: frozenset[str] = frozenset()
"""Names that were used once and must never mean something else."""


@pytest.mark.parametrize("rule", [rule for rule in RULES if rule.name not in NEEDS_FILES], ids=lambda rule: rule.name)
@pytest.mark.parametrize("which", ["bad", "good"])
def test_a_rule_finds_its_bad_example_at_the_marked_lines_and_leaves_its_good_one_alone(
    rule: Rule, which: str, project: Callable[..., Assessment]
) -> None:
    text = rule.bad if which == "bad" else rule.good
    assert text.strip(), f"{rule.name} has no {which} example"
    assessment = project(text)
    assert not list(assessment.reading.report), "an example must be a register that can be read"
    marked = [number for number, line in enumerate(text.splitlines(), start=1) if line.rstrip().endswith("# <-")]
    assert bool(marked) is (which == "bad")
    found = [found for found in assessment.report if found.rule == rule.name]
    assert [found.place.line for found in found] == marked
    for each in found:
        assert each.place.column >= 1
        assert each.help, "a finding says what to type"
        assert not each.headline.endswith("."), "the printer ends the sentence"


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_a_rule_explains_itself(rule: Rule) -> None:
    assert re.fullmatch(r"[a-z]+(-[a-z]+)*", rule.name)
    assert rule.name not in RETIRED
    assert rule.headline.endswith("."), "the first line says what is found"
    assert "\n" in rule.explanation.strip(), "and the next lines say why it matters"


def test_a_waiver_hides_its_finding_and_keeps_it_for_the_paper(project: Callable[..., Assessment]) -> None:
    text = """
parts:
  P01: {title: blower}
waivers:
  W01: {rule: part-never-asked, record: P01, because: waits, by: builder-1, on: 2026-11-01, until: 2026-12-24}
"""
    assessment = project(text)
    assert "part-never-asked" not in {found.rule for found in assessment.report}
    assert [waived.finding.record for waived in assessment.waived] == ["P01"]
    reopened = project(text.replace("2026-12-24", "2026-11-24"))
    assert {"part-never-asked", "expired-waiver"} <= {found.rule for found in reopened.report}


def test_a_rule_that_marks_a_contradiction_cannot_be_waived(project: Callable[..., Assessment]) -> None:
    assessment = project("""
gates:
  G01: {title: ready for patients, order: 1}
waivers:
  W01: {rule: permits-use-on-a-person, record: G01, because: no, by: a, second: b, on: 2026-11-01, until: 2026-11-30}
""")
    assert "permits-use-on-a-person" in {found.rule for found in assessment.report.broken}

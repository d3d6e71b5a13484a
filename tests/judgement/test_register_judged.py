"""Fingerprints, status, alarm budgets and differences: what is derived follows what is typed, and nothing else."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from riskkit.assess import Assessment
from riskkit.judgement.differences import Judged, differences
from riskkit.judgement.fingerprints import fingerprint

TEXT = """
policy: five-by-five
hazards:
  H01:
    title: Flow stops
    condition: [single fault]
    harm: {text: poisoning, severity: 5}
    likelihood: {before: {p1: 1e-2, p2: 0.5, because: x}, claimed: {p1: 1e-4, p2: 0.5, because: y}}
    time_to_harm: {value: 58 s, assumption: A01}
    controls: [C01]
    tests: [T01]
controls:
  C01: {title: alarm, kind: protective, depends_on: [P01], alarm: {detect: 6 s, delay: 4 s, signal: 1 s, notice: 30 s, act: 25 s, listener: a}}
parts:
  P01: {title: sensor}
assumptions:
  A01: {text: 3 %, owner: emergency physician}
tests:
  T01: {title: alarm time, proves: C01, shows: [implementation, effectiveness], limit: {at_most: 58 s}, plan: {runs: 20}}
"""


def print_of(assessment: Assessment) -> str:
    return fingerprint(assessment.register, assessment.policy, "H01")


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("condition: [single fault]", "condition: single fault   # a comment"),
        ("value: 58 s", "value: 0.9666666666666667 min"),
        ("p1: 1e-2, p2: 0.5", "p2: 1/2, p1: 1 %"),
        (
            "    title: Flow stops\n    condition: [single fault]\n",
            "    condition: [single fault]\n    title: 'Flow stops'\n",
        ),
        ("    title: Flow stops", "    title: Flow stops\n    owner: someone\n    notes: anything"),
        ("title: sensor", "title: another sensor"),
    ],
)
def test_a_fingerprint_does_not_change_with_form(old: str, new: str, project: Callable[..., Assessment]) -> None:
    assert old in TEXT
    changed = project(TEXT.replace(old, new))
    assert not changed.report.broken
    assert print_of(changed) == print_of(project(TEXT))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("severity: 5", "severity: 4"),
        ("p1: 1e-4", "p1: 2e-4"),
        ("value: 58 s", "value: 59 s"),
        ("notice: 30 s", "notice: 15 s"),
        ("controls: [C01]", "controls: []"),
        ("policy: five-by-five", "policy: {use: five-by-five, severe_from: 3}"),
        ("title: Flow stops", "title: Flow falls"),
    ],
)
def test_a_fingerprint_changes_with_content(old: str, new: str, project: Callable[..., Assessment]) -> None:
    assert old in TEXT
    assert print_of(project(TEXT.replace(old, new))) != print_of(project(TEXT))


def test_a_decision_is_void_when_what_it_covers_changes(project: Callable[..., Assessment]) -> None:
    mark = print_of(project(TEXT))
    decided = (
        TEXT + f"decisions:\n  D01: {{on: 2026-11-20, by: physician, covers: {{H01: {mark}}}, because: bench only}}\n"
    )
    assert "decision-void" not in {found.rule for found in project(decided).report}
    later = project(decided.replace("notice: 30 s", "notice: 29 s"))
    void = next(found for found in later.report if found.rule == "decision-void")
    assert mark in void.headline
    assert print_of(later) in void.help


def test_status_is_derived_from_controls_and_results(project: Callable[..., Assessment]) -> None:
    def word(text: str) -> str:
        return project(text).statuses["H01"].word

    result = "results:\n  R01: {test: T01, on: 2026-11-01, readings: {time: [50 s]}}\n"
    assert word(TEXT.replace("controls: [C01]", "controls: []")) == "open"
    assert word(TEXT) == "controlled, unverified"
    assert word(TEXT + result) == "measured"
    assert word(TEXT.replace("[implementation, effectiveness]", "effectiveness") + result) == "controlled, unverified"
    parked = TEXT.replace(
        "title: Flow stops", "title: Flow stops\n    parked: {reason: a, owner: b, until: 2026-11-25}"
    )
    assert word(parked) == "parked"
    assert word(parked.replace("2026-11-25", "2026-11-24")) == "controlled, unverified"


@pytest.mark.parametrize(("notice", "late"), [("30 s", True), ("23 s", True), ("22 s", False), ("15 s", False)])
def test_an_alarm_is_late_when_its_delays_exceed_the_time_to_harm(
    notice: str, late: bool, project: Callable[..., Assessment]
) -> None:
    """6 + 4 + 1 + 30 + 25 = 66 s against 58 s; the edge of 58 s is not late."""
    assessment = project(TEXT.replace("notice: 30 s", f"notice: {notice}"))
    assert [budget.late for budget in assessment.alarms] == [late]
    assert ("alarm-slower-than-harm" in {found.rule for found in assessment.report}) is late


def test_a_budget_with_a_missing_delay_cannot_tell_unless_it_is_already_too_long(
    project: Callable[..., Assessment],
) -> None:
    assert [b.late for b in project(TEXT.replace("notice: 30 s, ", "")).alarms] == [None]
    assert [b.late for b in project(TEXT.replace("detect: 6 s, ", "").replace("30 s", "90 s")).alarms] == [True]


def judged(assessment: Assessment) -> Judged:
    still_open = tuple((found.rule, found.record, found.headline) for found in assessment.report.open)
    return Judged(assessment.register, assessment.policy, assessment.scores, still_open)


@pytest.mark.parametrize(
    ("old", "new", "kind", "words"),
    [
        ("at_most: 58 s", "at_most: 70 s", "loosened", "T01 asks for `at most 70 s` instead of `at most 58 s`"),
        ("at_most: 58 s", "at_most: 0.5 min", "tightened", "T01 asks for `at most 0.5 min`"),
        ("runs: 20", "runs: 5", "loosened", "T01 asks for 5 runs instead of 20"),
        ("severity: 5", "severity: 4", "loosened", "H01 has severity 4 instead of 5"),
        ("p1: 1e-4", "p1: 1e-6", "loosened", "with no new result"),
        ("p1: 1e-4", "p1: 1e-2", "worse", "H01 is claimed at C instead of E"),
        ("controls: [C01]", "controls: []", "loosened", "no longer answered by C01"),
        ("five-by-five", "{use: five-by-five, matrix: {A: {1: watch, 2: reduce, 3: reduce, 4: reduce, 5: reduce}, "
         "B: {1: watch, 2: reduce or justify, 3: reduce or justify, 4: reduce, 5: reduce}, "
         "C: {1: watch, 2: watch, 3: reduce or justify, 4: reduce or justify, 5: reduce}, "
         "D: {1: watch, 2: watch, 3: watch, 4: reduce or justify, 5: reduce or justify}, "
         "E: {1: watch, 2: watch, 3: watch, 4: watch, 5: reduce or justify}}}", "loosened", "A, 1 says `watch` instead of"),
        ("title: alarm,", "title: 'alarm, old', withdrawn: {on: 2026-11-01, because: too quiet},", "loosened", "C01 was withdrawn: too quiet"),
        ("notice: 30 s", "notice: 15 s", "better", "no longer open: C01 comes too late"),
        ("title: sensor", "title: other sensor", "changed", "P01 (other sensor) was edited"),
    ],
)  # fmt: skip
def test_differences_are_told_in_risk_words(
    old: str, new: str, kind: str, words: str, project: Callable[..., Assessment]
) -> None:
    assert old in TEXT
    changed = project(TEXT.replace(old, new))
    assert not changed.report.broken, [found.headline for found in changed.report.broken]
    found = differences(judged(project(TEXT)), judged(changed))
    assert any(each.kind == kind and words in each.headline for each in found), found
    ranks = [
        ("loosened", "worse", "better", "tightened", "added", "removed", "changed").index(each.kind) for each in found
    ]
    assert ranks == sorted(ranks), "loosened is told first"


def test_a_lower_claim_with_a_new_result_is_better_and_not_loosened(project: Callable[..., Assessment]) -> None:
    shown = (
        TEXT.replace("p1: 1e-4", "p1: 1e-6")
        + "results:\n  R01: {test: T01, on: 2026-11-01, readings: {time: [50 s]}}\n"
    )
    shown = shown.replace("claimed: {p1: 1e-6", "claimed: {p1: 1e-5")
    base = TEXT.replace("claimed: {p1: 1e-4", "claimed: {p1: 1e-3")
    found = differences(judged(project(base)), judged(project(shown)))
    assert ("better", "H01") in {(each.kind, each.record) for each in found}
    assert not [each for each in found if each.kind == "loosened"]


def test_nothing_differs_from_itself(project: Callable[..., Assessment]) -> None:
    assert differences(judged(project(TEXT)), judged(project(TEXT))) == ()


def test_a_failure_in_another_situation_is_called_by_its_name(project: Callable[..., Assessment]) -> None:
    text = """
hazards:
  H01: {title: air stops, condition: single fault, harm: {text: a, severity: 4}, controls: [C01], tests: [T01]}
controls:
  C01: {title: relief, kind: protective}
tests:
  T01: {title: opens, proves: [C01], shows: [implementation, effectiveness], limit: {shows: open}}
  T02: {title: opens in the cold, proves: [C01], shows: effectiveness, limit: {shows: open}}
results:
  R01: {test: T01, on: 2026-11-01, inspection: as it should be}
  R02: {test: T02, on: 2026-11-01, inspection: not as it should be}
"""
    status = project(text).statuses["H01"]
    assert (status.word, status.because) == ("measured", "R02 does not meet the limit of a test for another situation")

"""What a sample shows about a claimed proportion: counted runs, or tolerance limits of readings."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from riskkit.assess import Assessment
from riskkit.judgement.samples import SampleVerdict

Project = Callable[..., Assessment]

READ = """
tests:
  T01:
    title: opening pressure
    limit: {{what: opening pressure, {limit}}}
    plan: {{confidence: 95 %, proportion: 95 %{plan}}}
results:
  R01:
    test: T01
    on: 2026-11-02
    readings: {{opening pressure: [17.2 hPa, 17.6 hPa, 17.4 hPa, 17.9 hPa, 17.3 hPa]}}
    uncertainty: {{opening pressure: 0.30 hPa}}
"""


def sample(project: Project, text: str) -> SampleVerdict:
    return project(text).samples["T01"]


def test_five_readings_inside_do_not_show_the_claim(project: Project) -> None:
    # One-sided 95/95 factor for n = 5 is 4.203 (ISO 16269-6 table, from memory): 17.48 + 4.203 x 0.2775 = 18.65.
    found = sample(project, READ.format(limit="at_most: 18 hPa", plan=""))
    assert found.by_spread[0].tolerance.upper / 100 == pytest.approx(18.646, abs=0.003)
    assert not found.shown


def test_the_same_readings_show_a_wider_limit(project: Project) -> None:
    assert sample(project, READ.format(limit="at_most: 18.7 hPa", plan="")).shown


def test_two_ends_ask_for_the_two_sided_interval_unless_the_plan_names_one(project: Project) -> None:
    # Two-sided 95/95 factor for n = 5 is 5.079 by Howe, 5.077 exact (tables, from memory).
    both = sample(project, READ.format(limit="between: [15 hPa, 18.7 hPa]", plan=""))
    assert both.by_spread[0].tolerance.sides == "two-sided"
    assert not both.shown
    upper = sample(project, READ.format(limit="between: [15 hPa, 18.7 hPa]", plan=", side: upper end"))
    assert upper.by_spread[0].tolerance.sides == "upper"
    assert upper.shown


COUNTED = """
tests:
  T01: {{title: flaps, limit: {{shows: open}}, plan: {{confidence: {level}, proportion: {proportion}}}}}
results:
  R01: {{test: T01, on: 2026-11-02, runs: {runs}, failures: {failures}, inspection: as it should be}}
"""


# Success-run values: 95/95 59, 90/90 22, 95/90 29 (standard, from memory).
@pytest.mark.parametrize(
    ("runs", "failures", "level", "proportion", "shown"),
    [(59, 0, "95 %", "95 %", True), (58, 0, "95 %", "95 %", False), (22, 0, "90 %", "90 %", True),
     (29, 0, "95 %", "90 %", True), (28, 0, "95 %", "90 %", False)],
)  # fmt: skip
def test_counted_runs_show_a_proportion(
    project: Project, runs: int, failures: int, level: str, proportion: str, shown: bool
) -> None:
    text = COUNTED.format(runs=runs, failures=failures, level=level, proportion=proportion)
    assert sample(project, text).shown is shown


def test_one_failure_asks_for_ninety_three_runs(project: Project) -> None:
    # 95/95 with one failure allowed: 93 (standard, from memory).
    for runs, shown in ((93, True), (92, False)):
        text = COUNTED.format(runs=runs, failures=1, level="95 %", proportion="95 %").replace(
            "proportion: 95 %", "proportion: 95 %, allowed_failures: 1"
        )
        assert sample(project, text).shown is shown


def test_a_test_that_claims_no_proportion_has_no_sample_verdict(project: Project) -> None:
    assert not project(COUNTED.format(runs=5, failures=0, level="95 %", proportion="95 %").replace(
        "plan: {confidence: 95 %, proportion: 95 %}", "plan: {runs: 5}"
    )).samples  # fmt: skip


@pytest.mark.parametrize(
    ("flow", "shown"),
    [
        (", flow: [20.1 L/min, 20.0 L/min, 20.2 L/min, 20.1 L/min, 20.0 L/min]", True),
        (", flow: [20 L/min]", False),  # one reading has no spread
        (", flow: [40 L/min]", False),
        ("", False),
    ],
)
def test_every_limit_needs_a_spread_of_its_own(project: Project, flow: str, shown: bool) -> None:
    text = READ.format(limit="at_most: 20 hPa", plan="")
    text = text.replace("limit: {what: opening pressure, at_most: 20 hPa}", (
        "limit: [{what: opening pressure, at_most: 20 hPa}, {what: flow, at_most: 30 L/min}]"
    )).replace("17.3 hPa]}", f"17.3 hPa]{flow}}}").replace("0.30 hPa}", "0.30 hPa, flow: 1 L/min}")  # fmt: skip
    assert sample(project, text).shown is shown

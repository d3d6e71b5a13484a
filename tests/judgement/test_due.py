"""Everything that falls due: each sort once, on the right day, at the place where it stands."""

from __future__ import annotations

import datetime
from collections.abc import Callable

import pytest

from riskkit.assess import Assessment
from riskkit.judgement.as_built import later
from riskkit.judgement.due import falls_due
from riskkit.units import read_quantity

Project = Callable[..., Assessment]

EVERYTHING = """
instruments:
  I01: {title: gauge, due: 2027-01-01, owner: builder-1}
  I02: {title: stopwatch}
parts:
  P01: {title: seal, life_limit: 12 months}
  P02: {title: battery, life_limit: 24 months}
  P03: {title: case}
tests:
  T01: {title: emission, limit: {shows: report}, parked: {reason: no laboratory, owner: bench group, until: 2027-01-02}}
results:
  R01:
    test: T01
    on: 2026-01-01
    still_valid:
      - {because: same part, by: builder-1, on: 2026-02-01, until: 2026-08-01}
      - {because: same part, by: builder-1, on: 2026-03-01, until: 2027-01-03}
assumptions:
  A01: {text: someone is near, owner: emergency physician, until: 2027-01-04}
waivers:
  W01: {rule: part-never-asked, record: P03, because: waits, by: a, second: b, on: 2026-11-01, until: 2027-01-05}
decisions:
  D01: {on: 2026-11-01, by: group, covers: {H01: abcdef123456}, because: no better way, until: 2027-01-06}
hazards:
  H01: {title: flow stops, condition: normal, harm: {text: faint, severity: 3}}
comments:
  M01:
    on: 2026-11-01
    by: emergency physician
    weight: minor
    text: too loud
    disposition: {kind: deferred, owner: builder-2, until: 2027-01-07, reason: no time}
  M02: {on: 2026-11-01, by: emergency physician, weight: minor, text: too dark, disposition: {kind: declined, reason: no}}
observations:
  O01: {on: 2026-12-25, text: smell, by: builder-1}
  O02: {on: 2026-12-25, text: noise, no_hazard_because: a fan beside it}
units:
  U01: {title: first, built: 2026-01-08, builder: builder-3, parts: {P01: C, P02: D, P03: E}, fitted: {P02: 2025-01-09}}
  U02: {title: second, built: 2026-01-08, parts: {P01: C}, retired: 2026-05-01}
"""


def test_each_sort_falls_due_on_its_day_at_its_place(project: Project) -> None:
    assessment = project(EVERYTHING)
    found = falls_due(assessment.register, assessment.policy)
    patience = assessment.policy.observation_days
    assert [(str(each.day), each.kind, each.record, each.about) for each in found if each.kind != "observation"] == [
        ("2027-01-01", "comparison", "I01", ""),
        ("2027-01-02", "parking", "T01", ""),
        ("2027-01-03", "still valid", "R01", ""),
        ("2027-01-04", "assumption", "A01", ""),
        ("2027-01-05", "waiver", "W01", ""),
        ("2027-01-06", "decision", "D01", ""),
        ("2027-01-07", "deferred comment", "M01", ""),
        ("2027-01-08", "life limit", "U01", "P01"),
        ("2027-01-09", "life limit", "U01", "P02"),
    ]
    waiting = [each for each in found if each.kind == "observation"]
    assert [(each.record, each.day - datetime.date(2026, 12, 25)) for each in waiting] == [
        ("O01", datetime.timedelta(days=patience))
    ]
    lines = EVERYTHING.splitlines()
    for each in found:
        line = lines[assessment.places.of(each.record, each.path).line - 1]
        if each.kind not in ("life limit", "observation"):
            assert str(each.day) in line, each
        assert each.todo
        assert each.what
        assert not each.what.endswith(".")


@pytest.mark.parametrize(
    ("day", "span", "due"),
    [  # counted on a calendar by hand
        ("2026-08-28", "12 months", "2027-08-28"),
        ("2026-08-28", "24 months", "2028-08-28"),
        ("2024-02-29", "1 year", "2025-02-28"),
        ("2026-01-31", "1 month", "2026-02-28"),
        ("2026-11-30", "3 months", "2027-02-28"),
        ("2026-12-25", "2 weeks", "2027-01-08"),
        ("2026-12-31", "90 d", "2027-03-31"),
        ("2026-01-01", "5 years", "2031-01-01"),
        ("2026-01-01", "9000 years", None),
        ("2026-01-01", "1e9 h", None),
    ],
)
def test_a_life_is_counted_by_the_calendar(day: str, span: str, due: str | None) -> None:
    found = later(datetime.date.fromisoformat(day), read_quantity(span, "time"))
    assert (str(found) if found is not None else None) == due


def test_a_part_holds_on_its_last_day_and_is_beyond_it_on_the_next(project: Project) -> None:
    def found(day: str) -> list[str]:
        report = project(EVERYTHING, datetime.date.fromisoformat(day)).report
        return [each.headline for each in report if each.rule == "part-beyond-life-limit"]

    assert not found("2027-01-08")
    assert len(found("2027-01-09")) == 1
    assert len(found("2027-01-10")) == 2
    assert all("U01" in each for each in found("2030-01-01"))

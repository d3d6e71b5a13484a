"""Readings that do not go together: a normalised error above one, and half a U-tube."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from riskkit.assess import Assessment
from riskkit.judgement.contradictions import disagreements, half_readings

Project = Callable[..., Assessment]

TWO = """
tests:
  T01: {{title: level, limit: {{what: level, at_most: 6 hPa}}}}
units:
  U01: {{title: first}}
  U02: {{title: second}}
results:
  R01:
    {{test: T01, on: 2026-11-02, unit: U01, readings: {{level: [{first}]}}, uncertainty: {{level: {wide}}}{one}}}
  R02:
    {{test: T01, on: 2026-11-03, unit: {unit}, readings: {{level: [{second}]}}, uncertainty: {{level: {wide}}}{other}}}
"""


def two(first: str, second: str, wide: str = "0.2 hPa", unit: str = "U01", one: str = "", other: str = "") -> str:
    return TWO.format(first=first, second=second, wide=wide, unit=unit, one=one, other=other)


# Normalised error of ISO/IEC 17043: |x1 - x2| / sqrt(U1^2 + U2^2); with U 0.2 each the joint one is 0.2828.
@pytest.mark.parametrize(
    ("second", "apart"), [("4.82 hPa", False), ("4.81 hPa", True), ("5.39 hPa", True), ("5 hPa", False)]
)
def test_two_results_disagree_beyond_their_joint_uncertainty(project: Project, second: str, apart: bool) -> None:
    register = project(two("5.10 hPa", second)).register
    assert bool(list(disagreements(register))) is apart


def test_the_spread_of_the_readings_widens_the_joint_uncertainty(project: Project) -> None:
    register = project(two("4.6 hPa, 5.6 hPa", "4.7 hPa")).register
    assert not list(disagreements(register))


@pytest.mark.parametrize(
    "text",
    [
        two("5.1 hPa", "4.4 hPa", unit="U02"),
        two("5.1 hPa", "4.4 hPa", other=", conditions: {flow: 20 L/min}"),
        two("5.1 hPa", "4.4 hPa", other=", supersedes: R01, superseded_because: gauge"),
    ],
)
def test_other_units_settings_and_replaced_results_are_no_contradiction(project: Project, text: str) -> None:
    assert not list(disagreements(project(text).register))


@pytest.mark.parametrize(
    ("first", "second", "found"),
    [
        ("2.6 hPa", "5.1 hPa", ["R01"]),
        ("5.1 hPa", "260 Pa", ["R02"]),
        ("-2.6 hPa", "-5.1 hPa", ["R01"]),
        ("2.6 hPa", "-5.1 hPa", []),
        ("2.6 hPa", "4.5 hPa", []),
        ("2.6 hPa", "6.0 hPa", []),
    ],
)
def test_half_of_another_reading_looks_like_one_limb(
    project: Project, first: str, second: str, found: list[str]
) -> None:
    register = project(two(first, second)).register
    assert [each.result for each in half_readings(register)] == found


def test_a_reading_of_both_limbs_is_no_half(project: Project) -> None:
    register = project(two("2.6 hPa", "5.1 hPa", one=", reading_mode: both limbs")).register
    assert not list(half_readings(register))


def test_a_suspected_half_is_not_reported_as_a_contradiction_too(project: Project) -> None:
    rules = [found.rule for found in project(two("2.6 hPa", "5.1 hPa")).report]
    assert "reading-looks-like-one-limb" in rules
    assert "results-disagree" not in rules

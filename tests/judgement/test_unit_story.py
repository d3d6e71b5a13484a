"""`why` of a built unit: as built, how it differs, its checks, and what on it is stale or cannot be told."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from riskkit.assess import Assessment

Project = Callable[..., Assessment]

BENCH = """
parts:
  P01: {title: seal, version: C, life_limit: 12 months}
  P02: {title: controller, version: 1.4.0, firmware_sha256: ab12cd34ab12cd34}
  P03: {title: case}
gates: {G1: {title: bench only, order: 1}}
tests:
  T01: {title: levels, scope: every unit, limit: {at_most: 6 hPa}, configuration: [P02]}
  T02: {title: sound, scope: every unit, limit: {shows: quiet}}
  T03: {title: drop, limit: {shows: whole}}
observations: {O01: {on: 2026-10-02, text: a smell, unit: U01, no_hazard_because: new foam}}
units:
  U01:
    title: first
    serial: B-7
    builder: builder-3
    place: the other station
    built: 2026-09-01
    parts: {P01: D, P02: 1.4.0}
    firmware_sha256: {P02: ab12cd34}
    fitted: {P01: 2026-09-03}
    gate: G1
    checks:
      - {step: torque, two_people: true}
      - {step: level, limit: {at_most: 6 hPa}, reading: 5.7 hPa, uncertainty: 0.6 hPa, by: builder-3, second: builder-3, two_people: true}
    deviations:
      - {text: other foam, parts: P01, judged: {verdict: repeat the drop, by: engineer, on: 2026-09-05, repeat: T03}}
results:
  R01: {test: T01, on: 2026-09-02, unit: U01, configuration: {P02: 1.3.9}, readings: {level: [5 hPa ± 0.1 hPa]}}
  R03: {test: T03, on: 2026-09-06, unit: U01, inspection: as it should be}
"""


@pytest.mark.parametrize(
    "sentence",
    [
        "Serial B-7, built by builder-3 at the other station on 2026-09-01.",
        "Fitted otherwise than drawn: P01 (seal) is D, and the drawings have C.",
        "Fitted as drawn: P02.",
        "Not written down: P03.",
        "Firmware read back from P02: SHA-256 ab12cd34, as drawn.",
        "P01 (seal) is in since 2026-09-03 and is to be replaced by 2027-09-03.",
        "It differs: other foam (P01). engineer judged on 2026-09-05: repeat the drop.",
        "Asked for again: T03 was done again, and R03 meets its limit.",
        "Check `torque`: blank.",
        "T02 (sound), which every unit needs, has no result on it.",
        "O01 was seen on U01 (a smell).",
        "Read on it, and meeting the limit: T03 by R03.",
        "It has reached G1 (bench only).",
    ],
)
def test_the_story_of_a_unit_says(project: Project, sentence: str) -> None:
    assert sentence in project(BENCH).story("U01")


def test_what_is_stale_or_cannot_be_told_is_said_with_its_reason(project: Project) -> None:
    told = project(BENCH).story("U01")
    (check,) = [each for each in told if each.startswith("Check `level`")]
    assert "and seen by builder-3 again" in check
    assert "Cannot be told: 5.7 hPa ± 0.6 hPa" in check
    (levels,) = [each for each in told if each.startswith("T01 (levels)")]
    assert "meets its limit" in levels
    assert "and is stale: it was taken with P02 at 1.3.9, and P02 of U01 is 1.4.0 now" in levels


def test_an_unjudged_deviation_names_tests_and_what_was_done_since(project: Project) -> None:
    judged = ", judged: {verdict: repeat the drop, by: engineer, on: 2026-09-05, repeat: T03}"
    text = BENCH.replace(judged, "").replace("parts: P01}", "parts: P02}")
    (told,) = [each for each in project(text).story("U01") if each.startswith("It differs")]
    assert told == (
        "It differs: other foam (P02). Nobody has judged that. Tests that lean on it: T01; "
        "done here since then: T01 by R01."
    )

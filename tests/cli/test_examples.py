"""The built-in demo shows exactly its planted gaps, each at its line."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from riskkit.assess import Assessment, assess
from riskkit.text.evidence_files import with_evidence
from riskkit.text.reader import read
from riskkit.text.snapshot import read_folder

EXAMPLES = Path(__file__).parent.parent.parent / "catalogs" / "examples"

# Number of the planted gap in the scenario -> rule, record, text at the line. Gaps 6 to 10 and 15 need evidence,
# engineering or freshness to be found; their data are in the register.
PLANTED = [
    (1, "alarm-slower-than-harm", "H01", "controls: [C01, C02, C03]"),
    (2, "alarm-never-trips", "H03", "controls: [C05, C03]"),
    (3, "alarm-never-trips", "H04", "controls: [C06, C05]"),
    (4, "hazard-without-test", "H07", "H07:"),
    (5, "cause-disables-control", "H05", "controls: [C07, C08, C09]"),
    (5, "cause-disables-control", "H06", "controls: [C07, C10]"),
    (5, "single-fault-leaves-nothing", "H14", "controls: [C19]"),
    (11, "evidence-changed", "R37", "sha256: 55819ca2"),
    (12, "risk-without-decision", "H23", "claimed: {p1:"),
    (12, "test-without-result", "T41", "T41:"),
    (13, "expired-parking", "T31", "until: 2026-10-31"),
    (14, "assumption-without-owner", "A03", "A03:"),
    (16, "severity-lowered-without-harm-change", "H05", "severity: 3"),
    (17, "sentence-not-translated", "X04", "text:"),
    (17, "sentence-not-translated", "X06", "text:"),
    (18, "major-comment-open", "M07", "M07:"),
    (19, "result-under-other-conditions", "R20", "conditions: {flow: 60 L/min}"),
    ("U02", "deviation-not-judged", "U02", "- text: outflow spring 12 % stiffer"),
    ("U03", "same-person-built-and-checked", "U03", "second: builder-3"),
    ("A01", "unconfirmed-assumption", "A01", "A01:"),
]


def assessed(folder: Path) -> Assessment:
    return assess(with_evidence(read(*read_folder(folder)), folder), today=date(2026, 11, 25))


@pytest.fixture(scope="module")
def demo() -> Assessment:
    return assessed(EXAMPLES / "hood")


def test_the_demo_shows_its_planted_gaps_and_nothing_else(demo: Assessment) -> None:
    assert sorted((found.rule, found.record) for found in demo.report) == sorted(
        (rule, record) for _, rule, record, _ in PLANTED
    )


def test_each_gap_stands_at_the_line_of_what_is_wrong(demo: Assessment) -> None:
    lines = {path: (EXAMPLES / "hood" / path).read_text().splitlines() for path in demo.reading.snapshot.files}
    for found in demo.report:
        text = next(text for _, rule, record, text in PLANTED if (rule, record) == (found.rule, found.record))
        assert text in lines[found.place.file][found.place.line - 1], (found.rule, str(found.place))


def test_the_demo_is_as_large_as_its_scenario(demo: Assessment) -> None:
    register = demo.register
    assert len(register.hazards) == 36
    assert len(register.controls) == 40
    assert len(register.parts) == 14
    assert len(register.units) == 3
    assert {f"T{i:02}" for i in range(1, 41)} <= {test.id for test in register.tests}
    assert len(demo.waived) == 10


# Scores of the scenario: before -> claimed level of every hazard, in order.
LEVELS = "BD CE BC CD CD BD CC AB BC BD BC BD CD CD BB CE CD BD BD CE CE DE AA BC BC BC CD CD BD BC CC BC BC BC BC CD"


def test_every_hazard_of_the_demo_lies_where_the_scenario_puts_it(demo: Assessment) -> None:
    scores = [demo.scores[f"H{number:02}"] for number in range(1, 37)]
    assert [f"{s.before.levels[0]}{s.claimed.levels[0]}" for s in scores if s.before and s.claimed] == LEVELS.split()


def test_mending_a_gap_closes_it_and_opens_no_other(demo: Assessment, tmp_path: Path) -> None:
    import shutil

    folder = shutil.copytree(EXAMPLES / "hood", tmp_path / "hood")
    control = folder / "controls" / "protective.yaml"
    control.write_text(
        control.read_text().replace("notice: 30 s              # T03", "notice: 15 s              # T03")
    )
    mended = assessed(folder)
    before = {(found.rule, found.record) for found in demo.report}
    assert before - {(found.rule, found.record) for found in mended.report} == {("alarm-slower-than-harm", "H01")}


def test_the_small_example_has_a_handful_of_honest_gaps() -> None:
    small = assessed(EXAMPLES / "small")
    assert not small.report.broken
    assert 5 <= len(small.report.open) <= 8
    assert len(small.register.hazards) == 5
    assert len(small.register.parts) == 6

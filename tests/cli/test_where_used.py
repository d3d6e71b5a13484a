"""`where-used` and its notice: units, results, gates and re-tests of a lot, a firmware or an instrument."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from riskkit.cli.commands import app
from riskkit.diagnostics import RiskkitError
from riskkit.judgement.where_used import has_words, split_words

HOOD = Path(__file__).parent.parent.parent / "catalogs" / "examples" / "hood"
DIGITS = "ab12cd34" * 8

BENCH = f"""
device: {{name: Bubble bottle, owner: bench group, stop_conditions: [smoke]}}
policy: five-by-five
parts:
  P01: {{title: spring valve, version: lot 3, fails: [{{mode: breaks at the hook}}]}}
  P02: {{title: controller, version: 1.4.0, firmware_sha256: {DIGITS}}}
hazards:
  H01: {{title: pressure runs away, condition: single fault, harm: {{text: injured lung, severity: 5}}, controls: [C01]}}
  H02: {{title: noise, condition: normal, harm: {{text: bad sleep, severity: 1}}, controls: [C01]}}
controls:
  C01: {{title: relief, kind: protective, depends_on: [P01]}}
instruments:
  I01: {{title: water column}}
tests:
  T01:
    {{title: levels, scope: every unit, limit: {{at_most: 6 hPa}}, configuration: [P01], time: 15 min, plan: {{runs: 2}}}}
  T02: {{title: sound, limit: {{at_most: 60 dB(A)}}, configuration: [P02], time: 5 min}}
  T03: {{title: relief sizing, proves: [C01], limit: {{at_most: 20 hPa}}, configuration: [P01]}}
gates:
  G1: {{title: bench, order: 1, questions: [{{ask: Do the levels hold, tests: T01}}, {{ask: Is it quiet, tests: T02}}]}}
  G2: {{title: review, order: 2, questions: [{{ask: Is the relief sized, tests: T03}}]}}
units:
  U01: {{title: one, builder: builder-1, gate: G1, parts: {{P01: "Lot 3, second bag", P02: 1.4.0}}}}
  U02:
    title: two
    serial: B-0002
    builder: builder-2
    gate: G2
    parts: {{P01: lot 31, P02: 1.4.0}}
    firmware_sha256: {{P02: {DIGITS[:16].upper()}}}
    checks: [{{step: level, reading: 5 hPa, instrument: I01, by: builder-2}}]
  U03: {{title: three, builder: builder-2, retired: 2026-10-01, parts: {{P01: lot 3}}}}
results:
  R01: {{test: T01, on: 2026-10-02, unit: U01, readings: {{level: [5 hPa ± 0.2 hPa]}}, instruments: [I01]}}
  R02: {{test: T01, on: 2026-10-02, unit: U02, configuration: {{P01: lot 31}}, readings: {{level: [5 hPa ± 0.2 hPa]}}}}
  R03: {{test: T02, on: 2026-10-03, unit: U01, configuration: {{P01: lot 3, P02: 1.4.0}}, readings: {{level: [50 dB(A)]}}}}
  R04: {{test: T03, on: 2026-10-03, unit: U02, configuration: {{P01: lot 31}}, readings: {{opening: [17 hPa ± 0.3 hPa]}}}}
  R05: {{test: T03, on: 2026-10-04, unit: U03, configuration: {{P01: lot 3}}, readings: {{opening: [16 hPa ± 0.3 hPa]}}}}
"""


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    (tmp_path / "bench.yaml").write_text(BENCH)
    return tmp_path


def run(*words: str) -> str:
    done = CliRunner().invoke(app, ["where-used", *words, "--today", "2026-11-25"], catch_exceptions=False)
    assert done.exit_code == 0
    return done.output


def asked(folder: Path, what: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(run(what, str(folder), "--format", "json"))
    return found


@pytest.mark.parametrize(
    ("version", "wanted", "fits"),
    [
        ("lot S, substitute", "lot S", True),
        ("lot S, substitute", "Lot  s; Substitute", True),
        ("lot Spare", "lot S", False),
        ("lot 31", "lot 3", False),
        ("firmware 0.9.2", "0.9.2", True),
        ("firmware 0.9.21", "0.9.2", False),
        ("batch 12 (second bag)", "second bag", True),
        ("lot 12 of 3", "lot 3", False),
    ],
)
def test_a_lot_is_found_by_whole_words(version: str, wanted: str, fits: bool) -> None:
    assert has_words(version, split_words(wanted)) is fits


def test_a_lot_names_units_results_and_what_they_carry(bench: Path) -> None:
    found = asked(bench, "lot 3")
    assert {(each["unit"], each["part"], each["version"]) for each in found["found"]} == {
        ("U01", "P01", "Lot 3, second bag"),
        ("U03", "P01", "lot 3"),
    }
    results = {each["result"]: (each["matters"], each["stated"]) for each in found["results"]}
    # R01 names no lot, but was taken on a unit that has it; T02 of R03 does not depend on the valve.
    assert results == {"R01": (True, False), "R03": (False, True), "R05": (True, True)}
    assert [(each["hazard"], each["severity"]) for each in found["hazards"]] == [("H01", "5"), ("H02", "1")]
    assert found["controls"] == ["C01"]
    assert set(found["tests"]) == {"T01", "T03"}
    # U03 is retired: T01 is repeated on U01 alone, two runs of 15 min; T03 says no time, and an hour is taken.
    again = {each["test"]: (each["units"], each["minutes"]) for each in found["again"]}
    assert again == {"T01": (["U01"], 30), "T03": ([], 60)}
    assert found["gates"] == [
        {
            "unit": "U01",
            "gate": "G1",
            "ask": "Do the levels hold",
            "test": "T01",
            "taken_with_it": ["R01"],
            "others": [],
        }
    ]


def test_the_other_lot_leaves_the_gate_something_to_rest_on(bench: Path) -> None:
    found = asked(bench, "P01 LOT 31")
    assert [each["unit"] for each in found["found"]] == ["U02"]
    rests = {(each["gate"], each["test"]): (each["taken_with_it"], each["others"]) for each in found["gates"]}
    assert rests == {("G1", "T01"): (["R02"], []), ("G2", "T03"): (["R04"], ["R05"])}
    told = run("lot 31", str(bench))
    assert "rests on R04, beside R05 without it" in " ".join(told.split())


@pytest.mark.parametrize("digits", [DIGITS[:6], DIGITS[:12].upper(), DIGITS])
def test_firmware_is_found_by_its_hash_as_read_back_or_by_its_version(bench: Path, digits: str) -> None:
    found = asked(bench, digits)
    assert found["sort"] == "firmware"
    how = {each["unit"]: each["how"] for each in found["found"]}
    assert set(how) == {"U01", "U02"}
    assert "nobody has read it back" in how["U01"]
    assert "read back" in how["U02"]
    assert [each["result"] for each in found["results"]] == ["R03"]


def test_an_instrument_names_checks_and_results(bench: Path) -> None:
    found = asked(bench, "i01")
    assert {(each["unit"], each["how"]) for each in found["found"]} == {
        ("U01", "R01 was read with it"),
        ("U02", "the check `level` was read with it"),
    }
    assert [each["result"] for each in found["results"]] == ["R01"]


@pytest.mark.parametrize(
    ("what", "said", "help"),
    [
        ("lot 33", "lot 33", "lot 31"),
        ("P01 lott 31", "P01 lott 31", "did you mean `P01 lot 31`"),
        ("I011", "I011", "did you mean `I01`"),
        ("C01", "stands under controls", "riskkit change C01"),
        ("ffffffff", "ffffffff", "lot 31"),
    ],
)
def test_what_is_not_there_is_answered_with_the_nearest_spelling(bench: Path, what: str, said: str, help: str) -> None:
    with pytest.raises(RiskkitError) as error:
        run(what, str(bench))
    assert said in error.value.headline
    assert help in error.value.help


def test_without_words_every_lot_is_listed(bench: Path) -> None:
    assert "  lot 31: U02" in run(str(bench)).splitlines()


def test_a_notice_says_which_units_what_why_and_what_to_do(bench: Path, tmp_path: Path) -> None:
    file = tmp_path / "notice.txt"
    run("lot 31", str(bench), "--notice", "two springs broke at the hook", "-o", str(file))
    text = file.read_text()
    assert max(map(len, text.splitlines())) <= 76
    said = " ".join(text.split())
    for words in (
        "To: builder-2",
        "U02: P01 lot 31 (two, serial B-0002, built by builder-2)",
        "two springs broke at the hook",
        "pressure runs away: injured lung. Severity 5",
        "breaks at the hook.",
        "do T01 (levels) on U02 again: 30 min",
        "Answer to bench group",
        "must not be used on a person",
        "Stop the test if smoke.",
        "This notice permits nothing.",
    ):
        assert words in said
    assert said.index("Severity 5") < said.index("Severity 1"), "the worst first"
    assert "U01" not in said


def test_a_notice_to_one_builder_names_that_builders_units_only(bench: Path) -> None:
    text = run("P02", str(bench), "--notice", "it hangs", "--to", "Builder-1")
    assert re.findall(r"^  - (U\d+):", text, re.M) == ["U01"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["lot 31", "--notice", "the new lot is certified as safe"], "certified"),
        (["lot 31", "--notice", "  "], "says what was found"),
        (["lot 31", "--notice", "x", "--to", "builder-7"], "no unit of builder-7"),
        (["lot 31", "--to", "builder-2"], "belong to a notice"),
    ],
)
def test_a_notice_that_cannot_be_written_is_refused_in_one_sentence(bench: Path, words: list[str], said: str) -> None:
    with pytest.raises(RiskkitError, match=said) as error:
        run(words[0], str(bench), *words[1:])
    assert error.value.help


def test_a_claim_in_the_register_does_not_reach_the_notice(bench: Path) -> None:
    (bench / "bench.yaml").write_text(BENCH.replace("title: two", "title: approved for patients"))
    text = run("lot 31", str(bench), "--notice", "it broke")
    assert "[claim removed: approved" in text
    assert "approved for patients" not in text


def test_the_demo_knows_its_substitute_spring() -> None:
    found = asked(HOOD, "lot S")  # job: U02 alone has the substitute spring
    assert [(each["unit"], each["part"]) for each in found["found"]] == [("U02", "P09")]
    assert {each["result"] for each in found["results"]} == {"R33-2", "R36-3"}
    assert {each["unit"] for each in asked(HOOD, "firmware 0.9.2")["found"]} == {"U03"}

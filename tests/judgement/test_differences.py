"""Two states of a register in risk words: whatever asks or tells less is loosened, and nothing is called new that is not."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from pathlib import Path

import pytest

from riskkit.assess import Assessment, compare
from riskkit.judgement.differences import KINDS, Comparison
from riskkit.text.reader import read
from riskkit.text.snapshot import Snapshot, read_folder

Project = Callable[..., Assessment]
DAY = datetime.date(2026, 11, 25)
HOOD = Path(__file__).parent.parent.parent / "catalogs" / "examples" / "hood"

TEXT = """
policy: five-by-five
device:
  name: bench device
  must_never: [a hood that does not come off]
  stop_conditions: [25 hPa on any gauge]
  limits: [{what: hood pressure, limit: at most 20 hPa, owner: biomedical engineer}]
parts:
  P01: {title: disc, version: lot B, ratings: {mass: 83 g}}
  P02: {title: sensor, version: lot 7}
assumptions:
  A01: {text: someone is near, owner: bench group, until: 2027-01-01}
hazards:
  H01:
    title: overpressure
    condition: [single fault, use error]
    harm: {text: injury, severity: 4}
    likelihood: {before: {p: 1e-2, because: x}, claimed: {p: 1e-4, because: y}}
    time_to_harm: {value: 58 s}
    controls: [C01]
    tests: [T01]
controls:
  C01: {title: blow-off, kind: protective, depends_on: [P01], dormant: true, check_interval: 100 h}
tests:
  T01:
    title: opening pressure
    proves: [C01]
    shows: [implementation, effectiveness]
    limit: {what: opening pressure, between: [15 hPa, 18 hPa]}
    conditions: {flow: 20 L/min}
    statistic: worst
    plan: {runs: 20, units: 5, confidence: 95 %, proportion: 95 %}
    configuration: [P01, P02]
    instruments: [I01]
    stop: 25 hPa
instruments:
  I01: {title: gauge, uncertainty: 0.3 hPa, due: 2027-01-01, calibrations: [{on: 2026-06-01, outcome: passed}]}
results:
  R01:
    test: T01
    on: 2026-10-01
    configuration: {P01: lot B, P02: lot 7}
    readings: {opening pressure: [17.2 hPa, 17.9 hPa]}
    uncertainty: {opening pressure: 0.3 hPa}
    instruments: [I01]
observations:
  O01: {on: 2026-11-20, text: a hiss, by: builder-1}
comments:
  M01: {on: 2026-11-01, by: emergency physician, weight: major, text: who says so}
gates:
  G1:
    title: open to review
    order: 1
    questions:
      - {ask: Is every deviation judged, rules: [deviation-not-judged], tests: [T01]}
      - {ask: Is nobody alone, needs: two roles}
units:
  U01:
    title: first
    checks: [{step: relief weight, two_people: true, by: builder-1, second: builder-2}]
    deviations: [{text: stiffer spring}]
"""


def compared(old: str, new: str) -> Comparison:
    return compare(reading(old), reading(new), today=DAY)


def reading(text: str):  # type: ignore[no-untyped-def]
    found = read(Snapshot.from_files({"register.yaml": text.encode()}))
    assert not found.report.broken, [each.headline for each in found.report.broken]
    return found


LOOSER = [
    ("18 hPa]", "19 hPa]", "T01 asks for `opening pressure: between 15 hPa and 19 hPa` instead of `opening pressure: between 15 hPa and 18 hPa`"),
    ("[15 hPa", "[14 hPa", "T01 asks for `opening pressure: between 14 hPa"),
    ("[15 hPa, 18 hPa]", "[16 hPa, 19 hPa]", "T01 asks for `opening pressure: between 16 hPa"),
    ("between: [15 hPa, 18 hPa]", "shows: it opens", "T01 asks for `opening pressure: it opens`"),
    ("    limit: {what: opening pressure, between: [15 hPa, 18 hPa]}\n", "", "T01 no longer asks for `opening pressure: between 15"),
    ("flow: 20 L/min", "flow: 60 L/min", "T01 is done at other settings: flow 60 L/min instead of 20 L/min"),
    ("statistic: worst", "statistic: mean", "T01 compares the mean reading with its limit instead of the worst"),
    ("runs: 20", "runs: 5", "T01 asks for 5 runs instead of 20"),
    ("units: 5", "units: 1", "T01 asks for 1 units instead of 5"),
    ("confidence: 95 %", "confidence: 90 %", "T01 asks for 0.9 instead of 0.95 as confidence"),
    ("proportion: 95 %}", "allowed_failures: 2}", "T01 asks for nothing instead of 0.95 as proportion"),
    ("    plan: {runs: 20, units: 5, confidence: 95 %, proportion: 95 %}\n", "", "T01 no longer plans how many runs"),
    ("configuration: [P01, P02]", "configuration: [P01]", "T01 no longer is sensitive to P02"),
    ("    stop: 25 hPa\n", "", "T01 no longer says when it is stopped"),
    ("condition: [single fault, use error]", "condition: [use error]", "H01 no longer arises under `single fault`"),
    ("severity: 4", "severity: 3", "H01 has severity 3 instead of 4"),
    ("{p: 1e-4, because: y}", "{p: 1e-6, because: y}", "H01 is claimed at"),
    ("value: 58 s", "value: 90 s", "H01 gives a person 90 s instead of 58 s"),
    ("    time_to_harm: {value: 58 s}\n", "", "H01 no longer says how long a person has"),
    ("    controls: [C01]\n", "", "H01 is no longer answered by C01"),
    ("    tests: [T01]\n", "", "H01 is no longer tried by T01"),
    ("    title: overpressure\n", "    title: overpressure\n    parked: {reason: later, owner: bench group, until: 2027-02-01}\n", "H01 is parked until 2027-02-01"),
    ("dormant: true", "dormant: false", "C01 is no longer said to be able to fail unnoticed"),
    ("check_interval: 100 h", "check_interval: 200 h", "C01 is checked every 200 h instead of 100 h"),
    ("kind: protective, ", "kind: protective, changes_harm: true, ", "C01 is said to make the harm itself smaller"),
    ("kind: protective, ", "kind: protective, withdrawn: {on: 2026-11-01, because: too dear}, ", "C01 was withdrawn: too dear"),
    ("until: 2027-01-01}\nhazards", "until: 2028-01-01}\nhazards", "A01 holds until 2028-01-01 instead of 2027-01-01"),
    ("until: 2027-01-01}\nhazards", "notes: x}\nhazards", "A01 holds without an end instead of 2027-01-01"),
    ("17.9 hPa]", "17.5 hPa]", "R01 was edited after it was entered, instead of replaced by another"),
    ("on: 2026-10-01\n", "on: 2026-10-21\n", "R01 was edited after it was entered"),
    ("    instruments: [I01]\nobservations", "    instruments: [I01]\n    still_valid: {because: same, by: builder-1, on: 2026-11-01, until: 2027-01-01}\nobservations", "R01 is said to hold until 2027-01-01, by builder-1: same"),
    ("due: 2027-01-01", "due: 2028-01-01", "I01 is due 2028-01-01 instead of 2027-01-01, without a new comparison"),
    ("uncertainty: 0.3 hPa, due", "uncertainty: 0.1 hPa, due", "I01 has the uncertainty `0.1 hPa` instead of `0.3 hPa`"),
    ("calibrations: [{on: 2026-06-01, outcome: passed}]", "calibrations: []", "I01 no longer tells of its comparison on 2026-06-01"),
    ("weight: major", "weight: minor", "M01 no longer says what the reviewer said: weight `minor` instead of `major`"),
    ("comments:\n  M01: {on: 2026-11-01, by: emergency physician, weight: major, text: who says so}\n", "", "M01 (who says so) is gone"),
    ("observations:\n  O01: {on: 2026-11-20, text: a hiss, by: builder-1}\n", "", "O01 (a hiss) is gone"),
    ("      - {ask: Is nobody alone, needs: two roles}\n", "", "G1 no longer asks `Is nobody alone`"),
    ("needs: two roles", "needs: a word", "G1 takes `a word` instead of `two roles`"),
    (", tests: [T01]}\n      - ", "}\n      - ", "G1 no longer asks for T01 where it asks"),
    ("two_people: true, ", "", "U01 no longer asks for two people at `relief weight`"),
    ("    checks: [{step: relief weight, two_people: true, by: builder-1, second: builder-2}]\n", "", "U01 no longer tells of the check `relief weight`"),
    ("    deviations: [{text: stiffer spring}]\n", "", "U01 no longer tells of a deviation: stiffer spring"),
    ("limit: at most 20 hPa", "limit: at most 25 hPa", "the device sheet limits hood pressure to `at most 25 hPa` instead of `at most 20 hPa`"),
    ("  must_never: [a hood that does not come off]\n", "", "the device sheet no longer says `must never happen`: a hood that does not come off"),
    ("parts:\n", "waivers:\n  W01: {rule: test-without-result, record: T01, because: x, by: y, on: 2026-11-01, until: 2026-12-01}\nparts:\n", "W01 (waivers) is new"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "words"), LOOSER)
def test_whatever_asks_or_tells_less_is_loosened_and_told_first(old: str, new: str, words: str) -> None:
    assert TEXT.count(old) == 1
    found = compared(TEXT, TEXT.replace(old, new)).differences
    assert any(each.kind == "loosened" and words in each.headline for each in found), [
        (each.kind, each.headline) for each in found
    ]
    assert found[0].kind == "loosened"
    assert [KINDS.index(each.kind) for each in found] == sorted(KINDS.index(each.kind) for each in found)


TIGHTER = [
    ("18 hPa]", "17 hPa]", "T01 asks for `opening pressure: between 15 hPa and 17 hPa`"),
    ("runs: 20", "runs: 60", "T01 asks for 60 runs instead of 20"),
    ("value: 58 s", "value: 0.5 min", "H01 gives a person 0.5 min instead of 58 s"),
    ("severity: 4", "severity: 5", "H01 has severity 5 instead of 4"),
    ("check_interval: 100 h", "check_interval: 1 h", "C01 is checked every 1 h instead of 100 h"),
    ("until: 2027-01-01}\nhazards", "until: 2026-12-01}\nhazards", "A01 holds until 2026-12-01 instead of 2027-01-01"),
]


@pytest.mark.parametrize(("old", "new", "words"), TIGHTER)
def test_a_step_the_other_way_is_tightened(old: str, new: str, words: str) -> None:
    found = compared(TEXT, TEXT.replace(old, new)).differences
    assert any(each.kind == "tightened" and words in each.headline for each in found), found
    assert not [each for each in found if each.kind == "loosened"]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("between: [15 hPa, 18 hPa]", "between: [1.5 kPa, 18 mbar]"),
        ("value: 58 s", "value: 58000 ms"),
        ("95 %, proportion: 95 %", "0.95, proportion: 95/100"),
        ("title: overpressure\n", "title: >-\n      overpressure\n"),
        ("mass: 83 g", "mass: 0.083 kg"),
        ("P01: {title: disc, version: lot B", "P01: {version: lot B, title: 'disc'"),
    ],
)
def test_another_spelling_is_no_difference(old: str, new: str) -> None:
    assert old in TEXT
    assert compared(TEXT, TEXT.replace(old, new)).differences == ()


def test_a_limit_that_moved_says_from_where_to_where() -> None:
    (found,) = compared(TEXT, TEXT.replace("18 hPa]", "19 hPa]")).of("loosened")
    assert (found.was, found.now) == (
        "opening pressure: between 15 hPa and 18 hPa",
        "opening pressure: between 15 hPa and 19 hPa",
    )


def test_a_part_that_is_another_under_the_same_version_is_worse() -> None:
    (found,) = compared(TEXT, TEXT.replace("mass: 83 g", "mass: 79 g")).of("worse")
    assert found.headline == (
        "P01 is another part under the same version `lot B`, so that no result knows of it: "
        "ratings mass 79 g instead of 83 g"
    )
    told = compared(
        TEXT,
        TEXT.replace(
            "title: disc, version: lot B, ratings: {mass: 83 g}", "title: disc, version: lot C, ratings: {mass: 79 g}"
        ),
    )
    assert any("R01 is stale" in each.headline for each in told.of("worse"))
    assert not any("under the same version" in each.headline for each in told.differences)


def test_a_finding_that_is_only_silenced_is_not_better() -> None:
    waiver = "waivers:\n  W01: {rule: stale-nothing, record: X, because: a, by: b, on: 2026-11-01, until: 2026-12-01}\n"
    base = "assumptions:\n  A01: {text: someone is near}\n"
    quiet = waiver.replace("stale-nothing", "assumption-without-owner").replace("X", "A01") + base
    found = compared(base, quiet)
    assert any(each.headline.startswith("no longer told, because W01 waives it: ") for each in found.of("loosened"))
    assert not found.of("better")


def test_what_is_gone_takes_its_findings_with_it() -> None:
    base = "assumptions:\n  A01: {text: someone is near}\n  A02: {text: b, owner: c}\n"
    found = compared(base, "assumptions:\n  A02: {text: b, owner: c}\n")
    assert [(each.kind, each.record) for each in found.differences] == [("removed", "A01")]


# -- renamed ------------------------------------------------------------------------------------------


def test_a_renamed_record_is_renamed_and_not_gone_and_new() -> None:
    everywhere = TEXT.replace("C01", "C77").replace("T01", "T9").replace("P01", "DISC")
    found = compared(TEXT, everywhere).differences
    assert {(each.kind, each.headline) for each in found} == {
        ("renamed", "C77 (blow-off) was C01"),
        ("renamed", "T9 (opening pressure) was T01"),
        ("renamed", "DISC (disc) was P01"),
    }


def test_a_renamed_and_edited_record_is_not_called_renamed() -> None:
    found = compared(TEXT, TEXT.replace("C01", "C77").replace("title: blow-off", "title: blow-off valve"))
    assert not found.of("renamed")
    assert {("loosened", "C01"), ("added", "C77")} <= {(each.kind, each.record) for each in found.differences}


def test_two_alike_are_never_called_renamed() -> None:
    old = "parts:\n  P01: {title: valve}\n  P02: {title: valve}\n"
    assert not compared(old, old.replace("P01", "P11").replace("P02", "P12")).of("renamed")


def test_a_loosened_limit_is_found_under_a_new_id_of_what_it_proves() -> None:
    found = compared(TEXT, TEXT.replace("C01", "C77").replace("18 hPa]", "19 hPa]"))
    assert [each.record for each in found.of("renamed")] == ["C77"]
    assert [each.record for each in found.of("loosened")] == ["T01"]


# -- states that cannot be read -----------------------------------------------------------------------


def files(**named: str):  # type: ignore[no-untyped-def]
    return read(Snapshot.from_files({f"{name}.yaml": text.encode() for name, text in named.items()}))


def test_a_broken_record_is_not_compared() -> None:
    good = "hazards:\n  H01: {title: a, condition: normal, harm: {text: b, severity: 3}}\n"
    broken = files(
        hazards=good.replace("condition: normal", "condition: sometimes"), parts="parts:\n  P01: {title: p}\n"
    )
    whole = files(hazards=good, parts="parts:\n  P01: {title: q}\n")
    for old, new in ((broken, whole), (whole, broken)):
        found = compare(old, new, today=DAY)
        assert found.not_compared == ("H01",)
        assert not [each for each in found.differences if each.record == "H01" and each.kind in ("added", "loosened")]
        assert ("changed", "P01") in {(each.kind, each.record) for each in found.differences}


def test_a_broken_file_does_not_make_its_records_new_or_gone() -> None:
    parts = "parts:\n  P01: {title: p}\n  P02: {title: q}\n"
    old = files(parts=parts.replace("{title: q}", "{title: q"), more="parts:\n  P03: {title: r}\n")
    found = compare(old, files(parts=parts, more="parts:\n  P03: {title: r}\n"), today=DAY)
    assert {"P01", "P02"} >= set(found.not_compared)
    assert "P02" in found.not_compared
    assert not found.of("added")


# -- policy -------------------------------------------------------------------------------------------


def test_both_registers_are_scored_under_both_policies() -> None:
    found = compared(TEXT, TEXT.replace("policy: five-by-five", "policy: mil-std-882e"))
    assert any(each.record == "policy" for each in found.differences)
    assert found.old_under_new
    assert found.new_under_old
    assert {each.hazard for each in found.old_under_new} == {"H01"}
    same = compared(TEXT, TEXT.replace("18 hPa]", "19 hPa]"))
    assert (same.old_under_new, same.new_under_old) == ((), ())


# -- the demo -----------------------------------------------------------------------------------------


def test_a_lighter_disc_in_the_demo() -> None:
    """79 g over the 24 mm seat: 0.079 kg x 9.80665 m/s² / (π/4 x (0.024 m)²) = 17.13 hPa, by hand."""
    snapshot, _ = read_folder(HOOD)
    files = dict(snapshot.files)
    files["parts.yaml"] = files["parts.yaml"].replace(b"mass: 83 g", b"mass: 79 g")
    found = compare(read(snapshot), read(Snapshot.from_files(files)), today=DAY)
    (moved,) = [each for each in found.differences if each.kind == "changed" and each.record == "K03"]
    assert (moved.was, moved.now) == ("17.99 hPa", "17.13 hPa")
    assert compare(read(snapshot), read(snapshot), today=DAY).differences == ()

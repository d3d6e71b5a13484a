"""`catalog`, `suggest` and `adopt` as a person meets them."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest

from riskkit.text.reader import Reading, read
from riskkit.text.snapshot import read_folder

ROOT = Path(__file__).parent.parent.parent
HOOD = ROOT / "catalogs" / "examples" / "hood"
CATALOGS = ROOT / "catalogs"


def run(*arguments: object, given: str = "", folder: Path | None = None) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "riskkit", *map(str, arguments)],
        input=given,
        capture_output=True,
        text=True,
        check=False,
        cwd=folder,
    )


def register(folder: Path) -> Reading:
    reading = read(*read_folder(folder))
    assert not list(reading.report)
    return reading


@pytest.fixture
def hood(tmp_path: Path) -> Path:
    return Path(shutil.copytree(HOOD, tmp_path / "hood"))


@pytest.fixture
def pump(tmp_path: Path) -> Path:
    """A register that has nothing to do with breathing, typed by somebody else."""
    folder = tmp_path / "pump"
    folder.mkdir()
    (folder / "all.yaml").write_text(
        """\
device: {name: pump cart}
parts:
  P1: {title: lithium pack, class: battery, fails: [{mode: one cell older than the others}]}
  P2: {title: main lead, class: cable}
hazards:
  H1:                       # typed in a hurry
    title: Pack catches fire while charging
    condition: single fault
    source: energy of the cells
    causes: [P1]
    harm: {text: burns, severity: 4}
controls:
  C1: {title: Fuse at the battery, kind: protective}
"""
    )
    return folder


# -- adopt ----------------------------------------------------------------------------------------


def test_a_control_is_written_with_source_and_version_and_the_hazard_names_it(hood: Path) -> None:
    before = {path: path.read_bytes() for path in hood.rglob("*.yaml")}
    done = run("adopt", "controls/strain-relief", hood, "--for", "H03", "--yes")
    assert done.returncode == 0, done.stderr
    found = register(hood).register
    (new,) = (each for each in found.controls if each.adopted is not None)
    assert new.adopted is not None
    assert (new.adopted.entry, new.adopted.version, new.adopted.catalog) == ("controls/strain-relief", 1, "shipped")
    assert new.adopted.open
    assert new.id in found.records["H03"].controls  # type: ignore[attr-defined]
    changed = [path for path, content in before.items() if path.read_bytes() != content]
    assert len(changed) == 2
    for path in changed:
        old, now = before[path].decode().splitlines(), path.read_text().splitlines()
        assert len([line for line in old if line not in now]) <= 1, "one line of the hazard, and no other, is rewritten"


def test_an_entry_is_not_adopted_twice(hood: Path) -> None:
    assert run("adopt", "strain-relief", hood, "--yes").returncode == 0
    again = run("adopt", "controls/strain-relief", hood, "--yes", "--for", "H04")
    assert again.returncode == 2
    assert "controls/strain-relief is in the register already: C42" in again.stderr
    assert "`riskkit link H04 C42`" in again.stderr


def test_a_failure_becomes_the_hazard_that_it_starts_and_offers_the_line_of_the_part(hood: Path) -> None:
    done = run("adopt", "failures/blower-stops", hood, "--yes")
    assert done.returncode == 0, done.stderr
    (new,) = (each for each in register(hood).register.hazards if each.adopted is not None)
    assert [(cause.by, cause.mode) for cause in new.causes] == [("P03", "stops")]
    assert new.adopted is not None
    assert new.adopted.through == "failures/blower-stops"
    assert new.adopted.entry.startswith("hazards/")
    assert new.controls == ()
    assert "below `fails:`" not in done.stdout, "P03 lists it already"
    again = run("adopt", "failures/blower-stops", hood, "--yes")
    assert f"is in the register already: {new.id}" in again.stderr


def test_a_severity_that_nobody_gave_is_the_worst_and_listed_as_undecided(hood: Path) -> None:
    assert run("adopt", "hazards/rebreathed-carbon-dioxide-after-flow-stops", hood, "--yes").returncode == 0
    (new,) = (each for each in register(hood).register.hazards if each.adopted is not None)
    assert new.harm.severity == "5"
    assert new.harm.because is None
    assert new.undecided == ("harm.severity",)
    assert new.likelihood.before is None
    assert new.likelihood.claimed is None
    checked = json.loads(run("check", hood, "--today", "2026-11-25", "--format", "json").stdout)
    assert [each["rule"] for each in checked["findings"] if each["record"] == new.id].count(
        "adopted-entry-unfinished"
    ) == 1


def test_a_severity_that_is_given_is_one_of_the_projects_own_scale(hood: Path) -> None:
    entry = "hazards/rebreathed-carbon-dioxide-after-flow-stops"
    wrong = run("adopt", entry, hood, "--yes", "--severity", "9")
    assert wrong.returncode == 2
    assert "`9` is no severity level" in wrong.stderr
    assert run("adopt", entry, hood, "--yes", "--severity", "3").returncode == 0
    (new,) = (each for each in register(hood).register.hazards if each.adopted is not None)
    assert new.harm.severity == "3"
    assert new.undecided == ()


def test_a_test_and_a_check_of_each_unit_have_no_limit_yet(hood: Path) -> None:
    assert run("adopt", "tests/hose-pull-off-force", hood, "--for", "C13", "--yes").returncode == 0
    assert run("adopt", "unit-checks/relief-weight", hood, "--for", "H05", "--yes").returncode == 0
    found = register(hood).register
    test, check = (each for each in found.tests if each.adopted is not None)
    assert test.proves == ("C13",)
    assert check.scope == "every unit"
    assert check.id in found.records["H05"].tests  # type: ignore[attr-defined]
    for each in (test, check):
        assert each.limit == ()
        assert each.adopted is not None
        assert any(line.startswith("limit: ") for line in each.adopted.open)
    refused = run("adopt", "unit-checks/relief-weight", hood, "--every-use", "--yes")
    assert refused.returncode == 2


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["controls/strain-releif"], "did you mean controls/strain-relief?"),
        (["controls/strain-relief", "--for", "T05"], "T05 stands in `tests`"),
        (["controls/strain-relief", "--for", "H99"], "H99 is not in the register"),
        (["hazards/rebreathed-carbon-dioxide-after-flow-stops", "--for", "H03"], "is for what answers one"),
        (["hazards/rebreathed-carbon-dioxide-after-flow-stops", "--part", "P99"], "there is no P99 in `parts`"),
        (["controls/strain-relief", "--severity", "4"], "has no severity"),
        (["controls/strain-relief", "--starts", "hazards/x"], "starts no hazard of its own"),
        (["failures/blower-stops", "--starts", "hazards/gas-too-hot"], "does not start hazards/gas-too-hot"),
        (["controls/strain-relief", "--in", "notes.txt"], "is no YAML file of the register"),
        (["controls/strain-relief", "--catalog", "nowhere"], "there is no catalog folder nowhere"),
    ],
)
def test_what_cannot_be_adopted_is_refused_in_one_sentence_and_nothing_is_written(
    hood: Path, arguments: list[str], words: str
) -> None:
    before = {path: path.read_bytes() for path in hood.rglob("*") if path.is_file()}
    done = run("adopt", arguments[0], hood, *arguments[1:], "--yes")
    assert done.returncode == 2
    assert words in " ".join(done.stderr.split())
    assert "Traceback" not in done.stderr
    assert before == {path: path.read_bytes() for path in hood.rglob("*") if path.is_file()}


@pytest.mark.parametrize("answer", ["n\n", ""])
def test_nothing_is_written_without_a_yes(hood: Path, answer: str) -> None:
    before = {path: path.read_bytes() for path in hood.rglob("*.yaml")}
    done = run("adopt", "controls/strain-relief", hood, given=answer)
    assert done.returncode in (1, 2)
    dry = run("adopt", "controls/strain-relief", hood, "--dry-run")
    assert dry.returncode == 0
    assert "Nothing is written" in dry.stdout
    assert before == {path: path.read_bytes() for path in hood.rglob("*.yaml")}


def test_a_register_in_one_file_keeps_every_byte_of_what_was_there(pump: Path) -> None:
    before = (pump / "all.yaml").read_text()
    done = run("adopt", "controls/cell-protection-board", pump, "--for", "H1", "--yes")
    assert done.returncode == 0, done.stderr
    after = (pump / "all.yaml").read_text()
    for line in before.splitlines():
        assert line in after.splitlines()
    assert register(pump).register.records["H1"].controls == ("C2",)  # type: ignore[attr-defined]


def test_an_entry_of_a_colleague_remembers_whose_it_is(hood: Path, tmp_path: Path) -> None:
    other = tmp_path / "colleague" / "controls"
    other.mkdir(parents=True)
    text = (CATALOGS / "controls" / "strain-relief.yaml").read_text()
    (other / "cable-tie.yaml").write_text(text.replace("title: Strain relief", "title: Cable tie at the lid"))
    done = run("adopt", "controls/cable-tie", hood, "--catalog", tmp_path / "colleague", "--yes")
    assert done.returncode == 0, done.stderr
    (new,) = (each for each in register(hood).register.controls if each.adopted is not None)
    assert new.adopted is not None
    assert new.adopted.catalog == "colleague"
    assert "stands in no catalog that is in use" in " ".join(run("catalog", "diff", "--in", hood).stdout.split())


# -- suggest --------------------------------------------------------------------------------------


def offers(folder: Path, id: str) -> dict[str, dict[str, str]]:
    done = run("suggest", id, folder, "--format", "json")
    assert done.returncode == 0, done.stderr
    return {each["entry"]: each for group in json.loads(done.stdout)["groups"] for each in group["offers"]}


def test_every_offer_has_a_reason_and_a_weak_point_and_nothing_is_written(hood: Path) -> None:
    before = {path: path.read_bytes() for path in hood.rglob("*.yaml")}
    for id in ("H03", "H05", "C07", "P05", "S07", "F01", "E04", "T05"):
        for each in offers(hood, id).values():
            assert len(each["because"].split()) >= 4
            assert each["weakness"]
            assert each["adopt"].startswith(f"riskkit adopt {each['entry']}")
    assert before == {path: path.read_bytes() for path in hood.rglob("*.yaml")}


def test_what_is_adopted_is_not_offered_again(hood: Path) -> None:
    offered = [id for id in offers(hood, "H03") if id.startswith("controls/")]
    assert offered
    assert run("adopt", offered[0], hood, "--for", "H03", "--yes").returncode == 0
    assert offered[0] not in offers(hood, "H03")


def test_design_comes_before_protection_and_protection_before_information(hood: Path) -> None:
    groups = json.loads(run("suggest", "H03", hood, "--format", "json").stdout)["groups"]
    order = [each["heading"] for each in groups if each["heading"].startswith("Controls")]
    assert order == [
        f"Controls: {kind}" for kind in ("design", "protective", "information") if f"Controls: {kind}" in order
    ]
    assert order


def test_a_hazard_that_somebody_typed_elsewhere_is_understood(pump: Path) -> None:
    found = run("suggest", "H1", pump, "--format", "json")
    answer = json.loads(found.stdout)
    assert answer["kin"][0]["entry"] == "hazards/battery-fire"
    assert "controls/cell-protection-board" in offers(pump, "H1")
    assert "controls/fuse-at-the-battery" not in offers(pump, "H1"), "it is there as C1, by its title"
    assert any("is there as C1" in each for each in answer["there"])


def test_a_part_is_offered_the_ways_to_fail_that_it_does_not_list(pump: Path) -> None:
    found = offers(pump, "P1")
    assert "failures/power-battery-aged" in found
    assert all("--part P1" in each["adopt"] for each in found.values())


def test_a_record_for_which_there_is_nothing_is_refused_or_told(hood: Path, pump: Path) -> None:
    assert "stands in `results`" in run("suggest", "R05", hood).stderr
    assert "there is no record H99" in run("suggest", "H99", hood).stderr


# -- catalog --------------------------------------------------------------------------------------


def test_entries_are_found_by_kind_subject_and_words() -> None:
    all_of = json.loads(run("catalog", "list", "--format", "json").stdout)
    some = json.loads(run("catalog", "list", "--kind", "controls", "--about", "oxygen", "--format", "json").stdout)
    assert 0 < len(some) < len(all_of)
    assert all(each["entry"].startswith("controls/") and "oxygen" in each["subjects"] for each in some)
    assert "controls/room-air-intake-flap" in run("catalog", "list", "flaps", "moisture").stdout
    assert "no entry is about `oxigen`" in run("catalog", "list", "--about", "oxigen").stderr


def test_an_entry_is_told_as_a_page_with_titles_and_subjects() -> None:
    page = " ".join(run("catalog", "show", "controls/room-air-intake-flap").stdout.split())
    assert "Intake flap resistance, machine off (tests/intake-flap-resistance-machine-off)" in page
    assert "ISO 17510: " in page
    assert "Where it deceives people: " in page


def test_a_newer_catalog_says_field_by_field_what_it_would_change(hood: Path, tmp_path: Path) -> None:
    assert run("adopt", "controls/strain-relief", hood, "--yes").returncode == 0
    assert run("catalog", "diff", "--in", hood).returncode == 0
    newer = tmp_path / "newer"
    shutil.copytree(CATALOGS / "controls", newer / "controls")
    path = newer / "controls" / "strain-relief.yaml"
    text = path.read_text().replace("version: 1", "version: 2", 1)
    path.write_text(
        "\n".join("fails_how: It lets go in the cold." if x.startswith("fails_how:") else x for x in text.split("\n"))
    )
    (newer / "controls" / "cable-tie.yaml").write_text(text.replace("title: Strain relief", "title: Cable tie"))
    done = run("catalog", "diff", newer, "--in", hood)
    said = " ".join(done.stdout.split())
    assert done.returncode == 1
    assert "version 1 of controls/strain-relief, and the catalog has version 2" in said
    assert "`fails_how` now reads: it lets go in the cold." in said
    assert "Cable tie (controls/cable-tie)" in said


def test_ones_own_catalog_is_checked_with_file_and_line(tmp_path: Path) -> None:
    folder = tmp_path / "mine" / "controls"
    folder.mkdir(parents=True)
    text = (CATALOGS / "controls" / "strain-relief.yaml").read_text()
    path = folder / "cable-tie.yaml"
    path.write_text(text.replace("title: Strain relief", "title: Cable tie"))
    assert run("catalog", "check", tmp_path / "mine").returncode == 0
    path.write_text(
        text.replace("title: Strain relief", "title: A safe cable tie").replace("version: 1", "version: one")
    )
    done = run("catalog", "check", tmp_path / "mine")
    assert done.returncode == 1
    assert f"{path}:2:" in done.stdout.replace("\n", "")
    path.write_text(text.replace("title: Strain relief", "title: A device that is safe for patients"))
    assert "never printed" in run("catalog", "check", tmp_path / "mine").stdout


def test_suggest_and_adopt_start_within_the_budget_of_a_check(hood: Path) -> None:
    """A check of the demo takes about 35 times `python -c pass`; half as much again is left for a busy machine."""

    def best(*arguments: object) -> float:
        times = []
        for _ in range(3):
            start = time.perf_counter()
            subprocess.run([sys.executable, *map(str, arguments)], capture_output=True, check=False)
            times.append(time.perf_counter() - start)
        return min(times)

    check = best("-m", "riskkit", "check", hood, "--no-memory", "--today", "2026-11-25")
    assert best("-m", "riskkit", "suggest", "H03", hood) < 1.5 * check
    assert best("-m", "riskkit", "adopt", "controls/strain-relief", hood, "--dry-run") < 1.5 * check

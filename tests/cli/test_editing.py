"""Everyday editing on the command line: what is written, what is refused, and that nothing is ever lost."""

from __future__ import annotations

import datetime
import errno
import hashlib
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from riskkit.assess import assess
from riskkit.cli import adding_record, editing, linking, mending, renaming, replacing
from riskkit.diagnostics import RiskkitError
from riskkit.model.records import Hazard
from riskkit.text.reader import read, with_evidence
from riskkit.text.snapshot import EDIT_NOTE, read_folder

HOOD = Path(__file__).parent.parent.parent / "catalogs" / "examples" / "hood"
DAY = datetime.date(2026, 11, 25)
TODAY = DAY.isoformat()

SMALL = """\
device: {name: Puffer, owner: builder-1}
parts:
  P01: {title: blower}   # the only one
  P02:
    title: hose
    version: lot B
hazards:
  H36:
    title: It stops           # t
    condition: single fault
    causes: [{by: P01, mode: stops}]
    harm: {text: too little gas, severity: 4}
    controls: [C01]
controls:
  C01: {title: flap, kind: protective, depends_on: P02}
tests:
  T01: {title: flap opens, proves: [C01], limit: {at_most: 3 hPa}}
results:
  R01: {test: T01, on: 2026-10-01, readings: {opening: [2 hPa]}}
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    inner = tmp_path / "register"
    inner.mkdir()
    (inner / "register.yaml").write_text(SMALL)
    return inner


def text(folder: Path, name: str = "register.yaml") -> str:
    return (folder / name).read_bytes().decode()


def files(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}


def change(folder: Path, field: str, value: str | None, id: str = "H36", **more: bool) -> int:
    return editing.set_value(id, field, value, folder, clear=value is None, dry_run=more.get("dry_run", False))


def added(folder: Path, kind: str, title: str | None, *settings: str, part: str | None = None, **more: str) -> int:
    return adding_record.add(
        kind, title, folder, settings, part, more.get("into"), more.get("id"), TODAY, dry_run=False
    )


def riskkit(*arguments: object, cwd: Path | None = None, typed: str = "") -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "riskkit", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, check=False, cwd=cwd, input=typed)


# -- the first quarter of an hour -----------------------------------------------------------------


def test_a_hazard_can_be_added_in_the_first_quarter_of_an_hour_with_nothing_but_its_title(tmp_path: Path) -> None:
    place = tmp_path / "r"
    answers = "Puffer\npushes air\npeople\nI don't know\nbattery\nblower, hose\nface\n\n"
    assert riskkit("new", place, "--today", TODAY, typed=answers).returncode == 0
    first = riskkit("check", place, "--today", TODAY, "--format", "json")
    gaps = json.loads(first.stdout)
    assert (first.returncode, gaps["counts"]["broken"]) == (1, 0)
    assert 5 <= gaps["counts"]["open"] <= 10
    assert [found["record"] for found in gaps["findings"] if found["rule"] == "not-decided-yet"] == ["H01"]
    assert riskkit("next", place, "--today", TODAY).returncode == 0
    done = riskkit("add", "hazard", "blocked outlet stops flow", cwd=place)
    assert (done.returncode, done.stderr) == (0, "")
    second = json.loads(riskkit("check", place, "--today", TODAY, "--format", "json").stdout)
    assert second["counts"]["broken"] == 0
    found = next(each for each in second["findings"] if each["rule"] == "not-decided-yet" and each["record"] == "H02")
    assert all(name in found["headline"] for name in ("condition", "harm.text", "harm.severity"))
    hazard = read(*read_folder(place)).register.records["H02"]
    assert isinstance(hazard, Hazard)
    assert (hazard.severity, hazard.title) == ("5", "blocked outlet stops flow")


def test_what_is_decided_leaves_the_list_of_what_is_not(folder: Path) -> None:
    added(folder, "hazard", "covered outlet")
    for field, value in (("harm.severity", "3"), ("condition", "use error"), ("harm.text", "stale gas")):
        assert change(folder, field, value, "H37") == 0
    assert "undecided" not in text(folder)
    assert "harm: {text: 'stale gas', severity: 3}" in text(folder)


def test_new_ids_follow_what_the_register_does(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    added(folder, "hazards", "one")
    assert renaming.remove("H37", "twice", folder, TODAY, unlink=False, dry_run=False) == 0
    added(folder, "Hazard", "two", part="P02")
    added(folder, "use-step", "unpack")
    assert re.findall(r"(\S+) is added", capsys.readouterr().out) == ["H37", "H38", "S01"]
    assert "causes: [P02]" in text(folder)
    assert read(*read_folder(folder)).report.broken == ()


def test_an_empty_section_in_brackets_is_begun_in_lines(folder: Path) -> None:
    begun = "# the parts\nparts:\n  {}   # none yet\n\nenergy_sources: {E01: {title: battery}}\n"
    (folder / "register.yaml").write_text(begun)
    added(folder, "part", "blower")
    added(folder, "part", "hose: long")
    added(folder, "energy source", "mains")
    assert text(folder) == (
        "# the parts\nparts:\n  P01: {title: blower}   # none yet\n  P02:\n    title: 'hose: long'\n\n"
        "energy_sources: {E01: {title: battery}, E02: {title: mains}}\n"
    )


def test_options_give_fields_and_are_read_as_they_would_be_in_a_file(folder: Path) -> None:
    added(folder, "control", "lid: flat", "kind=design", "owner=builder-2", 'introduces=["H36"]')
    control = read(*read_folder(folder)).register.records["C02"]
    assert control.model_dump(include={"title", "kind", "introduces"}) == {
        "title": "lid: flat", "kind": "design", "introduces": ("H36",)
    }  # fmt: skip


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("control", "lid"), "needs `kind`"),
        (("control", "lid", "kind=magic"), "`kind` cannot be `magic`"),
        (("result", "x"), "typed in from its card"),
        (("tombstone", "x"), "comes by itself"),
        (("hazrd", "x"), "no kind of record"),
        (("hazard", "x", "harm.severity"), "gives no field a value"),
        (("hazard", "x", "status=open"), "cannot be typed"),
        (("decision", "leave it"), "needs `by` and `covers`"),
    ],
)
def test_what_cannot_be_added_is_refused_and_nothing_is_written(
    folder: Path, arguments: tuple[str, ...], words: str
) -> None:
    before = files(folder)
    with pytest.raises(RiskkitError, match=re.escape(words)) as refused:
        added(folder, *arguments)
    assert refused.value.help
    assert files(folder) == before


def test_an_interview_asks_and_an_empty_line_leaves_a_gap(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class Terminal:
        lines = iter(["outlet covered\n", "\n", "single fault\n", "\n", "too hot\n", "\n"])

        def isatty(self) -> bool:
            return True

        def readline(self) -> str:
            return next(self.lines, "")

    monkeypatch.setattr(sys, "stdin", Terminal())
    assert added(folder, "hazard", None) == 0
    assert "undecided: [harm.severity]" in text(folder)
    assert "text: too hot" in text(folder)


# -- set, link, unlink ----------------------------------------------------------------------------


def test_set_changes_one_value_and_every_other_byte_stays(folder: Path) -> None:
    assert change(folder, "title", "It stops: at once") == 0
    assert text(folder) == SMALL.replace("title: It stops           # t", 'title: "It stops: at once"           # t')


@pytest.mark.parametrize(
    ("id", "field", "value", "line"),
    [
        ("P02", "version", "1.10", 'version: "1.10"'),
        ("H36", "likelihood.claimed.p1", None, ""),
        ("H36", "harm.because", "two, three", 'harm: {text: too little gas, severity: 4, because: "two, three"}'),
        ("C01", "dormant", "true", "depends_on: P02, dormant: true}"),
        ("C01", "depends_on", "[P01, P02]", "depends_on: [P01, P02]}"),
        ("device", "name", "Puffer 2", "device: {name: Puffer 2, owner: builder-1}"),
        ("H36", "causes.0.mode", "hums", "causes: [{by: P01, mode: hums}]"),
        ("H36", "likelihood", "{claimed: {level: C}}", "likelihood: {claimed: {level: C}}"),
        ("T01", "limit.at_most", "0.40 kPa", "limit: {at_most: 0.40 kPa}"),
    ],
)
def test_a_value_is_written_as_it_was_typed(folder: Path, id: str, field: str, value: str | None, line: str) -> None:
    if value is None:
        with pytest.raises(RiskkitError, match="no `likelihood` to take out"):
            change(folder, field, None, id)
        return
    assert change(folder, field, value, id) == 0
    assert line in text(folder)
    assert read(*read_folder(folder)).report.broken == ()


@pytest.mark.parametrize(
    ("id", "field", "value", "words"),
    [
        ("H36", "status", "verified", "cannot be typed"),
        ("H36", "supported", "D", "cannot be typed"),
        ("H36", "harm.severity", "9", "no level `9`"),
        ("H36", "nonsense", "1", "no field `nonsense`"),
        ("H36", "controls", "[C99]", "does not exist"),
        ("H36", "condition", "sometimes", "cannot be `sometimes`"),
        ("H36", "id", "H99", "not changed like a field"),
        ("H36", "title.x", "1", "no group of fields"),
        ("H36", "title", "[", "`title`"),
        ("H36", ".", "1", "no name of a field"),
        ("H99", "title", "x", "no record H99"),
        ("R01", "on", "2026-10-02", "not changed afterwards"),
        ("R01", "readings.opening", "[1 hPa]", "not changed afterwards"),
        ("T01", "limit", "{at_most: 3}", "at_most"),
        ("P01", "version", "&a b", "VALUE|cannot be read|`version`"),
    ],
)
def test_what_cannot_be_set_is_refused_and_nothing_is_written(
    folder: Path, id: str, field: str, value: str, words: str
) -> None:
    before = files(folder)
    if (id, value) in (("H36", "["), ("P01", "&a b")):
        words = "."
        if value == "[":  # text may be a bracket
            assert change(folder, field, value, id) == 0
            assert 'title: "["' in text(folder)
            return
    with pytest.raises(RiskkitError, match=words if words == "." else re.escape(words)):
        change(folder, field, value, id)
    assert files(folder) == before


def test_what_came_to_light_later_may_be_added_to_a_result(folder: Path) -> None:
    assert change(folder, "notes", "the gauge was warm", "R01") == 0
    assert change(folder, "operator", "builder-1", "R01") == 0
    with pytest.raises(RiskkitError, match="not changed afterwards"):
        change(folder, "operator", "builder-2", "R01")
    with pytest.raises(RiskkitError, match="not changed afterwards"):
        linking.unlink("R01", "T01", None, folder, dry_run=False)


def test_a_broken_record_can_be_mended_by_set(folder: Path) -> None:
    (folder / "register.yaml").write_text(SMALL.replace("condition: single fault", "condition: sometimes"))
    assert change(folder, "condition", "normal") == 0
    assert read(*read_folder(folder)).report.broken == ()


def test_a_dry_run_shows_the_lines_and_writes_nothing(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert change(folder, "title", "It halts", dry_run=True) == 0
    shown = capsys.readouterr().out
    assert "-    title: It stops           # t\n+    title: It halts           # t\n" in shown
    assert "\x1b" not in shown
    assert text(folder) == SMALL


def test_links_find_their_field_or_ask_for_it(folder: Path) -> None:
    added(folder, "control", "lid", "kind=design")
    assert linking.link("H36", "C02", None, folder, dry_run=False) == 0
    assert "controls: [C01, C02]" in text(folder)
    with pytest.raises(RiskkitError, match=r"`causes`.*`parts`") as asked:
        linking.link("H36", "P02", None, folder, dry_run=False)
    assert "--as causes" in asked.value.help
    assert linking.link("H36", "P02", "causes", folder, dry_run=False) == 0
    assert "causes: [{by: P01, mode: stops}, P02]" in text(folder)
    assert linking.unlink("H36", "P01", None, folder, dry_run=False) == 0
    assert "causes: [P02]" in text(folder)
    assert linking.unlink("C01", "P02", None, folder, dry_run=False) == 0
    assert "depends_on: []" in text(folder)
    with pytest.raises(RiskkitError, match="no field") as turned:
        linking.link("P01", "C01", None, folder, dry_run=False)
    assert turned.value.help == "the link goes the other way: riskkit link C01 P01"
    with pytest.raises(RiskkitError, match="does not name"):
        linking.unlink("H36", "P01", None, folder, dry_run=False)


# -- rename, remove, renumber ---------------------------------------------------------------------


@pytest.fixture
def hood(tmp_path: Path) -> Path:
    return Path(shutil.copytree(HOOD, tmp_path / "hood"))


def found(folder: Path) -> list[tuple[str, str, str]]:
    reading = with_evidence(read(*read_folder(folder)), folder)
    return sorted((each.rule, each.record, each.headline) for each in assess(reading, today=DAY).report)


@pytest.mark.parametrize("old", ["H01", "C01", "P05", "T07", "K02", "U01", "I03", "A01"])
def test_a_rename_changes_what_is_found_in_nothing_but_the_id(hood: Path, old: str) -> None:
    """Decisions, signatures and results that remember keep speaking of what they spoke of."""
    before = found(hood)
    assert renaming.rename(old, "Q-77", hood, dry_run=False) == 0
    back = sorted(tuple(re.sub(r"\bQ-77\b", old, part) for part in each) for each in found(hood))
    assert back == before
    assert renaming.rename("Q-77", old, hood, dry_run=False) == 0
    for path in HOOD.rglob("*.yaml"):
        assert (hood / path.relative_to(HOOD)).read_bytes() == path.read_bytes()


def test_sentences_that_speak_of_a_renamed_record_are_listed_and_left(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / "register.yaml").write_text(SMALL.replace("# the only one", "# see H36, not H36-2"))
    renaming.rename("H36", "H40", folder, dry_run=False)
    assert "register.yaml:3:32." in capsys.readouterr().out
    assert "# see H36, not H36-2" in text(folder)


def test_a_record_leaves_a_tombstone_and_a_result_never_goes(folder: Path) -> None:
    before = files(folder)
    with pytest.raises(RiskkitError, match="2 records point at C01"):
        renaming.remove("C01", "wrong", folder, TODAY, unlink=False, dry_run=False)
    with pytest.raises(RiskkitError, match="never taken out"):
        renaming.remove("R01", "wrong", folder, TODAY, unlink=False, dry_run=False)
    with pytest.raises(RiskkitError, match=r"cannot be taken out|point at T01"):
        renaming.remove("T01", "wrong", folder, TODAY, unlink=True, dry_run=False)
    assert files(folder) == before
    assert renaming.remove("C01", "never built", folder, TODAY, unlink=True, dry_run=False) == 0
    assert "controls: []" in text(folder)
    assert "  C01:\n    was: 'control: flap'\n    on: 2026-11-25\n    because: never built\n" in text(folder)
    with pytest.raises(RiskkitError, match="used already"):
        added(folder, "control", "again", "kind=design", id="C01")
    with pytest.raises(RiskkitError, match="must not be used again"):
        renaming.rename("H36", "C01", folder, dry_run=False)


def git(folder: Path, *arguments: str) -> None:
    names = ["-c", "user.name=x", "-c", "user.email=x@example.org", "-c", "commit.gpgsign=false"]
    subprocess.run(["git", *names, *arguments], cwd=folder, check=True, capture_output=True)


def test_after_a_merge_one_of_two_records_gets_a_new_id_with_what_stands_beside_it(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    git(folder, "init", "-q", "-b", "main")
    git(folder, "add", ".")
    git(folder, "commit", "-qm", "first")
    git(folder, "checkout", "-qb", "other")
    other = "hazards:\n  H37: {title: other, condition: normal, harm: {text: x, severity: 2}}  # theirs\nobservations:\n  O01: {on: 2026-11-01, text: odd, became: [H37]}\n"
    (folder / "other.yaml").write_text(other)
    git(folder, "add", ".")
    git(folder, "commit", "-qm", "theirs")
    git(folder, "checkout", "-q", "main")
    mine = "hazards:\n  H37: {title: mine, condition: normal, harm: {text: x, severity: 2}}\n"
    (folder / "mine.yaml").write_text(mine)
    (folder / "third.yaml").write_text(
        "comments:\n  Q1: {on: 2026-11-01, by: physician, weight: minor, about: [H37], text: why}\n"
    )
    git(folder, "add", ".")
    git(folder, "commit", "-qm", "mine")
    git(folder, "merge", "-q", "--no-edit", "other")
    with pytest.raises(RiskkitError, match="H37 is used 2 times") as asked:
        renaming.renumber("H37", None, None, folder, dry_run=False)
    assert "only since the merge" in asked.value.help
    assert "--in other.yaml" in asked.value.help
    assert renaming.renumber("H37", "other.yaml", None, folder, dry_run=False) == 0
    assert text(folder, "other.yaml") == other.replace("H37", "H38")
    assert text(folder, "mine.yaml") == mine
    assert "third.yaml:2:62" in " ".join(capsys.readouterr().out.split())
    assert read(*read_folder(folder)).report.broken == ()
    with pytest.raises(RiskkitError, match="used once"):
        renaming.renumber("H37", None, None, folder, dry_run=False)


def test_without_git_the_person_is_asked(folder: Path) -> None:
    (folder / "a.yaml").write_text("hazards:\n  H36: {title: x, condition: normal, harm: {text: x, severity: 2}}\n")
    with pytest.raises(RiskkitError) as asked:
        renaming.renumber("H36", None, None, folder, dry_run=False)
    assert "--in register.yaml" in asked.value.help
    assert renaming.renumber("H36", "a.yaml", "H50", folder, dry_run=False) == 0
    assert "  H50: {title: x" in text(folder, "a.yaml")


# -- check --fix ----------------------------------------------------------------------------------


def test_check_fix_mends_what_needs_no_judging(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "evidence").mkdir()
    (folder / "evidence" / "run-1.csv").write_bytes(b"1\n2\n")
    digest = hashlib.sha256(b"1\n2\n").hexdigest()
    evidence = f", evidence: {{file: old/run.csv, sha256: {digest}}}}}"
    spoilt = (
        SMALL.replace("condition: single fault", "Condition: Single_Fault")
        .replace("[C01]\ncontrols:", "[c01]\ncontrols:")
        .replace("version: lot B", "version: 1.10  # lot")
        .replace("[2 hPa]}}", "[2 hPa]}" + evidence)
        .replace("depends_on: P02", "dependson: P02")
    )
    (folder / "register.yaml").write_text(spoilt)
    offered = [each for each in read(*read_folder(folder)).report if "--fix" in each.help]
    assert {each.rule for each in offered} == {"unknown-field", "wrong-type"}
    assert mending.fix_before_check(folder, "text", asked=True, dry_run=True)
    assert text(folder) == spoilt
    capsys.readouterr()
    mending.fix_before_check(folder, "text", asked=True, dry_run=False)  # a mended field lets the next one be seen
    wanted = SMALL.replace("version: lot B", 'version: "1.10"  # lot').replace("[2 hPa]}}", "[2 hPa]}" + evidence)
    assert text(folder) == wanted.replace("old/run.csv", "evidence/run-1.csv").replace(
        "depends_on: P02", "dependson: P02"
    )
    assert "with the same SHA-256" in " ".join(capsys.readouterr().out.split())
    rest = read(*read_folder(folder)).report.broken
    assert "unknown-field" in {each.rule for each in rest}, "a spelling mistake is left to the person"


def test_a_file_that_could_be_either_of_two_is_not_chosen(folder: Path) -> None:
    for name in ("a.csv", "b.csv"):
        (folder / name).write_bytes(b"1\n")
    digest = hashlib.sha256(b"1\n").hexdigest()
    spoilt = SMALL.replace("[2 hPa]}}", f"[2 hPa]}}, evidence: {{file: c.csv, sha256: {digest}}}}}")
    (folder / "register.yaml").write_text(spoilt)
    mending.fix_before_check(folder, "text", asked=True, dry_run=False)
    assert text(folder) == spoilt


# -- files ----------------------------------------------------------------------------------------


def test_permissions_and_links_stay_and_a_file_that_may_not_be_written_is_left(folder: Path) -> None:
    (folder / "real").mkdir()
    shutil.move(folder / "register.yaml", folder / "real" / "r.txt")
    (folder / "register.yaml").symlink_to(Path("real") / "r.txt")
    os.chmod(folder / "real" / "r.txt", 0o640)
    assert change(folder, "title", "new") == 0
    assert (folder / "register.yaml").is_symlink()
    assert (folder / "real" / "r.txt").stat().st_mode & 0o777 == 0o640


def test_a_full_disk_leaves_every_file_as_it_was(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (folder / "b.yaml").write_text(
        "comments:\n  Q1: {on: 2026-11-01, by: physician, weight: minor, about: [H36], text: why}\n"
    )
    before = files(folder)
    real, calls = os.fsync, []

    def full(handle: int) -> None:
        calls.append(handle)
        if len(calls) == 2:
            raise OSError(errno.ENOSPC, "No space left on device")
        real(handle)

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(RiskkitError, match="No space left"):
        renaming.rename("H36", "H40", folder, dry_run=False)
    assert files(folder) == before


def interrupted_after(steps: int, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A rename over two files, dead after so many files were put into place."""
    real, done = os.replace, []

    def dying(source: str, target: Path) -> None:
        if not str(target).endswith(EDIT_NOTE):
            if len(done) == steps:
                raise KeyboardInterrupt
            done.append(target)
        real(source, target)

    with monkeypatch.context() as patch:
        patch.setattr(os, "replace", dying)
        with pytest.raises(KeyboardInterrupt):
            renaming.rename("H36", "H40", folder, dry_run=False)


@pytest.mark.parametrize("steps", [0, 1])
def test_an_edit_of_several_files_that_was_interrupted_is_told_and_finished(
    folder: Path, steps: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    (folder / "b.yaml").write_text(
        "comments:\n  Q1: {on: 2026-11-01, by: physician, weight: minor, about: [H36], text: why}\n"
    )
    interrupted_after(steps, folder, monkeypatch)
    told = riskkit("check", folder, "--today", TODAY)
    assert told.returncode == 2
    assert "edit-interrupted" in told.stdout
    assert "`riskkit check --fix` finishes it" in told.stdout
    with pytest.raises(RiskkitError, match="interrupted"):
        change(folder, "title", "x", dry_run=True)
    assert riskkit("check", folder, "--fix", "--today", TODAY).returncode == 1
    assert sorted(files(folder)) == ["b.yaml", "register.yaml"]
    assert "about: [H40]" in text(folder, "b.yaml")
    assert text(folder) == SMALL.replace("H36", "H40")


def test_an_interrupted_edit_of_a_file_that_was_changed_since_is_left_to_the_person(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (folder / "b.yaml").write_text(
        "comments:\n  Q1: {on: 2026-11-01, by: physician, weight: minor, about: [H36], text: why}\n"
    )
    interrupted_after(1, folder, monkeypatch)
    (folder / "register.yaml").write_text(SMALL + "# by hand\n")
    with pytest.raises(RiskkitError, match="changed since"):
        change(folder, "title", "x")
    assert text(folder) == SMALL + "# by hand\n"


@pytest.mark.parametrize(
    "note",
    ["", "[]", '{"what": "x", "files": [{"file": "../x.yaml", "part": ".p.part", "before": "", "after": ""}]}',
     '{"what": "x", "files": [{"file": "register.yaml", "part": "../p.part", "before": "", "after": ""}]}'],
)  # fmt: skip
def test_a_note_of_a_stranger_is_not_believed(folder: Path, note: str) -> None:
    (folder / EDIT_NOTE).write_text(note)
    with pytest.raises(RiskkitError, match="cannot be read"):
        replacing.finish(folder)


def test_two_writers_at_once_lose_nothing(folder: Path) -> None:
    writers = [
        subprocess.Popen(
            [sys.executable, "-c", WRITER, str(folder), name, "12"], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE
        )
        for name in ("a", "b")
    ]
    for writer in writers:
        _, errors = writer.communicate(timeout=120)
        assert writer.returncode == 0, errors
    titles = {record.title for record in read(*read_folder(folder)).register.hazards}
    assert titles >= {f"{name}{number}" for name in ("a", "b") for number in range(12)}


WRITER = """
import sys, os
os.environ["RISKKIT_OWN_PROCESS"] = "1"
from pathlib import Path
from riskkit.cli.adding_record import add
for number in range(int(sys.argv[3])):
    add("hazard", f"{sys.argv[2]}{number}", Path(sys.argv[1]), (), None, None, None, "2026-11-25", dry_run=False)
"""

EDITOR = """
import sys, os, itertools, io
told, sys.stdout = sys.stdout, io.StringIO()
os.environ["RISKKIT_OWN_PROCESS"] = "1"
from pathlib import Path
from riskkit.cli.editing import set_value
from riskkit.cli.renaming import rename
folder = Path(sys.argv[1])
names = ["H36", "H40"]
for number in itertools.count(int(sys.argv[2])):
    now = names[0] if names[0] + ":" in (folder / "register.yaml").read_text() else names[1]
    if number % 5 == 4 and now + "]" in (folder / "b.yaml").read_text():
        rename(now, names[1 - names.index(now)], folder, dry_run=False)
    else:
        try:
            set_value(now, "notes", f"edit {number}", folder, clear=False, dry_run=False)
        except Exception as error:
            if "no record" not in str(error):
                raise
    print(number, flush=True, file=told)
"""


MOST_SECONDS = float(os.environ.get("RISKKIT_KILL_SECONDS", "20"))
"""How long the loop of kills may take; a slow machine stops before the 500th edit."""


def test_five_hundred_edits_with_a_kill_every_few_lose_nothing(folder: Path, tmp_path: Path) -> None:
    """Whenever an editing process is killed: each file is the old or the new one, and two files agree."""
    (folder / "b.yaml").write_text(
        "comments:\n  Q1: {on: 2026-11-01, by: physician, weight: minor, about: [H36], text: why}\n"
    )
    stable = [line for line in SMALL.splitlines() if "H36" not in line]
    done, kills, began = 0, 0, time.monotonic()
    while done < 500 and time.monotonic() - began < MOST_SECONDS:
        editor = subprocess.Popen(
            [sys.executable, "-c", EDITOR, str(folder), str(done)],
            stdout=subprocess.PIPE,
            text=True,
            stderr=subprocess.PIPE,
        )
        assert editor.stdout is not None
        for _ in range(20 + kills % 13):
            line = editor.stdout.readline()
            if not line:
                break
            done = int(line) + 1
        time.sleep(0.0007 * (kills % 11))  # somewhere in the middle of the next edit
        assert editor.poll() is None, editor.communicate()[1]
        os.kill(editor.pid, signal.SIGKILL)
        rest = editor.communicate()[0].split()
        done = int(rest[-1]) + 1 if rest else done
        kills += 1
        if (folder / EDIT_NOTE).exists():
            replacing.finish(folder)
        there = text(folder)
        assert [line for line in there.splitlines() if line in stable] == stable
        reading = read(*read_folder(folder))
        assert reading.report.broken == (), there
        written = re.search(r"notes: edit (\d+)", there)
        assert written is not None
        assert done - 3 <= int(written[1]) <= done
    assert kills >= 2
    assert done >= (500 if time.monotonic() - began < MOST_SECONDS else 40)


def test_the_folder_may_stand_first_or_last(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(folder.parent)
    assert editing.told_apart(("H1", "title", "x", "register"), 3) == (("H1", "title", "x"), Path("register"))
    assert editing.told_apart(("register", "H1", "title", "x"), 3) == (("H1", "title", "x"), Path("register"))
    assert editing.told_apart(("H1", "C1", None), 2) == (("H1", "C1"), Path())
    assert editing.told_apart_with_title("hazard", "x", "register") == ("hazard", "x", Path("register"))
    assert editing.told_apart_with_title("hazard", "register", None) == ("hazard", None, Path("register"))
    with pytest.raises(RiskkitError, match="a value is missing"):
        editing.told_apart(("H1", "title", None, None), 3)

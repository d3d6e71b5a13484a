"""Evidence files: nothing outside the folder is opened, hashes are those of the files, and rules say what changed."""

from __future__ import annotations

import datetime
import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from riskkit.assess import Assessment, assess
from riskkit.checks import Rule, all_rules
from riskkit.text.evidence_files import leaves_folder, look_at, look_at_one, states
from riskkit.text.reader import read, with_evidence
from riskkit.text.snapshot import read_folder

DAY = datetime.date(2026, 11, 25)
HOOD = Path(__file__).parent.parent.parent / "catalogs" / "examples" / "hood"
KEPT = b"time,pressure\n"
RULES = ("evidence-missing", "evidence-changed", "evidence-without-hash", "evidence-outside-folder")

# FIPS 180-4 (Secure Hash Standard), examples of its publisher: SHA-256 of "abc" and of the empty message (from memory).
ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
EMPTY = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"


def assessed(folder: Path) -> Assessment:
    return assess(with_evidence(read(*read_folder(folder)), folder), today=DAY)


def findings(folder: Path) -> list[tuple[str, str, int]]:
    return [(found.rule, found.record, found.place.line) for found in assessed(folder).report if found.rule in RULES]


def register(folder: Path, evidence: str) -> Path:
    text = f"tests:\n  T01: {{title: filter}}\nresults:\n  R01:\n    test: T01\n    on: 2026-10-12\n    evidence: {evidence}\n"
    (folder / "register.yaml").write_text(text)
    return folder


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A register's folder with one evidence file, beside a file that is none of its business."""
    (tmp_path / "secret.txt").write_bytes(b"abc")
    inner = tmp_path / "register"
    (inner / "evidence").mkdir(parents=True)
    (inner / "evidence" / "kept.csv").write_bytes(KEPT)
    return inner


def test_the_hash_is_the_one_that_the_standard_gives(folder: Path) -> None:
    (folder / "abc").write_bytes(b"abc")
    (folder / "empty").write_bytes(b"")
    found = look_at(folder, ["abc", "empty", "gone"])
    assert (found["abc"].sha256, found["abc"].size) == (ABC, 3)
    assert (found["empty"].exists, found["empty"].sha256, found["empty"].size) == (True, EMPTY, 0)
    assert (found["gone"].exists, found["gone"].sha256) == (False, "")
    with pytest.raises(TypeError):
        found["abc"] = found["gone"]  # type: ignore[index]


def test_a_large_file_is_read_piece_by_piece(folder: Path) -> None:
    piece = bytes(range(256)) * 4096
    with open(folder / "large.bin", "wb") as file:
        for _ in range(20):
            file.write(piece)
    digest = hashlib.sha256()
    for _ in range(20):
        digest.update(piece)
    assert look_at_one(folder, "large.bin").sha256 == digest.hexdigest()


@pytest.mark.parametrize(
    "path",
    [
        "../secret.txt",
        "/etc/passwd",
        "evidence/../../secret.txt",
        "..\\secret.txt",
        "C:\\x",
        "c:/x",
        "~/x",
        "a\0b",
        "..",
    ],
)
def test_a_path_that_leaves_the_folder_is_never_opened(folder: Path, path: str) -> None:
    assert leaves_folder(path)
    found = look_at_one(folder, path)
    assert (found.exists, found.sha256, found.outside) == (False, "", True)


@pytest.mark.parametrize("path", ["evidence/kept.csv", "a..b/c", "evidence/..kept", "a b.csv", "ø/µ.csv"])
def test_a_path_inside_is_no_way_out(path: str) -> None:
    assert not leaves_folder(path)


def test_a_link_that_leads_out_is_not_followed_and_one_inside_is(folder: Path) -> None:
    (folder / "out.csv").symlink_to(folder.parent / "secret.txt")
    (folder / "outer").symlink_to(folder.parent)
    (folder / "in.csv").symlink_to("evidence/kept.csv")
    assert look_at_one(folder, "out.csv").outside
    assert look_at_one(folder, "outer/secret.txt").outside
    assert look_at_one(folder, "in.csv").sha256 == hashlib.sha256(KEPT).hexdigest()
    assert states(folder, ["out.csv"])["out.csv"][0] == -1
    assert findings(register(folder, "{file: out.csv, sha256: " + ABC + "}")) == [("evidence-outside-folder", "R01", 7)]


def test_folders_pipes_and_locked_files_are_told_and_not_opened(folder: Path) -> None:
    os.mkfifo(folder / "pipe")
    assert look_at_one(folder, "evidence").problem == "it is a folder"
    assert look_at_one(folder, "pipe").problem == "it is no ordinary file"
    assert not look_at_one(folder, "evidence/kept.csv/more").exists
    (folder / "locked").write_bytes(b"x")
    (folder / "locked").chmod(0)
    if os.geteuid() != 0:
        assert "denied" in look_at_one(folder, "locked").problem
    assert findings(register(folder, "{file: evidence, sha256: " + ABC + "}")) == [("evidence-missing", "R01", 7)]


def test_every_way_in_which_evidence_can_be_wrong_is_found_by_one_rule(folder: Path) -> None:
    right = hashlib.sha256(KEPT).hexdigest()
    assert findings(register(folder, f"{{file: evidence/kept.csv, sha256: {right}}}")) == []
    assert findings(register(folder, f"{{file: evidence/kept.csv, sha256: {right.upper()}}}")) == []
    assert findings(register(folder, f"{{file: evidence/kept.csv, sha256: {ABC}}}")) == [("evidence-changed", "R01", 7)]
    assert findings(register(folder, f"{{file: evidence/gone.csv, sha256: {ABC}}}")) == [("evidence-missing", "R01", 7)]
    assert findings(register(folder, "{file: evidence/gone.csv}")) == [("evidence-missing", "R01", 7)]
    assert findings(register(folder, "{file: evidence/kept.csv}")) == [("evidence-without-hash", "R01", 7)]
    assert findings(register(folder, "{file: evidence/kept.csv, sha256: 12ab}")) == [
        ("evidence-without-hash", "R01", 7)
    ]
    assert findings(register(folder, "{file: ../secret.txt}")) == [("evidence-outside-folder", "R01", 7)]
    assert findings(register(folder, f"{{file: ../secret.txt, sha256: {ABC}}}")) == [
        ("evidence-outside-folder", "R01", 7)
    ]


def test_the_sentences_say_what_to_type_and_nothing_about_files_outside(folder: Path) -> None:
    right = hashlib.sha256(KEPT).hexdigest()
    told = {found.rule: found for found in assessed(register(folder, "{file: evidence/kept.csv}")).report}
    assert f"`sha256: {right}`" in told["evidence-without-hash"].help
    changed = {
        found.rule: found for found in assessed(register(folder, f"{{file: evidence/kept.csv, sha256: {ABC}}}")).report
    }
    assert ABC[:8] in changed["evidence-changed"].headline
    assert right[:8] in changed["evidence-changed"].headline
    for found in assessed(register(folder, "{file: ../secret.txt}")).report:
        assert ABC[:8] not in found.headline + found.help


@pytest.mark.parametrize("rule", [rule for rule in all_rules() if rule.name in RULES], ids=lambda rule: rule.name)
@pytest.mark.parametrize("which", ["bad", "good"])
def test_the_examples_of_these_rules_hold_beside_a_real_file(rule: Rule, which: str, folder: Path) -> None:
    """The examples of the rules speak of `evidence/kept.csv`, which holds one line: time,pressure."""
    text = rule.bad if which == "bad" else rule.good
    (folder / "register.yaml").write_text(text)
    marked = [number for number, line in enumerate(text.splitlines(), start=1) if line.rstrip().endswith("# <-")]
    assert bool(marked) is (which == "bad")
    assert [line for name, _, line in findings(folder) if name == rule.name] == marked
    assert {name for name, _, _ in findings(folder)} <= {rule.name}


def test_where_nobody_has_looked_nothing_is_said_about_files(folder: Path) -> None:
    register(folder, f"{{file: evidence/gone.csv, sha256: {ABC}}}")
    unseen = assess(read(*read_folder(folder)), today=DAY)
    assert not {found.rule for found in unseen.report} & set(RULES)


def test_in_the_demo_only_the_cut_recording_is_found() -> None:
    assert [(rule, record) for rule, record, _ in findings(HOOD)] == [("evidence-changed", "R37")]
    found = next(found for found in assessed(HOOD).report if found.rule == "evidence-changed")
    line = (HOOD / found.place.file).read_text().splitlines()[found.place.line - 1]
    assert found.place.file == "results/october.yaml"
    assert line.strip() == "sha256: 55819ca27e3d07e6b4d736b577cf90b312b142cf14c1004680327214a5481030"


def test_a_new_result_that_says_why_takes_the_changed_file_off_the_list(tmp_path: Path) -> None:
    folder = Path(shutil.copytree(HOOD, tmp_path / "hood"))
    now = hashlib.sha256((folder / "evidence" / "T37-levels.csv").read_bytes()).hexdigest()
    with open(folder / "results" / "october.yaml", "a") as file:
        file.write(
            "\n  R37-2:\n    test: T37\n    on: 2026-11-20\n    supersedes: R37\n"
            "    superseded_because: only the first minute of the recording is left\n"
            f"    evidence: {{file: evidence/T37-levels.csv, sha256: {now}}}\n"
        )
    assert findings(folder) == []


# -- check answers from memory, but not over a touched file ------------------------------------------


def check(folder: Path) -> str:
    done = subprocess.run(
        [sys.executable, "-m", "riskkit", "check", str(folder), "--wide", "--today", "2026-11-25"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode in (0, 1), done.stderr
    return done.stdout


def test_a_check_notices_a_changed_file_although_no_yaml_changed(folder: Path) -> None:
    right = hashlib.sha256(KEPT).hexdigest()
    register(folder, f"{{file: evidence/kept.csv, sha256: {right}}}")
    first = check(folder)
    assert "evidence-" not in first
    assert check(folder) == first
    path = folder / "evidence" / "kept.csv"
    old = path.stat()
    path.write_bytes(b"time,pressurE\n")
    # Same size, and the old time put back: the time of the entry itself still tells.
    os.utime(path, ns=(old.st_atime_ns, old.st_mtime_ns))
    assert "evidence-changed" in check(folder)
    path.write_bytes(KEPT)
    assert "evidence-" not in check(folder)
    path.unlink()
    assert "evidence-missing" in check(folder)
    path.write_bytes(KEPT)
    assert "evidence-" not in check(folder)


def test_an_answer_from_memory_opens_no_evidence_file(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from riskkit.cli import checking

    right = hashlib.sha256(KEPT).hexdigest()
    register(folder, f"{{file: evidence/kept.csv, sha256: {right}}}")
    check_again = lambda: checking.check_register(folder, "text", None, "2026-11-25", wide=True, memory=True)  # noqa: E731
    check_again()
    opened = 0

    def count(*_: object, **__: object) -> None:
        nonlocal opened
        opened += 1

    monkeypatch.setattr("riskkit.text.reader.look_at", count)
    check_again()
    assert opened == 0

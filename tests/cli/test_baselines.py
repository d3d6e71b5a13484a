"""Baselines on the command line: a change, its list, what was loosened since a tag, the trend, and section 2 on paper."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pikepdf
import pytest
from click.testing import Result
from typer.testing import CliRunner

from riskkit.cli.commands import app
from riskkit.diagnostics import RiskkitError

HOOD = Path(__file__).parent.parent.parent / "catalogs" / "examples" / "hood"
TODAY = ("--today", "2026-11-25")
SMALL = """
parts:
  P01: {title: disc, version: lot B, ratings: {mass: 83 g}}
tests:
  T01: {title: opening pressure, limit: {at_most: 18 hPa}}
"""


def git(folder: Path, *arguments: str) -> None:
    me = ("-c", "user.name=builder-1", "-c", "user.email=builder@example.org", "-c", "init.defaultBranch=main")
    subprocess.run(["git", *me, "-C", str(folder), *arguments], check=True, capture_output=True)


def commit(folder: Path, *tags: str) -> None:
    git(folder, "add", "-A")
    git(folder, "commit", "--allow-empty", "-m", "a state")
    for tag in tags:
        git(folder, "tag", tag)


def run(*arguments: object) -> Result:
    return CliRunner(env={"COLUMNS": "100", "TERMINAL_WIDTH": "100"}).invoke(app, [str(each) for each in arguments])


def said(*arguments: object) -> str:
    answer = run(*arguments)
    assert answer.exit_code in (0, 1), (answer.output, answer.exception)
    return " ".join(answer.stdout.split())


def refused(*arguments: object) -> RiskkitError:
    found = run(*arguments).exception
    assert isinstance(found, RiskkitError), found
    return found


@pytest.fixture(autouse=True)
def own_git(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("GIT_CONFIG_GLOBAL", os.devnull)
    monkeypatch.setenv("GIT_CEILING_DIRECTORIES", str(tmp_path.parent))


@pytest.fixture
def hood(tmp_path: Path) -> Path:
    folder = tmp_path / "hood"
    shutil.copytree(HOOD, folder)
    git(folder, "init")
    commit(folder, "C")
    return folder


@pytest.fixture
def small(tmp_path: Path) -> Path:
    folder = tmp_path / "small"
    folder.mkdir()
    git(folder, "init")
    (folder / "register.yaml").write_text(SMALL)
    commit(folder, "A")
    return folder


def edit(path: Path, old: str, new: str) -> None:
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new))


def test_one_change_one_list(hood: Path) -> None:
    """Story S5: another disc. 0.079 kg x 9.80665 m/s² / (π/4 x (0.024 m)²) = 17.13 hPa, by hand."""
    edit(hood / "parts.yaml", "mass: 83 g", "mass: 79 g")
    commit(hood)
    told = said("change", "P11", hood, *TODAY)
    assert "it works out opening pressure 17.13 hPa (on file: 18.0 hPa)" in told
    for path in ("R07-1 -> T07 -> P11", "R07-2 -> T07 -> P11", "R08 -> T08 -> P11", "R09 -> T09 -> P11"):
        assert path in told
    assert "T29" not in told
    for test in ("T07 (opening pressure", "T08 (full speed", "T09 (kinked"):
        assert told.index("Do again,") < told.rindex(test)
    assert "U01, U02, U03" in told
    since = said("diff", "C", "--in", hood, *TODAY)
    assert "P11 is another part under the same version `lot B`" in since
    assert "K03 works out opening pressure as 17.13 hPa instead of 17.99 hPa" in since
    edit(hood / "hazards" / "pressure.yaml", "  H05:\n", "  H05:\n    status: verified\n")
    answer = run("check", hood, "--no-memory", *TODAY)
    assert answer.exit_code == 2
    assert "`status` cannot be typed" in answer.stdout


def test_check_since_tells_only_what_bears_on_a_risk(small: Path) -> None:
    assert run("check", small, "--since", "A", *TODAY).exit_code == 0
    edit(small / "register.yaml", "title: disc", "title: a disc")
    calm = run("check", small, "--since", "A", *TODAY)
    assert calm.exit_code == 0
    assert "nothing was loosened, got worse or got better" in calm.stdout
    edit(small / "register.yaml", "at_most: 18 hPa", "at_most: 19 hPa")
    loud = run("check", small, "--since", "A", *TODAY)
    assert loud.exit_code == 1
    assert "T01 asks for `at most 19 hPa` instead of `at most 18 hPa`" in loud.stdout
    assert "was edited" not in loud.stdout
    items = json.loads(run("check", small, "--since", "A", "--format", "json", *TODAY).stdout)["differences"]
    assert items[0]["kind"] == "loosened"
    assert (items[0]["was"], items[0]["now"]) == ("at most 18 hPa", "at most 19 hPa")
    assert {each["kind"] for each in items} <= {"loosened", "worse", "better"}


def test_renamed_files_and_folders_are_no_difference(hood: Path) -> None:
    git(hood, "mv", "tests", "trials")
    git(hood, "mv", "parts.yaml", "what it is made of.yaml")
    commit(hood)
    assert "nothing that bears on a risk has changed" in said("diff", "C", "--in", hood, *TODAY)


def test_a_broken_state_is_told_and_not_called_new(small: Path) -> None:
    edit(small / "register.yaml", "at_most: 18 hPa", "at_most: eighteen")
    commit(small, "broken")
    edit(small / "register.yaml", "at_most: eighteen", "at_most: 18 hPa")
    answer = run("diff", "broken", "--in", small, *TODAY)
    assert answer.exit_code == 0
    assert "at broken the register cannot be read as written in 1 place" in answer.stderr
    assert "Not compared, for one of the two states cannot be read there: T01" in answer.stdout
    assert "T01 (opening pressure) is new" not in answer.stdout


def test_a_bare_repository_is_compared_by_two_revisions(small: Path, tmp_path: Path) -> None:
    git(tmp_path, "clone", "--bare", str(small), str(tmp_path / "bare.git"))
    assert "nothing that bears on a risk has changed" in said(
        "diff", "A", "HEAD", "--in", tmp_path / "bare.git", *TODAY
    )
    for asked in (("diff", "A", "--in"), ("check", "--since", "A"), ("trend",)):
        found = refused(*asked, tmp_path / "bare.git", *TODAY)
        assert "bare repository, which has no files of its own" in found.headline


def test_a_moved_register_says_where_it_stood(tmp_path: Path) -> None:
    top = tmp_path / "repo"
    old = top / "old place"
    old.mkdir(parents=True)
    git(top, "init")
    (old / "register.yaml").write_text(SMALL)
    commit(top, "A")
    git(top, "mv", "old place", "new place")
    answer = run("diff", "A", "--in", top / "new place", *TODAY)
    assert "at A the register stood in old place" in answer.stderr
    assert "nothing that bears on a risk has changed" in " ".join(answer.stdout.split())


# -- trend --------------------------------------------------------------------------------------------


def test_the_trend_of_three_tags_and_of_commits(small: Path) -> None:
    edit(small / "register.yaml", "tests:", "assumptions:\n  A01: {text: someone is near}\ntests:")
    commit(small, "B")
    edit(small / "register.yaml", "text: someone is near", "text: someone is near, owner: bench group")
    commit(small, "C")
    states = json.loads(run("trend", small, "--format", "json", *TODAY).stdout)
    assert states["judged_on"] == "2026-11-25"
    assert [each["state"] for each in states["states"]] == ["A", "B", "C", "as it is"]
    counts = [each["open"] for each in states["states"]]
    assert counts[1] > counts[0]
    assert counts[2] == counts[3] < counts[1]
    for each in states["states"]:
        assert each["open"] == each["errors"] + each["warnings"] == sum(each["by_severity"].values())
        if each["state"] == "as it is":
            checked = json.loads(run("check", small, "--format", "json", "--no-memory", *TODAY).stdout)
            assert len([one for one in checked["findings"] if one["severity"] != "note"]) == each["open"]
    assert len(json.loads(run("trend", small, "--commits", "--format", "json", *TODAY).stdout)["states"]) == 4
    assert len(json.loads(run("trend", small, "--last", "1", "--format", "json", *TODAY).stdout)["states"]) == 2
    told = run("trend", small, *TODAY).stdout
    assert "# error, - warning" in told
    assert max(map(len, told.splitlines())) <= 100


def test_the_trend_without_git_without_commits_and_in_a_shallow_clone(small: Path, tmp_path: Path) -> None:
    plain = tmp_path / "plain"
    plain.mkdir()
    (plain / "register.yaml").write_text(SMALL)
    assert "is not inside a git repository" in refused("trend", plain, *TODAY).headline
    git(plain, "init")
    assert "no commit has touched" in refused("trend", plain, *TODAY).headline
    commit(small)
    git(tmp_path, "clone", "--depth", "1", f"file://{small}", str(tmp_path / "shallow"))
    answer = run("trend", tmp_path / "shallow", *TODAY)
    assert answer.exit_code == 0
    assert "this clone is shallow" in answer.stderr


# -- paper --------------------------------------------------------------------------------------------


def words(pdf: Path) -> str:
    done = subprocess.run(["pdftotext", str(pdf), "-"], capture_output=True, check=True)
    return " ".join(done.stdout.decode().split())


def sections(pdf: Path) -> list[str]:
    with pikepdf.open(pdf) as opened, opened.open_outline() as outline:
        return [item.title for item in outline.root]


needs_pdftotext = pytest.mark.skipif(shutil.which("pdftotext") is None, reason="pdftotext is not installed")


@needs_pdftotext
def test_the_difference_dossier_and_what_the_whole_one_says_of_its_baseline(small: Path, tmp_path: Path) -> None:
    edit(small / "register.yaml", "at_most: 18 hPa", "at_most: 19 hPa")
    short, whole = tmp_path / "short.pdf", tmp_path / "whole.pdf"
    assert "compared with A" in said("dossier", small, "--only-changes", "-o", short, *TODAY)
    assert sections(short) == [
        "1 Limits and what is not claimed",
        "2 What changed since the last dossier",
        "15 Open list",
    ]
    text = words(short)
    assert text.index("It is not a medical device") < text.index("Loosened: 1") < text.index("15 Open list")
    assert "at most 18 hPa" in text
    assert "and later edits" in text
    said("dossier", small, "-o", whole, *TODAY)
    assert "2 What changed since the last dossier" in sections(whole)
    text = words(whole)
    assert "The latest tag on its history is A, commit" in text
    assert "riskkit dossier --since A" in text


@pytest.mark.parametrize(
    ("prepare", "expected"),
    [
        (
            lambda folder: shutil.rmtree(folder / ".git"),
            "There is no baseline: the folder of the register is not inside",
        ),
        (lambda folder: git(folder, "tag", "-d", "A"), "No state on its history has a tag"),
        (lambda folder: None, "It is printed from the very state that tag `A` names. No earlier state"),
        (lambda folder: commit(folder, "B"), "tag `B` names. The tag before it is `A`"),
    ],
)
def test_section_2_says_which_baseline_there_is(prepare: Callable[[Path], None], expected: str, small: Path) -> None:
    from riskkit.cli.baselines import baseline_words
    from riskkit.text.revisions import name_of_revision

    prepare(small)
    assert expected in baseline_words(small, name_of_revision(small))


def test_one_page_has_no_room_for_changes(small: Path) -> None:
    assert "no room" in refused("dossier", small, "--one-page", "--since", "A", *TODAY).headline
    git(small, "tag", "-d", "A")
    assert "no tag on the history" in refused("dossier", small, "--difference", *TODAY).headline

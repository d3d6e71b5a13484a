"""Older states of a register, read through real repositories of git, and what is said where there is none.

What git does with tags, shallow clones, worktrees, submodules and foreign owners is git's own: every repository here is
made by the git that is installed. The variable GIT_TEST_ASSUME_DIFFERENT_OWNER is git's own test switch (its t0033).
"""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

import pytest

from riskkit.diagnostics import RiskkitError
from riskkit.text.revisions import baselines, commits, is_shallow, name_of_revision, past, snapshot_at

ME = ("-c", "user.name=builder-1", "-c", "user.email=builder@example.org", "-c", "protocol.file.allow=always")
PARTS = "parts:\n  P01: {title: sensor}\n"


def git(folder: Path, *arguments: str) -> str:
    done = subprocess.run(
        ["git", *ME, "-c", "init.defaultBranch=main", "-C", str(folder), *arguments], capture_output=True, check=False
    )
    assert done.returncode == 0, done.stderr.decode()
    return done.stdout.decode()


def commit(folder: Path, message: str, *tags: str) -> str:
    git(folder, "add", "-A")
    git(folder, "commit", "--allow-empty", "-m", message)
    for tag in tags:
        git(folder, "tag", tag)
    return git(folder, "rev-parse", "HEAD").strip()


@pytest.fixture(autouse=True)
def own_git(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """No configuration of whoever runs the tests, and no repository above the folder of the test."""
    monkeypatch.setenv("GIT_CONFIG_GLOBAL", os.devnull)
    monkeypatch.setenv("GIT_CONFIG_NOSYSTEM", "1")
    monkeypatch.setenv("GIT_CEILING_DIRECTORIES", str(tmp_path.parent))


@pytest.fixture
def register(tmp_path: Path) -> Path:
    """A repository with two tagged states; the second says `sensor two`."""
    folder = tmp_path / "register"
    folder.mkdir()
    git(folder, "init")
    (folder / "parts.yaml").write_text(PARTS)
    (folder / "readme.txt").write_text("no yaml\n")
    commit(folder, "first", "A")
    (folder / "parts.yaml").write_text(PARTS.replace("sensor", "sensor two"))
    commit(folder, "second")
    git(folder, "tag", "-a", "B", "-m", "second state")
    return folder


def text_at(folder: Path, revision: str, name: str = "parts.yaml") -> str:
    return snapshot_at(folder, revision).files[name].decode()


# -- tags, branches, merges ---------------------------------------------------------------------------


def test_both_sorts_of_tag_and_everything_that_names_a_commit(register: Path) -> None:
    git(register, "tag", "-a", "of-a-tag", "B", "-m", "a tag of a tag")
    for name in ("A", "HEAD~1", git(register, "rev-parse", "--short", "A").strip(), "refs/tags/A"):
        assert text_at(register, name) == PARTS
    for name in ("B", "of-a-tag", "main", "HEAD", ":/second"):
        assert "sensor two" in text_at(register, name)
    assert snapshot_at(register, "A").files.keys() == {"parts.yaml"}


def test_both_parents_of_a_merge(register: Path) -> None:
    git(register, "checkout", "-b", "side", "A")
    (register / "hazards.yaml").write_text("hazards: {}\n")
    commit(register, "on the side", "S")
    git(register, "checkout", "main")
    git(register, "merge", "--no-ff", "side", "-m", "merged")
    assert snapshot_at(register, "HEAD^1").files.keys() == {"parts.yaml"}
    assert snapshot_at(register, "HEAD^2").files.keys() == {"parts.yaml", "hazards.yaml"}
    assert "sensor two" in text_at(register, "HEAD")
    assert text_at(register, "HEAD^2") == PARTS
    assert {each.name for each in baselines(register)} == {"A", "B", "S"}


def test_baselines_are_those_of_the_history_latest_first(register: Path) -> None:
    git(register, "checkout", "-b", "side", "A")
    commit(register, "elsewhere", "not-ours")
    git(register, "checkout", "main")
    git(register, "tag", "made-later", "A")  # a tag that is made late does not make its commit late
    blob = git(register, "rev-parse", "A:parts.yaml").strip()
    git(register, "tag", "a-file", blob)
    assert [each.name for each in baselines(register)] == ["B", "A", "made-later"]
    assert [each.commit for each in commits(register, 5)] == git(register, "rev-list", "HEAD").split()
    git(register, "checkout", "--detach", "A")
    assert [each.name for each in baselines(register)] == ["A", "made-later"]
    assert text_at(register, "HEAD") == PARTS


# -- where the register stands ------------------------------------------------------------------------


def test_a_subfolder_with_blanks_and_letters_beyond_ascii(tmp_path: Path) -> None:
    folder = tmp_path / "repo" / "mitt register (1)" / "målt"
    folder.mkdir(parents=True)
    git(tmp_path / "repo", "init")
    (tmp_path / "repo" / "other.yaml").write_text("not: ours\n")
    (folder / "trykk og strøm.yaml").write_text(PARTS)
    (folder / 'quote"tab\t.yml').write_text(PARTS)
    (folder / ".hidden.yaml").write_text(PARTS)
    commit(tmp_path / "repo", "first", "utgave-å")
    assert snapshot_at(folder, "utgave-å").files.keys() == {"trykk og strøm.yaml", 'quote"tab\t.yml'}
    assert name_of_revision(folder) == git(folder, "rev-parse", "--short=10", "HEAD").strip()


def test_renamed_files_and_a_moved_folder_are_found(register: Path) -> None:
    (register / "more").mkdir()
    for name in ("hazards", "controls", "tests"):
        (register / "more" / f"{name}.yaml").write_text(f"{name}: {{}}\n")
    commit(register, "more", "C")
    (register / "deep" / "down").mkdir(parents=True)
    for name in ("parts.yaml", "more"):
        git(register, "mv", name, f"deep/down/{name}")
    inside = register / "deep" / "down"
    for uncommitted in (True, False):
        if not uncommitted:
            commit(register, "moved")
        found = past(inside, "C")
        assert found.moved_from == ""
        assert found.snapshot.files.keys() == {f"more/{n}.yaml" for n in ("hazards", "controls", "tests")} | {
            "parts.yaml"
        }
    assert past(inside, "HEAD").moved_from is None


def test_another_register_beside_it_is_not_taken_for_the_moved_one(register: Path) -> None:
    (register / "second").mkdir()
    (register / "second" / "parts.yaml").write_text(PARTS)
    with pytest.raises(RiskkitError, match="there is no register in second at `A`"):
        snapshot_at(register / "second", "A")


def test_links_inside_the_folder_are_followed_and_others_are_not(register: Path) -> None:
    (register / "sub").mkdir()
    (register / "sub" / "again.yaml").symlink_to("../parts.yaml")
    (register / "twice.yaml").symlink_to("sub/again.yaml")
    (register / "out.yaml").symlink_to("../../secret.yaml")
    (register / "off.yaml").symlink_to("/etc/hostname")
    (register / "round.yaml").symlink_to("round.yaml")
    commit(register, "links", "L")
    files = snapshot_at(register, "L").files
    assert files.keys() == {"parts.yaml", "sub/again.yaml", "twice.yaml"}
    assert len(set(files.values())) == 1


def test_a_repository_inside_the_register_is_read_too(register: Path, tmp_path: Path) -> None:
    inner = tmp_path / "inner"
    inner.mkdir()
    git(inner, "init")
    (inner / "controls.yaml").write_text("controls: {}\n")
    commit(inner, "inner")
    git(register, "submodule", "add", str(inner), "shared")
    commit(register, "with a submodule", "S")
    assert "shared/controls.yaml" in snapshot_at(register, "S").files
    assert snapshot_at(register / "shared", "HEAD").files.keys() == {"controls.yaml"}
    (register / "shared" / "controls.yaml").write_text("controls: {} # later\n")
    commit(register / "shared", "later")
    assert snapshot_at(register, "S").files["shared/controls.yaml"] == b"controls: {}\n"


def test_worktrees_and_bare_repositories(register: Path, tmp_path: Path) -> None:
    git(register, "worktree", "add", str(tmp_path / "beside"), "A")
    assert "sensor two" in text_at(tmp_path / "beside", "B")
    assert name_of_revision(tmp_path / "beside") == git(register, "rev-parse", "--short=10", "A").strip()
    git(tmp_path, "clone", "--bare", str(register), str(tmp_path / "bare.git"))
    assert text_at(tmp_path / "bare.git", "A") == PARTS
    assert name_of_revision(tmp_path / "bare.git") == ""
    with pytest.raises(RiskkitError, match="git's own store"):
        snapshot_at(register / ".git", "A")


# -- what is said where there is no answer ------------------------------------------------------------


def said(folder: Path, revision: str) -> tuple[str, str]:
    with pytest.raises(RiskkitError) as refused:
        snapshot_at(folder, revision)
    return refused.value.headline, refused.value.help


def test_a_shallow_clone_says_so(register: Path, tmp_path: Path) -> None:
    git(tmp_path, "clone", "--depth", "1", f"file://{register}", str(tmp_path / "shallow"))
    assert is_shallow(tmp_path / "shallow")
    assert not is_shallow(register)
    headline, help = said(tmp_path / "shallow", "A")
    assert "this clone is shallow" in headline
    assert "`git fetch --unshallow --tags`" in help
    assert "sensor two" in text_at(tmp_path / "shallow", "HEAD")
    git(tmp_path / "shallow", "fetch", "--unshallow", "--tags")
    assert text_at(tmp_path / "shallow", "A") == PARTS


def test_no_repository_no_commit_no_revision(register: Path, tmp_path: Path) -> None:
    plain = tmp_path / "plain"
    plain.mkdir()
    (plain / "parts.yaml").write_text(PARTS)
    assert "is not inside a git repository" in said(plain, "A")[0]
    assert (name_of_revision(plain), said(plain / "gone", "A")[0]) == ("", f"there is no folder {plain / 'gone'}")
    git(plain, "init")
    assert "there is no commit here yet" in said(plain, "A")[0]
    assert (name_of_revision(plain), baselines(plain), commits(plain, 3)) == ("", (), ())
    assert "git knows no revision `Z` here" in said(register, "Z")[0]
    for wild in ("-p", "--upload-pack=touch x", "", " ", "a\nb", "a\0b", "A..B", "^A", "A^{tree}x"):
        assert "revision" in said(register, wild)[0]
    assert not (register / "x").exists()


def test_a_tag_of_a_file_or_of_a_folder_is_no_state(register: Path) -> None:
    git(register, "tag", "a-file", git(register, "rev-parse", "A:parts.yaml").strip())
    git(register, "tag", "a-folder", git(register, "rev-parse", "A^{tree}").strip())
    assert said(register, "a-file")[0] == "`a-file` names a file, not a state of the whole register"
    assert said(register, "a-folder")[0] == "`a-folder` names a folder, not a state of the whole register"


def test_a_revision_before_the_register(tmp_path: Path) -> None:
    git(tmp_path, "init")
    commit(tmp_path, "nothing", "zero")
    (tmp_path / "parts.yaml").write_text(PARTS)
    assert said(tmp_path, "zero")[0] == "there is no register in the top of the repository at `zero`"


def test_git_is_not_there(register: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", "")
    assert said(register, "A")[0] == "git is not installed, or not on the PATH"
    assert name_of_revision(register) == ""


def test_a_repository_of_another_user(register: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("GIT_TEST_ASSUME_DIFFERENT_OWNER", "1")
    headline, help = said(register, "A")
    assert "belongs to another user" in headline
    assert "safe.directory" in help
    assert name_of_revision(register) == ""


# -- dirty trees, and nothing touched -----------------------------------------------------------------


def test_later_edits_are_named_in_the_build(register: Path) -> None:
    short = git(register, "rev-parse", "--short=10", "HEAD").strip()
    assert name_of_revision(register) == short
    (register / "notes.txt").write_text("no part of the register\n")
    assert name_of_revision(register) == short
    new = register / "new.yaml"
    new.write_text("hazards: {}\n")
    assert name_of_revision(register) == f"{short} and later edits"
    new.unlink()
    parts = register / "parts.yaml"
    now = parts.read_bytes()
    parts.write_bytes(now.replace(b"\n", b"\r\n"))  # line ends of Windows
    assert name_of_revision(register) == short
    parts.write_bytes(now + b"# a word\n")
    assert name_of_revision(register) == f"{short} and later edits"
    git(register, "add", "-A")
    assert name_of_revision(register) == f"{short} and later edits"
    git(register, "rm", "-q", "--cached", "parts.yaml")
    parts.unlink()
    assert name_of_revision(register) == f"{short} and later edits"


def test_neither_files_nor_index_are_touched(register: Path) -> None:
    (register / "parts.yaml").write_text(PARTS + "# edited\n")
    os.utime(register / "readme.txt", (1, 1))  # git status would write the index to remember this
    before = {path: (path.stat().st_mtime_ns, path.read_bytes()) for path in register.rglob("*") if path.is_file()}
    snapshot_at(register, "A"), name_of_revision(register), baselines(register), commits(register, 3)
    assert before == {p: (p.stat().st_mtime_ns, p.read_bytes()) for p in register.rglob("*") if p.is_file()}


def test_nothing_of_a_strange_repository_is_run(register: Path) -> None:
    ran = register / "ran"
    trap = register / ".git" / "trap"
    trap.write_text(f"#!/bin/sh\necho $0 >> {ran}\ncat\n")
    trap.chmod(0o755)
    for key in (
        "core.fsmonitor",
        "filter.trap.clean",
        "filter.trap.smudge",
        "filter.trap.process",
        "diff.trap.textconv",
        "diff.trap.command",
        "diff.external",
        "core.pager",
        "core.sshCommand",
        "gpg.program",
        "core.alternateRefsCommand",
    ):
        git(register, "config", key, str(trap))
    git(register, "config", "log.showSignature", "true")
    (register / ".gitattributes").write_text("*.yaml filter=trap diff=trap\n")
    for hook in ("post-checkout", "reference-transaction", "post-index-change"):
        (register / ".git" / "hooks").mkdir(exist_ok=True)
        (register / ".git" / "hooks" / hook).symlink_to(trap)
    os.utime(register / "parts.yaml", (1, 1))
    snapshot_at(register, "A"), name_of_revision(register), baselines(register), commits(register, 3)
    assert not ran.exists()
    git(register, "status")
    assert ran.exists(), "the trap works: plain git runs it"


def test_the_surroundings_of_a_hook_do_not_lead_elsewhere(
    register: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = tmp_path / "other"
    other.mkdir()
    git(other, "init")
    monkeypatch.setenv("GIT_DIR", str(other / ".git"))
    monkeypatch.setenv("GIT_INDEX_FILE", str(other / "index"))
    assert text_at(register, "A") == PARTS


def test_a_replaced_commit_shows_what_was_tagged(register: Path) -> None:
    git(register, "replace", "A", "B^{commit}")
    assert text_at(register, "A") == PARTS


def test_a_partial_clone_is_not_fetched(register: Path, tmp_path: Path) -> None:
    git(register, "config", "uploadpack.allowFilter", "true")
    target = tmp_path / "partial"
    git(tmp_path, "clone", "--filter=blob:none", "--no-checkout", f"file://{register}", str(target))
    headline, _ = said(target, "A")
    assert "has not fetched every file" in headline

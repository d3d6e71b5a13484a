"""The register as it was at a git revision, read through git itself without touching the working tree."""

from __future__ import annotations

import subprocess
from pathlib import Path

from riskkit.diagnostics import RiskkitError
from riskkit.text.snapshot import Snapshot

QUIET_GIT = ("git", "-c", "core.fsmonitor=false", "-c", "core.hooksPath=/dev/null", "--no-optional-locks")
"""git without anything that a stranger's repository could make it run."""


def snapshot_at(folder: Path, revision: str) -> Snapshot:
    """The YAML files below a folder at a revision.

    Raises:
        RiskkitError: where there is no git, no repository, no such revision or no register in it.
    """
    if revision.startswith("-"):
        raise RiskkitError(f"`{revision}` is not a git revision", "name a tag, a branch or a commit")
    if not folder.is_dir():
        raise RiskkitError(f"there is no folder {folder}", "name the folder of the register with --in")
    try:
        _git(folder, "rev-parse", "--show-toplevel")
    except RiskkitError:
        raise RiskkitError(
            f"{folder.resolve()} is not inside a git repository", "run `git init` and commit the register first"
        ) from None
    try:
        commit = _git(folder, "rev-parse", "--verify", "--quiet", f"{revision}^{{commit}}").decode().strip()
    except RiskkitError:
        raise RiskkitError(
            f"git knows no revision `{revision}` here", "name a tag, a branch or a commit; `git tag` lists the tags"
        ) from None
    listing = _git(folder, "ls-tree", "-r", "-z", commit, "--", ".").split(b"\0")
    blobs = {}
    for entry in filter(None, listing):
        about, _, name = entry.partition(b"\t")
        mode, sort, blob = about.split()
        path = name.decode("utf-8", "surrogateescape")
        hidden = any(step.startswith(".") for step in path.split("/"))
        if sort == b"blob" and mode != b"120000" and path.endswith((".yaml", ".yml")) and not hidden:
            blobs[path] = blob.decode()
    if not blobs:
        raise RiskkitError(f"there is no register in {folder} at `{revision}`", "name a later revision")
    files = {path: _git(folder, "cat-file", "blob", blob) for path, blob in sorted(blobs.items())}
    return Snapshot.from_files(files, f"{folder} at {revision}")


def name_of_revision(folder: Path) -> str:
    """What git calls the state of a folder: short commit, marked where files differ from it; "" without git."""
    try:
        commit = _git(folder, "rev-parse", "--short=10", "HEAD").decode().strip()
        changed = _git(folder, "status", "--porcelain", "--", ".").strip()
    except RiskkitError:
        return ""
    return f"{commit} and later edits" if changed else commit


def _git(folder: Path, *arguments: str) -> bytes:
    try:
        done = subprocess.run(
            [*QUIET_GIT, "-C", str(folder), *arguments], capture_output=True, check=False, stdin=subprocess.DEVNULL
        )
    except FileNotFoundError:
        raise RiskkitError("git is not installed", "install git, then try again") from None
    if done.returncode != 0:
        raise RiskkitError(f"git {arguments[0]} failed: {done.stderr.decode(errors='replace').strip()}")
    return done.stdout

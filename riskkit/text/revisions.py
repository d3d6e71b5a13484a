"""The register as it was at a git revision, read through git itself without touching the working tree or the index."""

from __future__ import annotations

import hashlib
import os
import posixpath
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from riskkit.diagnostics import RiskkitError
from riskkit.text.repository import Repository, refused, repository_of
from riskkit.text.snapshot import ENDINGS, Snapshot, read_folder, yaml_names

LINK, SUBMODULE = b"120000", b"160000"
MOST_LINKS = 10
"""Links to links that are followed."""


@dataclass(frozen=True, slots=True)
class Baseline:
    """A revision that has a name: a tag, or a commit.

    Attributes:
        name: What people call it.
        revision: What git calls it without ambiguity.
        commit: The commit, in full.
        day: When the commit was made, year-month-day.
    """

    name: str
    revision: str
    commit: str
    day: str


@dataclass(frozen=True, slots=True)
class Past:
    """The register at a revision: its files, the commit, its day, and the folder it stood in where that was another."""

    snapshot: Snapshot
    commit: str
    day: str
    moved_from: str | None


def snapshot_at(folder: Path, revision: str) -> Snapshot:
    """The YAML files below a folder at a revision.

    Raises:
        RiskkitError: where there is no git, no repository, no such revision or no register in it.
    """
    return past(folder, revision).snapshot


def past(folder: Path, revision: str) -> Past:
    """The register in a folder as it was at a revision, wherever the folder stood then.

    A folder that was moved since is found where its files stand in one other folder of that revision,
    most of them under the same names.

    Raises:
        RiskkitError: where there is no git, no repository, no such revision or no register in it.
    """
    repository = repository_of(folder)
    commit = _commit(repository, revision)
    day = _history(repository, "--max-count=1", commit)[0][1]
    listing, prefix = _listing(repository, commit, repository.prefix), repository.prefix
    files = _yaml(repository, listing)
    if not files:
        prefix, files = _moved(repository, commit)
    if not files:
        where = repository.prefix.rstrip("/") or "the top of the repository"
        raise RiskkitError(f"there is no register in {where} at `{revision}`", "name a later revision")
    moved = prefix if prefix != repository.prefix else None
    return Past(Snapshot.from_files(files, f"{folder} at {revision}"), commit, day, moved)


def name_of_revision(folder: Path) -> str:
    """What git calls the state of a register: short commit, marked where its files differ; "" where git has no name."""
    try:
        repository = repository_of(folder)
    except RiskkitError:
        return ""  # without git the paper is named after its bytes
    head = repository.ask("rev-parse", "--verify", "--quiet", "HEAD^{commit}")
    if not head.done or repository.bare:
        return ""
    short = repository.told("rev-parse", "--short=10", "HEAD").decode().strip()
    return f"{short} and later edits" if _is_edited(repository, head.output.decode().strip()) else short


def baselines(folder: Path) -> tuple[Baseline, ...]:
    """The tags on the history of what is checked out, latest first; none where there is no commit yet.

    Raises:
        RiskkitError: where there is no git or no repository.
    """
    repository = repository_of(folder)
    if not repository.ask("rev-parse", "--verify", "--quiet", "HEAD^{commit}").done:
        return ()
    names = repository.told("for-each-ref", "--merged=HEAD", "--format=%(refname)", "refs/tags").decode().split("\n")
    history = _history(repository, "HEAD")
    places = {commit: place for place, (commit, _) in enumerate(history)}
    days = dict(history)
    found = []
    for name in filter(None, names):
        commit = repository.told("rev-parse", "--verify", f"{name}^{{commit}}").decode().strip()
        found.append(Baseline(name.removeprefix("refs/tags/"), name, commit, days[commit]))
    return tuple(sorted(found, key=lambda each: (places[each.commit], each.name)))


def commits(folder: Path, most: int) -> tuple[Baseline, ...]:
    """The last commits that touched a folder, latest first.

    Raises:
        RiskkitError: where there is no git or no repository.
    """
    repository = repository_of(folder)
    if not repository.ask("rev-parse", "--verify", "--quiet", "HEAD^{commit}").done:
        return ()
    return tuple(
        Baseline(commit[:10], commit, commit, day)
        for commit, day in _history(repository, f"--max-count={most}", "HEAD", "--", ".")
    )


def is_shallow(folder: Path) -> bool:
    """Whether old commits were not fetched into the repository around a folder."""
    return repository_of(folder).shallow


def _history(repository: Repository, *chosen: str) -> tuple[tuple[str, str], ...]:
    """(commit, day), every commit before those it grew out of."""
    lines = repository.told("rev-list", "--topo-order", "--format=%H %cs", *chosen).decode().splitlines()
    return tuple((line.split()[0], line.split()[1]) for line in lines if not line.startswith("commit "))


def _commit(repository: Repository, revision: str) -> str:
    if revision.startswith("-") or not revision.strip() or any(ord(letter) < 32 for letter in revision):
        raise RiskkitError(f"`{revision}` is not a git revision", "name a tag, a branch or a commit")
    # In two steps, for `:/words^{commit}` would search for the words with what stands behind them.
    named = repository.ask("rev-parse", "--verify", "--quiet", revision)
    if named.done and not named.output.startswith(b"^"):
        answer = repository.ask("rev-parse", "--verify", "--quiet", f"{named.output.decode().strip()}^{{commit}}")
        if answer.done:
            return answer.output.decode().strip()
    known = repository.ask("cat-file", "-t", revision)
    if known.done:
        kind = {b"blob": "a file", b"tree": "a folder"}.get(known.output.strip(), "something else")
        raise RiskkitError(
            f"`{revision}` names {kind}, not a state of the whole register", "name a tag of a commit, or the commit"
        )
    if not repository.ask("rev-parse", "--verify", "--quiet", "HEAD^{commit}").done and not repository.bare:
        raise RiskkitError(
            f"git knows no revision `{revision}`: there is no commit here yet",
            '`git add -A && git commit -m "first state"`, then `git tag A` gives it a name',
        )
    if "ambiguous" in known.words:
        raise RiskkitError(f"`{revision}` is the beginning of more than one commit", "write more of its digits")
    if repository.shallow:
        raise RiskkitError(
            f"git knows no revision `{revision}` here, and this clone is shallow: older commits were not fetched",
            "`git fetch --unshallow --tags` brings them; then try again",
        )
    raise RiskkitError(
        f"git knows no revision `{revision}` here",
        "name a tag, a branch or a commit; `git tag` lists the tags, `git fetch --tags` brings those of the origin",
    )


# -- what stands in a tree ----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Entry:
    mode: bytes
    object: str


def _listing(repository: Repository, commit: str, prefix: str) -> Mapping[str, _Entry]:
    """Everything below a folder at a commit, by its path from there; nothing where the folder was not there."""
    tree = f"{commit}:{prefix.rstrip('/')}"
    answer = repository.ask("ls-tree", "-r", "-z", "--full-tree", tree)
    if not answer.done and ("Not a valid object name" in answer.words or "not a tree object" in answer.words):
        return {}
    if not answer.done:
        raise refused(repository.folder, "ls-tree", answer.words)
    found = {}
    for line in filter(None, answer.output.split(b"\0")):
        about, _, name = line.partition(b"\t")
        mode, _, object = about.split()[:3]
        found[name.decode("utf-8", "surrogateescape")] = _Entry(mode, object.decode())
    return found


def _is_yaml(path: str) -> bool:
    return path.endswith(ENDINGS) and not any(step.startswith(".") for step in path.split("/"))


def _yaml(repository: Repository, listing: Mapping[str, _Entry]) -> dict[str, bytes]:
    """The YAML files of a listing, links inside it followed and repositories inside it read."""
    wanted = {}
    inside: dict[str, bytes] = {}
    for path, entry in listing.items():
        if entry.mode == SUBMODULE:
            inside |= _of_submodule(repository.folder / path, path, entry.object)
        elif _is_yaml(path):
            target = _behind_links(repository, path, listing)
            if target is not None:
                wanted[path] = listing[target].object
    contents = _contents(repository, wanted.values())
    return {path: contents[object] for path, object in wanted.items()} | inside


def _behind_links(repository: Repository, path: str, listing: Mapping[str, _Entry]) -> str | None:
    """The file that a path leads to; None where it leads out of the folder, or nowhere."""
    for _ in range(MOST_LINKS):
        entry = listing.get(path)
        if entry is None or entry.mode == SUBMODULE:
            return None
        if entry.mode != LINK:
            return path
        target = repository.told("cat-file", "blob", entry.object).decode("utf-8", "surrogateescape")
        if target.startswith("/"):
            return None
        path = posixpath.normpath(posixpath.join(posixpath.dirname(path), target))
    return None


def _of_submodule(folder: Path, path: str, commit: str) -> dict[str, bytes]:
    """YAML of a repository inside the register, at the commit that the register named; nothing where it is empty."""
    if any(step.startswith(".") for step in path.split("/")) or not (folder / ".git").exists():
        return {}
    within = repository_of(folder)
    if not within.ask("cat-file", "-e", f"{commit}^{{commit}}").done:
        raise RiskkitError(
            f"{folder} is a repository inside the register, and commit {commit[:10]} of it is not here",
            "`git submodule update --init`, or `git fetch` inside it, then try again",
        )
    files = _yaml(within, _listing(within, commit, ""))
    return {f"{path}/{name}": content for name, content in files.items()}


def _contents(repository: Repository, objects: Iterable[str]) -> Mapping[str, bytes]:
    """Bytes of each object, all asked for at once; exactly as they were committed, without filters."""
    asked = tuple(dict.fromkeys(objects))
    output = repository.told("cat-file", "--batch", fed="".join(f"{each}\n" for each in asked).encode())
    found: dict[str, bytes] = {}
    at = 0
    for each in asked:
        end = output.index(b"\n", at)
        about = output[at:end].split()
        if len(about) != 3:
            raise refused(repository.folder, "cat-file", "promisor: an object is missing")
        size = int(about[2])
        found[each] = output[end + 1 : end + 1 + size]
        at = end + 1 + size + 1
    return found


def _moved(repository: Repository, commit: str) -> tuple[str, dict[str, bytes]]:
    """The one other folder of a commit that holds most of the file names that the register has now."""
    now = set(_names_now(repository))
    whole = _listing(repository, commit, "")
    shared: Counter[str] = Counter()
    for path in filter(_is_yaml, whole):
        steps = path.split("/")
        for place in range(len(steps)):
            shared["".join(f"{step}/" for step in steps[:place])] += "/".join(steps[place:]) in now
    best = shared.most_common(2)
    alone = len(best) == 1 or (len(best) == 2 and best[0][1] > best[1][1])
    if not best or not alone or 2 * best[0][1] <= len(now):
        return repository.prefix, {}
    prefix = best[0][0]
    top = Path(os.fsdecode(repository.told("rev-parse", "--show-toplevel").removesuffix(b"\n")))
    if any((top / prefix / name).exists() for name in now):
        return repository.prefix, {}  # what stood there then stands there still: it is another register
    within = {path.removeprefix(prefix): entry for path, entry in whole.items() if path.startswith(prefix)}
    return prefix, _yaml(repository, within)


def _names_now(repository: Repository) -> Iterable[str]:
    return () if repository.bare else yaml_names(repository.folder)


# -- what differs from the commit ---------------------------------------------------------------------


def _is_edited(repository: Repository, commit: str) -> bool:
    """Whether the YAML files differ from those of the commit.

    Compared here and not by `git status`, which would run the filters that a repository asks for and may write the
    index. A file checked out with the line ends of Windows is not edited.
    """
    listing = {path: entry for path, entry in _listing(repository, commit, repository.prefix).items() if _is_yaml(path)}
    try:
        files = read_folder(repository.folder)[0].files
    except RiskkitError:
        return bool(listing)
    if any(entry.mode == LINK for entry in listing.values()) or set(files) != set(listing):
        return dict(files) != _yaml(repository, _listing(repository, commit, repository.prefix))
    return any(
        listing[path].object not in _objects(content) | _objects(content.replace(b"\r\n", b"\n"))
        for path, content in files.items()
    )


def _objects(content: bytes) -> set[str]:
    """Names that git may give to these bytes: repositories count by SHA-1 or by SHA-256."""
    named = b"blob %d\0" % len(content) + content
    return {hashlib.sha1(named, usedforsecurity=False).hexdigest(), hashlib.sha256(named).hexdigest()}

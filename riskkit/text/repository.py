"""Questions to git about a folder, asked so that nothing of a stranger's repository is run, fetched or written."""

from __future__ import annotations

import os
import subprocess
from dataclasses import dataclass
from pathlib import Path

from riskkit.diagnostics import RiskkitError

QUIET_GIT = (
    "git",
    "--no-optional-locks",
    "--no-replace-objects",
    "-c",
    "core.fsmonitor=false",
    "-c",
    "core.hooksPath=/dev/null",
    "-c",
    "protocol.allow=never",
)
"""git that writes nothing, runs no hook or monitor, fetches nothing, and shows a commit as it was made."""

ELSEWHERE = (
    "GIT_DIR",
    "GIT_WORK_TREE",
    "GIT_COMMON_DIR",
    "GIT_INDEX_FILE",
    "GIT_OBJECT_DIRECTORY",
    "GIT_ALTERNATE_OBJECT_DIRECTORIES",
    "GIT_NAMESPACE",
    "GIT_PREFIX",
    "GIT_SHALLOW_FILE",
    "GIT_GRAFT_FILE",
)
"""Variables that point git at another repository than the one around the folder; a hook of git sets some."""

NOT_HERE = "run `git init` and commit the register first"


@dataclass(frozen=True, slots=True)
class Answer:
    """What git said: `done` is false where it refused, and `words` are what it complained about."""

    done: bool
    output: bytes
    words: str


@dataclass(frozen=True, slots=True)
class Repository:
    """The repository around a folder.

    Attributes:
        folder: The folder that was asked about.
        prefix: Path from the top of the repository to the folder, with a slash behind it; "" at the top.
        bare: True where it has no files of its own.
        shallow: True where old commits were not fetched.
    """

    folder: Path
    prefix: str
    bare: bool
    shallow: bool

    def ask(self, *arguments: str, fed: bytes = b"") -> Answer:
        """Ask git one question from inside the folder."""
        return ask(self.folder, *arguments, fed=fed)

    def told(self, *arguments: str, fed: bytes = b"") -> bytes:
        """What git answers.

        Raises:
            RiskkitError: where it refuses.
        """
        answer = self.ask(*arguments, fed=fed)
        if not answer.done:
            raise refused(self.folder, arguments[0], answer.words)
        return answer.output


def repository_of(folder: Path) -> Repository:
    """The repository around a folder.

    Raises:
        RiskkitError: where there is no folder, no git, no repository, or one that git does not read.
    """
    if not folder.is_dir():
        raise RiskkitError(f"there is no folder {folder}", "name the folder of the register with --in")
    answer = ask(
        folder,
        "rev-parse",
        "--is-bare-repository",
        "--is-inside-git-dir",
        "--is-shallow-repository",
        "--show-prefix",
    )
    if not answer.done:
        raise refused(folder, "rev-parse", answer.words)
    bare, inside, shallow, prefix = (*answer.output.split(b"\n", 3), b"")[:4]
    if inside == b"true" and bare != b"true":
        raise RiskkitError(
            f"{folder.resolve()} is git's own store, not a folder of files", "name the folder of the register"
        )
    return Repository(
        folder,
        prefix.removesuffix(b"\n").decode("utf-8", "surrogateescape"),
        bare == b"true",
        shallow == b"true",
    )


def ask(folder: Path, *arguments: str, fed: bytes = b"") -> Answer:
    """Ask git one question in a folder.

    Raises:
        RiskkitError: where git cannot be started.
    """
    surroundings = {name: value for name, value in os.environ.items() if name not in ELSEWHERE}
    surroundings |= {"LC_ALL": "C", "LANGUAGE": "C", "GIT_TERMINAL_PROMPT": "0", "GIT_NO_LAZY_FETCH": "1"}
    try:
        done = subprocess.run(
            [*QUIET_GIT, "-C", os.fspath(folder), *arguments],
            capture_output=True,
            check=False,
            input=fed,
            env=surroundings,
        )
    except OSError as error:
        if isinstance(error, FileNotFoundError):
            raise RiskkitError("git is not installed, or not on the PATH", "install git, then try again") from None
        raise RiskkitError(f"git cannot be started: {error.strerror}", "install git, then try again") from None
    return Answer(done.returncode == 0, done.stdout, done.stderr.decode(errors="replace").strip())


def refused(folder: Path, question: str, words: str) -> RiskkitError:
    """What git's complaint means, and what to type."""
    where = folder.resolve()
    if "dubious ownership" in words:
        return RiskkitError(
            f"git does not read {where}, because the repository belongs to another user of this computer",
            f'if you trust it, `git config --global --add safe.directory "{where}"`, then try again',
        )
    if "not a git repository" in words:
        return RiskkitError(f"{where} is not inside a git repository", NOT_HERE)
    if "safe.bareRepository" in words or "cannot use bare repository" in words:
        return RiskkitError(
            f"git is told not to read the bare repository {where}", "clone it, and name the folder of the clone"
        )
    if "transport" in words or "promisor" in words or "lazy" in words:
        return RiskkitError(
            f"git has not fetched every file of that revision into {where}",
            "this is a partial clone: `git fetch --refetch --filter=blob:limit=1g`, or clone it whole",
        )
    first = next((line for line in words.splitlines() if line.strip()), "no reason given")
    return RiskkitError(
        f"git {question} failed in {where}: {first.removeprefix('fatal: ')}", "`git status` there says more"
    )

"""The last answer of `check`, kept in the user's own cache folder.

An answer is found again only under the hash of every byte of the register, the policy, the day and
riskkit's own code, and only in a file that nobody but the user can write; and only while the files that
results name as evidence, and the catalog entries that records were taken from, have the size and the times
that they had. The register's folder is never
trusted: it may have come from a stranger. The answer is plain JSON; nothing in it can run.
"""

from __future__ import annotations

import hashlib
import json
import os
import stat
import sys
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from riskkit.version import __version__

if TYPE_CHECKING:
    from riskkit.diagnostics import Report
    from riskkit.text.evidence_files import State

MOST_ANSWERS = 50
LARGEST_ANSWER = 64 * 1024 * 1024


@dataclass(frozen=True, slots=True)
class Memory:
    """One place in the cache folder, named after everything that the answer depends on."""

    folder: Path
    key: str

    @classmethod
    def of(cls, fingerprint: str, policy: str | None, today: str) -> Memory:
        """The place for a register's fingerprint, a policy file and a day."""
        digest = hashlib.sha256()
        for piece in (fingerprint, today, __version__, sys.version, _code_state(), _policy_bytes(policy)):
            digest.update(piece if isinstance(piece, bytes) else piece.encode())
            digest.update(b"\0")
        return cls(_cache_folder(), digest.hexdigest())

    @property
    def file(self) -> Path:
        """Where the answer is kept."""
        return self.folder / f"{self.key}.json"

    def recall(self, folder: Path) -> Report | None:
        """The kept answer, or None where there is none that can be trusted or an evidence file was touched since."""
        if not (_only_mine(self.folder, stat.S_ISDIR) and _only_mine(self.file, stat.S_ISREG)):
            return None
        try:
            if self.file.stat().st_size > LARGEST_ANSWER:
                return None
            kept = json.loads(self.file.read_bytes())
        except (OSError, ValueError):
            return None
        from riskkit.exchange.findings import findings_from_json
        from riskkit.text.evidence_files import states

        if kept.get("key") != self.key:
            return None
        seen = kept.get("evidence", {})
        if {path: list(state) for path, state in states(folder, seen).items()} != seen:
            return None
        entries = kept.get("entries", {})
        if {path: list(state) for path, state in entry_states(entries).items()} != entries:
            return None
        return findings_from_json(kept["findings"])

    def keep(self, report: Report, evidence: Mapping[str, State], entries: Mapping[str, State]) -> None:
        """Keep an answer; where that is not possible, the next run simply works it out again.

        Args:
            report: The answer.
            evidence: Size and times of each evidence file, taken before the files were read.
            entries: The same of each catalog entry that a record was taken from.
        """
        from riskkit.exchange.findings import findings_data

        kept = {"key": self.key, "evidence": evidence, "entries": entries, "findings": findings_data(report)}
        text = json.dumps(kept, separators=(",", ":"))
        temporary = self.folder / f".{self.key}.{os.getpid()}"
        try:
            self.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            if not _only_mine(self.folder, stat.S_ISDIR):
                return
            descriptor = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            with os.fdopen(descriptor, "w", encoding="utf-8") as file:
                file.write(text)
            temporary.replace(self.file)
            self._forget_the_oldest()
        except OSError:
            return

    def _forget_the_oldest(self) -> None:
        answers = sorted(self.folder.glob("*.json"), key=lambda path: path.stat().st_mtime_ns)
        for path in answers[:-MOST_ANSWERS]:
            path.unlink(missing_ok=True)


def entry_states(paths: Iterable[str]) -> dict[str, State]:
    """Size and times of catalog entries, which stand outside the register's folder."""
    return {path: _entry_state(path) for path in paths}


def _entry_state(path: str) -> State:
    try:
        about = os.stat(path)
    except (OSError, ValueError):
        return -1, -1, -1
    return about.st_size, about.st_mtime_ns, about.st_ctime_ns


def _cache_folder() -> Path:
    base = os.environ.get("XDG_CACHE_HOME", "")
    root = Path(base) if os.path.isabs(base) else Path.home() / ".cache"
    return root / "riskkit"


def _only_mine(path: Path, kind: object) -> bool:
    """True for a real file or folder of the user that nobody else can write."""
    try:
        found = os.lstat(path)
    except OSError:
        return False
    if not callable(kind) or not kind(found.st_mode):
        return False
    if not hasattr(os, "getuid"):
        return True
    return found.st_uid == os.getuid() and not found.st_mode & (stat.S_IWGRP | stat.S_IWOTH)


def _code_state() -> str:
    """Changes with every edit of riskkit itself, so that a checkout under work never answers from memory."""
    package = Path(__file__).parent.parent
    latest, count = 0, 0
    for folder in (package, package.parent / "catalogs" / "policies", package / "catalogs" / "policies"):
        for root, _, names in os.walk(folder):
            for name in names:
                if name.endswith((".py", ".yaml")):
                    latest = max(latest, os.stat(os.path.join(root, name)).st_mtime_ns)
                    count += 1
    return f"{package} {latest} {count}"


def _policy_bytes(policy: str | None) -> bytes:
    if policy is None:
        return b""
    path = Path(policy)
    return policy.encode() + (path.read_bytes() if path.is_file() else b"")

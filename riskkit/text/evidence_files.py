"""The files that results and built units name as evidence: whether they are there, how large, and with which SHA-256.

Nothing outside the register's folder is ever opened: a register may come from a stranger, and a finding
that prints the hash of some other file would say something about it. What a file contains is nobody's
business here.
"""

from __future__ import annotations

import hashlib
import os
import re
import stat
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from riskkit.model.references import Path as Steps
    from riskkit.model.register import Register
    from riskkit.model.upkeep import StepCheck, Unit
    from riskkit.model.verification import Evidence, Result

_DRIVE = re.compile(r"[A-Za-z]:")


@dataclass(frozen=True, slots=True)
class EvidenceFile:
    """What was found under one path.

    Attributes:
        exists: Whether an ordinary file that can be read stands there, inside the folder.
        sha256: Its SHA-256 in small hexadecimal digits; empty where there is none.
        size: Its size in bytes.
        problem: Why it cannot be read, as the end of a sentence; empty where it can, or is simply not there.
        outside: True where the path, or a link on the way, leads out of the register's folder.
    """

    exists: bool
    sha256: str = ""
    size: int = 0
    problem: str = ""
    outside: bool = False


State = tuple[int, int, int]
"""Size, time of the last change of content and of the entry, both in ns: equal while nobody has touched a file."""

NOT_THERE: State = (-1, -1, -1)


def leaves_folder(path: str) -> bool:
    """Whether a path as typed is absolute or climbs out of the folder; links are another matter."""
    plain = path.replace("\\", "/")
    return plain.startswith(("/", "~")) or _DRIVE.match(plain) is not None or ".." in plain.split("/") or "\0" in path


def evidence_of(record: Result | Unit) -> Iterator[tuple[Steps, Evidence]]:
    """Every file that a record names as evidence, with the path from the record to where it is named."""
    for place, named in enumerate(record.evidence):
        yield ("evidence", place), named
    checks: tuple[StepCheck, ...] = getattr(record, "checks", ())
    for number, check in enumerate(checks):
        for place, named in enumerate(check.evidence):
            yield ("checks", number, "evidence", place), named


def named_files(register: Register) -> tuple[str, ...]:
    """Every path that any result, unit or check of a build names as evidence, once, in the order of the records."""
    owners: tuple[Result | Unit, ...] = (*register.results, *register.units)
    named = (each for record in owners for _, each in evidence_of(record))
    return tuple(dict.fromkeys(each.file for each in named))


def look_at(folder: Path, paths: Iterable[str]) -> Mapping[str, EvidenceFile]:
    """What stands under each path inside a folder; each file is read once, piece by piece."""
    return MappingProxyType({path: look_at_one(folder, path) for path in paths})


def look_at_one(folder: Path, path: str) -> EvidenceFile:
    """What stands under one path inside a folder."""
    real = _inside(folder, path)
    if real is None:
        return EvidenceFile(False, outside=True)
    try:
        # An ordinary file only: opening a pipe would wait for ever.
        about = os.stat(real)
        if not stat.S_ISREG(about.st_mode):
            what = "it is a folder" if stat.S_ISDIR(about.st_mode) else "it is no ordinary file"
            return EvidenceFile(False, problem=what)
        with open(real, "rb") as file:
            digest = hashlib.file_digest(file, "sha256").hexdigest()
            return EvidenceFile(True, digest, os.fstat(file.fileno()).st_size)
    except (FileNotFoundError, NotADirectoryError):
        return EvidenceFile(False)
    except (OSError, ValueError) as error:
        return EvidenceFile(False, problem=str(getattr(error, "strerror", None) or error).lower())


def bytes_of(folder: Path, paths: Iterable[str], most: int) -> Mapping[str, bytes]:
    """The bytes of the files that stand there and are no larger than `most` bytes each; the others are left out."""
    found = {}
    for path in paths:
        about = look_at_one(folder, path)
        real = _inside(folder, path)
        if about.exists and real is not None and about.size <= most:
            with open(real, "rb") as file:
                found[path.replace("\\", "/")] = file.read()
    return MappingProxyType(found)


def states(folder: Path, paths: Iterable[str]) -> dict[str, State]:
    """Size and times of each file, without opening any: enough to see that a file has to be read again."""
    return {path: _state(folder, path) for path in paths}


def _state(folder: Path, path: str) -> State:
    real = _inside(folder, path)
    if real is None:
        return NOT_THERE
    try:
        about = os.stat(real)
    except (OSError, ValueError):
        return NOT_THERE
    return about.st_size, about.st_mtime_ns, about.st_ctime_ns


def _inside(folder: Path, path: str) -> str | None:
    """The path with all links followed, or None where it leads out of the folder."""
    if leaves_folder(path):
        return None
    root = os.path.realpath(folder)
    real = os.path.realpath(os.path.join(root, path))
    return real if os.path.commonpath([real, root]) == root else None

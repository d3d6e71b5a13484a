"""Adding a record to a register's folder: which file, under a lock, proven before it is written."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from riskkit.cli.opening import write_whole
from riskkit.cli.replacing import finish
from riskkit.diagnostics import RiskkitError

if TYPE_CHECKING:
    from riskkit.model.register import Register
    from riskkit.text.reader import Reading

NEW_FILE = "results.yaml"


@dataclass(frozen=True, slots=True)
class Plan:
    """What would be written: the id, the file, its bytes before and after, the lines that come in."""

    id: str
    file: str
    before: bytes
    after: bytes
    lines: str
    passed_over: tuple[str, ...] = ()
    """Why other files were not taken, one sentence each."""


def plan_result(reading: Reading, test_id: str, fields: Mapping[str, Any], id: str, into: str | None) -> Plan:
    """Where and how a result would be added; everything but the writing is done and proven.

    Raises:
        RiskkitError: where no file can take it, or the register would not be the old one plus this record.
    """
    from riskkit.text.reader import read
    from riskkit.text.snapshot import Snapshot
    from riskkit.text.writing import CannotAppend, append_record, prove

    passed_over: list[str] = []
    for name in [into] if into is not None else _files(reading, test_id):
        before = reading.snapshot.files.get(name, b"")
        try:
            after, lines = append_record(name, before, "results", id, fields)
        except CannotAppend as error:
            if into is not None:
                raise
            passed_over.append(error.headline)
            continue
        grown = read(Snapshot.from_files({**reading.snapshot.files, name: after}, reading.snapshot.root))
        prove(reading, grown, id)
        return Plan(id, name, before, after, lines, tuple(passed_over))
    raise RiskkitError(f"no file can take the result: {'; '.join(passed_over)}", "name a new one with --in FILE")


def _files(reading: Reading, test_id: str) -> Iterator[str]:
    """Files in the order in which they are tried: most results of this test, then most results, then new ones."""
    own: Counter[str] = Counter()
    every: Counter[str] = Counter()
    latest: dict[str, str] = {}
    for result in reading.register.results:
        name = reading.places.homes[result.id].document.name
        every[name] += 1
        if result.test == test_id:
            own[name] += 1
        latest[name] = max(latest.get(name, ""), result.on.isoformat())
    order = sorted(every, key=lambda name: (own[name], every[name], latest[name]), reverse=True)
    yield from order
    yield from (
        name for name in (NEW_FILE, *(f"results-{number}.yaml" for number in range(2, 100))) if name not in order
    )


def add_result(
    folder: Path,
    reading: Reading,
    test_id: str,
    fields: Mapping[str, Any],
    into: str | None,
    new_id: Callable[[str, Register], str],
    shown: Plan,
) -> Plan:
    """Write the result. Where somebody else has written since, it is planned anew on what is there now.

    Raises:
        RiskkitError: where the test is gone or has changed in the meantime, or nothing can be written.
    """
    from riskkit.text.reader import read
    from riskkit.text.snapshot import read_folder

    with only_writer(folder):
        snapshot, troubles = read_folder(folder)
        plan = shown
        if snapshot.files != reading.snapshot.files:
            now = read(snapshot, troubles)
            if now.register.records.get(test_id) != reading.register.records.get(test_id):
                raise RiskkitError(
                    f"{test_id} was changed while the result was typed in; nothing was written",
                    "look at the test again, and type the result in anew",
                )
            plan = plan_result(now, test_id, fields, new_id(test_id, now.register), into)
        path = Path(os.path.realpath(folder / plan.file))  # a link stays a link
        if (path.read_bytes() if path.exists() else b"") != plan.before:
            raise RiskkitError(f"{plan.file} was changed at this very moment; nothing was written", "try again")
        write_whole(path, plan.after)
        if path.read_bytes() != plan.after:
            raise RiskkitError(
                f"{plan.file} does not hold what was written", "look at the file; another program wrote to it"
            )
        return plan


@contextmanager
def only_writer(folder: Path) -> Iterator[None]:
    """Wait until nobody else writes to the folder, and keep others out; a process that dies lets go by itself.

    An edit of several files that somebody was interrupted in is finished first.
    """
    try:
        import fcntl
    except ImportError:  # a system without it: two writers are still told apart by comparing before replacing
        finish(folder)
        yield
        return
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError as error:
        raise RiskkitError(f"{folder} cannot be opened: {error.strerror}", "name the register's folder") from None
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
        finish(folder)
        yield
    finally:
        os.close(handle)


def file_in(folder: Path, typed: str) -> str:
    """The name of a YAML file inside the folder, as typed from there or from where the person stands.

    Raises:
        RiskkitError: where it is no YAML file or not inside the folder.
    """
    from riskkit.text.snapshot import ENDINGS

    name = inside(folder, typed)
    if name is None:
        raise RiskkitError(f"{typed} is not inside the register's folder", "name a YAML file inside it with --in")
    hidden = any(step.startswith(".") for step in name.split("/"))
    if not name.endswith(ENDINGS) or hidden or (folder / name).is_dir():
        raise RiskkitError(f"{typed} is no YAML file of the register", "name a file such as results/november.yaml")
    if not (folder / name).parent.is_dir():
        raise RiskkitError(
            f"there is no folder {Path(name).parent} in the register", "make it first, or name another file"
        )
    return name


def inside(folder: Path, typed: str) -> str | None:
    """A path as it is written in the register: relative to its folder, with forward slashes; None where it leads out.

    It may be typed from the folder or from where the person stands; what exists is meant, then what could.
    """
    root = os.path.realpath(folder)
    if "\0" in typed:
        return None
    found = []
    for base in (root, os.getcwd()):
        path = os.path.normpath(os.path.join(base, os.path.expanduser(typed)))
        real = os.path.realpath(path)
        if real != root and os.path.commonpath([real, root]) == root:
            written = os.path.relpath(path, root)
            name = os.path.relpath(real, root) if written.startswith("..") else written
            found.append((os.path.exists(real), os.path.isdir(os.path.dirname(real)), name.replace(os.sep, "/")))
    return max(found, key=lambda each: each[:2])[2] if found else None

"""What commands share: reading a folder, the day, the policy, printing."""

from __future__ import annotations

import datetime
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from riskkit.cli.replacing import write_whole as write_whole
from riskkit.diagnostics import RiskkitError

if TYPE_CHECKING:
    from riskkit.assess import Assessment
    from riskkit.diagnostics import Report
    from riskkit.model.register import Register


def day(today: str | None) -> datetime.date:
    """The day given with `--today`, or the clock's.

    Raises:
        RiskkitError: where the text is no day of the calendar.
    """
    if today is None:
        return datetime.date.today()
    try:
        if len(today) == 10:
            return datetime.date.fromisoformat(today)
    except ValueError:
        pass
    raise RiskkitError(f"`{today}` is not a day of the calendar", "write --today as year-month-day, such as 2026-11-25")


def one_of(option: str, value: str, choices: tuple[str, ...]) -> str:
    """The value, if it is one of the choices.

    Raises:
        RiskkitError: naming the choices.
    """
    if value not in choices:
        raise RiskkitError(f"{option} cannot be `{value}`", f"write one of {', '.join(choices)}")
    return value


def open_register(folder: Path, today: str | None, policy: str | None = None, revision: str = "") -> Assessment:
    """Read and assess a folder."""
    from riskkit.assess import assess
    from riskkit.text.policies import load_policy
    from riskkit.text.reader import read, with_evidence
    from riskkit.text.snapshot import read_folder

    on = day(today)
    other = load_policy(policy) if policy is not None else None
    snapshot, troubles = read_folder(folder)
    return assess(with_evidence(read(snapshot, troubles), folder), today=on, policy=other, revision=revision)


def require_record(id: str, register: Register, folder: Path, such_as: str) -> None:
    """Go on where the register has such a record.

    Args:
        id: What was asked for.
        register: The records.
        folder: Where the register stands, for the command that says more.
        such_as: Examples of ids, where nothing is spelt nearly so.

    Raises:
        RiskkitError: where it is not there, or cannot be read.
    """
    if id in register.records:
        return
    if id in register.broken:
        raise RiskkitError(f"{id} cannot be read as written", f"`riskkit check {folder}` says what is wrong with it")
    from riskkit.text.complaints import nearest

    guess = nearest(id, tuple(register.records))
    raise RiskkitError(f"there is no record {id}", f"did you mean {guess}?" if guess else f"ids look like {such_as}")


def warn_if_broken(report: Report) -> None:
    """Say on standard error that part of the register could not be read, so that an answer is not overtrusted."""
    if report.broken:
        count = len(report.broken)
        what = "one place" if count == 1 else f"{count} places"
        sys.stderr.write(f"riskkit: the register cannot be read as written in {what}; `riskkit check` lists them\n")


_STEERING = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069]")
"""Characters that steer a terminal or turn the direction of writing; a register may come from a stranger."""


def print_text(text: str) -> None:
    """Print in one go, in whatever the terminal can show; characters that steer it are shown as their numbers."""
    encoding = sys.stdout.encoding or "utf-8"
    text = _STEERING.sub(lambda found: f"<U+{ord(found[0]):04X}>", text)
    sys.stdout.write(text.encode(encoding, "replace").decode(encoding))
    sys.stdout.flush()


def width() -> int:
    """Columns to write in: the terminal's, at most 100; 100 where there is none."""
    import shutil

    return max(40, min(100, shutil.get_terminal_size((100, 24)).columns))

"""`watch`: the register is checked again at each save, and only what has changed is told."""

from __future__ import annotations

import datetime
import gc
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from riskkit.cli.opening import print_text, width
from riskkit.cli.output import counted, findings_text, wrapped
from riskkit.diagnostics import RiskkitError

if TYPE_CHECKING:
    from riskkit.diagnostics import Diagnostic, Report

QUIET, STEP, LOOK_UP = 60, 20, 250
"""Milliseconds without another save before the folder is read, between looks, and between looks at the folder itself."""


def watch_register(folder: Path, today: str | None) -> None:
    """Check at each save until it is interrupted.

    Raises:
        RiskkitError: where the folder is not there, or is gone while it is watched.
    """
    from riskkit.text.snapshot import read_folder

    read_folder(folder)  # refused in its own words where there is no register
    saves = _saves(folder)
    # Only when the system reports saves is it said that it does; what was saved until then is read here.
    next(saves)
    known = _checked(folder, today)
    print_text(f"{_summary(known)}\nWatching {folder}; each save is checked. Ctrl-C ends it.\n")
    for _ in saves:
        start = time.perf_counter()
        now = _checked(folder, today)
        told = _told(known, now)
        took = time.perf_counter() - start
        print_text(f"\n{datetime.datetime.now():%H:%M:%S}  {told}{_summary(now)} ({took:.2f} s)\n")
        known = now
        # Loading makes no cycles to speak of, but a process that stays must not grow.
        gc.collect()


def _checked(folder: Path, today: str | None) -> Report:
    from riskkit.cli.opening import open_register

    return open_register(folder, today).report


def _saves(folder: Path) -> Iterator[None]:
    """Once when saves begin to be reported, then at each of them."""
    from watchfiles import Change, watch

    def concerns(change: Change, path: str) -> bool:
        inside = Path(path).name
        # Hidden files are nobody's: editors and the program itself write them beside the one that is saved.
        return not inside.startswith(".") and not inside.endswith("~")

    begun = False
    try:
        for changes in watch(
            folder, watch_filter=concerns, debounce=QUIET, step=STEP, rust_timeout=LOOK_UP, yield_on_timeout=True
        ):
            if not folder.is_dir():
                break
            if changes or not begun:
                begun = True
                yield
    except FileNotFoundError:
        pass
    raise RiskkitError(f"{folder} is gone", "name the folder where the register stands now")


def _told(before: Report, after: Report) -> str:
    """What is newly open, in full, and what is not open any more, in a line each."""
    old, new = (Counter(map(_name, each)) for each in (before, after))
    come = [found for found in after if _name(found) in new - old]
    said_again = {(found.rule, found.record) for found in come}
    gone = [found for found in before if _name(found) in old - new and (found.rule, found.record) not in said_again]
    text = ""
    if come:
        from riskkit.diagnostics import Report

        text += "newly open:\n\n" + _without_last_line(findings_text(Report.of(come), columns=width(), wide=False))
    for found in gone:
        text += "\n".join(wrapped(f"no longer open: {found.headline} [{found.rule}]", width(), "", "  ")) + "\n"
    return text or "nothing has changed: "


def _name(found: Diagnostic) -> tuple[str, str, str]:
    """What a finding is, wherever it stands: a line that moved is no news."""
    return (found.rule, found.record, found.headline)


def _without_last_line(text: str) -> str:
    return text.rstrip("\n").rpartition("\n")[0] + "\n"


def _summary(report: Report) -> str:
    counts = report.counts()
    broken = f", {counted(counts['broken'], 'place')} cannot be read" if counts["broken"] else ""
    return f"{counted(counts['open'], 'gap')} open{broken}"

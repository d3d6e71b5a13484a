"""`trend`: what was open at each tag, or at each of the last commits."""

from __future__ import annotations

import json
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from riskkit.cli.comparing import reading_now
from riskkit.cli.opening import day, one_of, print_text, width
from riskkit.cli.output import counted, table, wrapped
from riskkit.diagnostics import RiskkitError

if TYPE_CHECKING:
    import datetime

    from riskkit.assess import Assessment
    from riskkit.model.policy import Policy
    from riskkit.text.reader import Reading
    from riskkit.text.revisions import Baseline

NOW = "as it is"
NO_HARM = "none"
WIDEST_BAR = 40


@dataclass(frozen=True, slots=True)
class State:
    """What was open in one state.

    Attributes:
        name: Tag or commit, or what stands for the files as they are.
        day: Day of the commit; empty for the files as they are.
        open: Findings that asked for something.
        errors: Errors among them.
        by_harm: Open findings by the severity level of the worst hazard that each weakens.
        unread: Places that could not be read as written.
    """

    name: str
    day: str
    open: int
    errors: int
    by_harm: dict[str, int]
    unread: int


def show_trend(folder: Path, last: int, format: str, policy: str | None, today: str | None, *, commits: bool) -> None:
    """Print the states, oldest first, and a bar for each."""
    from riskkit.text.policies import load_policy
    from riskkit.text.revisions import is_shallow

    one_of("--format", format, ("text", "json"))
    on = day(today)
    other = load_policy(policy) if policy is not None else None
    here = reading_now(folder)
    chosen, tagged = _chosen(folder, last, commits)
    states: list[State] = []
    levels: dict[str, int] = {}  # severity level -> its place on the scale
    for each in reversed(chosen):
        reading = _reading(folder, each)
        if reading is not None:
            states.append(_state(each.name, each.day, reading, on, other, levels))
    states.append(_state(NOW, "", here, on, other, levels))
    if is_shallow(folder):
        sys.stderr.write(
            "riskkit: this clone is shallow, and older states are not in it; `git fetch --unshallow --tags` brings them\n"
        )
    columns = [*sorted(levels, key=lambda level: -levels[level]), NO_HARM]
    print_text(_json(states, columns, on) if format == "json" else _text(states, columns, on, tagged))


def _chosen(folder: Path, last: int, commits: bool) -> tuple[tuple[Baseline, ...], bool]:
    """The last tags, or the last commits where they were asked for or there is no tag; and whether these are tags."""
    from riskkit.text.revisions import baselines, commits as last_commits

    tags = () if commits else baselines(folder)[:last]
    found = tags or last_commits(folder, last)
    if not found:
        raise RiskkitError(
            f"no commit has touched {folder.resolve()} yet, so there is no trend",
            "commit the register, and tag a state that you print: `git tag A`",
        )
    return found, bool(tags)


def _reading(folder: Path, state: Baseline) -> Reading | None:
    """The register at a state; None, and a word about it, where there was none yet."""
    from riskkit.text.reader import read
    from riskkit.text.revisions import past

    try:
        return read(past(folder, state.revision).snapshot)
    except RiskkitError as why:
        sys.stderr.write(f"riskkit: {state.name} is left out: {why.headline}\n")
        return None


def _state(
    name: str, on: str, reading: Reading, today: datetime.date, policy: Policy | None, levels: dict[str, int]
) -> State:
    from riskkit.assess import assess

    assessment = assess(reading, today=today, policy=policy)
    by_harm = Counter(_harms(assessment))
    levels |= {level: assessment.policy.severity_rank(level) for level in by_harm if level != NO_HARM}
    counts = assessment.report.counts()
    return State(name, on, counts["open"], counts["error"], dict(by_harm), counts["broken"])


def _harms(assessment: Assessment) -> Iterator[str]:
    """For each open finding, the severity of the worst hazard that it weakens."""
    from riskkit.dossier.view.gaps import hazards_of_records
    from riskkit.model.records import Hazard

    concerned, policy = hazards_of_records(assessment), assessment.policy
    for found in assessment.report.open:
        hazards = assessment.register.all_of(concerned.get(found.record, ()), Hazard)
        rank = max((policy.severity_rank(hazard.severity) for hazard in hazards), default=-1)
        yield policy.severity[rank].level if rank >= 0 else NO_HARM


def _json(states: Sequence[State], levels: Sequence[str], today: datetime.date) -> str:
    told = [
        {
            "state": each.name,
            "day": each.day or None,
            "open": each.open,
            "errors": each.errors,
            "warnings": each.open - each.errors,
            "by_severity": {level: each.by_harm.get(level, 0) for level in levels},
            "unreadable": each.unread,
        }
        for each in states
    ]
    return json.dumps({"judged_on": today.isoformat(), "states": told}, ensure_ascii=False, indent=2) + "\n"


def _text(states: Sequence[State], levels: Sequence[str], today: datetime.date, tagged: bool) -> str:
    columns = width()
    which = counted(len(states) - 1, "tag" if tagged else "commit")
    lines = wrapped(
        f"What is open at {which} and in the files as they are, all judged on {today} by the rules of this riskkit, "
        "evidence files aside.",
        columns,
    )
    rows = [
        (
            "state",
            "day",
            "open",
            "errors",
            "warnings",
            *(f"harm {level}" if level != NO_HARM else "no hazard" for level in levels),
        )
    ]
    rows += [
        (
            f"{each.name}{' *' if each.unread else ''}",
            each.day,
            *(str(number) for number in (each.open, each.errors, each.open - each.errors)),
            *(str(each.by_harm.get(level, 0)) for level in levels),
        )
        for each in states
    ]
    lines += ["", *table(rows), "", *_bars(states, columns)]
    if any(each.unread for each in states):
        lines += wrapped("* part of it cannot be read as written, so more may be open there.", columns)
    lines += wrapped(
        "A finding counts under the worst harm that it leaves less answered. Fewer findings say that more is written "
        "down and shown; a hazard that nobody has thought of is in none of these numbers.",
        columns,
    )
    return "\n".join(lines) + "\n"


def _bars(states: Sequence[State], columns: int) -> list[str]:
    """A bar for each state: # for errors, - for warnings."""
    most = max(each.open for each in states)
    longest = max(len(each.name) for each in states)
    room = max(10, min(WIDEST_BAR, columns - longest - 8))
    scale = min(1.0, room / most) if most else 1.0
    lines = []
    for each in states:
        errors = round(each.errors * scale)
        bar = "#" * errors + "-" * (round(each.open * scale) - errors)
        lines.append(f"{each.name:<{longest}}  |{bar} {each.open}")
    step = "one finding" if scale == 1.0 else f"about {1 / scale:.2g} findings"
    return [*lines, f"{'':<{longest}}  each mark is {step}: # error, - warning"]

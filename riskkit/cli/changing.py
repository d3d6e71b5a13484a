"""`change`: what leans on a record, which results a change of it makes stale, and the tests to do again."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from riskkit.cli.opening import one_of, open_register, print_text, require_record, warn_if_broken, width
from riskkit.cli.output import bench_time, counted, wrapped

if TYPE_CHECKING:
    from riskkit.assess import Assessment
    from riskkit.judgement.calculations import Worked
    from riskkit.judgement.changes import Change

KINDS = (
    ("hazards", "Hazards"),
    ("controls", "Controls"),
    ("calculations", "Calculations"),
    ("fault_trees", "Fault trees"),
    ("tests", "Tests"),
    ("units", "Units"),
)


def show_change(first: str, second: str | None, format: str, today: str | None) -> None:
    """Print what a change of a record touches; the folder may stand before or behind the id."""
    one_of("--format", format, ("text", "json"))
    id, folder = _told_apart(first, second)
    from riskkit.judgement.changes import change_of

    assessment = open_register(folder, today)
    warn_if_broken(assessment.report)
    register = assessment.register
    require_record(id, register, folder, "P11 or T07")
    change = change_of(id, register, assessment.trace, assessment.freshness)
    print_text(_json(change, assessment.worked) if format == "json" else _text(change, assessment))


def _told_apart(first: str, second: str | None) -> tuple[str, Path]:
    if second is None:
        return first, Path()
    if Path(first).is_dir() and not Path(second).is_dir():
        return second, Path(first)
    return first, Path(second)


def _json(change: Change, worked: Mapping[str, Worked]) -> str:
    return (
        json.dumps(
            {
                "record": change.record,
                "leaning": [
                    {"record": each.record, "path": [link.sentence() for link in each.links]} for each in change.leaning
                ],
                "stale": [
                    {"record": each.result, "test": each.test, "path": list(each.path), "already": each.already}
                    for each in change.stale
                ],
                "claims": {claim: sorted(tests) for claim, tests in change.claims.items()},
                "retest": [each.test for each in change.retest],
                "minutes": round(change.minutes, 6),
                "minutes_at_least": round(change.cover.at_least, 6),
                "method": change.cover.method,
                "units": list(change.units),
                "answers": {
                    each.record: {what: found.written for what, found in worked[each.record].answers.items()}
                    for each in change.leaning
                    if each.record in worked
                },
            },
            ensure_ascii=False,
            indent=2,
        )
        + "\n"
    )


def _text(change: Change, assessment: Assessment) -> str:
    register, columns = assessment.register, width()
    lines = wrapped(f"A change of {change.record} ({register.title_of(change.record)})", columns)
    if not change.leaning and not change.stale:
        return "\n".join([*lines, "  Nothing leans on it.", ""])
    for section, heading in KINDS:
        chains = [each for each in change.leaning if register.section_of(each.record) == section]
        if chains:
            lines += ["", f"{heading} that lean on it:"]
            for each in chains:
                path = ", ".join(link.sentence() for link in each.links)
                lines += wrapped(f"{each.record} ({register.title_of(each.record)}): {path}", columns, "  ", "    ")
                lines += (
                    wrapped(_answers(each.record, assessment), columns, "    ") if section == "calculations" else []
                )
    lines += ["", *_stale(change, columns), "", *_again(change, assessment, columns)]
    if change.units:
        lines += wrapped(
            f"Built with it, or measured with it: {', '.join(change.units)}. Tell their builders.", columns
        )
    return "\n".join(lines) + "\n"


def _answers(id: str, assessment: Assessment) -> str:
    """What a calculation works out with the register as it is, beside what it says on file."""
    from riskkit.model.verification import Calculation

    calculation, worked = assessment.register.get(id, Calculation), assessment.worked[id]
    if calculation is None or worked.answer is None:
        return f"It cannot be worked out: {worked.problem}." if worked.problem else "No model here works it out."
    told = []
    for what, now in worked.answers.items():
        stated = calculation.answers.get(what)
        differs = stated is not None and not stated.same_as(now, rel=1e-2)  # 53 mm² on file is 53.01 mm²
        shown = now.show(stated.unit if stated is not None and stated.kind == now.kind else None)
        told.append(f"{what} {shown}" + (f" (on file: {stated.written})" if stated is not None and differs else ""))
    return f"With the register as it is, it works out {', '.join(told)}."


def _stale(change: Change, columns: int) -> list[str]:
    if not change.stale:
        return wrapped("No result on file would go stale.", columns)
    lines = [f"{counted(len(change.stale), 'result')} would go stale:"]
    for each in change.stale:
        was = ", and is stale already" if each.already else ""
        lines += wrapped(f"{' -> '.join(each.path)}{was}", columns, "  ", "    ")
    return lines


def _again(change: Change, assessment: Assessment, columns: int) -> list[str]:
    if not change.retest:
        return []
    lines = [f"Do again, {bench_time(change.minutes)} at the bench:"]
    for each in change.retest:
        title = assessment.register.title_of(each.test)
        runs = f", {counted(each.runs, 'run')}" if each.runs > 1 else ""
        units = f", on {', '.join(each.units)}" if each.units else ""
        taken = "" if each.time_is_stated else ", no time stated and an hour taken"
        lines += wrapped(
            f"{each.test} ({title}){runs}{units}: {bench_time(each.minutes)}{taken}", columns, "  ", "    "
        )
    showing = ", ".join(change.claims)
    lines += wrapped(f"That shows again: {showing}.", columns, "  ", "    ")
    left = [test for test in dict.fromkeys(each.test for each in change.stale) if test not in change.cover.chosen]
    if left:
        these = "its results stay stale and carry" if len(left) == 1 else "their results stay stale and carry"
        lines += wrapped(f"{', '.join(left)} need not be done for that; {these} nothing.", columns, "  ", "    ")
    if change.cover.is_smallest:
        lines += wrapped("No cheaper set of tests shows all of it.", columns, "  ")
    else:
        lines += wrapped(
            f"No set takes less than {bench_time(change.cover.at_least)} ({change.cover.method}).", columns, "  "
        )
    return lines

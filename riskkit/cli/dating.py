"""`calendar`: everything that falls due, as an iCalendar file, as a list, or as JSON."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from riskkit.cli.opening import one_of, open_register, print_text, warn_if_broken, width, write_whole
from riskkit.cli.output import wrapped
from riskkit.diagnostics import RiskkitError

if TYPE_CHECKING:
    from riskkit.assess import Assessment
    from riskkit.exchange.calendar import Entry
    from riskkit.judgement.due import Due


def show_calendar(folder: Path, output: Path | None, format: str, remind: int | None, today: str | None) -> None:
    """Write or print what falls due."""
    one_of("--format", format, ("ics", "text", "json"))
    from riskkit.judgement.due import falls_due

    assessment = open_register(folder, today)
    warn_if_broken(assessment.report)
    found = falls_due(assessment.register, assessment.policy)
    if format == "text":
        content = _listed(found, assessment).encode()
    elif format == "json":
        content = _json(found, assessment).encode()
    else:
        content = _calendar(found, assessment, remind)
    if output is not None:
        write_whole(output, content)
        print_text(f"Things that fall due, now in {output}: {len(found)}.\n")
    elif format == "ics":
        # Bytes as they are: the lines of the format end in CRLF on every system.
        sys.stdout.flush()
        sys.stdout.buffer.write(content)
        sys.stdout.buffer.flush()
    else:
        print_text(content.decode())


def _calendar(found: tuple[Due, ...], assessment: Assessment, remind: int | None) -> bytes:
    from riskkit.exchange.calendar import calendar

    if not found:
        raise RiskkitError(
            "nothing in this register falls due on a day, and an empty calendar is no iCalendar file",
            "write `due:` for instruments, `until:` for what is left for a time, `life_limit:` for parts that age",
        )
    device = assessment.register.device
    name = f"{device.name}: what falls due" if device is not None else "What falls due"
    entries = tuple(_entry(each, assessment) for each in found)
    return calendar(entries, name=name, today=assessment.today, remind=remind)


def _entry(each: Due, assessment: Assessment) -> Entry:
    from riskkit.exchange.calendar import Entry

    place = assessment.places.of(each.record, each.path)
    lines = [f"{each.detail.rstrip(' .')}."] if each.detail else []
    lines.append(f"To do: {each.todo}.")
    lines += [f"Who: {each.who}."] if each.who else []
    lines.append(f"Where it stands: {place}.")
    title = each.what[0].upper() + each.what[1:]
    key = tuple(filter(None, (each.record, each.kind, each.about)))
    return Entry(key, each.day, title, "\n".join(lines), each.kind)


def _listed(found: tuple[Due, ...], assessment: Assessment) -> str:
    """The same as a list to read: overdue first, then by day."""
    columns = width()
    lines: list[str] = []
    late = [each for each in found if each.day < assessment.today]
    ahead = [each for each in found if each.day >= assessment.today]
    for heading, group in (("Overdue:", late), ("To come:", ahead)):
        if not group:
            continue
        lines += [heading] if not lines else ["", heading]
        for each in group:
            who = f" ({each.who})" if each.who else ""
            detail = f": {each.detail}" if each.detail else ""
            lines += wrapped(f"{each.day}  {each.what}{who}{detail}", columns, "  ", "              ")
            lines += wrapped(f"-> {each.todo}", columns, "              ", "                 ")
    if not lines:
        return "Nothing in this register falls due on a day.\n"
    return "\n".join(lines) + "\n"


def _json(found: tuple[Due, ...], assessment: Assessment) -> str:
    rows = []
    for each in found:
        place = assessment.places.of(each.record, each.path)
        rows.append(
            {
                "day": each.day.isoformat(),
                "overdue": each.day < assessment.today,
                "kind": each.kind,
                "record": each.record,
                "about": each.about or None,
                "what": each.what,
                "detail": each.detail or None,
                "todo": each.todo,
                "who": each.who or None,
                "place": {"file": place.file, "line": place.line, "column": place.column},
            }
        )
    return json.dumps({"today": assessment.today.isoformat(), "due": rows}, ensure_ascii=False, indent=2) + "\n"

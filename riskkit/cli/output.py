"""Findings and answers as plain text: no colour needed, readable at 60 columns and by a screen reader."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

from riskkit.diagnostics import Diagnostic, Report


def findings_text(report: Report, *, columns: int, wide: bool = False) -> str:
    """All findings and a closing line with their counts."""
    if wide:
        body = "".join(_one_line(found) for found in report)
    else:
        body = "".join(_block(found, columns) for found in report)
    return body + closing_line(report) + "\n"


def _one_line(found: Diagnostic) -> str:
    help = f" ({found.help})" if found.help else ""
    return f"{found.place}: {found.severity.word}: {found.headline}{help} [{found.rule}]\n"


def _block(found: Diagnostic, columns: int) -> str:
    lines = [f"{found.place}: {found.severity.word} [{found.rule}]"]
    lines += wrapped(found.headline, columns, "  ")
    lines += [line for other in found.related for line in wrapped(f"{other.words}: {other.place}", columns, "  ")]
    if found.help:
        lines += wrapped(f"-> {found.help}", columns, "  ", "     ")
    return "\n".join(lines) + "\n\n"


def wrapped(text: str, columns: int, indent: str = "", later: str | None = None) -> list[str]:
    """A sentence in lines of at most that many columns; long words stay whole."""
    if len(indent) + len(text) <= columns and "\n" not in text:
        return [indent + text]
    return textwrap.wrap(
        text,
        columns,
        initial_indent=indent,
        subsequent_indent=indent if later is None else later,
        break_long_words=False,
        break_on_hyphens=False,
    ) or [indent.rstrip()]


def closing_line(report: Report) -> str:
    """What the findings come to, in one sentence."""
    counts = report.counts()
    if report.broken:
        return (
            f"{counted(counts['broken'], 'place')} cannot be read as written; "
            f"{counted(counts['open'] - counts['broken'], 'gap')} open beside that."
        )
    if not counts["open"]:
        extra = f" ({counted(counts['note'], 'note')})" if counts["note"] else ""
        return f"No rule finds anything open{extra}. A hazard that is not listed may still exist."
    return (
        f"{counted(counts['open'], 'gap')} open: {counted(counts['error'], 'error')}, "
        f"{counted(counts['warning'], 'warning')}; {counted(counts['note'], 'note')} beside that."
    )


def counted(number: int, word: str) -> str:
    """ "1 gap", "2 gaps", "no gaps"."""
    if number == 0:
        return f"no {word}s"
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def bench_time(minutes: float) -> str:
    """Bench time as it is said: "25 min", "2 h 40 min"."""
    return f"{minutes:.3g} min" if minutes < 120 else f"{int(minutes // 60)} h {round(minutes % 60):02} min"


def table(rows: Iterable[tuple[str, ...]], gap: str = "  ") -> list[str]:
    """Rows in columns padded with blanks; the last column is left as it is."""
    rows = tuple(rows)
    if not rows:
        return []
    widths = [max(len(row[place]) for row in rows) for place in range(len(rows[0]) - 1)]
    return [
        gap.join([*(cell.ljust(width) for cell, width in zip(row, widths, strict=False)), row[-1]]).rstrip()
        for row in rows
    ]

"""`import` and `export`: hazards from and to a spreadsheet, with a preview, and no row lost without its reason."""

from __future__ import annotations

import hashlib
import json
import re
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from riskkit.cli.opening import day, one_of, open_register, print_text, warn_if_broken, width, write_whole
from riskkit.cli.output import counted, table as in_columns, wrapped
from riskkit.diagnostics import RiskkitError

if TYPE_CHECKING:
    from riskkit.cli.editing import Change
    from riskkit.exchange.importing import ImportPlan, New
    from riskkit.exchange.tables import Table
    from riskkit.model.register import Register
    from riskkit.text.reader import Reading

REMEMBERED = ".riskkit-columns.json"
"""Beside the register, hidden: what each sheet's columns were said to mean, by a fingerprint of its headings."""

SHOWN = 12
"""New hazards that the preview tells one by one."""


@dataclass(frozen=True)
class Sheet:
    """What is imported and how.

    Attributes:
        file: The spreadsheet.
        sheet: Sheet of a workbook; None where it has one.
        encoding: Of a CSV file that is not UTF-8; empty for UTF-8.
        columns: `heading=name`, as typed.
        levels: `word=level`, as typed.
        condition: For rows that name none.
    """

    file: Path
    sheet: str | None
    encoding: str
    columns: tuple[str, ...]
    levels: tuple[str, ...]
    condition: str | None


def import_sheet(
    asked: Sheet, folder: Path, into: str | None, today: str | None, format: str, *, dry_run: bool, yes: bool
) -> int:
    """Show what each row would do, and do it; the exit status is 1 where a row was not taken."""
    from riskkit.cli.editing import carry_out
    from riskkit.text.reader import read
    from riskkit.text.snapshot import read_folder

    one_of("--format", format, ("text", "json"))
    day(today)
    if asked.condition is not None:
        one_of("--condition", asked.condition, ("normal", "single fault", "use error", "foreseeable misuse"))
    table = _table(asked)
    reading = read(*read_folder(folder))
    warn_if_broken(reading.report)
    meaning = _meaning(asked, table, folder)
    plan = _planned(asked, table, meaning, reading)
    if format == "json":
        print_text(_json(table, meaning, plan))
    else:
        print_text(_preview(table, meaning, plan, reading.register))
    status = 1 if plan.refused else 0
    if dry_run:
        if format == "text":
            print_text("Nothing is written: this was a dry run.\n")
        return status
    if not plan.new and not plan.edits:
        if format == "text":
            print_text("Nothing is to be written.\n")
        return status
    if not yes and not _agreed():
        print_text("Nothing was written.\n")
        return 1

    def planner(now: Reading) -> Change:
        return _change(now, _planned(asked, table, meaning, now), asked.file, into, folder, quiet=format == "json")

    carry_out(folder, planner, dry_run=False)
    _remember(folder, table, meaning)
    return status


def export_sheet(folder: Path, output: Path, today: str | None) -> None:
    """Write a row per hazard as CSV or XLSX, as the ending of the file says."""
    from riskkit.exchange.columns import DERIVED
    from riskkit.exchange.sheet_cells import exported_names, rows_of
    from riskkit.exchange.tables import csv_bytes, xlsx_bytes

    ending = output.suffix.lower()
    if ending not in (".csv", ".xlsx"):
        raise RiskkitError(f"{output} is neither a .csv nor an .xlsx file", "name one, such as -o hazards.xlsx")
    assessment = open_register(folder, today)
    warn_if_broken(assessment.report)
    headings = [*exported_names(), f"status {DERIVED}", f"supported {DERIVED}"]
    rows = rows_of(assessment.register)
    for row in rows:
        supported = assessment.scores[row[0]].supported
        row += [assessment.statuses[row[0]].word, " to ".join(dict.fromkeys(supported.levels)) if supported else ""]
    content = csv_bytes(headings, rows) if ending == ".csv" else xlsx_bytes("hazards", headings, rows, assessment.today)
    write_whole(output, content)
    print_text(f"{output}: {counted(len(rows), 'hazard')}. What is {DERIVED} is not read back.\n")


# -- what is asked --------------------------------------------------------------------------------


def _table(asked: Sheet) -> Table:
    from riskkit.exchange.columns import KNOWN_HEADS
    from riskkit.exchange.tables import read_table

    try:
        content = asked.file.read_bytes()
    except OSError as error:
        raise RiskkitError(
            f"{asked.file} cannot be read: {(error.strerror or '').lower()}", "name a .csv or .xlsx file"
        ) from None
    return read_table(asked.file.name, content, known=KNOWN_HEADS, sheet=asked.sheet, encoding=asked.encoding)


def _meaning(asked: Sheet, table: Table, folder: Path) -> dict[str, str]:
    from riskkit.exchange.columns import meanings

    stated: dict[str, str] = {}
    for text in asked.columns:
        heading, _, name = (piece.strip() for piece in text.rpartition("="))
        if not heading or not name:
            raise RiskkitError(
                f"--column `{text}` does not say what a column means", 'write --column "Potential effect=harm"'
            )
        stated[heading] = name
    return meanings(table.headings, stated, _remembered(folder).get(_key(table), {}))


def _planned(asked: Sheet, table: Table, meaning: Mapping[str, str], reading: Reading) -> ImportPlan:
    from riskkit.exchange.importing import plan_import
    from riskkit.exchange.levels import read_levels
    from riskkit.text.policies import DEFAULT_POLICY, shipped_policy

    policy = reading.register.policy or shipped_policy(DEFAULT_POLICY)
    levels = read_levels(asked.levels, [step.level for step in policy.severity])
    return plan_import(table, meaning, reading.register, policy, levels=levels, condition=asked.condition)


def _agreed() -> bool:
    from riskkit.cli.asking_result import ask_line
    from riskkit.cli.filled_card import AnswersEnded

    try:
        return ask_line("Write it? y or n").casefold() in ("y", "yes")
    except AnswersEnded:
        raise RiskkitError(
            "nobody said that it may be written; nothing was written", "answer y, or add --yes"
        ) from None


# -- the preview ----------------------------------------------------------------------------------


def _preview(table: Table, meaning: Mapping[str, str], plan: ImportPlan, register: Register) -> str:
    from riskkit.exchange.columns import KEPT

    columns = width()
    empty = f", and {counted(table.empty, 'empty row')} between them" if table.empty else ""
    lines = [f"{table.name}: {counted(len(table.rows), 'row')}{empty}", "", "What its columns say:"]
    said = [(f"  {h}", "kept, word by word, in the notes" if name == KEPT else name) for h, name in meaning.items()]
    lines += in_columns(said)
    lines += wrapped('Say otherwise with --column "HEADING=NAME"; it is remembered for this register.', columns, "  ")
    parts = len(plan.new) - len(plan.hazards)
    fresh = f"{counted(len(plan.hazards), 'new hazard')}" + (f", and {counted(parts, 'new part')}" if parts else "")
    lines += ["", f"{fresh[0].upper()}{fresh[1:]}."]
    for each in plan.hazards[:SHOWN]:
        lines += wrapped(f"row {each.row} -> {each.id} {each.fields['title']}", columns, "  ", "    ")
    if len(plan.hazards) > SHOWN:
        lines.append(f"  and {len(plan.hazards) - SHOWN} more")
    if plan.edits:
        lines += ["", f"{counted(len(plan.edits), 'edit')} of hazards that are there:"]
        for edit in plan.edits:
            was = f" instead of `{_short(edit.was)}`" if edit.was else ""
            words = f"row {edit.row}: {edit.id} {'.'.join(edit.path)} is `{_short(edit.value)}`{was}"
            lines += wrapped(words, columns, "  ", "    ")
    if plan.same:
        lines += ["", *wrapped(f"{_rows(plan.same)} in the register already.", columns)]
    if plan.refused:
        lines += ["", "Not taken:"]
        for refused in plan.refused:
            lines += wrapped(f"row {refused.row}: {refused.reason}", columns, "  ", "    ")
    if plan.not_in_sheet:
        lines += ["", *wrapped(f"Not in the sheet, and left as they are: {', '.join(plan.not_in_sheet)}.", columns)]
    return "\n".join(lines) + "\n"


def _rows(numbers: Sequence[int]) -> str:
    listed = ", ".join(map(str, numbers[:20])) + (" and more" if len(numbers) > 20 else "")
    return f"Row {listed} stands" if len(numbers) == 1 else f"Rows {listed} stand"


def _short(value: object) -> str:
    words = " ".join(", ".join(map(str, value)).split()) if isinstance(value, list) else " ".join(str(value).split())
    return words if len(words) <= 60 else words[:59] + "…"


def _json(table: Table, meaning: Mapping[str, str], plan: ImportPlan) -> str:
    answer = {
        "rows": len(table.rows),
        "columns": dict(meaning),
        "new": [{"row": each.row, "section": each.section, "id": each.id, "fields": each.fields} for each in plan.new],
        "edits": [
            {"row": e.row, "id": e.id, "field": ".".join(e.path), "was": e.was, "is": e.value} for e in plan.edits
        ],
        "same": list(plan.same),
        "refused": [{"row": each.row, "reason": each.reason, "whole_row": not each.part} for each in plan.refused],
        "not_in_sheet": list(plan.not_in_sheet),
    }
    return json.dumps(answer, ensure_ascii=False, indent=2) + "\n"


# -- writing --------------------------------------------------------------------------------------


def _change(now: Reading, plan: ImportPlan, file: Path, into: str | None, folder: Path, *, quiet: bool) -> Change:
    from riskkit.cli.adding import file_in
    from riskkit.cli.editing import Change, home_of, refuse_new_trouble, usual_order
    from riskkit.text.editing import set_field
    from riskkit.text.syntax import parse_file
    from riskkit.text.writing import append_record

    after: dict[str, bytes] = {}
    for edit in plan.edits:
        document, path = home_of(now, edit.id)
        content = after.get(document.name, now.snapshot.files[document.name])
        document = parse_file(document.name, content)
        order = usual_order(now, edit.id)
        after[document.name] = set_field(document, content, path, edit.path, edit.value, order=order).content
    if plan.new:
        name = file_in(folder, into) if into is not None else _new_file(file, now)
        if name in now.snapshot.files:
            content = after.get(name, now.snapshot.files[name])
            for each in plan.new:
                content = append_record(name, content, each.section, each.id, each.fields)[0]
            after[name] = content
        else:
            after[name] = _file_text(plan.new, file).encode("utf-8")
    refuse_new_trouble(now, after)
    told = [f"{', '.join(after)}: {counted(len(plan.hazards), 'new hazard')}, {counted(len(plan.edits), 'edit')}."]
    return Change(after, () if quiet else tuple(told), f"import {file.name}")


def _new_file(file: Path, now: Reading) -> str:
    stem = re.sub(r"[^a-z0-9]+", "-", file.stem.casefold()).strip("-") or "sheet"
    names = (f"hazards-from-{stem}.yaml", *(f"hazards-from-{stem}-{n}.yaml" for n in range(2, 1000)))
    return next(name for name in names if name not in now.snapshot.files)


def _file_text(new: Sequence[New], file: Path) -> str:
    from riskkit.text.writing import record_lines

    lines = [
        f"# From {json.dumps(file.name, ensure_ascii=False)}. Each hazard says under `origin` which row it came from."
    ]
    for section in ("parts", "hazards"):
        own = [each for each in new if each.section == section]
        if own:
            lines += ["", f"{section}:"]
        for each in own:
            lines += ["", *(f"  {line}" if line else "" for line in record_lines(each.id, each.fields).splitlines())]
    text = "\n".join(lines) + "\n"
    return text.replace(":\n\n  ", ":\n  ")


# -- what was said before -------------------------------------------------------------------------


def _key(table: Table) -> str:
    return hashlib.sha256("\0".join(table.headings).encode()).hexdigest()[:16]


def _remembered(folder: Path) -> dict[str, dict[str, str]]:
    """What columns were said to mean; a file that was tampered with is passed over, since it can only be a habit."""
    try:
        kept = json.loads((folder / REMEMBERED).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    if not isinstance(kept, dict):
        return {}
    return {
        key: {str(heading): str(name) for heading, name in said.items()}
        for key, said in kept.items()
        if isinstance(said, dict)
    }


def _remember(folder: Path, table: Table, meaning: Mapping[str, str]) -> None:
    kept = {**_remembered(folder), _key(table): dict(meaning)}
    text = json.dumps(kept, ensure_ascii=False, indent=2, sort_keys=True) + "\n"
    try:
        write_whole(folder / REMEMBERED, text.encode("utf-8"))
    except RiskkitError as error:
        sys.stderr.write(f"riskkit: the columns are not remembered: {error.headline}\n")

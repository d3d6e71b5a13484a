"""Spreadsheets as rows of text: CSV (RFC 4180) and XLSX (through openpyxl), read carefully and written without traps."""

from __future__ import annotations

import csv
import datetime
import io
import re
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from riskkit.diagnostics import RiskkitError

LARGEST_FILE = 32 * 1024 * 1024
LARGEST_UNPACKED = 256 * 1024 * 1024
MOST_ROWS = 50_000
DELIMITERS = ",;\t|"
STARTS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""First characters at which spreadsheet programs take a cell for a formula. Common practice, no source."""


_GUARDED = re.compile(r"'+[=+\-@\t\r]")


@dataclass(frozen=True, slots=True)
class Row:
    """One row: its number in the file, counted from 1, and its cells by heading."""

    number: int
    cells: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Table:
    """A sheet as text.

    Attributes:
        name: File, and sheet where there are several.
        headings: In the order of the columns; empty and repeated ones are named after their place.
        rows: Rows below the headings that say anything.
        empty: How many rows say nothing.
        troubles: Rows that could not be read as they stand: number and reason.
    """

    name: str
    headings: tuple[str, ...]
    rows: tuple[Row, ...]
    empty: int
    troubles: tuple[tuple[int, str], ...] = ()


@dataclass(frozen=True, slots=True)
class _Grid:
    name: str
    rows: list[tuple[int, list[str]]]
    troubles: tuple[tuple[int, str], ...] = ()


def read_table(
    name: str, content: bytes, *, known: frozenset[str] = frozenset(), sheet: str | None = None, encoding: str = ""
) -> Table:
    """A table from the bytes of a CSV or XLSX file.

    Args:
        name: The file, which says what it is by its ending.
        content: Its bytes.
        known: Headings that are expected, in small letters; the row with most of them is the row of headings.
        sheet: Which sheet of a workbook; needed where more than one holds anything.
        encoding: Of a CSV file that is not UTF-8.

    Raises:
        RiskkitError: one sentence on what cannot be read, with the row where there is one.
    """
    if len(content) > LARGEST_FILE:
        raise RiskkitError(f"{name} is larger than {LARGEST_FILE // 2**20} MiB", "split it into several files")
    if zipfile.is_zipfile(io.BytesIO(content)):
        grid = _workbook(name, content, sheet)
    elif name.lower().endswith((".xls", ".ods", ".numbers")):
        raise RiskkitError(f"{name} is a spreadsheet of another kind", "save it as .xlsx or .csv, and name that file")
    else:
        grid = _csv(name, content, encoding)
    return _table(grid, known)


def _table(grid: _Grid, known: frozenset[str]) -> Table:
    filled = [(number, cells) for number, cells in grid.rows if any(cells)]
    if not filled:
        raise RiskkitError(f"{grid.name} holds no rows", "name the file with the rows, or the sheet with --sheet")
    if len(filled) > MOST_ROWS:
        raise RiskkitError(f"{grid.name} holds more than {MOST_ROWS} rows", "split it into several files")
    # Titles and dates often stand above the headings; the row of headings is the one that knows most words.
    at = max(range(min(30, len(filled))), key=lambda place: (_hits(filled[place][1], known), -place))
    number, first = filled[at]
    headings = _named(first)
    rows = []
    for place, cells in filled[at + 1 :]:
        rows.append(Row(place, {heading: cell for heading, cell in zip(headings, cells, strict=False) if cell}))
    empty = sum(1 for place, cells in grid.rows if place > number and not any(cells))
    return Table(grid.name, headings, tuple(rows), empty, tuple(each for each in grid.troubles if each[0] > number))


def _hits(cells: Sequence[str], known: frozenset[str]) -> int:
    return len({plain_heading(cell) for cell in cells if cell} & known)


def plain_heading(text: str) -> str:
    """A heading as it is compared: small letters and digits with single blanks, without what stands in brackets."""
    return " ".join(re.findall(r"[^\W_]+", re.sub(r"\([^)]*\)|\[[^\]]*\]", " ", text.casefold())))


def _named(cells: Sequence[str]) -> tuple[str, ...]:
    """Headings, each of them once: `column 3` where there is none, `notes (column 7)` where it stands twice."""
    found: list[str] = []
    for place, cell in enumerate(cells, start=1):
        words = " ".join(cell.split())
        found.append(f"column {place}" if not words else words if words not in found else f"{words} (column {place})")
    return tuple(found)


# -- CSV ------------------------------------------------------------------------------------------


def _csv(name: str, content: bytes, encoding: str) -> _Grid:
    text = _decoded(name, content, encoding)
    if "\0" in text:
        raise RiskkitError(f"{name} is no text", "save the sheet as .csv in UTF-8, or as .xlsx")
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text), strict=True)
    rows: list[tuple[int, list[str]]] = []
    try:
        for number, cells in enumerate(reader, start=1):
            rows.append((number, [_undone(cell.strip()) for cell in cells]))
    except csv.Error as error:
        raise RiskkitError(
            f"{name}, line {reader.line_num}: {error}",
            'a cell with a comma, a quote or a line break stands in double quotes, and a quote inside it is ""',
        ) from None
    longest = max((len(cells) for _, cells in rows), default=0)
    return _Grid(name, [(number, cells + [""] * (longest - len(cells))) for number, cells in rows])


def _decoded(name: str, content: bytes, encoding: str) -> str:
    if not encoding:
        encoding = "utf-16" if content[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    try:
        return content.decode(encoding)
    except LookupError:
        raise RiskkitError(f"there is no encoding `{encoding}`", "write one such as cp1252 or utf-16") from None
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise RiskkitError(
            f"{name}, line {line}: this is not {encoding.removesuffix('-sig').upper()}",
            "save it as UTF-8, or say what it is, such as --encoding cp1252",
        ) from None


def _delimiter(text: str) -> str:
    """The sign between cells: the one that stands most often, and in most lines, outside quotes."""
    plain = re.sub(r'"(?:[^"]|"")*"', "", text[:200_000])
    lines = [line for line in plain.splitlines()[:60] if line.strip()]
    return max(DELIMITERS, key=lambda sign: (sum(1 for line in lines if sign in line), plain.count(sign)))


def _undone(cell: str) -> str:
    """A cell without the sign that kept it from being taken for a formula."""
    return cell[1:] if _GUARDED.match(cell) else cell


# -- XLSX -----------------------------------------------------------------------------------------


def _workbook(name: str, content: bytes, sheet: str | None) -> _Grid:
    from openpyxl import load_workbook
    from openpyxl.utils.exceptions import InvalidFileException

    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        if sum(each.file_size for each in packed.infolist()) > LARGEST_UNPACKED:
            raise RiskkitError(f"{name} unpacks to more than {LARGEST_UNPACKED // 2**20} MiB", "split it")
    try:
        values = load_workbook(io.BytesIO(content), data_only=True)
        formulas = load_workbook(io.BytesIO(content), data_only=False)
    except (InvalidFileException, KeyError, ValueError, TypeError, zipfile.BadZipFile, OSError) as error:
        raise RiskkitError(
            f"{name} is no workbook that can be read: {error}", "save it as .xlsx anew, or as .csv"
        ) from None
    filled = [each for each in values.worksheets if each.max_row > 1 or each.cell(1, 1).value is not None]
    titles = [each.title for each in filled]
    if sheet is not None:
        chosen = next((each for each in values.worksheets if each.title.casefold() == sheet.casefold()), None)
        if chosen is None:
            raise RiskkitError(f"{name} has no sheet `{sheet}`", f"name one of {', '.join(values.sheetnames)}")
    elif len(filled) == 1:
        chosen = filled[0]
    elif not filled:
        raise RiskkitError(f"{name} holds no rows", "name another file")
    else:
        raise RiskkitError(f"{name} has {len(filled)} sheets", f"name one with --sheet: {', '.join(titles)}")
    troubles: list[tuple[int, str]] = []
    rows = list(_sheet_rows(chosen, formulas[chosen.title], troubles))
    where = f"{name}, sheet {chosen.title}" if len(titles) > 1 else name
    return _Grid(where, rows, tuple(troubles))


def _sheet_rows(sheet: Any, formulas: Any, troubles: list[tuple[int, str]]) -> Iterator[tuple[int, list[str]]]:
    """Rows of text; a merged cell speaks for every row that it spans, since that is how such sheets are meant."""
    spanned: dict[tuple[int, int], str] = {}
    for area in sheet.merged_cells.ranges:
        words = _cell_text(sheet.cell(area.min_row, area.min_col))
        for number in range(area.min_row, area.max_row + 1):
            spanned[(number, area.min_col)] = words
    for cells, originals in zip(sheet.iter_rows(), formulas.iter_rows(), strict=True):
        number = cells[0].row
        found = []
        for cell, original in zip(cells, originals, strict=True):
            if original.data_type == "f" and cell.value is None:
                troubles.append((number, f"cell {cell.coordinate} holds a formula whose result is not in the file"))
            elif isinstance(cell.value, str) and cell.data_type == "e":
                troubles.append((number, f"cell {cell.coordinate} holds the error {cell.value}"))
            found.append(spanned.get((number, cell.column), "") or _cell_text(cell))
        yield number, found


def _cell_text(cell: Any) -> str:
    value = cell.value
    match value:
        case None:
            return ""
        case bool():
            return "yes" if value else "no"
        case int() | float():
            if "%" in (cell.number_format or ""):
                return f"{100 * value:.12g} %"
            return f"{value:.15g}"
        case datetime.datetime():
            return value.date().isoformat() if value.time() == datetime.time() else value.isoformat(" ")
        case datetime.date() | datetime.time():
            return value.isoformat()
        case _:
            return str(value).strip()


# -- writing --------------------------------------------------------------------------------------


def csv_bytes(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> bytes:
    """A CSV file by RFC 4180: CRLF, quotes where needed; with a mark at its start by which spreadsheets know UTF-8.

    A cell that a spreadsheet would take for a formula begins with an apostrophe; `read_table` takes it off again.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([_defused(cell) for cell in headings])
    writer.writerows([_defused(cell) for cell in row] for row in rows)
    return out.getvalue().encode("utf-8-sig")


def _defused(cell: str) -> str:
    # Apostrophes that were typed before such a sign get one more, so that reading takes only ours away.
    return f"'{cell}" if cell.startswith(STARTS_A_FORMULA) or _GUARDED.match(cell) else cell


def xlsx_bytes(title: str, headings: Sequence[str], rows: Sequence[Sequence[str]], day: datetime.date) -> bytes:
    """A workbook with one sheet of text cells; nothing in it is a formula, whatever it begins with.

    Args:
        title: Of the sheet, at most 31 characters.
        headings: First row.
        rows: The others.
        day: Written as the day of creation.
    """
    from openpyxl import Workbook
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
    from openpyxl.styles import Alignment, Font
    from openpyxl.utils import get_column_letter

    book = Workbook(write_only=True)
    book.properties.created = book.properties.modified = datetime.datetime.combine(day, datetime.time())
    book.properties.creator = "riskkit"
    sheet = book.create_sheet(title[:31])
    sheet.freeze_panes = "B2"
    for place, heading in enumerate(headings, start=1):
        longest = max([len(heading), *(len(line) for row in rows for line in row[place - 1].splitlines())])
        sheet.column_dimensions[get_column_letter(place)].width = max(8, min(48, longest + 2))
    for number, row in enumerate([headings, *rows]):
        cells = []
        for words in row:
            cell = WriteOnlyCell(sheet, value=ILLEGAL_CHARACTERS_RE.sub("", words))
            cell.data_type = "s"
            cell.quotePrefix = words.startswith(STARTS_A_FORMULA)
            cell.alignment = Alignment(wrap_text=True, vertical="top")
            if number == 0:
                cell.font = Font(bold=True)
            cells.append(cell)
        sheet.append(cells)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()

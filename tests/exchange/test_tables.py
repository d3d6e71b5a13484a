"""Sheets are read as they are meant, and what is written is no trap for whoever opens it."""

from __future__ import annotations

import csv
import datetime
import io
import zipfile
from typing import Any

import pytest
from hypothesis import given, settings, strategies as st
from openpyxl import Workbook, load_workbook

from riskkit.diagnostics import RiskkitError
from riskkit.exchange.tables import STARTS_A_FORMULA, Table, csv_bytes, plain_heading, read_table, xlsx_bytes

DAY = datetime.date(2026, 11, 25)
HEADINGS = ["id", "title", "notes"]


def values(table: Table) -> list[list[str]]:
    return [[row.cells.get(heading, "") for heading in table.headings] for row in table.rows]


@pytest.mark.parametrize(
    ("text", "rows"),
    [
        # The examples of RFC 4180, section 2, rules 1, 6 and 7 (from memory).
        ("h1,h2,h3\r\naaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]]),
        ('h1,h2,h3\r\n"aaa","b\r\nbb","ccc"\r\nzzz,yyy,xxx', [["aaa", "b\r\nbb", "ccc"], ["zzz", "yyy", "xxx"]]),
        ('h1,h2,h3\r\n"aaa","b""bb","ccc"\r\n', [["aaa", 'b"bb', "ccc"]]),
        # As spreadsheet programs write it where the comma is the decimal sign. Common practice, no source.
        ('h1;h2;h3\n1,5;"a;b";c\n', [["1,5", "a;b", "c"]]),
        ("h1\th2\th3\na, b\tc\td\n", [["a, b", "c", "d"]]),
        ("\ufeffh1,h2,h3\nä,ö,ü\n", [["ä", "ö", "ü"]]),
        ("h1,h2,h3\nonly one\n,,\n\na,b,c\n", [["only one", "", ""], ["a", "b", "c"]]),
    ],
)
def test_csv_is_read_by_its_standard(text: str, rows: list[list[str]]) -> None:
    assert values(read_table("a.csv", text.encode())) == rows


def test_utf_16_is_known_by_its_mark_and_other_encodings_are_said() -> None:
    assert values(read_table("a.csv", "h1,h2\nä,ß\n".encode("utf-16"))) == [["ä", "ß"]]
    assert values(read_table("a.csv", "h1,h2\nä,ß\n".encode("cp1252"), encoding="cp1252")) == [["ä", "ß"]]
    with pytest.raises(RiskkitError, match="line 2: this is not UTF-8"):
        read_table("a.csv", "h1,h2\nä,ß\n".encode("cp1252"))


def test_titles_above_the_headings_are_passed_over() -> None:
    known = frozenset({"item", "failure mode"})
    table = read_table("a.csv", b"Pump\nRev 3,2020\n\nItem,Failure Mode\nblower,stops\n", known=known)
    assert table.headings == ("Item", "Failure Mode")
    assert table.rows[0].number == 5


@pytest.mark.parametrize(
    ("content", "name", "said"),
    [
        (b"", "a.csv", "holds no rows"),
        (b"\n\n", "a.csv", "holds no rows"),
        (b'a,b\n"x" y,z\n', "a.csv", "line 2"),
        (b'a,b\n"never closed\n', "a.csv", "line"),
        (b"a,b\n\0,c\n", "a.csv", "is no text"),
        (b"PK\x03\x04 nonsense", "a.xlsx", "no encoding `no-such`"),
        (b"anything", "a.ods", "of another kind"),
    ],
)
def test_what_cannot_be_read_is_one_sentence(content: bytes, name: str, said: str) -> None:
    with pytest.raises(RiskkitError, match=said):
        read_table(name, content, encoding="no-such" if "no-such" in said else "")


def test_a_zip_that_is_no_workbook_and_one_that_is_too_large_are_refused() -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("readme.txt", "hello")
    with pytest.raises(RiskkitError, match="no workbook"):
        read_table("a.xlsx", out.getvalue())
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/worksheets/sheet1.xml", b"0" * (300 * 1024 * 1024))
    assert len(out.getvalue()) < 2 * 1024 * 1024
    with pytest.raises(RiskkitError, match="unpacks to more"):
        read_table("a.xlsx", out.getvalue())


def workbook(*rows: list[Any], merge: str = "", sheets: int = 1) -> bytes:
    """A workbook as another program makes it: by openpyxl, with numbers, days and merged cells."""
    book = Workbook()
    for number in range(sheets):
        sheet = book.active if number == 0 else book.create_sheet(f"Sheet{number + 1}")
        assert sheet is not None
        for row in rows:
            sheet.append(row)
        if merge:
            sheet.merge_cells(merge)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def test_a_workbook_gives_its_cells_as_people_see_them() -> None:
    content = workbook(
        ["Item", "Sev", "Share", "Day", "Open"],
        ["blower", 4, 0.25, datetime.datetime(2026, 11, 25), True],
        ["valve", 3.0, 1.5, datetime.date(2026, 1, 2), None],
    )
    assert values(read_table("a.xlsx", content)) == [
        ["blower", "4", "0.25", "2026-11-25", "yes"],
        ["valve", "3", "1.5", "2026-01-02", ""],
    ]


def test_a_merged_cell_speaks_for_every_row_that_it_spans() -> None:
    content = workbook(["Item", "Mode"], ["blower", "stops"], [None, "slows"], [None, "reverses"], merge="A2:A4")
    assert [row[0] for row in values(read_table("a.xlsx", content))] == ["blower"] * 3


def test_a_formula_without_its_result_is_told_and_not_guessed() -> None:
    table = read_table("a.xlsx", workbook(["Item", "Sev"], ["blower", "=2+2"], ["valve", 3]))
    assert [(number, "B2" in reason) for number, reason in table.troubles] == [(2, True)]


def test_of_several_sheets_one_has_to_be_named() -> None:
    content = workbook(["Item"], ["blower"], sheets=2)
    with pytest.raises(RiskkitError, match="has 2 sheets"):
        read_table("a.xlsx", content)
    assert values(read_table("a.xlsx", content, sheet="sheet2")) == [["blower"]]
    with pytest.raises(RiskkitError, match="no sheet `third`"):
        read_table("a.xlsx", content, sheet="third")


CELLS = st.text(st.characters(exclude_categories=("Cs", "Cc")) | st.sampled_from("=+-@'\",;|\n"), max_size=12).map(
    str.strip
)
ROWS = st.lists(st.lists(CELLS, min_size=3, max_size=3).filter(any), min_size=1, max_size=6)


@settings(max_examples=150, deadline=None)
@given(ROWS)
def test_what_is_written_is_read_again_and_nothing_in_it_is_a_formula(rows: list[list[str]]) -> None:
    written = csv_bytes(HEADINGS, rows)
    assert values(read_table("a.csv", written, known=frozenset(HEADINGS))) == rows
    # Python's own reader, as somebody else's program: every cell is there, none begins as a formula.
    plain = list(csv.reader(io.StringIO(written.decode("utf-8-sig"), newline="")))
    assert [len(row) for row in plain] == [3] * (len(rows) + 1)
    assert not [cell for row in plain for cell in row if cell.startswith(STARTS_A_FORMULA)]


@settings(max_examples=40, deadline=None)
@given(ROWS)
def test_a_workbook_is_read_again_and_nothing_in_it_is_a_formula(rows: list[list[str]]) -> None:
    written = xlsx_bytes("hazards", HEADINGS, rows, DAY)
    assert values(read_table("a.xlsx", written, known=frozenset(HEADINGS))) == rows
    sheet = load_workbook(io.BytesIO(written)).active
    assert sheet is not None
    assert {cell.data_type for row in sheet.iter_rows() for cell in row if cell.value is not None} <= {"s"}


def test_headings_are_compared_without_what_stands_in_brackets() -> None:
    assert plain_heading("Potential Effect(s) of\nFailure [end]") == "potential effect of failure"

"""The calendar file, read back by an independent library and held against the octets that RFC 5545 asks for."""

from __future__ import annotations

import datetime
import string
from collections.abc import Iterator
from pathlib import Path

import icalendar
import pytest
from hypothesis import given, strategies
from typer.testing import CliRunner

from riskkit.cli.commands import app
from riskkit.diagnostics import RiskkitError
from riskkit.exchange.calendar import Entry, calendar

DAY = datetime.date(2026, 11, 25)
HOOD = Path(__file__).parent.parent.parent / "catalogs" / "examples" / "hood"
HARD = (
    "plain",
    'comma, semicolon; backslash \\ colon: quote " and \\n that is no line end',
    "two\nlines\r\nand\ra third",
    "Blåsestøy på 30 m må måles, " * 9,
    "換気装置の点検" * 30,
    "\N{DROPLET}" * 40,
    "x" * 74,
    "x" * 75,
    "x" * 400,
    "BEGIN:VEVENT\nUID:not-ours\nEND:VCALENDAR",
    " blanks at the end ",
)


def made(*texts: str, remind: int | None = None) -> bytes:
    entries = [Entry((f"I{n}", "comparison"), DAY, text, text, "comparison") for n, text in enumerate(texts)]
    return calendar(entries, name="bench: a; b, c", today=DAY, remind=remind)


def events(content: bytes) -> Iterator[icalendar.cal.Component]:
    read = icalendar.Calendar.from_ical(content)
    assert not read.errors
    for event in read.walk("VEVENT"):
        assert not event.errors
        yield event


def plain(text: str) -> str:
    return text.replace("\r\n", "\n").replace("\r", "\n")


@pytest.mark.parametrize("text", HARD)
def test_a_text_comes_back_as_it_was(text: str) -> None:
    (event,) = events(made(text))
    assert str(event["SUMMARY"]) == plain(text)
    assert str(event["DESCRIPTION"]) == plain(text)
    assert event["DTSTART"].dt == DAY
    assert type(event["DTSTART"].dt) is datetime.date
    assert event["DTSTAMP"].dt == datetime.datetime(2026, 11, 25, tzinfo=datetime.UTC)
    assert [str(each) for each in event["CATEGORIES"].cats] == ["comparison"]


@given(strategies.lists(strategies.text(max_size=200), min_size=1, max_size=4))
def test_any_text_keeps_to_the_lines_of_the_format(texts: list[str]) -> None:
    content = made(*texts)
    assert content.endswith(b"END:VCALENDAR\r\n")
    lines = content.split(b"\r\n")[:-1]
    for line in lines:
        assert len(line) <= 75, "RFC 5545, section 3.1"
        assert b"\n" not in line
        assert b"\r" not in line
        line.decode("utf-8")  # no character is cut in two
    found = list(events(content))
    assert len(found) == len(texts)
    for event, text in zip(found, texts, strict=True):
        said = "".join(" " if each in _CONTROL else each for each in plain(text))
        assert str(event["SUMMARY"]) == said


_CONTROL = {chr(number) for number in (*range(32), 127)} - set("\t\n")


def test_a_reminder_is_asked_for_and_the_uid_names_the_thing_and_not_its_day() -> None:
    (event,) = events(made("a", remind=14))
    (alarm,) = event.walk("VALARM")
    assert alarm["TRIGGER"].dt == datetime.timedelta(days=-14)
    assert str(alarm["ACTION"]) == "DISPLAY"
    moved = calendar(
        [Entry(("I0", "comparison"), DAY.replace(year=2027), "b", "b", "c")], name="bench: a; b, c", today=DAY
    )
    other = calendar([Entry(("I0", "comparison"), DAY, "a", "a", "comparison")], name="another bench", today=DAY)
    uids = [str(next(events(each))["UID"]) for each in (made("a"), moved, other)]
    assert uids[0] == uids[1] != uids[2]


def test_a_calendar_without_an_entry_or_with_one_twice_is_refused() -> None:
    with pytest.raises(ValueError, match="needs an entry"):
        calendar([], name="a", today=DAY)
    with pytest.raises(ValueError, match="share a key"):
        calendar([Entry(("I0",), DAY, "a", "a", "c")] * 2, name="a", today=DAY)


def test_the_demo_gives_the_same_bytes_twice_and_all_of_it_reads_back(tmp_path: Path) -> None:
    run = CliRunner()
    file = tmp_path / "due.ics"
    told = run.invoke(app, ["calendar", str(HOOD), "--today", "2026-11-25", "-o", str(file)], catch_exceptions=False)
    printed = run.invoke(app, ["calendar", str(HOOD), "--today", "2026-11-25"], catch_exceptions=False)
    assert told.exit_code == printed.exit_code == 0
    assert printed.stdout_bytes == file.read_bytes()
    found = {(event["DTSTART"].dt.isoformat(), str(event["SUMMARY"])) for event in events(file.read_bytes())}
    # typed by hand from instruments.yaml, tests/gas.yaml and units.yaml of the demo
    assert any(day == "2026-10-01" and "I03" in words for day, words in found)
    assert any(day == "2026-10-31" and "T31" in words for day, words in found)
    assert any(day == "2027-08-28" and "P01" in words and "U01" in words for day, words in found)
    assert any(day == "2028-11-04" and "P08" in words and "U03" in words for day, words in found)
    for event in events(file.read_bytes()):
        assert any(f".yaml:{digit}" in str(event["DESCRIPTION"]) for digit in string.digits)


def test_a_register_in_which_nothing_falls_due_is_told_so(tmp_path: Path) -> None:
    (tmp_path / "r.yaml").write_text("parts:\n  P01: {title: blower}\n")
    with pytest.raises(RiskkitError, match="nothing in this register falls due"):
        CliRunner().invoke(app, ["calendar", str(tmp_path)], catch_exceptions=False)
    listed = CliRunner().invoke(app, ["calendar", str(tmp_path), "--format", "text"], catch_exceptions=False)
    assert listed.output == "Nothing in this register falls due on a day.\n"

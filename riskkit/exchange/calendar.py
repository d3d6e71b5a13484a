"""What falls due, as an iCalendar file (RFC 5545) that any calendar reads: one whole-day entry for each thing.

The same register on the same day gives the same bytes. An entry keeps its UID while the thing itself stays the same,
so that a day that has moved moves the entry and adds no second one.
"""

from __future__ import annotations

import datetime
import re
import uuid
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from riskkit.version import __version__

LONGEST_LINE = 75
"""Octets of a line without its end. RFC 5545, section 3.1."""

OURS = uuid.UUID("6f1d2c0a-7b0e-5c1e-9a55-3d0c6a1f4b27")
"""Name space of the entries' UIDs; drawn once and never changed."""

# A text may hold a tab and no other control character (RFC 5545, section 3.3.11); line ends are written as \n.
_CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing that falls due.

    Attributes:
        key: What it is for good, such as ("I03", "comparison"): the UID is made of it.
        day: The whole day that it stands on.
        title: The line that the calendar shows.
        text: What to do, and where it stands.
        category: The sort of thing.
    """

    key: tuple[str, ...]
    day: datetime.date
    title: str
    text: str
    category: str


def calendar(entries: Sequence[Entry], *, name: str, today: datetime.date, remind: int | None = None) -> bytes:
    """The iCalendar file, in UTF-8 with lines that end in CRLF.

    Args:
        entries: What falls due, at least one: RFC 5545 knows no calendar without a component.
        name: What the calendar is called; part of every UID, as two projects may use one id.
        today: The day of the stamps (DTSTAMP, midnight UTC); no clock is asked.
        remind: Days before, on which the calendar is to remind; None for no reminder.

    Raises:
        ValueError: where there is no entry, or two entries share a key.
    """
    if not entries:
        raise ValueError("a calendar needs an entry")
    if len({each.key for each in entries}) < len(entries):
        raise ValueError("two entries share a key")
    stamp = f"{_day(today)}T000000Z"
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", f"PRODID:-//riskkit//riskkit {_text(__version__)}//EN"]
    lines += ["CALSCALE:GREGORIAN", f"NAME:{_text(name)}"]
    for each in entries:
        lines += _event(each, name, stamp, remind)
    lines.append("END:VCALENDAR")
    return b"".join(_folded(line) for line in lines)


def _event(entry: Entry, name: str, stamp: str, remind: int | None) -> Iterator[str]:
    yield "BEGIN:VEVENT"
    yield f"UID:{uuid.uuid5(OURS, chr(0).join((name, *entry.key)))}"
    yield f"DTSTAMP:{stamp}"
    yield f"DTSTART;VALUE=DATE:{_day(entry.day)}"
    yield f"SUMMARY:{_text(entry.title)}"
    yield f"DESCRIPTION:{_text(entry.text)}"
    yield f"CATEGORIES:{_text(entry.category)}"
    yield "TRANSP:TRANSPARENT"
    if remind is not None:
        yield from ("BEGIN:VALARM", "ACTION:DISPLAY", f"DESCRIPTION:{_text(entry.title)}", f"TRIGGER:-P{remind}D")
        yield "END:VALARM"
    yield "END:VEVENT"


def _day(day: datetime.date) -> str:
    return f"{day.year:04}{day.month:02}{day.day:02}"


def _text(text: str) -> str:
    """A value of type TEXT: backslash, semicolon, comma and line ends are escaped. RFC 5545, section 3.3.11."""
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    text = _CONTROL.sub(" ", text).replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,")
    return text.replace("\n", "\\n")


def _folded(line: str) -> bytes:
    """A content line in pieces of at most 75 octets; no character is cut in two. RFC 5545, section 3.1."""
    rest, pieces = line.encode("utf-8", "replace"), []
    room = LONGEST_LINE
    while len(rest) > room:
        cut = room
        while rest[cut] & 0xC0 == 0x80:  # an octet that goes on with a character
            cut -= 1
        pieces.append(rest[:cut])
        rest, room = rest[cut:], LONGEST_LINE - 1  # the blank at the beginning of a later line counts
    return b"\r\n ".join((*pieces, rest)) + b"\r\n"

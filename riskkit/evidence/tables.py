"""Rows of readings as numbers: regular lines in one go, every other line by itself and with its line number."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from riskkit.evidence.answers import EvidenceError
from riskkit.evidence.fields import MISSING_WORDS, change_unit, number_of, quantity_of, seconds_of, what_is
from riskkit.evidence.headings import heading, unit_row
from riskkit.evidence.saying import FIRST_NAMED, say_lines
from riskkit.evidence.shapes import SEPARATOR_WORDS, Shape, is_comment
from riskkit.evidence.stamps import stamps_as_zeros

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


@dataclass(slots=True)
class Tally:
    """What was met while reading, by kind: how often, and on which lines first."""

    counts: dict[str, int] = field(default_factory=dict)
    lines: dict[str, list[int]] = field(default_factory=dict)

    def add(self, what: str, line: int) -> None:
        """Count one more."""
        self.counts[what] = self.counts.get(what, 0) + 1
        named = self.lines.setdefault(what, [])
        if len(named) <= FIRST_NAMED:
            named.append(line)

    def sentences(self) -> tuple[str, ...]:
        """One sentence per kind, with the count and the first lines."""
        return tuple(f"{what}: {count} ({say_lines(self.lines[what])})" for what, count in self.counts.items())


@dataclass(frozen=True, slots=True, eq=False)
class Table:
    """Numbers by row and column, nan where none was read; the line of each row; what was met on the way."""

    values: NDArray[np.float64]
    lines: NDArray[np.int64]
    units: tuple[str, ...]
    tally: Tally
    comments: tuple[str, ...]


def read_table(body: bytes, shape: Shape) -> Table:
    """Read all rows from the first row of readings on.

    Args:
        body: The text with line feeds, in UTF-8 or a code page that agrees with ASCII.
        shape: What its first lines show.

    Raises:
        EvidenceError: where the rest of the file does not agree with its first lines.
    """
    import numpy as np

    if not body.endswith(b"\n"):
        body += b"\n"
    begin = 0
    for _ in range(shape.first):
        begin = body.index(b"\n", begin) + 1
    body = body[begin:]
    reader = _LineReader(shape)
    body, stamps = stamps_as_zeros(body, shape)
    values = _clean(body, shape)
    if values is not None:
        lines = np.arange(shape.first + 1, shape.first + 1 + len(values))
        return _finished(_stamped(values, lines - shape.first - 1, stamps), lines, reader)
    ends = np.flatnonzero(np.frombuffer(body, np.uint8) == 10)
    bulk, regular = _regular(body, shape)
    numbers = _numbers(bulk, shape.width, int(regular.sum()))
    if numbers is None:
        regular[:] = False
        numbers = np.empty((0, shape.width))
    odd = np.flatnonzero(~regular)
    odd_rows, odd_lines = [], []
    segments: list[tuple[int, tuple[tuple[float, float] | None, ...]]] = []
    for line in odd.tolist():
        start = int(ends[line - 1]) + 1 if line else 0
        text = _text(body[start : int(ends[line])])
        row = reader.row(text, line + shape.first + 1)
        if row is not None:
            odd_rows.append(row)
            odd_lines.append(line)
        if reader.changed is not None:
            segments.append((line, reader.changed))
            reader.changed = None
    is_row = regular.copy()
    is_row[odd_lines] = True
    values = np.full((int(is_row.sum()), shape.width), np.nan)
    place = np.cumsum(is_row) - 1
    values[place[regular]] = numbers
    if odd_rows:
        values[place[odd_lines]] = np.array(odd_rows)
    lines = np.flatnonzero(is_row) + shape.first + 1
    _convert(values, lines - shape.first - 1, segments)
    _stamped(values, lines - shape.first - 1, stamps)
    _refuse_disagreement(values, reader, shape)
    return _finished(values, lines, reader)


def _stamped(
    values: NDArray[np.float64], lines: NDArray[np.int64], stamps: Mapping[int, NDArray[np.float64]]
) -> NDArray[np.float64]:
    """Put the seconds of stamps where zeros were read in their place; a row that was left out stays left out."""
    import numpy as np

    for column, seconds in stamps.items():
        read = np.isfinite(seconds[lines]) & (values[:, column] == 0)
        values[read, column] = seconds[lines][read]
    return values


def _finished(values: NDArray[np.float64], lines: NDArray[np.int64], reader: _LineReader) -> Table:
    import numpy as np

    endless = np.isinf(values)
    if endless.any():
        for row in np.flatnonzero(endless.any(axis=1)).tolist():
            reader.tally.add("number too large to be a reading, taken as missing", int(lines[row]))
        values[endless] = np.nan
    return Table(values, lines, tuple(reader.units), reader.tally, tuple(reader.comments))


def _clean(body: bytes, shape: Shape) -> NDArray[np.float64] | None:
    """All rows by numpy's C reader, which refuses whatever is not a plain number; None where it does."""
    import io

    import numpy as np

    separator = shape.separator.encode()
    if body.translate(
        None,
        b"0123456789.+-eE\n " + separator + (b"," if shape.decimal == "," else b"\t" if separator == b" " else b""),
    ):
        return None
    rows = body.count(b"\n")
    if separator + b"\n" in body and separator != b" ":
        body = body.replace(separator + b"\n", b"\n")
    if shape.decimal == ",":
        if b"." in body:
            return None
        body = body.replace(b",", b".")
    delimiter = None if shape.separator == " " else shape.separator
    try:
        values = np.loadtxt(io.BytesIO(body), delimiter=delimiter, comments=None, ndmin=2)
    except ValueError:
        return None
    return values if values.shape == (rows, shape.width) else None


def _numbers(bulk: bytes, width: int, rows: int) -> NDArray[np.float64] | None:
    """All numbers of the regular lines by the C reader; None where it meets what it does not know."""
    import numpy as np

    if rows == 0:
        return np.empty((0, width))
    try:
        numbers = np.fromstring(bulk, sep=",")
    except (ValueError, DeprecationWarning):
        return None
    return numbers.reshape(rows, width) if numbers.size == rows * width else None


def _regular(body: bytes, shape: Shape) -> tuple[bytes, NDArray[np.bool_]]:
    """The lines that hold exactly one plain number per column, joined by commas, and which lines they are."""
    import numpy as np

    separator = ord(shape.separator)
    if shape.decimal == ",":
        body = body.replace(b",", b".")
    raw = np.frombuffer(body, np.uint8)
    glued = np.zeros(0, np.intp)
    if shape.separator == " ":
        raw, separator = np.frombuffer(_single_blanks(body), np.uint8), 32
    elif b" " in body:
        kept = np.flatnonzero(raw != 32)
        gaps = np.flatnonzero(np.diff(kept) > 1)
        plain = np.ones(256, bool)
        plain[[separator, 10]] = False
        glued = gaps[plain[raw[kept[gaps]]] & plain[raw[kept[gaps + 1]]]]
        raw = raw[kept]
    newlines = np.flatnonzero(raw == 10)
    regular = np.ones(len(newlines), bool)

    def refuse(places: NDArray[np.intp]) -> None:
        regular[np.searchsorted(newlines, places)] = False

    refuse(glued)
    known = np.zeros(256, bool)
    known[[*b"0123456789.+-eE\n", separator]] = True
    refuse(np.flatnonzero(~known[raw]))
    before = np.concatenate((np.array([10], np.uint8), raw[:-1]))
    signs = np.flatnonzero((raw == 45) | (raw == 43))
    digits = np.zeros(256, bool)
    digits[[*b"0123456789."]] = True
    after = raw[np.minimum(signs + 1, len(raw) - 1)]
    refuse(signs[~digits[after] | digits[before[signs]]])
    separators = np.flatnonzero(raw == separator)
    counts = np.diff(np.searchsorted(separators, newlines), prepend=0)
    trailing = (before[newlines] == separator) & (counts == shape.width)
    regular &= counts - trailing == shape.width - 1
    regular &= (before[newlines] != separator) | trailing
    regular[before[newlines] == 10] = False
    refuse(separators[(before[separators] == separator) | (before[separators] == 10)])
    if not regular.all():
        lengths = np.diff(newlines, prepend=-1)
        raw = raw[np.repeat(regular, lengths)]
    bulk = raw.tobytes()
    if trailing.any():
        bulk = bulk.replace(bytes((separator, 10)), b"\n")
    return bulk.replace(bytes((separator,)), b",").replace(b"\n", b","), regular


def _single_blanks(body: bytes) -> bytes:
    """Runs of blanks and tabs as one blank, none at the ends of a line."""
    body = body.replace(b"\t", b" ")
    while b"  " in body:
        body = body.replace(b"  ", b" ")
    return body.replace(b" \n", b"\n").replace(b"\n ", b"\n").removeprefix(b" ")


def _text(line: bytes) -> str:
    try:
        return line.decode("utf-8")
    except UnicodeDecodeError:
        return line.decode("latin-1")


class _LineReader:
    """Reads one line after the other; remembers units, comments and what was met."""

    def __init__(self, shape: Shape) -> None:
        self.shape = shape
        self.tally = Tally()
        self.comments: list[str] = []
        self.odd = 0
        self.units = list(shape.units or ("",) * shape.width)
        named = [heading(name) for name in shape.names] if shape.names else []
        self.names = [each.name.lower() for each in named]
        for column, each in enumerate(named):
            self.units[column] = self.units[column] or each.unit
        self.changed: tuple[tuple[float, float] | None, ...] | None = None

    def row(self, line: str, number: int) -> list[float] | None:
        """The numbers of a line; None where it is no row: empty, a comment, headings again, words only."""
        import math

        shape = self.shape
        if not line.strip():
            return None
        if is_comment(line):
            self.comments.append(line.strip())
            self.tally.add("comment among the readings", number)
            return None
        try:
            fields = shape.split(line)
        except csv.Error:
            fields = []
        kinds = [what_is(each, shape.decimal) for each in fields] if len(fields) != shape.width else None
        if kinds is not None:
            if not any(kind in ("number", "stamp", "quantity", "thousands") for kind in kinds):
                self.comments.append(line.strip())
                self.tally.add("line of words left out", number)
                return None
            self.odd += 1
            if "thousands" in kinds:
                self._refuse_number(fields[kinds.index("thousands")], number)
            self.tally.add(f"row with {len(fields)} fields instead of {shape.width}, taken as a missing sample", number)
            return [math.nan] * shape.width
        if self._is_heading(fields, number):
            return None
        return [self._value(each, column, number) for column, each in enumerate(fields)]

    def _value(self, text: str, column: int, number: int) -> float:
        import math

        kind = self.shape.kinds[column]
        if kind == "word":
            return math.nan
        if not text or text.lower() in MISSING_WORDS:
            return math.nan
        if kind == "stamp":
            seconds = seconds_of(text)
            if seconds is not None:
                return seconds
        what = what_is(text, self.shape.decimal)
        if what == "number":
            return number_of(text, self.shape.decimal)
        if what == "quantity":
            return self._quantity(text, column, number)
        if what == "thousands" or (
            what == "word" and what_is(text, "." if self.shape.decimal == "," else ",") == "number"
        ):
            self._refuse_number(text, number)
        shown = text if len(text) <= 20 else text[:17] + "..."
        self.tally.add(f"`{shown}` instead of a {'time' if kind == 'stamp' else 'number'}, taken as missing", number)
        return math.nan

    def _quantity(self, text: str, column: int, number: int) -> float:
        import math

        value, unit = quantity_of(text, self.shape.decimal)
        self.units[column] = self.units[column] or unit
        if unit == self.units[column]:
            return value
        change = change_unit(unit, self.units[column])
        if change is None:
            self.tally.add(
                f"reading in {unit}, which cannot be turned into {self.units[column]}, taken as missing", number
            )
            return math.nan
        self.tally.add(f"reading in {unit}, turned into {self.units[column]}", number)
        return value * change[0] + change[1]

    def _refuse_number(self, text: str, number: int) -> None:
        sign = "decimal commas" if self.shape.decimal == "," else "decimal points"
        raise EvidenceError(
            f"line {number}: `{text}` can be read in two ways beside numbers with {sign}",
            "write the file again with one decimal sign and without thousands separators",
        )

    def _is_heading(self, fields: list[str], number: int) -> bool:
        """Whether a line repeats the headings or the units; a unit that changes there is remembered."""
        if any(what_is(each, self.shape.decimal) in ("number", "stamp", "quantity") for each in fields):
            return False
        units: tuple[str, ...] | None = unit_row(tuple(fields))
        if units is None:
            found = [heading(each) for each in fields]
            if not self.names or 2 * sum(a.name.lower() == b for a, b in zip(found, self.names, strict=True)) < len(
                found
            ):
                return False
            units = tuple(each.unit for each in found)
        self.tally.add("headings again", number)
        changes: list[tuple[float, float] | None] = []
        for column, (new, old) in enumerate(zip(units, self.units, strict=True)):
            change = change_unit(new, old) if new and old and new != old else (1.0, 0.0)
            if change is None:
                raise EvidenceError(
                    f"line {number}: the unit of column {column + 1} changes from {old} to {new}, which measures something else",
                    "cut the file there and measure both parts",
                )
            if new and old and new != old:
                self.tally.add(
                    f"unit of column {column + 1} changes from {old} to {new}; readings from there on are turned into {old}",
                    number,
                )
            changes.append(change)
        if any(change != (1.0, 0.0) for change in changes) or self.changed is None:
            self.changed = tuple(changes)
        return True


def _convert(
    values: NDArray[np.float64],
    rows: NDArray[np.int64],
    segments: list[tuple[int, tuple[tuple[float, float] | None, ...]]],
) -> None:
    """Turn the readings behind a heading with other units into the units of the first heading."""
    import numpy as np

    for place, (line, changes) in enumerate(segments):
        stop = segments[place + 1][0] if place + 1 < len(segments) else np.iinfo(np.int64).max
        inside = (rows > line) & (rows < stop)
        for column, change in enumerate(changes):
            if change is not None and change != (1.0, 0.0):
                values[inside, column] = values[inside, column] * change[0] + change[1]


def _refuse_disagreement(values: NDArray[np.float64], reader: _LineReader, shape: Shape) -> None:
    """The first lines set the shape; a file whose rest looks different is refused rather than read as missing."""
    if 2 * reader.odd > len(values):
        what = next(iter(reader.tally.sentences()), "")
        raise EvidenceError(
            f"most rows do not have {shape.width} fields separated by {SEPARATOR_WORDS[shape.separator]}; {what}",
            "give a file with one table, one row for each sample",
        )

"""The shape of a table of readings: comments, separator, decimal sign, columns, headings. Looks at its first lines only."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from riskkit.evidence.answers import EvidenceError
from riskkit.evidence.fields import What, what_is
from riskkit.evidence.headings import unit_row

LOOKED_AT = 400
"""Lines of readings that are looked at; the rest is compared with what they show."""

COMMENTS = ("#", "%", "//")
_SEPARATORS = ("\t", ";", ",", " ")
_WORDS = ("word", "missing")
_WANTED = "give a text file with one row of numbers for each sample, separated by commas, semicolons, tabs or blanks"
SEPARATOR_WORDS: Mapping[str, str] = MappingProxyType({"\t": "tabs", ";": "semicolons", ",": "commas", " ": "blanks"})


@dataclass(frozen=True, slots=True)
class Shape:
    """How the rows of a table are written.

    Attributes:
        separator: What stands between fields; a blank means any run of blanks.
        decimal: Point or comma.
        width: Number of columns.
        names: The headings as written, or None where there are none.
        units: The row of units below the headings, or None.
        first: Index of the first row of readings among the lines.
        kinds: What each column holds for the most part.
        before: Index and text of the lines before the first row that are neither comment nor heading.
        notes: What was assumed.
    """

    separator: str
    decimal: str
    width: int
    names: tuple[str, ...] | None
    units: tuple[str, ...] | None
    first: int
    kinds: tuple[What, ...]
    before: tuple[tuple[int, str], ...]
    notes: tuple[str, ...]

    def split(self, line: str) -> list[str]:
        """The fields of a line, without blanks and empty fields that a trailing separator makes."""
        fields = split(line, self.separator)
        while len(fields) > self.width and not fields[-1]:
            fields.pop()
        return fields


def is_comment(line: str) -> bool:
    """Whether a line is a comment. A semicolon begins one unless only readings follow it."""
    text = line.lstrip().lstrip('"')
    if text.startswith(COMMENTS):
        return True
    return (
        text.startswith(";")
        and bool(re.search(r"[^\W\d_]{2,}", text))
        and not re.search(r";\s*[-+]?[\d.,]+\s*(;|$)", text)
    )


def split(line: str, separator: str) -> list[str]:
    """Fields of a line, stripped; quotes are honoured.

    Raises:
        csv.Error: where a quote is left open in a way that no table has.
    """
    if separator == " ":
        return (
            line.split()
            if '"' not in line
            else [each for each in next(csv.reader([line.strip()], delimiter=" "), []) if each]
        )
    if '"' in line:
        fields = next(csv.reader([line], delimiter=separator, skipinitialspace=True), [])
        return [field.strip() for field in fields]
    return [field.strip() for field in line.split(separator)]


def shape_of(lines: Sequence[str]) -> Shape:
    """The shape that the first lines show.

    Raises:
        EvidenceError: where no line holds a reading, or where numbers are written with thousands separators.
    """
    bodies = [(place, line) for place, line in enumerate(lines) if line.strip() and not is_comment(line)]
    bodies = bodies[: LOOKED_AT * 2]
    separator, decimal, width = _best(bodies)
    rows = [_trimmed(split(line, separator), width) for _, line in bodies]
    read = [row for row in rows if len(row) == width and any(what_is(each, decimal) not in _WORDS for each in row)]
    kinds = _kinds(read[-LOOKED_AT:], decimal, width)
    begin = next((place for place, row in enumerate(rows) if _is_row(row, decimal, kinds)), None)
    if begin is None:
        raise EvidenceError("no two lines look alike, so no table of readings is found", _WANTED)
    while begin > 0 and _is_spoiled(rows[begin - 1], decimal, kinds):
        begin -= 1
    first, earlier, rows = bodies[begin][0], bodies[:begin], rows[begin:]
    _refuse_two_signs(bodies[begin:], separator, decimal)
    notes: list[str] = []
    names, units, before = _headings(earlier, separator, width)
    if names is None and width > 1:
        names = _heading_in_comment(lines[:first], separator, width)
        if names is not None:
            notes.append("the headings are taken from the last comment line before the readings")
    if (
        names is not None
        and width == 2
        and separator == ","
        and all(re.fullmatch(r"-?\d+", each) for row in rows for each in row)
    ):
        notes.append("commas stand between whole numbers: they are taken as separators, not as decimal commas")
    return Shape(separator, decimal, width, names, units, first, kinds, before, tuple(notes))


def _best(bodies: Sequence[tuple[int, str]]) -> tuple[str, str, int]:
    """Separator, decimal sign and width under which most fields are readings and fewest are words."""
    best: tuple[float, int, str, str] | None = None
    doubtful: tuple[int, str] | None = None
    looked = bodies[-LOOKED_AT:] if len(bodies) > LOOKED_AT else bodies
    headed = bodies[0][1] if bodies else ""
    for separator in _SEPARATORS:
        for decimal in (".", ","):
            if separator == "," and decimal == "," and not any('"' in line for _, line in looked):
                continue  # a comma cannot be both, unless the numbers stand in quotes
            score, widths, thousands = _score(looked, separator, decimal)
            doubtful = doubtful or thousands
            if not widths:
                continue
            width = widths.most_common(1)[0][0]
            if separator == "," and width == 2 and len(split(headed, ",")) == 1 and len(headed.split()) == 1:
                continue  # one heading above `12,5`: the comma is a decimal comma
            if best is None or score > best[0] + 1e-9:
                best = (score, width, separator, decimal)
    if best is None or best[0] <= 0:
        if doubtful is not None:
            raise _thousands(*doubtful)
        where = (
            f"line {bodies[0][0] + 1} is `{bodies[0][1].strip()[:40]}`"
            if bodies
            else "the file holds no line of readings"
        )
        raise EvidenceError(
            f"no table of readings is found: {where}",
            _WANTED,
        )
    _score(looked, best[2], best[3], strict=True)
    return best[2], best[3], best[1]


def _score(
    bodies: Sequence[tuple[int, str]], separator: str, decimal: str, *, strict: bool = False
) -> tuple[float, Counter[int], tuple[int, str] | None]:
    score, widths = 0.0, Counter[int]()
    thousands: tuple[int, str] | None = None
    for place, line in bodies:
        fields = split(line, separator)
        if len(fields) > 1 and not fields[-1]:
            fields.pop()
        kinds = [what_is(field, decimal) for field in fields]
        if "thousands" in kinds and thousands is None:
            thousands = (place + 1, fields[kinds.index("thousands")])
            if strict:
                raise _thousands(*thousands)
        good = sum(1.0 for kind in kinds if kind not in ("word", "missing"))
        bad = sum(1.0 for kind in kinds if kind == "word")
        score += good - bad if good else 0.0  # a line of words only is a heading
        if good > bad:
            widths[len(fields)] += 1
    return score, widths, thousands


def _thousands(line: int, field: str) -> EvidenceError:
    return EvidenceError(
        f"line {line}: `{field}` is written with a thousands separator, and can be read in two ways",
        "write the file again without thousands separators, such as 1234.5",
    )


def _refuse_two_signs(bodies: Sequence[tuple[int, str]], separator: str, decimal: str) -> None:
    other = "," if decimal == "." else "."
    for place, line in bodies:
        for field in split(line, separator):
            if what_is(field, decimal) == "word" and what_is(field, other) == "number":
                raise EvidenceError(
                    f"line {place + 1}: `{field}` can be read in two ways beside numbers with decimal {'points' if decimal == '.' else 'commas'}",
                    "write the file again with one decimal sign and without thousands separators",
                )


def _trimmed(fields: list[str], width: int) -> list[str]:
    while len(fields) > width and not fields[-1]:
        fields.pop()
    return fields


_NUMBERS = ("number", "quantity")


def _is_row(fields: Sequence[str], decimal: str, kinds: Sequence[What]) -> bool:
    """Whether every column that holds readings holds one or misses one, and at least one is there."""
    if len(fields) != len(kinds):
        return False
    found = [(what_is(field, decimal), kind) for field, kind in zip(fields, kinds, strict=True) if kind != "word"]
    alike = [here == kind or (here in _NUMBERS and kind in _NUMBERS) for here, kind in found]
    missing = [here == "missing" for here, _ in found]
    return any(alike) and all(one or other for one, other in zip(alike, missing, strict=True))


def _is_spoiled(fields: Sequence[str], decimal: str, kinds: Sequence[What]) -> bool:
    """Whether a line before the first good row is a row with something unreadable in it, and no heading.

    A heading may hold whole numbers, but no stamps, no numbers with decimals and no numbers with units.
    """
    if len(fields) != len(kinds):
        return False
    return any(
        kind != "word"
        and (
            what_is(field, decimal) in ("stamp", "quantity")
            or (decimal in field and what_is(field, decimal) == "number")
        )
        for field, kind in zip(fields, kinds, strict=True)
    )


def _kinds(rows: Sequence[Sequence[str]], decimal: str, width: int) -> tuple[What, ...]:
    """What each column holds for the most part; a column of missing words only is one of numbers."""
    found: list[What] = []
    for column in range(width):
        kinds = Counter(what_is(row[column], decimal) for row in rows if len(row) == width)
        kinds.pop("missing", None)
        found.append(kinds.most_common(1)[0][0] if kinds else "number")
    return tuple(found)


_Before = tuple[tuple[int, str], ...]


def _headings(
    earlier: Sequence[tuple[int, str]], separator: str, width: int
) -> tuple[tuple[str, ...] | None, tuple[str, ...] | None, _Before]:
    """Names, units and the lines that are neither."""
    rows = [(place, line, _heading_fields(line, separator, width)) for place, line in earlier]
    if not rows or rows[-1][2] is None:
        return None, None, tuple(earlier)
    last = rows[-1][2]
    units = unit_row(last)
    if units is None:
        return last, None, tuple(earlier[:-1])
    above = rows[-2][2] if len(rows) > 1 else None
    if above is None:
        return (last, None, tuple(earlier[:-1])) if len(set(last)) == len(last) else (None, units, tuple(earlier[:-1]))
    return above, units, tuple(earlier[:-2])


def _heading_fields(line: str, separator: str, width: int) -> tuple[str, ...] | None:
    for fields in (split(line, separator), re.split(r"\s{2,}|\t", line.strip()), split(line, ","), split(line, ";")):
        trimmed = _trimmed(list(fields), width)
        if len(trimmed) == width and any(trimmed):
            return tuple(trimmed)
    return None


def _heading_in_comment(lines: Sequence[str], separator: str, width: int) -> tuple[str, ...] | None:
    last = next((line for line in reversed(lines) if line.strip()), "")
    if not is_comment(last):
        return None
    fields = _heading_fields(last.strip().lstrip("#%/;").strip(), separator, width)
    return (
        fields if fields is not None and all(re.match(r"[^\W\d]", each) and len(each) < 40 for each in fields) else None
    )

"""A recording of the bench: columns of readings against time, read from a text file of any usual shape.

Nothing is dropped in silence: a row that cannot be used stays in its place as a missing sample, is
counted, and the first lines of its kind are named in the notes.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from riskkit.evidence.answers import EvidenceError
from riskkit.evidence.clock_columns import find_clock
from riskkit.evidence.clocks import Jump
from riskkit.evidence.columns import Column, drop_out_notes, missing_notes, one_unit_each, without
from riskkit.evidence.headings import Heading, heading, headings_given
from riskkit.evidence.saying import say_lines
from riskkit.evidence.shapes import SEPARATOR_WORDS, Shape, is_comment, shape_of
from riskkit.evidence.tables import Table, read_table

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_HEAD_LINES = 4000
_SET_WORDS = ("set", "target", "demand", "desired", "command", "soll")


@dataclass(frozen=True, slots=True, eq=False)
class Recording:
    """Columns of readings against time.

    Attributes:
        name: File name, or what the caller called it.
        seconds: Time of each sample [s], never falling.
        interval: Time between samples [s]; the median where the file has a clock.
        columns: The columns with numbers, in the order of the file.
        jumps: Where the clock jumped.
        lines: Line of each sample in the file.
        notes: What was found and what was assumed, one sentence each.
        comments: Comment lines, as they stand.
    """

    name: str
    seconds: NDArray[np.float64]
    interval: float
    columns: tuple[Column, ...]
    jumps: tuple[Jump, ...]
    lines: NDArray[np.int64]
    notes: tuple[str, ...]
    comments: tuple[str, ...]

    def column(self, name: str | None = None) -> Column:
        """A column by name, by its beginning or by its number from 1; without a name the first measured pressure,
        or else the first column that is no set point.

        Raises:
            EvidenceError: where there is none, or more than one.
        """
        if name is None:
            measured = [each for each in self.columns if not _is_set_point(each.name)] or list(self.columns)
            named = [each for each in measured if each.kind is None and "press" in each.name.lower()]
            return next((each for each in measured if each.kind == "pressure"), [*named, *measured][0])
        for same in (
            [each for each in self.columns if each.name == name],
            [each for each in self.columns if each.name.lower() == name.strip().lower()],
            [each for each in self.columns if name.strip() and each.name.lower().startswith(name.strip().lower())],
        ):
            if len(same) == 1:
                return same[0]
            if same:
                break
        names = ", ".join(each.name for each in self.columns)
        if name.strip().isdigit() and 1 <= int(name) <= len(self.columns):
            return self.columns[int(name) - 1]
        raise EvidenceError(
            f"{self.name} has {'more than one' if same else 'no'} column `{name}`", f"name one of: {names}"
        )

    def between(self, start: float | None, stop: float | None) -> Recording:
        """The part from `start` to `stop` [s of the recording's clock].

        Raises:
            EvidenceError: where fewer than two samples lie there.
        """
        import numpy as np

        if start is None and stop is None:
            return self
        first = 0 if start is None else int(np.searchsorted(self.seconds, start, "left"))
        last = len(self.seconds) if stop is None else int(np.searchsorted(self.seconds, stop, "right"))
        if last - first < 2:
            raise EvidenceError(
                f"fewer than two samples lie in that part; the recording runs from {self.seconds[0]:.6g} s to {self.seconds[-1]:.6g} s",
                "choose --from and --to inside it",
            )
        part = slice(first, last)
        return replace(
            self,
            seconds=self.seconds[part],
            lines=self.lines[part],
            columns=tuple(replace(each, values=each.values[part]) for each in self.columns),
            jumps=tuple(replace(jump, row=jump.row - first) for jump in self.jumps if first < jump.row < last),
            notes=(
                *self.notes,
                f"only the part from {self.seconds[first]:.6g} s to {self.seconds[last - 1]:.6g} s is used",
            ),
        )


def read_recording(
    source: str | os.PathLike[str] | bytes,
    *,
    columns: str | None = None,
    interval: float | None = None,
    rate: float | None = None,
    time: str | None = None,
    missing: Sequence[float | tuple[str, float]] = (),
    name: str | None = None,
) -> Recording:
    """Read a text file of readings: any usual separator, decimal sign, heading, comment and clock.

    Args:
        source: Path, or the bytes of the file.
        columns: Names and units of all columns, such as "set point cmH2O, pressure cmH2O, -"; `-` leaves one out.
            Needed where the file has no headings; where it has, these stand instead.
        interval: Time between rows [s], where the file has no clock.
        rate: Rows per second [Hz], instead of `interval`.
        time: Column that is the clock, with its unit if it is not seconds, such as "tick ms".
        missing: Numbers that mean a missing reading, such as -999, or ("pressure", 0) for one column only.
        name: What to call the recording; the file name if left out.

    Raises:
        EvidenceError: where there is no table of readings, no clock, or where a number can be read in two ways;
            with the line and what was expected.
    """
    if interval is not None and rate is not None:
        raise EvidenceError("a sample interval and a sample rate are both given", "give one of --interval and --rate")
    if rate is not None:
        if not 0 < rate < 1e9:
            raise EvidenceError(f"a sample rate of {rate:g} Hz is impossible", "give one such as --rate 100Hz")
        interval = 1 / rate
    body, called, notes = _bytes_of(source, name)
    head = [_decoded(line) for line in body.split(b"\n", _HEAD_LINES)[:_HEAD_LINES]]
    shape = shape_of(head)
    table = read_table(body, shape)
    comments = (
        *(line.strip() for line in head[: shape.first] if line.strip() and is_comment(line)),
        *(line.strip() for _, line in shape.before),
    )
    if shape.before:
        notes.append(f"kept as comments before the headings: {say_lines(place + 1 for place, _ in shape.before)}")
    notes += [
        f"fields are separated by {SEPARATOR_WORDS[shape.separator]}, decimals by a {'comma' if shape.decimal == ',' else 'point'}",
        *shape.notes,
    ]
    named = _named(shape, table, columns, notes)
    clock, kept, used = find_clock(
        table, shape, named, interval, time, (*comments, *table.comments), head[shape.first], notes
    )
    found = [
        Column(each.name, each.unit, table.values[kept, place])
        for place, each in enumerate(named)
        if not each.skip and place not in used and shape.kinds[place] != "word"
    ]
    words = [each.name for place, each in enumerate(named) if shape.kinds[place] == "word" and not each.skip]
    if words:
        notes.append(f"left out because they hold words, not numbers: {', '.join(words)}")
    if not found:
        raise EvidenceError(f"{called} holds no column of readings beside its clock", "name the columns with --columns")
    lines = table.lines[kept]
    finished = without(one_unit_each(found, notes), missing, notes)
    notes += [*clock.notes, *table.tally.sentences(), *missing_notes(finished, lines), *drop_out_notes(finished)]
    return Recording(
        called, clock.seconds, clock.interval, finished, clock.jumps, lines, tuple(notes), (*comments, *table.comments)
    )


def _bytes_of(source: str | os.PathLike[str] | bytes, name: str | None) -> tuple[bytes, str, list[str]]:
    notes: list[str] = []
    if isinstance(source, bytes):
        body, called = source, name or "the recording"
    else:
        path = Path(source)
        called = name or path.name
        try:
            body = path.read_bytes()
        except OSError as error:
            raise EvidenceError(f"{path} cannot be read: {error.strerror}", "name a file that exists") from None
    if body[:2] in (b"\xff\xfe", b"\xfe\xff"):
        try:
            body = body.decode("utf-16").encode()
        except UnicodeDecodeError:
            raise EvidenceError(
                f"{called} begins as UTF-16 text and does not go on so", "save it as UTF-8 text"
            ) from None
        notes.append("the file is in UTF-16")
    body = body.removeprefix(b"\xef\xbb\xbf")
    if b"\0" in body:
        raise EvidenceError(f"{called} is no text file", "export the recording as CSV text")
    if b"\r" in body:
        body = body.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    if not body.strip():
        raise EvidenceError(f"{called} is empty", "give a file with readings")
    return body, called, notes


def _decoded(line: bytes) -> str:
    try:
        return line.decode("utf-8")
    except UnicodeDecodeError:
        return line.decode("latin-1")


def _named(shape: Shape, table: Table, columns: str | None, notes: list[str]) -> list[Heading]:
    """A heading for every column, each name once."""
    width = shape.width
    own = [heading(each) for each in shape.names] if shape.names else [Heading("")] * width
    own = [
        Heading(each.name or f"column {place}", unit or each.unit)
        for place, (each, unit) in enumerate(zip(own, table.units, strict=True), start=1)
    ]
    if columns is not None:
        given = headings_given(columns)
        while len(given) > width and given[-1].skip:  # a trailing separator looks like one more column
            given = given[:-1]
        if len(given) != width:
            raise EvidenceError(
                f"{len(given)} columns are named, and the file has {width}",
                "name every column, with `-` for one that is not needed",
            )
        for new, old in zip(given, own, strict=True):
            if old.unit and new.unit and old.unit != new.unit and not new.skip:
                notes.append(f"`{new.name}` is taken in {new.unit} as given, though the file says {old.unit}")
        return [
            new if new.unit or new.skip else Heading(new.name, old.unit) for new, old in zip(given, own, strict=True)
        ]
    if shape.names is None:
        notes.append(f"the file has no headings: its {width} columns are called column 1 to column {width}")
    seen: dict[str, int] = {}
    named = []
    for each in own:
        seen[each.name] = seen.get(each.name, 0) + 1
        named.append(each if seen[each.name] == 1 else replace(each, name=f"{each.name} ({seen[each.name]})"))
    return named


def _is_set_point(name: str) -> bool:
    return any(word.startswith(_SET_WORDS) for word in name.lower().replace("_", " ").split())

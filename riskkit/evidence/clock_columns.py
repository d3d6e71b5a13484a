"""Which column of a table is its clock, and what its counts mean."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from riskkit.evidence.answers import EvidenceError
from riskkit.evidence.clocks import Clock, counted_clock, hint, read_clock
from riskkit.evidence.fields import change_unit, has_date, is_date, unit_kind
from riskkit.evidence.headings import Heading, heading
from riskkit.evidence.saying import say_lines
from riskkit.evidence.shapes import Shape
from riskkit.evidence.tables import Table

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


def find_clock(
    table: Table,
    shape: Shape,
    named: Sequence[Heading],
    interval: float | None,
    time: str | None,
    comments: tuple[str, ...],
    first_row: str,
    notes: list[str],
) -> tuple[Clock, NDArray[np.intp] | slice, tuple[int, ...]]:
    """The clock, the rows that have one, and the columns it is made of."""
    import numpy as np

    places = _clock_columns(table, shape, named, interval, time, shape.split(first_row), notes)
    if interval is not None:
        return counted_clock(len(table.values), interval), slice(None), places
    if not places:
        raise EvidenceError(
            f"the recording has no column that is a clock{hint(comments)}",
            "give the sample interval, such as --interval 10ms or --rate 100Hz, or name the clock with --time",
        )
    raw = table.values[:, places].sum(axis=1)
    fields = [shape.split(first_row)[place] for place in places]
    stamped = shape.kinds[places[0]] == "stamp"
    dated = any(has_date(each) for each in fields)
    factor, epoch = (1.0, dated) if stamped else _counter(raw, named[places[0]], notes)
    kept = np.flatnonzero(~np.isnan(raw))
    if len(kept) < len(raw):
        bad = table.lines[np.isnan(raw)]
        notes.append(f"rows left out because their time cannot be read: {len(bad)} ({say_lines(bad)})")
    clock = read_clock(raw[kept] * factor, table.lines[kept], of_day=stamped and not dated, since_1970=stamped or epoch)
    return clock, kept if len(kept) < len(raw) else slice(None), places


def _clock_columns(
    table: Table,
    shape: Shape,
    named: Sequence[Heading],
    interval: float | None,
    time: str | None,
    first_row: Sequence[str],
    notes: list[str],
) -> tuple[int, ...]:
    import numpy as np

    if time is not None:
        wanted = heading(time).name.lower()
        found = [place for place, each in enumerate(named) if each.name.lower() in (wanted, time.strip().lower())]
        if not found and wanted.isdigit() and 1 <= int(wanted) <= len(named):
            found = [int(wanted) - 1]
        if not found:
            raise EvidenceError(
                f"there is no column `{time}` to be the clock",
                f"name one of: {', '.join(each.name for each in named if each.name)}",
            )
        if heading(time).unit and isinstance(named, list):
            named[found[0]] = replace(named[found[0]], unit=heading(time).unit)
        return (found[0],)
    stamps = [place for place, kind in enumerate(shape.kinds) if kind == "stamp" and not named[place].skip]
    if stamps:
        pair = len(stamps) > 1 and any(is_date(first_row[place]) for place in stamps[:2])
        return tuple(stamps[:2]) if pair else (stamps[0],)
    usable = [place for place, each in enumerate(named) if not each.skip and shape.kinds[place] == "number"]
    timed = [place for place in usable if named[place].is_time] or [
        place for place in usable if unit_kind(named[place].unit) == "time"
    ]
    if timed or interval is not None:
        if timed and interval is not None:
            notes.append(
                f"the clock in column `{named[timed[0]].name}` is not used, because a sample interval is given"
            )
        return (timed[0],) if timed else ()
    first = usable[0] if usable else None
    if first is not None and shape.names is None and len(usable) > 1:
        steps = np.diff(table.values[:, first])
        steps = steps[~np.isnan(steps)]
        middle = float(np.median(steps)) if len(steps) else 0.0
        if middle > 0 and float((np.abs(steps - middle) < 0.5 * middle).mean()) > 0.95:
            notes.append(f"the first column rises in even steps of {middle:.4g} and is taken as the clock")
            return (first,)
    return ()


def _counter(raw: NDArray[np.float64], named: Heading, notes: list[str]) -> tuple[float, bool]:
    """Seconds per unit of a counter, and whether it counts from far away."""
    import numpy as np

    change = change_unit(named.unit, "s") if named.unit else None
    numbers = raw[~np.isnan(raw)]
    largest = float(np.abs(numbers).max()) if len(numbers) else 0.0
    if change is not None:
        return change[0], largest * change[0] > 1e8
    for least, factor, word in (
        (1e17, 1e-9, "nanoseconds"),
        (1e14, 1e-6, "microseconds"),
        (1e11, 1e-3, "milliseconds"),
        (1e8, 1.0, "seconds"),
    ):
        if largest > least:
            notes.append(f"the clock `{named.name}` is taken as {word} since 1970, by its size")
            return factor, True
    if len(numbers) > 1 and bool((numbers == np.round(numbers)).all()):
        step = float(np.median(np.abs(np.diff(numbers))))
        raise EvidenceError(
            f"the clock `{named.name}` counts in whole numbers by {step:g} and states no unit",
            f'say what it counts, such as --time "{named.name} ms" or --time "{named.name} s"',
        )
    notes.append(f"the unit of the clock `{named.name}` is not stated; it is taken as seconds")
    return 1.0, False

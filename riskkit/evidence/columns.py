"""Columns of readings: one unit for each kind, missing readings, and readings that look like drop-outs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from riskkit.evidence.answers import EvidenceError
from riskkit.evidence.fields import change_unit, unit_kind
from riskkit.evidence.saying import say_lines
from riskkit.units import UnitError, read_quantity

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, eq=False)
class Column:
    """Readings of one quantity.

    Attributes:
        name: Its name.
        unit: Unit of the values; empty where none is stated.
        values: One reading per sample; nan where it is missing.
        note: What was done to it, such as a change of unit; empty where nothing was.
    """

    name: str
    unit: str
    values: NDArray[np.float64]
    note: str = ""

    @property
    def kind(self) -> str | None:
        """What it measures, such as "pressure"; None where the unit does not tell."""
        return unit_kind(self.unit)

    def number(self, written: str, what: str) -> float:
        """A level or limit such as "16 hPa" as a number in the unit of the column.

        Args:
            written: What was typed; a bare number where the column has no known unit.
            what: What it is, for the sentence.

        Raises:
            EvidenceError: where it is no quantity of the column's kind.
        """
        if self.kind is None:
            try:
                return float(written)
            except ValueError:
                raise EvidenceError(
                    f"{what} `{written}` cannot be compared: the column `{self.name}` has no known unit",
                    "name the unit with --columns, or give a bare number",
                ) from None
        try:
            return read_quantity(written, self.kind).to(self.unit)
        except UnitError as error:
            raise EvidenceError(f"{what}: {error.headline}", error.help) from None

    def width(self, written: str, what: str, of: float) -> float:
        """A width such as an uncertainty in the unit of the column; "2 %" is a share of the reading `of`.

        Raises:
            EvidenceError: where it is no width of the column's kind, or not above zero.
        """
        kind = "temperature difference" if self.kind == "temperature" else self.kind
        text = written.strip().removeprefix("±").strip()
        if text.endswith("%") and kind != "fraction":
            try:
                found = abs(of) * float(text[:-1]) / 100
            except ValueError:
                raise EvidenceError(f"{what} `{written}` is no share", "write it such as `2 %`") from None
        elif kind is None:
            found = self.number(text, what)
        else:
            try:
                found = read_quantity(text, kind).to("K" if kind == "temperature difference" else self.unit)
            except UnitError as error:
                raise EvidenceError(f"{what}: {error.headline}", error.help) from None
            if kind == "temperature difference":
                change = change_unit("K", self.unit)
                found *= change[0] if change is not None else 1.0
        if not found > 0:
            raise EvidenceError(f"{what} `{written}` is not above zero", "give it as a width, such as `0.3 hPa`")
        return found


def one_unit_each(columns: Sequence[Column], notes: list[str]) -> tuple[Column, ...]:
    """All columns of one kind in the unit of the first measured one of that kind."""
    units: dict[str, str] = {}
    done = []
    for each in columns:
        kind = each.kind
        if kind is None:
            done.append(each)
            continue
        unit = units.setdefault(kind, each.unit)
        change = change_unit(each.unit, unit)
        if each.unit == unit or change is None:
            done.append(each)
            continue
        note = f"`{each.name}` is written in {each.unit} and turned into {unit}, the unit of the first {kind}"
        notes.append(note)
        done.append(Column(each.name, unit, each.values * change[0] + change[1], note))
    return tuple(done)


def without(
    columns: Sequence[Column], missing: Sequence[float | tuple[str, float]], notes: list[str]
) -> tuple[Column, ...]:
    """Columns with the numbers that mean a missing reading taken out."""
    import numpy as np

    if not missing:
        return tuple(columns)
    done = []
    for each in columns:
        gone = np.zeros(len(each.values), bool)
        for each_missing in missing:
            of, value = each_missing if isinstance(each_missing, tuple) else (each.name, each_missing)
            if of.lower() != each.name.lower():
                continue
            gone |= np.isclose(each.values, value, rtol=1e-5, atol=1e-6)
        if gone.any():
            notes.append(f"`{each.name}`: {int(gone.sum())} readings stand at a number that means missing, as given")
            each = replace(each, values=np.where(gone, np.nan, each.values))
        done.append(each)
    return tuple(done)


def missing_notes(columns: Sequence[Column], lines: NDArray[np.int64]) -> list[str]:
    """How many readings each column misses, and on which lines first."""
    import numpy as np

    notes = []
    for each in columns:
        gone = np.flatnonzero(np.isnan(each.values))
        if len(gone):
            notes.append(
                f"`{each.name}`: missing readings: {len(gone)} of {len(each.values)} ({say_lines(lines[gone])})"
            )
    return notes


def drop_out_notes(columns: Sequence[Column]) -> list[str]:
    """Single readings that all stand at one far-off number look like drop-outs: said, and left in."""
    import numpy as np

    notes = []
    for each in columns:
        values = each.values[~np.isnan(each.values)]
        if len(values) < 20:
            continue
        low, high = float(values.min()), float(values.max())
        for extreme, side in ((low, 1.0), (high, -1.0)):
            at = np.abs(values - extreme) <= 0.02 * (high - low)
            count = int(at.sum())
            if not 2 <= count <= 0.1 * len(values):
                continue
            middle = float(np.median(values[at]))
            if 2 * int((np.abs(values[at] - middle) <= 1e-6 * (high - low)).sum()) < count:
                continue  # they do not stand at one number
            runs = int((np.diff(at.astype(np.int8), prepend=0) == 1).sum())
            rest = values[~at]
            inner, outer = (float(rest.min()), float(rest.max()))
            if count <= 3 * runs and side * ((inner if side > 0 else outer) - extreme) > 0.25 * (outer - inner) > 0:
                notes.append(
                    f"`{each.name}`: {count} readings in {runs} places stand at about {_round(middle, high - low):.6g}, far from all others, "
                    f"as drop-outs do; they are left in (leave them out with --missing '{each.name}={_round(middle, high - low):.6g}')"
                )
    return notes


def _round(value: float, span: float) -> float:
    """A number without digits that are nothing beside the span of the readings."""
    return 0.0 if abs(value) < 1e-9 * span else value

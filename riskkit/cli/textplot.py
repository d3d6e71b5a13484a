"""A signal as plain text: lowest to highest reading in every column of characters, so that no reading can hide."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from riskkit.evidence.envelopes import Envelope

LABEL = 9
"""Columns for the numbers at the left."""


@dataclass(frozen=True, slots=True)
class Line:
    """A level across the plot: its mark is repeated, its word stands at the right end."""

    level: float
    mark: str
    word: str


def text_plot(
    shape: Envelope,
    *,
    columns: int,
    rows: int,
    lines: Sequence[Line] = (),
    marked: tuple[float, float] | None = None,
    unit: str = "s",
) -> list[str]:
    """Lines of text.

    Args:
        shape: Lowest and highest reading for each column of the plot.
        columns: Columns in all; the envelope should have `plot_steps(columns)` steps.
        rows: Rows of the plot itself.
        lines: Limits and other levels, drawn where no reading stands.
        marked: Beginning and end of what is underlined with ^ [s].
        unit: Unit of what runs from left to right.
    """
    low = min([shape.low, *(line.level for line in lines)])
    high = max([shape.high, *(line.level for line in lines)])
    span = high - low or abs(high) or 1.0
    low, high = low - 0.04 * span, high + 0.04 * span

    def row_of(level: float) -> int:
        return min(rows - 1, max(0, int((high - level) / (high - low) * rows)))

    steps = len(shape.lows)
    canvas = [[" "] * steps for _ in range(rows)]
    for line in lines:
        row = canvas[row_of(line.level)]
        row[:] = [line.mark] * steps
        word = f" {line.word} "[:steps]
        row[steps - len(word) :] = list(word)
    for column, (bottom, top) in enumerate(zip(shape.lows, shape.highs, strict=True)):
        if bottom is None or top is None:
            continue
        first, last = row_of(top), row_of(bottom)
        for row_number in range(first, last + 1):
            canvas[row_number][column] = "|" if last > first else "o"
    named = {number: (high - (number + 0.5) / rows * (high - low), " ") for number in (0, rows // 2, rows - 1)}
    named |= {row_of(line.level): (line.level, line.mark) for line in lines}
    drawn = []
    for number, row in enumerate(canvas):
        level, mark = named.get(number, (None, " "))
        label = "" if level is None else f"{level:.4g}"
        drawn.append(f"{label:>{LABEL - 2}}{mark}|{''.join(row)}".rstrip())
    drawn.append(f"{'':>{LABEL - 2}} +{'-' * steps}")
    if marked is not None:
        drawn.append(" " * LABEL + _marks(shape, marked, steps))
    if any(shape.gaps):
        drawn.append(" " * LABEL + "".join("?" if gap else " " for gap in shape.gaps).rstrip())
    left, right = f"{shape.start:.5g} {unit}".rstrip(), f"{shape.end:.5g} {unit}".rstrip()
    drawn.append(" " * LABEL + left + right.rjust(steps - len(left)))
    return drawn


def plot_steps(columns: int) -> int:
    """How many steps of time a plot of so many columns shows."""
    return max(10, columns - LABEL)


def _marks(shape: Envelope, marked: tuple[float, float], steps: int) -> str:
    def place(second: float) -> int:
        share = (second - shape.start) / (shape.end - shape.start)
        return min(steps - 1, max(0, int(share * steps)))

    first, last = place(marked[0]), place(marked[1])
    return " " * first + "^" * (last - first + 1)

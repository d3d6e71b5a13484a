"""How lengths of time and places in a file are said in the notes of a recording."""

from __future__ import annotations

from collections.abc import Iterable

FIRST_NAMED = 5
"""How many lines of one kind of trouble are named; the others are counted."""


def say_seconds(value: float) -> str:
    """A length of time as people say it, to four digits."""
    if value != 0 and abs(value) < 1e-3:
        return f"{value * 1e6:.4g} us"
    if abs(value) < 1:
        return f"{value * 1e3:.4g} ms"
    if abs(value) < 600:
        return f"{value:.4g} s"
    return f"{value / 60:.4g} min" if abs(value) < 7200 else f"{value / 3600:.4g} h"


def say_lines(lines: Iterable[int]) -> str:
    """ "line 3", "lines 3, 4", "lines 3, 4, 5, 6, 7, ..."."""
    numbers = [int(line) for line in lines]
    named = ", ".join(map(str, numbers[:FIRST_NAMED])) + (", ..." if len(numbers) > FIRST_NAMED else "")
    return f"line{'' if len(numbers) == 1 else 's'} {named}"


def say_count(number: int, one: str, many: str | None = None) -> str:
    """ "1 sample", "3 samples"."""
    return f"{number} {one}" if number == 1 else f"{number} {many or one + 's'}"

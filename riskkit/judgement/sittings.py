"""Which questions are still open, what two people answered apart from each other, and how far a grid is covered."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from riskkit.judgement.prompts import Cell
from riskkit.model.fields import plain_words
from riskkit.model.prompts import Asked
from riskkit.model.register import Register

A_SITTING = 12
"""Questions a day that people still answer with care. Common practice, no source."""

State = Literal["open", "later", "changed", "answered", "told"]
"""Not asked yet; put off; asked, but of something that is not so any more; answered; said by a hazard already."""


@dataclass(frozen=True, slots=True)
class Standing:
    """A cell and how it stands: the answer that counts is the newest one, of one role where a role is named."""

    cell: Cell
    state: State
    answer: Asked | None = None


def standings(cells: Sequence[Cell], register: Register, by: str | None = None) -> tuple[Standing, ...]:
    """How each cell stands, in their order.

    Args:
        cells: All cells.
        register: Its answers count.
        by: Where given, only the answers of this role count, and what hazards say does not: for two people who
            answer the same cells apart from each other.
    """
    newest: dict[tuple[str, str, str], Asked] = {}
    for answer in sorted(register.of(Asked), key=lambda each: each.on):
        if by is None or (answer.by is not None and plain_words(answer.by) == plain_words(by)):
            newest[(answer.grid, answer.about or "", answer.way)] = answer
    return tuple(_standing(cell, newest.get(cell.name), heeds_hazards=by is None) for cell in cells)


def _standing(cell: Cell, answer: Asked | None, *, heeds_hazards: bool) -> Standing:
    if answer is not None and answer.answer != "later":
        changed = answer.remembers is not None and answer.remembers.casefold() != cell.remembers
        return Standing(cell, "changed" if changed else "answered", answer)
    if heeds_hazards and cell.told_by:
        return Standing(cell, "told", answer)
    return Standing(cell, "open" if answer is None else "later", answer)


def still_to_ask(found: Sequence[Standing]) -> tuple[Standing, ...]:
    """What is asked next, the most dangerous first; what was put off comes after everything else."""
    waiting = [each for each in found if each.state in ("open", "changed")]
    return (*waiting, *(each for each in found if each.state == "later"))


@dataclass(frozen=True, slots=True)
class Coverage:
    """How many cells of a grid, or of one thing, have an answer that counts or a hazard that says it."""

    name: str
    answered: int
    told: int
    later: int
    cells: int


def coverage(found: Sequence[Standing]) -> tuple[Coverage, ...]:
    """Counts per grid in the order in which the grids come, and never a percentage."""
    grids = dict.fromkeys(each.cell.grid for each in found)
    return tuple(_counted(grid, [each for each in found if each.cell.grid == grid]) for grid in sorted(grids))


def _counted(name: str, found: Sequence[Standing]) -> Coverage:
    states = [each.state for each in found]
    return Coverage(name, states.count("answered"), states.count("told"), states.count("later"), len(found))


# -- two people who answered apart ------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Pair:
    """The cells that two roles both answered with yes or no.

    Attributes:
        roles: The two.
        both: Cell -> the answers of the first and of the second.
        table: Counts [[yes yes, yes no], [no yes, no no]], the first role in rows.
    """

    roles: tuple[str, str]
    both: Mapping[Cell, tuple[Asked, Asked]]
    table: tuple[tuple[int, int], tuple[int, int]]

    @property
    def apart(self) -> Iterator[tuple[Cell, Asked, Asked]]:
        """Cells on which they differ, the most dangerous first."""
        return ((cell, one, other) for cell, (one, other) in self.both.items() if one.answer != other.answer)


def pair(cells: Sequence[Cell], register: Register, first: str, second: str) -> Pair:
    """What two roles answered to the same cells; what one of them put off or was not asked is left out."""
    both: dict[Cell, tuple[Asked, Asked]] = {}
    for one, other in zip(standings(cells, register, first), standings(cells, register, second), strict=True):
        if one.answer is not None and other.answer is not None and "later" not in (one.state, other.state):
            both[one.cell] = (one.answer, other.answer)
    counts = [(one.answer, other.answer) for one, other in both.values()]
    table = tuple(tuple(counts.count((row, column)) for column in ("yes", "no")) for row in ("yes", "no"))
    return Pair((first, second), both, ((table[0][0], table[0][1]), (table[1][0], table[1][1])))

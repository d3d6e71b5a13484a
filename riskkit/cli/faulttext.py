"""A fault tree in the terminal: the tree in ASCII lines, what weighs most, and the first cut sets; no colour needed."""

from __future__ import annotations

import textwrap
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass

from riskkit.cli.output import wrapped
from riskkit.faults.gatevalues import numbers_beside
from riskkit.faults.saying import say_probability, say_product, say_share, say_whole, say_worth
from riskkit.faults.sharing import by_weight, gate_words, settled
from riskkit.faults.trees import Analysis, Tree

STEP = 3
"""Columns that one level is indented by."""

LEAST_ROOM = 30
"""Columns that a title and its number keep at least; what lies deeper continues at the left edge."""

ROWS = 12
UNBROKEN = "\N{NO-BREAK SPACE}"
"""Keeps "all of" on one line while lines are broken; printed as a plain blank."""


def tree_lines(
    tree: Tree, analysis: Analysis, titles: Mapping[str, str], columns: int = 60, *, unknown: Collection[str] = ()
) -> list[str]:
    """The tree, one line for each place: title, gate word, and the probability at the right edge.

    A shared gate is developed at its first place, a shared event has its number there; later places say
    "(see above)". Levels that would run out of the page continue below as a tree of their own, "(see [1] below)".
    A gate whose probability would take long to work out alone has none; the top has limits where no exact value stands.
    Events in `unknown` have no probability (the tree holds some stand-in), nor has any gate above them.
    """
    return _Writer(tree, analysis, titles, columns, unknown).lines()


@dataclass(frozen=True, slots=True)
class _Stop:
    """A place that is still to be written: its name, the lines at its left, and those of what hangs below it."""

    name: str
    first: str
    later: str


class _Writer:
    def __init__(
        self, tree: Tree, analysis: Analysis, titles: Mapping[str, str], columns: int, unknown: Collection[str]
    ) -> None:
        self.tree, self.titles, self.columns = tree, titles, columns
        self.numbers = numbers_beside(tree, analysis, unknown)
        self.deepest = max(1, (columns - LEAST_ROOM) // STEP) * STEP
        self.met: set[str] = set()
        self.below: list[str] = []

    def lines(self) -> list[str]:
        written = list(self._tree(_Stop(self.tree.top, "", "")))
        for number, name in enumerate(self.below, start=1):  # grows while it is read
            mark = f"[{number}] "
            written += ["", *self._tree(_Stop(name, mark, " " * len(mark)))]
        return written

    def _tree(self, root: _Stop) -> Iterator[str]:
        waiting = [root]
        while waiting:
            stop = waiting.pop()
            gate = self.tree.gates.get(stop.name)
            if stop.name in self.met:
                yield from self._line(stop, " (see above)")
                continue
            if gate is None:
                self.met.add(stop.name)
                house = {1: " (taken as certain)", 0: " (taken as impossible)"}
                word = house[int(self.tree.probabilities[stop.name])] if settled(self.tree, stop.name) else ""
                yield from self._line(stop, word, self.numbers[stop.name])
                continue
            if len(stop.later) > self.deepest:
                if stop.name not in self.below:
                    self.below.append(stop.name)
                yield from self._line(stop, f" (see [{self.below.index(stop.name) + 1}] below)")
                continue
            self.met.add(stop.name)
            yield from self._line(
                stop, f": {gate_words(gate).replace(' ', UNBROKEN)}", self.numbers.get(stop.name, ""), opens=True
            )
            last = len(gate.inputs) - 1
            for place, name in reversed(list(enumerate(gate.inputs))):
                left = stop.later
                waiting.append(
                    _Stop(name, f"{left}`- ", f"{left}   ")
                    if place == last
                    else _Stop(name, f"{left}|- ", f"{left}|  ")
                )

    def _line(self, stop: _Stop, behind: str, number: str = "", *, opens: bool = False) -> Iterator[str]:
        """Title and words at the left, in as many lines as they need; the number at the end of the first one."""
        whole = f"{self.titles.get(stop.name, stop.name)}{behind}"
        room = self.columns - (len(number) + 2 if number else 0)
        left = stop.later + ("|  " if opens else "")
        words = textwrap.wrap(whole, room, initial_indent=stop.first, subsequent_indent=left)
        start, *others = (line.replace(UNBROKEN, " ") for line in words)
        yield f"{start}{number:>{self.columns - len(start)}}" if number else start
        yield from others


def importance_lines(analysis: Analysis, titles: Mapping[str, str], columns: int = 60, rows: int = ROWS) -> list[str]:
    """A table of the weightiest events, and what its columns mean; empty where importance was not worked out."""
    ordered = by_weight(analysis)
    if not ordered:
        return []
    table = [("P", "share", "if certain", "if gone", "event")]
    for name in ordered[:rows]:
        weight = analysis.importance[name]
        table.append(
            (
                say_probability(analysis.tree.probabilities[name]),
                say_probability(weight.fussell_vesely),
                say_worth(weight.achievement_worth),
                say_worth(weight.reduction_worth),
                titles.get(name, name),
            )
        )
    lines = _numbers_first(table, columns)
    if len(ordered) > rows:
        lines += wrapped(f"and {say_whole(len(ordered) - rows)} more events", columns, "  ")
    return lines + wrapped(
        "share: part of the probability in which the event is at work (Fussell-Vesely). if certain: times as probable "
        "if the event were certain (achievement worth). if gone: times less probable without it (reduction worth).",
        columns,
        "  ",
    )


def cut_set_lines(analysis: Analysis, titles: Mapping[str, str], columns: int = 60, rows: int = ROWS) -> list[str]:
    """A table of the first minimal cut sets, most probable first, and how many there are; empty where none is listed."""
    cuts, total = analysis.cut_sets, analysis.rare_event
    if not cuts:
        return []
    table: list[tuple[str, ...]] = [("P", "of sum", "cut set") if total else ("P", "cut set")]
    for cut in cuts[:rows]:
        share = (say_share(cut.probability / total).replace("more than ", ">"),) if total else ()
        events = " + ".join(titles.get(event, event) for event in cut.events)
        chance = say_product(cut.probability, (analysis.tree.probabilities[event] for event in cut.events))
        table.append((chance, *share, events or "(nothing has to fail)"))
    shown = min(rows, len(cuts))
    first = "The most probable" if shown == 1 else f"The {shown} most probable"
    if analysis.cut_set_count is None:
        closing = f"{first} of the minimal cut sets found; they were not counted."
    elif shown < analysis.cut_set_count:
        closing = f"{first} of {say_whole(analysis.cut_set_count)} minimal cut sets."
    else:
        closing = "These are all minimal cut sets."
    return _numbers_first(table, columns) + wrapped(closing, columns, "  ")


def _numbers_first(rows: Sequence[tuple[str, ...]], columns: int) -> list[str]:
    """Columns of numbers, to the right; the words of the last column break within what is left of the page."""
    widths = [max(len(row[place]) for row in rows) for place in range(len(rows[0]) - 1)]
    lines = []
    for row in rows:
        start = "  " + "".join(f"{cell:>{width}}  " for cell, width in zip(row[:-1], widths, strict=True))
        first, *others = textwrap.wrap(row[-1], max(columns - len(start), 12)) or [""]
        lines.append((start + first).rstrip())
        lines += [" " * len(start) + other for other in others]
    return lines

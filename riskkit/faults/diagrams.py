"""Decision diagrams of coherent functions, as arrays; built under a budget of nodes and time.

Source of the method: Bryant, Graph-based algorithms for Boolean function manipulation, IEEE Transactions on Computers 35
(1986), from memory. Why an engine of our own: docs/decisions/0011-own-diagrams.md.
"""

from __future__ import annotations

import gc
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from time import perf_counter
from typing import NamedTuple

from riskkit.faults.modules import Block
from riskkit.faults.ordering import orders_of

SHIFT = 30
"""Two node numbers make one dictionary key; a diagram of 2^30 nodes does not fit any memory."""


class TooLarge(Exception):
    """The budget of nodes or time is used up; the next method takes over."""


class Diagram(NamedTuple):
    """Nodes 0 (false) and 1 (true), then inner nodes, children before parents.

    Attributes:
        order: Level -> input of the block.
        level: Level of each node; of the two ends the number of levels.
        low: Node where the input does not come about.
        high: Node where it does.
        root: The function.
    """

    order: list[int]
    level: list[int]
    low: list[int]
    high: list[int]
    root: int


@contextmanager
def deep(levels: int) -> Iterator[None]:
    """Room for recursion over so many levels, and no garbage collection: diagrams have no cycles to be found."""
    limit, collecting = sys.getrecursionlimit(), gc.isenabled()
    sys.setrecursionlimit(max(limit, 3 * levels + 2000))
    gc.disable()
    try:
        yield
    finally:
        sys.setrecursionlimit(limit)
        if collecting:
            gc.enable()


def diagram_of(block: Block, most: int, until: float) -> Diagram:
    """The smaller of the diagrams in the orders worth trying.

    Args:
        block: An independent part.
        most: Most nodes, those no longer needed counted too.
        until: When to give up, as `time.perf_counter` counts.

    Raises:
        TooLarge: when no order fits.
    """
    if block.is_one_gate:
        return _of_one_gate(block.gates[0][0], len(block.inputs), most)
    orders = orders_of(block)
    allowed = 4000
    with deep(len(block.inputs)):
        while True:
            for order in orders:
                try:
                    made, best = _build(block, order, min(allowed, most), until)
                except TooLarge:
                    continue
                for other in orders:
                    if other is not order:
                        try:
                            _, second = _build(block, other, made, until)
                        except TooLarge:
                            continue
                        best = min(best, second, key=lambda one: len(one.level))
                return best
            if allowed >= most or perf_counter() > until:
                raise TooLarge
            allowed *= 8


def _of_one_gate(least: int, count: int, most: int) -> Diagram:
    """At least so many of distinct inputs, written down directly: a grid of (inputs left, still needed)."""
    if least * (count - least + 1) > most:
        raise TooLarge
    level, low, high = [count, count], [0, 1], [0, 1]
    row = [1] + [0] * least  # by number still needed, after the last input
    for place in range(count - 1, -1, -1):
        for needed in range(min(least, count - place), max(0, least - place - 1), -1):
            if row[needed] == row[needed - 1]:
                continue
            level.append(place)
            low.append(row[needed])
            high.append(row[needed - 1])
            row[needed] = len(level) - 1
    return compact(list(range(count)), level, low, high, row[least])


def _build(block: Block, order: list[int], most: int, until: float) -> tuple[int, Diagram]:
    """Number of nodes made on the way, and the diagram in this order."""
    count = len(block.inputs)
    level, low, high = [count, count], [0, 1], [0, 1]
    tables: list[dict[int, int]] = [{} for _ in range(count)]
    ands: dict[int, int] = {}
    ors: dict[int, int] = {}
    limit = most + 2
    steps = 4 * most + 1000

    def make(at: int, below: int, above: int) -> int:
        key = below << SHIFT | above
        table = tables[at]
        node = table.get(key)
        if node is None:
            node = len(level)
            if node >= limit or (not node & 1023 and perf_counter() > until):
                raise TooLarge
            table[key] = node
            level.append(at)
            low.append(below)
            high.append(above)
        elif len(ands) + len(ors) > steps:  # many steps and no new node
            raise TooLarge
        return node

    def both(f: int, g: int) -> int:
        if f > g:
            f, g = g, f
        if f <= 1:
            return g if f else 0
        if f == g:
            return f
        key = f << SHIFT | g
        found = ands.get(key)
        if found is not None:
            return found
        at, other = level[f], level[g]
        if at == other:
            below = both(low[f], low[g])
            above = both(high[f], high[g])
        elif at < other:
            below = both(low[f], g)
            above = both(high[f], g)
        else:
            at = other
            below = both(f, low[g])
            above = both(f, high[g])
        ands[key] = node = below if below == above else make(at, below, above)
        return node

    def either(f: int, g: int) -> int:
        if f > g:
            f, g = g, f
        if f <= 1:
            return 1 if f else g
        if f == g:
            return f
        key = f << SHIFT | g
        found = ors.get(key)
        if found is not None:
            return found
        at, other = level[f], level[g]
        if at == other:
            below = either(low[f], low[g])
            above = either(high[f], high[g])
        elif at < other:
            below = either(low[f], g)
            above = either(high[f], g)
        else:
            at = other
            below = either(f, low[g])
            above = either(f, high[g])
        ors[key] = node = below if below == above else make(at, below, above)
        return node

    def vote(least: int, functions: Sequence[int]) -> int:
        """From the last input up, as one row of "so many still needed" after the other."""
        row = [1] + [0] * least
        for place in range(len(functions) - 1, -1, -1):
            for needed in range(min(least, len(functions) - place), max(0, least - place - 1), -1):
                row[needed] = either(both(functions[place], row[needed - 1]), row[needed])
        return row[least]

    nodes = [0] * count
    for place, one in enumerate(order):
        nodes[one] = make(place, 0, 1)
    for least, children in block.gates:
        functions = sorted((nodes[one] for one in children), key=level.__getitem__, reverse=True)
        if least in (1, len(functions)):
            join = either if least == 1 else both
            node = functions[0]
            for one in functions[1:]:
                node = join(one, node)
        else:
            node = vote(least, functions[::-1])
        nodes.append(node)
        if len(ands) + len(ors) > steps or perf_counter() > until:
            raise TooLarge
    return len(level), compact(order, level, low, high, nodes[-1])


def compact(order: list[int], level: list[int], low: list[int], high: list[int], root: int) -> Diagram:
    """Only the nodes that lead from the root, still children first."""
    needed = bytearray(len(level))
    needed[root] = 1
    for node in range(root, 1, -1):
        if needed[node]:
            needed[low[node]] = 1
            needed[high[node]] = 1
    number = [0, 1] + [0] * (len(level) - 2)
    levels, lows, highs = level[:2], low[:2], high[:2]
    for node in range(2, root + 1):
        if needed[node]:
            number[node] = len(levels)
            levels.append(level[node])
            lows.append(number[low[node]])
            highs.append(number[high[node]])
    return Diagram(order, levels, lows, highs, number[root])


def values_of(diagram: Diagram, probabilities: Sequence[float]) -> list[float]:
    """Probability of every node; all terms are positive, so that nothing cancels.

    Args:
        diagram: A diagram.
        probabilities: By input of its block.
    """
    chance = [probabilities[one] for one in diagram.order]
    value = [0.0, 1.0]
    level, low, high = diagram.level, diagram.low, diagram.high
    add = value.append
    rest = [1.0 - one for one in chance]
    for node in range(2, len(level)):
        at = level[node]
        add(rest[at] * value[low[node]] + chance[at] * value[high[node]])
    return value

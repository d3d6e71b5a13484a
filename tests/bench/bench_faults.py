"""Fault trees against two diagram libraries, and large ones within their budget: ratios and limits in one process."""

from __future__ import annotations

import gc
import resource
import statistics
import sys
from collections.abc import Callable
from time import perf_counter
from typing import Any

from dd import autoref
from grown_trees import grown, in_library, left_most
from oxidd.bdd import BDDManager

from riskkit.faults import Tree, analyse
from riskkit.faults.circuits import circuit_of
from riskkit.faults.diagrams import diagram_of
from riskkit.faults.importance import probability_and_weights
from riskkit.faults.modules import blocks_of

ROUNDS = 5
SEEDS = range(4)


def ours(tree: Tree) -> float:
    """From the tree to P(top) and all Birnbaum."""
    circuit = circuit_of(tree)
    blocks = blocks_of(circuit)
    diagrams = [diagram_of(block, 400_000, perf_counter() + 60) for block in blocks]
    return probability_and_weights(blocks, diagrams, [tree.probabilities[name] for name in circuit.names])[0]


def by_oxidd(tree: Tree, capacity: int = 1 << 19) -> float:
    """The same: built by the library in left-most order, its nodes read once, then the same two passes in Python.

    The library sets its table aside beforehand; a small one that suffices is the fair one.
    """
    order = left_most(tree)
    manager = BDDManager(capacity, capacity // 4, 1)
    variables = dict(zip(order, map(manager.var, manager.add_vars(len(order))), strict=True))
    top = in_library(tree, variables, manager.false(), manager.true())
    number: dict[Any, int] = {manager.false(): 0, manager.true(): 1}
    level, low, high = [0, 0], [0, 1], [0, 1]
    sys.setrecursionlimit(20_000)

    def read(node: Any) -> int:
        known = number.get(node)
        if known is None:
            above, below = node.cofactors()
            first, second = read(below), read(above)
            known = number[node] = len(level)
            level.append(node.node_level())
            low.append(first)
            high.append(second)
        return known

    root = read(top)
    chance = [tree.probabilities[name] for name in order]
    value = [0.0, 1.0]
    for node in range(2, len(level)):
        at = chance[level[node]]
        value.append((1 - at) * value[low[node]] + at * value[high[node]])
    come_by, birnbaum = [0.0] * len(level), [0.0] * len(order)
    come_by[root] = 1.0
    for node in range(root, 1, -1):
        mass, at = come_by[node], level[node]
        birnbaum[at] += mass * (value[high[node]] - value[low[node]])
        come_by[low[node]] += mass * (1 - chance[at])
        come_by[high[node]] += mass * chance[at]
    return value[root]


def enough_for(tree: Tree) -> int:
    """The smallest capacity, doubling, in which the library builds the tree."""
    capacity = 1 << 15
    while True:
        try:
            by_oxidd(tree, capacity)
            return capacity
        except MemoryError:
            capacity *= 2


def by_autoref(tree: Tree) -> None:
    """Building alone."""
    manager = autoref.BDD()
    manager.configure(reordering=False)
    order = left_most(tree)
    manager.declare(*order)
    in_library(tree, {name: manager.var(name) for name in order}, manager.false, manager.true)


def seconds(work: Callable[[Tree], object], tree: Tree, rounds: int = ROUNDS) -> float:
    """Median wall seconds; garbage collected before, not during."""
    found = []
    for _ in range(rounds):
        gc.collect()
        start = perf_counter()
        work(tree)
        found.append(perf_counter() - start)
    return statistics.median(found)


def main() -> None:
    print("1,000 events: build + P + all Birnbaum")
    for share in (0.03, 0.1):
        for seed in SEEDS:
            tree = grown(1000, seed, share)
            room = enough_for(tree)
            assert abs(ours(tree) / by_oxidd(tree, room) - 1) < 1e-10
            mine = seconds(ours, tree)
            library, building = (
                seconds(lambda one, room=room: by_oxidd(one, room), tree),
                seconds(by_autoref, tree, rounds=1),
            )
            what = f"{share:.0%} shared, seed {seed}: {mine * 1000:.0f} ms"
            print(f"  {what:32} / oxidd = {mine / library:5.2f} (budget 2.5)   / dd.autoref's building = "
                  f"{mine / building:5.2f} (budget 0.4)")  # fmt: skip
    print("3,000 events: the whole analysis, with cut sets")
    for share in (0.03, 0.1):
        for seed in SEEDS:
            tree = grown(3000, seed, share)
            start = perf_counter()
            answer = analyse(tree)
            took = perf_counter() - start
            count = "not counted" if answer.cut_set_count is None else f"{float(answer.cut_set_count):.1e} cut sets"
            print(f"  {share:.0%} shared, seed {seed}: {took:5.1f} s of 20, "
                  f"P {answer.bounds[0]:.6g} to {answer.bounds[1]:.6g}, {count}")  # fmt: skip
            assert answer.exact is not None or share > 0.03
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024**2
    print(f"  largest memory of this process: {peak:.2f} GB (budget 2)")


if __name__ == "__main__":
    main()

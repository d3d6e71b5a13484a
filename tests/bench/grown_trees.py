"""Random coherent fault trees as real ones grow: mostly independent parts, with a few events shared between them."""

from __future__ import annotations

import random

from riskkit.faults import Gate, Tree


def grown(events: int, seed: int, share: float) -> Tree:
    """A tree over so many events; the same arguments always give the same tree.

    Neighbours are joined two to five at a time until one is left; `share` of the gates also take an event that stands
    elsewhere: mostly a near one, often one of a few common supplies, now and then any. Difficulty grows steeply with it.
    """
    dice = random.Random(f"{events} {seed} {share}")
    chances = {f"e{place}": 10 ** dice.uniform(-4, -1.5) for place in range(events)}
    names = list(chances)
    supplies = dice.sample(names, max(2, events // 100))
    pool = [(name, place) for place, name in enumerate(names)]
    gates: dict[str, Gate] = {}
    while len(pool) > 1:
        kind = dice.choices(("all", "at least", "any"), (30, 10, 60))[0]
        wanted = min(len(pool), dice.choice({"all": (2, 2, 3), "at least": (3, 3, 4, 5), "any": (2, 3, 4, 5)}[kind]))
        start = dice.randrange(len(pool) - wanted + 1)
        taken, near = [name for name, _ in pool[start : start + wanted]], pool[start][1]
        if dice.random() < share:
            which = dice.random()
            close = names[min(events - 1, max(0, near + dice.randint(-15, 15)))]
            taken.append(close if which < 0.6 else dice.choice(supplies) if which < 0.92 else dice.choice(names))
        inputs = tuple(dict.fromkeys(taken))
        if kind == "at least" and len(inputs) < 3:
            kind = "any"
        least = dice.randint(2, len(inputs) - 1) if kind == "at least" else 0
        name = f"g{len(gates)}"
        gates[name] = Gate(kind, inputs, least)  # type: ignore[arg-type]
        pool[start : start + wanted] = [(name, near)]
    return Tree(pool[0][0], gates, chances)


def left_most(tree: Tree) -> list[str]:
    """Events as a depth-first walk meets them: the order that diagrams of libraries are built in."""
    seen: dict[str, None] = {}
    order, stack = [], [tree.top]
    while stack:
        name = stack.pop()
        if name not in seen:
            seen[name] = None
            if name in tree.gates:
                stack += reversed(tree.gates[name].inputs)
            else:
                order.append(name)
    return order


def children_first(tree: Tree) -> list[str]:
    """Gates, each after those below it."""
    done: dict[str, None] = {}
    stack = [(tree.top, False)]
    while stack:
        name, entered = stack.pop()
        if name in tree.gates and name not in done:
            if entered:
                done[name] = None
            else:
                stack.append((name, True))
                stack += [(one, False) for one in reversed(tree.gates[name].inputs)]
    return list(done)


def in_library(tree, variables, false, true):  # type: ignore[no-untyped-def] # diagrams of any library with & and |
    """The top event as a diagram of a library, from its variables by name and its two ends."""
    nodes = dict(variables)
    for name in children_first(tree):
        gate = tree.gates[name]
        parts = [nodes[one] for one in gate.inputs]
        needed = {"any": 1, "all": len(parts)}.get(gate.kind, gate.least)
        row = [true] + [false] * needed
        for part in reversed(parts):
            for still in range(needed, 0, -1):
                row[still] = (part & row[still - 1]) | row[still]
        nodes[name] = row[needed]
    return nodes[tree.top]

"""A tree in numbers: events and gates as integers, every gate as "at least k of these", simplified without loss."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import NamedTuple

from riskkit.faults.trees import Tree

Vote = tuple[int, tuple[int, ...]]
"""At least k of these nodes: 1 is OR, all of them is AND."""


class Circuit(NamedTuple):
    """Nodes 0 to len(names) - 1 are basic events, gate i is node len(names) + i; children stand before parents.

    Attributes:
        names: Names of the events that lead to the top event.
        gates: Gates, children first; the last is the top event.
        root: Node of the top event.
    """

    names: tuple[str, ...]
    gates: tuple[Vote, ...]
    root: int


def circuit_of(tree: Tree) -> Circuit:
    """The tree in numbers: as written, except that gates of one input are passed through and repeats dropped."""
    order = _children_first(tree)
    names = tuple(name for name in order if name not in tree.gates)
    number = {name: place for place, name in enumerate(names)}
    gates: list[Vote] = []
    for name in order:
        if name not in tree.gates:
            continue
        gate = tree.gates[name]
        inputs = tuple(dict.fromkeys(number[one] for one in gate.inputs))
        least = {"any": 1, "all": len(inputs)}.get(gate.kind, gate.least)
        if gate.kind == "at least" and len(inputs) < len(gate.inputs):  # two names of one node: count it twice
            inputs = tuple(number[one] for one in gate.inputs)
        if len(inputs) == 1:
            number[name] = inputs[0]
        else:
            gates.append((least, inputs))
            number[name] = len(names) + len(gates) - 1
    return tidy(Circuit(names, tuple(gates), number[tree.top]))


def tidy(circuit: Circuit) -> Circuit:
    """The same function: an OR whose only parent is an OR is merged into it, an AND into an AND."""
    first = len(circuit.names)
    parents = Counter(one for _, inputs in circuit.gates for one in inputs)
    merged: list[Vote] = []
    for least, inputs in circuit.gates:
        kind = _kind(least, inputs)
        flat: list[int] = []
        for one in inputs:
            below = merged[one - first] if one >= first else None
            if below and kind != "vote" and parents[one] == 1 and _kind(*below) == kind:
                flat += below[1]
            else:
                flat.append(one)
        if kind != "vote":
            flat = list(dict.fromkeys(flat))
            least = 1 if kind == "any" else len(flat)
        merged.append((least, tuple(flat)))
    return _renumbered(circuit.names, merged, circuit.root)


def _kind(least: int, inputs: Sequence[int]) -> str:
    if len(set(inputs)) < len(inputs):
        return "vote"
    return "any" if least == 1 else "all" if least == len(inputs) else "vote"


def _renumbered(names: tuple[str, ...], gates: Sequence[Vote], root: int) -> Circuit:
    """Only what leads to the root, children first."""
    first, number = len(names), {place: place for place in range(len(names))}
    kept: list[Vote] = []
    stack = [(root, False)]
    while stack:
        node, entered = stack.pop()
        if node in number:
            continue
        least, inputs = gates[node - first]
        if entered:
            number[node] = first + len(kept)
            kept.append((least, tuple(number[one] for one in inputs)))
        else:
            stack.append((node, True))
            stack += [(one, False) for one in reversed(inputs)]
    return Circuit(names, tuple(kept), number[root])


def _children_first(tree: Tree) -> list[str]:
    order: dict[str, None] = {}
    stack = [(tree.top, False)]
    while stack:
        name, entered = stack.pop()
        if name in order:
            continue
        if entered or name not in tree.gates:
            order[name] = None
        else:
            stack.append((name, True))
            stack += [(one, False) for one in reversed(tree.gates[name].inputs)]
    return list(order)


TRIED_AT_ONCE = 4096
"""Events that are tried at once, one bit each."""


def single_points(circuit: Circuit, probabilities: Sequence[float]) -> list[int] | None:
    """Events that bring the top about alone, beside what is certain (probability 1); None if it is certain already.

    Many events are tried at once: bit i of a node says whether it comes about when event i does, the last bit whether
    it does without any.
    """
    found: list[int] = []
    for start in range(0, len(circuit.names), TRIED_AT_ONCE):
        count = min(TRIED_AT_ONCE, len(circuit.names) - start)
        everything = (1 << count + 1) - 1
        bits = [
            0 if chance == 0 else everything if chance == 1 else 1 << place - start if 0 <= place - start < count else 0
            for place, chance in enumerate(probabilities)
        ]
        for least, inputs in circuit.gates:
            bits.append(at_least(least, [bits[one] for one in inputs], everything))
        top = bits[circuit.root]
        if top >> count & 1:
            return None
        found += [start + place for place in range(count) if top >> place & 1]
    return found


def at_least(least: int, words: Sequence[int], everything: int) -> int:
    """Bits that are set in at least so many of the words."""
    if least in (1, len(words)):
        found = 0 if least == 1 else everything
        for word in words:
            found = found | word if least == 1 else found & word
        return found
    reached = [everything] + [0] * least
    for word in words:
        for so_many in range(least, 0, -1):
            reached[so_many] |= reached[so_many - 1] & word
    return reached[least]

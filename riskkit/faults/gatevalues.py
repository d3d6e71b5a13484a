"""The probability of every gate, for the numbers beside a drawn tree.

Gates whose inputs share nothing multiply out. Where an event reaches a gate by two ways, the cases "it happens" and
"it does not" are worked out one by one; a gate with too many such events is left out rather than approximated.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence

from riskkit.faults.saying import say_limits, say_probability
from riskkit.faults.trees import Analysis, Gate, Tree

NOT_KNOWN = "not known"
"""What stands beside an event without a probability."""

MOST_SPLIT = 10
"""Events that one gate may reach twice; each doubles the cases."""

MOST_STEPS = 200_000
"""Gates times cases that are worked out for one gate."""


def gate_probabilities(tree: Tree) -> Mapping[str, float]:
    """P(gate), exact, by name; a gate is missing where it would take too many cases.

    Args:
        tree: A tree without circles; its events are independent of each other.
    """
    order = _inputs_first(tree)
    split, below = _met_twice(tree, order)
    found: dict[str, float] = {}
    for name in order:
        if not split[name]:
            inputs = tree.gates[name].inputs
            chances = {each: found[each] if each in tree.gates else tree.probabilities[each] for each in inputs}
            found[name] = _of_gate(tree.gates[name], chances)
        elif len(split[name]) <= MOST_SPLIT and len(below[name]) << len(split[name]) <= MOST_STEPS:
            inside = [gate for gate in order if gate in below[name]]
            found[name] = _by_cases(tree, name, inside, sorted(split[name]))
    return found


def numbers_beside(tree: Tree, analysis: Analysis, unknown: Collection[str] = ()) -> Mapping[str, str]:
    """What stands beside each gate and event of a drawn tree, in words; gates without a number are missing.

    Args:
        tree: The tree.
        analysis: What was worked out for it: the top carries its value, or its limits where no exact value stands.
        unknown: Events whose probability is not known, for which the tree holds a stand-in; no gate above them has a
            number.
    """
    chances = {**gate_probabilities(tree), **tree.probabilities}
    words = {name: say_probability(value) for name, value in chances.items()}
    if tree.top in tree.gates:
        exact = analysis.exact
        words[tree.top] = say_limits(analysis.bounds) if exact is None else say_probability(exact)
    open_ends = set(unknown)
    for name in _inputs_first(tree) if unknown else ():
        if not open_ends.isdisjoint(tree.gates[name].inputs):
            open_ends.add(name)
            words.pop(name, None)
    return words | dict.fromkeys(unknown, NOT_KNOWN)


def _inputs_first(tree: Tree) -> list[str]:
    """Gates below the top, each after all gates that it stands on."""
    done: dict[str, None] = {}
    waiting: list[tuple[str, Iterator[str]]] = []
    if tree.top in tree.gates:
        waiting.append((tree.top, iter(tree.gates[tree.top].inputs)))
    while waiting:
        name, inputs = waiting[-1]
        following = next((each for each in inputs if each in tree.gates and each not in done), None)
        if following is None:
            done[name] = None
            waiting.pop()
        else:
            waiting.append((following, iter(tree.gates[following].inputs)))
    return list(done)


def _met_twice(tree: Tree, order: Sequence[str]) -> tuple[dict[str, set[str]], dict[str, set[str]]]:
    """For each gate the events that it reaches by two ways or more, and the gates at or below it."""
    events: dict[str, set[str]] = {}
    twice: dict[str, set[str]] = {}
    below: dict[str, set[str]] = {}
    for name in order:
        seen: set[str] = set()
        again: set[str] = set()
        gates = {name}
        for each in tree.gates[name].inputs:
            mine = events[each] if each in tree.gates else {each}
            again |= (seen & mine) | twice.get(each, set())
            seen |= mine
            gates |= below.get(each, set())
        settled = {event for event in again if tree.probabilities[event] in (0, 1)}
        events[name], twice[name], below[name] = seen, again - settled, gates
    return twice, below


def _by_cases(tree: Tree, name: str, inside: Sequence[str], split: Sequence[str]) -> float:
    """The probability of a gate, summed over all cases of the events that it reaches twice."""
    parts = []
    for case in range(1 << len(split)):
        chances = dict(tree.probabilities)
        weight = 1.0
        for place, event in enumerate(split):
            happens = case >> place & 1
            weight *= chances[event] if happens else 1 - chances[event]
            chances[event] = float(happens)
        for gate in inside:
            chances[gate] = _of_gate(tree.gates[gate], chances)
        parts.append(weight * chances[name])
    return math.fsum(parts)


def _of_gate(gate: Gate, chances: Mapping[str, float]) -> float:
    """A gate over independent inputs."""
    values = [chances[each] for each in gate.inputs]
    if gate.kind == "all":
        return math.prod(values)
    if gate.kind == "any":
        return -math.expm1(math.fsum(math.log1p(-value) for value in values)) if max(values) < 1 else 1.0
    least = gate.least
    counts = [1.0] + [0.0] * least  # counts[k]: probability that exactly k have happened; the last one: k or more
    for value in values:
        for number in range(least, 0, -1):
            stays = counts[number] if number == least else counts[number] * (1 - value)
            counts[number] = stays + counts[number - 1] * value
        counts[0] *= 1 - value
    return counts[least]

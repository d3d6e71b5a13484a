"""Where things stand in a fault tree: at how many places, which of them are settled, and which weigh most."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

from riskkit.faults.trees import Analysis, Gate, Tree


def reached(tree: Tree) -> tuple[str, ...]:
    """Gates and events below the top, each once, as they are met from top to bottom and first input to last."""
    met: dict[str, None] = {}
    waiting = [tree.top]
    while waiting:
        name = waiting.pop()
        if name not in met:
            met[name] = None
            waiting.extend(reversed(tree.gates[name].inputs if name in tree.gates else ()))
    return tuple(met)


def places(tree: Tree) -> Mapping[str, int]:
    """At how many places each gate and event stands as an input; what stands at two or more is shared."""
    return Counter(each for name in reached(tree) if name in tree.gates for each in tree.gates[name].inputs)


def settled(tree: Tree, name: str) -> bool:
    """Whether this is a house event: taken as certain (1) or as impossible (0)."""
    return name in tree.probabilities and tree.probabilities[name] in (0, 1)


def gate_words(gate: Gate) -> str:
    """ "all of", "any of", "2 of 3"."""
    return f"{gate.least} of {len(gate.inputs)}" if gate.kind == "at least" else f"{gate.kind} of"


def by_weight(analysis: Analysis) -> tuple[str, ...]:
    """Events with an importance, the weightiest first: by Fussell-Vesely, then achievement worth, then name.

    House events are left out: they are settled, so that nothing about them can get better or worse.
    """
    weights = analysis.importance

    def lightness(name: str) -> tuple[float, float, str]:
        # rounded, so that the last digits of equal shares do not decide
        return -round(weights[name].fussell_vesely, 12), -weights[name].achievement_worth, name

    return tuple(sorted((name for name in weights if not settled(analysis.tree, name)), key=lightness))

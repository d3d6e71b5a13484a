"""Exact probability of the top event and what every basic event weighs, by one pass up and one pass down.

Birnbaum is P(top | event) - P(top | no event). Fussell-Vesely is the exact form of Vesely and others, NUREG/CR-3385
(1983), from memory: the share of P(top) that goes when the event cannot happen, (P(top) - P(top | no event)) / P(top).
For a coherent tree it equals criticality, birnbaum x P(event) / P(top), and is computed so, since nothing cancels there.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf
from typing import NamedTuple

from riskkit.faults.diagrams import Diagram, values_of
from riskkit.faults.modules import Block
from riskkit.faults.trees import Importance

CANCELLED = 1e-3
"""Share of P(top) below which what is left without an event has lost digits, and is worked out anew."""

MOST_SECOND_LOOKS = 20_000_000
"""Nodes that may be gone through for that in one part."""


class Weights(NamedTuple):
    """Of one function and one input: P(function) with the input, without it, and the difference."""

    with_it: float
    without: float
    birnbaum: float


def top_probability(blocks: Sequence[Block], diagrams: Sequence[Diagram], events: Sequence[float]) -> float:
    """P(top) from the probabilities of the events, part by part."""
    whole = dict(enumerate(events))
    for block, diagram in zip(blocks, diagrams, strict=True):
        whole[block.output] = values_of(diagram, [whole[node] for node in block.inputs])[diagram.root]
    return whole[blocks[-1].output]


def probability_and_weights(
    blocks: Sequence[Block], diagrams: Sequence[Diagram], events: Sequence[float]
) -> tuple[float, list[Weights]]:
    """P(top), and for every event P(top | event), P(top | no event) and their difference."""
    whole = dict(enumerate(events))
    local: list[list[Weights]] = []
    for block, diagram in zip(blocks, diagrams, strict=True):
        chances = [whole[node] for node in block.inputs]
        values = values_of(diagram, chances)
        local.append(_weights(diagram, chances, values))
        whole[block.output] = min(1.0, values[diagram.root])
    top = blocks[-1].output
    outer: dict[int, Weights] = {top: Weights(1.0, 0.0, 1.0)}
    for block, weights in zip(reversed(blocks), reversed(local), strict=True):
        above = outer[block.output]
        for node, (with_it, without, birnbaum) in zip(block.inputs, weights, strict=True):
            outer[node] = Weights(
                above.with_it if with_it == 1 else with_it * above.with_it + (1 - with_it) * above.without,
                above.without if without == 0 else without * above.with_it + (1 - without) * above.without,
                above.birnbaum * birnbaum,
            )
    return whole[top], [outer[place] for place in range(len(events))]


def _weights(diagram: Diagram, chances: Sequence[float], values: Sequence[float]) -> list[Weights]:
    """By input: one pass from the root down, carrying the probability of coming by."""
    order, level, low, high = diagram.order, diagram.level, diagram.low, diagram.high
    chance = [chances[one] for one in order]
    rest = [1.0 - one for one in chance]
    come_by = [0.0] * len(level)
    come_by[diagram.root] = 1.0
    birnbaum = [0.0] * len(order)
    for node in range(diagram.root, 1, -1):
        mass = come_by[node]
        if mass:
            at, below, above = level[node], low[node], high[node]
            birnbaum[at] += mass * (values[above] - values[below])
            come_by[below] += mass * rest[at]
            come_by[above] += mass * chance[at]
    total = values[diagram.root]
    needed, enough = _certainties(diagram, chance)
    looks = MOST_SECOND_LOOKS // len(level)
    weights: list[Weights] = [Weights(total, total, 0.0)] * len(order)
    for at, one in enumerate(order):
        steep = max(0.0, birnbaum[at])
        with_it = 1.0 if enough[at] else min(1.0, total + rest[at] * steep)
        without = 0.0 if needed[at] else max(0.0, total - chance[at] * steep)
        if not needed[at] and without < CANCELLED * total and looks > 0:
            looks -= 1
            without = values_of(diagram, [0.0 if place == one else p for place, p in enumerate(chances)])[diagram.root]
        weights[one] = Weights(with_it, without, with_it - without if enough[at] or needed[at] else steep)
    return weights


def _certainties(diagram: Diagram, chance: Sequence[float]) -> tuple[list[bool], list[bool]]:
    """By level: whether nothing happens without the input, and whether it alone is enough.

    Found on the two outermost paths, where everything possible happens and where nothing but the certain does; so that
    what is exactly 0 or 1 does not come out as a rounding error.
    """
    levels, low, high = diagram.level, diagram.low, diagram.high
    everything, nothing = [0, 1], [0, 1]  # by node: where these paths end
    for node in range(2, len(levels)):
        everything.append(everything[high[node] if chance[levels[node]] > 0 else low[node]])
        nothing.append(nothing[high[node] if chance[levels[node]] == 1 else low[node]])
    needed = [everything[diagram.root] == 0] * len(chance)
    enough = [nothing[diagram.root] == 1] * len(chance)
    node = diagram.root
    while node > 1:
        at = levels[node]
        needed[at] = everything[low[node]] == 0
        node = high[node] if chance[at] > 0 else low[node]
    node = diagram.root
    while node > 1:
        at = levels[node]
        enough[at] = nothing[high[node]] == 1
        node = high[node] if chance[at] == 1 else low[node]
    return needed, enough


def importance_of(top: float, chance: float, weights: Weights) -> Importance:
    """The five usual measures; where the top event is impossible, shares are 0 and worths without ground are 1."""
    share = min(1.0, weights.birnbaum * chance / top) if top else 0.0
    if weights.without == 0 and top:
        share = 1.0
    return Importance(
        birnbaum=weights.birnbaum,
        criticality=share,
        fussell_vesely=share,
        achievement_worth=weights.with_it / top if top else inf if weights.with_it else 1.0,
        reduction_worth=top / weights.without if weights.without else inf if top else 1.0,
    )

"""The stages of an analysis, each within its share of the budget, each giving way to the next."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from time import perf_counter

from riskkit.faults.bounding import bounds_of
from riskkit.faults.circuits import Circuit
from riskkit.faults.cutsets import cut_sets_of
from riskkit.faults.cutting_off import cheapest_within
from riskkit.faults.diagrams import Diagram, TooLarge, diagram_of, values_of
from riskkit.faults.listing import Costed, cheapest_sets, first_filled_in
from riskkit.faults.modules import Block
from riskkit.faults.simulating import clopper_pearson_ends, hits_of
from riskkit.faults.trees import CutSet

CONFIDENCE = 0.99
"""Level of an interval by simulation."""


@dataclass(slots=True)
class Budget:
    """What may be used: nodes over all diagrams that are kept, and seconds from a start."""

    nodes: int
    start: float
    seconds: float

    def until(self, share: float) -> float:
        """When this share of the time is used up, as `time.perf_counter` counts."""
        return self.start + share * self.seconds


def parts_in_words(count: int) -> str:
    """How many independent parts."""
    return "one part" if count == 1 else f"{count} independent parts"


def all_diagrams(blocks: Sequence[Block], budget: Budget) -> list[Diagram | None]:
    """By block its diagram; None where it does not fit. A block that fails leaves room for the others."""
    left, found = budget.nodes, list[Diagram | None]()
    for block in blocks:
        try:
            diagram = diagram_of(block, left, budget.until(0.5))
            left -= len(diagram.level) - 2
            found.append(diagram)
        except TooLarge:
            found.append(None)
    return found


def all_cut_sets(
    blocks: Sequence[Block], diagrams: Sequence[Diagram | None], chances: Sequence[float], budget: Budget
) -> list[Diagram | None]:
    """By block its minimal cut sets; None where they do not fit."""
    given = {place: chance == 1 for place, chance in enumerate(chances)}
    never = {place: chance == 0 for place, chance in enumerate(chances)}
    left, found = budget.nodes, list[Diagram | None]()
    for block, diagram in zip(blocks, diagrams, strict=True):
        sets = None
        on, off = [given[node] for node in block.inputs], [never[node] for node in block.inputs]
        if diagram is not None and block.is_one_gate and not any(on) and not any(off):
            sets = diagram  # k of n inputs: every path to the end is a set of k of them, and none holds another
        elif diagram is not None:
            try:
                sets = cut_sets_of(diagram, on, off, left, budget.until(0.7))
                left -= len(sets.level) - 2
            except TooLarge:
                pass
        given[block.output], never[block.output] = _constant(block, on, off)
        found.append(sets)
    return found


def _constant(block: Block, given: Sequence[bool], never: Sequence[bool]) -> tuple[bool, bool]:
    """Whether a block comes about by what is certain, and whether it cannot come about."""
    on, possible = list(given), [not one for one in never]
    for least, children in block.gates:
        on.append(sum(on[one] for one in children) >= least)
        possible.append(sum(possible[one] for one in children) >= least)
    return on[-1], not possible[-1]


def all_bounds(
    circuit: Circuit,
    blocks: Sequence[Block],
    diagrams: Sequence[Diagram | None],
    chances: Sequence[float],
    budget: Budget,
    seed: int,
    trials: int,
) -> tuple[tuple[float, float], str]:
    """Where P(top) lies when some block has no diagram, and how that was found.

    Blocks without a diagram are bounded by factoring; P(top) rises with each of them, so its bounds follow from theirs.
    Where simulation can do better, the whole tree is simulated and the interval is cut to the bounds.
    """
    low = dict(enumerate(chances))
    high = dict(low)
    hard = [place for place, diagram in enumerate(diagrams) if diagram is None]
    start, cases = max(perf_counter(), budget.start), 0
    share = max(0.0, budget.until(0.7) - start) / len(hard)
    for place, (block, diagram) in enumerate(zip(blocks, diagrams, strict=True)):
        lows, highs = [low[node] for node in block.inputs], [high[node] for node in block.inputs]
        if diagram is None:
            until = start + share * (1 + hard.index(place))
            low[block.output], high[block.output], more = bounds_of(block, lows, highs, until)
            cases += more
        else:
            value = values_of(diagram, lows)[diagram.root]
            low[block.output] = min(1.0, value)
            high[block.output] = min(1.0, value if lows == highs else values_of(diagram, highs)[diagram.root])
    lower, upper = low[blocks[-1].output], high[blocks[-1].output]
    method = (
        f"bounds by factoring shared events into {cases} cases: "
        f"{len(hard)} of {parts_in_words(len(blocks))} did not fit into a diagram of {budget.nodes} nodes"
    )
    if upper - lower <= 5 * math.sqrt(lower * (1 - lower) / trials):  # as wide as the interval would be at best
        return (lower, upper), method
    hits, runs = hits_of(circuit, chances, trials, seed, budget.until(0.8))
    below, above = clopper_pearson_ends(hits, runs, CONFIDENCE)
    simulated = f"simulation of {runs} runs (seed {seed}), {hits} with the top event"
    if max(lower, below) > min(upper, above) or (below <= lower and above >= upper):
        return (lower, upper), f"{method}; {simulated}, did not narrow them"
    interval = f"{CONFIDENCE:.0%} Clopper-Pearson interval {below:.4g} to {above:.4g}"
    return (
        (max(lower, below), min(upper, above)),
        f"{simulated}, {interval}, cut to {method}, which gave {lower:.4g} to {upper:.4g}",
    )


def first_cut_sets(
    names: Sequence[str],
    blocks: Sequence[Block],
    sets: Sequence[Diagram | None],
    chances: Sequence[float],
    listed: int,
    until: float,
    *,
    by_order: bool = False,
) -> tuple[list[CutSet], bool]:
    """The most probable minimal cut sets, or those with the fewest events, and whether the search came to its end."""
    if not listed:
        return [], True
    costs: dict[int, float] = {}
    best: dict[int, list[Costed]] = {}
    for place, chance in enumerate(chances):
        costs[place] = math.inf if chance == 0 else 1.0 if by_order else -math.log(chance)
        best[place] = [(costs[place], (place,))]
        if chance == 1:
            costs[place], best[place] = 0.0, [(0.0, ())]
        elif chance == 0:
            best[place] = []
    complete = True
    for block, diagram in zip(blocks, sets, strict=True):
        inner = [best[node] for node in block.inputs]
        at_least = [costs[node] for node in block.inputs]
        if diagram is not None:
            stream = cheapest_sets(diagram, at_least)
        else:
            given = [one == [(0.0, ())] for one in inner]
            cheapest, all_there = cheapest_within(block, at_least, given, [not one for one in inner], listed, until)
            stream, complete = iter(cheapest), complete and all_there
        found = first_filled_in(stream, inner, listed)
        best[block.output] = found
        costs[block.output] = found[0][0] if found else math.inf
    top = best[blocks[-1].output]
    return sorted(
        (_cut_set(names, chances, events) for _, events in top),
        key=(lambda one: (len(one.events), -one.probability, one.events))
        if by_order
        else (lambda one: (-one.probability, len(one.events), one.events)),
    ), complete


def _cut_set(names: Sequence[str], chances: Sequence[float], events: Sequence[int]) -> CutSet:
    ordered = sorted(events, key=names.__getitem__)
    return CutSet(tuple(names[place] for place in ordered), math.prod(chances[place] for place in ordered))

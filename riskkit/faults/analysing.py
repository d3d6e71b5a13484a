"""The whole answer for one tree: exact where it fits into the budget, else with bounds that say what they are."""

from __future__ import annotations

from collections.abc import Mapping
from time import perf_counter
from types import MappingProxyType

from riskkit.faults.checking import refuse_wrong
from riskkit.faults.circuits import circuit_of, single_points
from riskkit.faults.cutsets import Parts, together
from riskkit.faults.importance import importance_of, probability_and_weights
from riskkit.faults.modules import blocks_of
from riskkit.faults.stages import Budget, all_bounds, all_cut_sets, all_diagrams, first_cut_sets, parts_in_words
from riskkit.faults.trees import Analysis, CutSet, FaultError, Importance, Tree

FEW = 1000
"""So many cut sets are multiplied one by one for the min-cut upper bound."""


def analyse(
    tree: Tree,
    *,
    nodes: int = 400_000,
    seconds: float = 20.0,
    listed: int = 100,
    seed: int = 1,
    trials: int = 4_000_000,
) -> Analysis:
    """Minimal cut sets, probability of the top event and importance.

    Args:
        tree: The tree; basic events are independent of each other (see `riskkit.faults.common_cause` where they are not).
        nodes: Most nodes of the decision diagrams.
        seconds: Time after which every stage gives way to the next; the answer comes about then at the latest.
        listed: How many of the most probable minimal cut sets to list; which of several equally probable ones end the
            list is arbitrary.
        seed: Seed of the simulation, if one is needed.
        trials: Most runs of the simulation.

    Returns:
        The exact answer; past the budget, bounds, with the method saying which.

    Raises:
        FaultError: when the tree is wrong as written, or a budget is not a number above zero.
    """
    _refuse_budget(nodes=nodes, seconds=seconds, trials=trials, listed=listed)
    notes = list(refuse_wrong(tree))
    budget = Budget(nodes, perf_counter(), seconds)
    circuit = circuit_of(tree)
    chances = [float(tree.probabilities[name]) for name in circuit.names]
    notes += _notes_on_certain(circuit.names, chances)
    blocks = blocks_of(circuit)
    diagrams = all_diagrams(blocks, budget)
    sets = all_cut_sets(blocks, diagrams, chances, budget)
    importance: dict[str, Importance] = {}
    exact: float | None = None
    known = [one for one in diagrams if one]
    if len(known) == len(blocks):
        exact, weights = probability_and_weights(blocks, known, chances)
        bounds = (exact, exact)
        size = sum(len(one.level) - 2 for one in known)
        method = f"exact, by decision diagrams: {size} nodes in {parts_in_words(len(blocks))}"
        importance = {
            name: importance_of(exact, chance, weight)
            for name, chance, weight in sorted(zip(circuit.names, chances, weights, strict=True))
        }
    else:
        bounds, method = all_bounds(circuit, blocks, diagrams, chances, budget, seed, trials)
    listing, complete = first_cut_sets(circuit.names, blocks, sets, chances, listed, budget.until(1.0))
    count = rare = upper = None
    orders: Mapping[int, int] = {}
    counted = [one for one in sets if one]
    if len(counted) == len(blocks):
        parts = Parts(blocks, counted)
        count, orders = parts.count(len(chances)), parts.orders(len(chances))
        rare = parts.rare_event(chances)
        if count <= FEW:
            every = first_cut_sets(circuit.names, blocks, sets, chances, count, budget.until(1.0))[0]
            upper = together([one.probability for one in every])
        else:
            upper = parts.upper_bound(
                chances,
                first_cut_sets(circuit.names, blocks, sets, chances, 1, budget.until(1.0))[0][0].probability,
                budget.until(1.1),
            )
        if upper is not None and exact is not None:
            # Both hold for a coherent tree; in floating point the last digit may not.
            upper = max(upper, exact) + 0.0
            rare = max(rare, upper)
        if upper is None:
            notes.append("the min-cut upper bound was not worked out: a cut set is too close to certain")
    else:
        notes.append("minimal cut sets were not counted: they do not fit into the budget")
        if not complete:
            told = f"the {len(listing)} listed are the most probable ones" if listing else "none is listed"
            notes.append(f"the search for cut sets ended early: {told}")
    alone = single_points(circuit, chances)
    if alone is None:
        notes.append(f"`{tree.top}` comes about by what is certain alone (probability 1)")
    return Analysis(
        tree=tree,
        exact=exact,
        bounds=bounds,
        method=method,
        rare_event=rare,
        upper_bound=upper,
        cut_set_count=count,
        cut_sets=tuple(listing),
        orders=MappingProxyType(dict(sorted(orders.items()))),
        single_points=tuple(sorted(circuit.names[place] for place in alone or ())),
        importance=MappingProxyType(importance),
        notes=tuple(notes),
    )


def smallest_cut_sets(
    tree: Tree, *, nodes: int = 400_000, seconds: float = 20.0, listed: int = 100
) -> tuple[CutSet, ...]:
    """The minimal cut sets with the fewest events first, whatever their probability; found as `analyse` finds its own.

    Raises:
        FaultError: as `analyse`.
    """
    _refuse_budget(nodes=nodes, seconds=seconds, listed=listed)
    refuse_wrong(tree)
    budget = Budget(nodes, perf_counter(), seconds)
    circuit = circuit_of(tree)
    chances = [float(tree.probabilities[name]) for name in circuit.names]
    blocks = blocks_of(circuit)
    sets = all_cut_sets(blocks, all_diagrams(blocks, budget), chances, budget)
    return tuple(first_cut_sets(circuit.names, blocks, sets, chances, listed, budget.until(1.0), by_order=True)[0])


def _refuse_budget(**given: float) -> None:
    for name, value in given.items():
        whole = name == "seconds" or (isinstance(value, int) and not isinstance(value, bool))
        if not whole or not value >= (0 if name == "listed" else 1e-9):
            raise FaultError(f"{name} is {value}, and must be a number above zero", f"give {name} another value")


def _notes_on_certain(names: tuple[str, ...], chances: list[float]) -> list[str]:
    notes = []
    for value, words in (
        (1.0, "certain (probability 1), not named in cut sets"),
        (0.0, "cannot happen (probability 0)"),
    ):
        found = sorted(name for name, chance in zip(names, chances, strict=True) if chance == value)
        if found:
            shown = ", ".join(f"`{name}`" for name in found[:5]) + (f" and {len(found) - 5} more" * (len(found) > 5))
            notes.append(f"{shown}: {words}")
    return notes
